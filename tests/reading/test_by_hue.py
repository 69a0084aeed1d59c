"""Where pencil drowns in brown paper's grain it is told by its hue, and is not sure for that."""

from dataclasses import fields

from digitize.reading import pipeline
from digitize.reading.scene import Scene
from tests.pencil.test_by_hue import OUTLINE, paper


def marks_of(monkeypatch, raster):
    known = {
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
