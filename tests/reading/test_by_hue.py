"""Where pencil drowns in brown paper's grain it is told by its hue, and is not sure for that."""

from dataclasses import fields, replace

import pytest

from digitize.errors import NoLines
from digitize.reading import pipeline
from digitize.reading.scene import Scene
from digitize.tucks import TuckMarks
from tests.pencil.test_by_hue import OUTLINE, paper


def marks_of(monkeypatch, raster, pixels_per_mm=4.0):
    known = {
        "pixels_per_mm": pixels_per_mm,
        "raster": raster,
        "outline": OUTLINE,
        "on_cards": (),
        "unsure": (),
        "asked": pipeline.NOTHING_ASKED,
    }
    scene = Scene(**{field.name: None for field in fields(Scene)} | known)
    monkeypatch.setattr(pipeline, "see_scene", lambda *given: scene)
    return pipeline.read_marks([])


def test_lines_too_faint_by_brightness_are_read_by_hue_and_stay_in_doubt(monkeypatch):
    marks = marks_of(monkeypatch, paper(line=(0.13, 0.11, 0.0)))
    assert max(curve.length for curve in marks.curves) > 90.0
    assert {area.reason for area in marks.unseen} == {"faint"}
    tuck = TuckMarks("slit", marks.curves[0], None, 0.9)
    monkeypatch.setattr(pipeline, "find_tucks", lambda *given: ((tuck,), ()))
    assert pipeline._tucks_of(marks)[0][0].sure == 0.5
    assert pipeline._tucks_of(replace(marks, by_hue=False))[0][0].sure == 0.9


def test_where_less_shows_by_hue_what_brightness_shows_is_kept(monkeypatch):
    plain, bare = paper(line=(0.4, 0.4, 0.4)), paper(line=(0.0, 0.0, 0.0))
    monkeypatch.setattr(pipeline, "mostly_faint", lambda *given: True)
    monkeypatch.setattr(pipeline, "by_hue", lambda *given: bare)
    assert max(curve.length for curve in marks_of(monkeypatch, plain).curves) > 90.0


def test_of_a_coarse_picture_no_hue_is_asked(monkeypatch):
    faint = paper(line=(0.13, 0.11, 0.0))
    assert marks_of(monkeypatch, faint).curves
    with pytest.raises(NoLines):
        marks_of(monkeypatch, faint, 1.9)
