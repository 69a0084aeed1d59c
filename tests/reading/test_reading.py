"""The whole job on a rendered photo, against its truth."""

import numpy as np
import pytest

from digitize.compare import compared, verdict_on
from digitize.floor.photo import open_photo
from digitize.reading import Asked, read_pattern
from digitize.record import from_json, to_json
from tests.bench.compare import compare
from tests.conftest import SAMPLES


def test_the_easy_photo_meets_its_bars(easy, easy_truth):
    scores = compare(easy.pattern, easy_truth)
    assert scores.placement_rms_mm <= 0.3
    assert scores.recall >= 0.95 and scores.precision >= 0.95
    assert scores.slits_missed == 0 and scores.tucks_false == 0
    assert scores.lap_worst_mm <= 0.5
    assert scores.placement_95_mm <= scores.stated_accuracy_mm


def test_the_record_is_in_the_pattern_frame(easy):
    outline = np.array(easy.pattern.outline)
    assert np.allclose(outline.min(axis=0), 0, atol=1e-3)
    x, y = outline.T
    assert 0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) > 0


def test_every_tuck_names_lines_of_the_record(easy):
    for tuck in easy.pattern.tucks:
        wanted = "crease" if tuck.kind == "fold" else "slit"
        assert easy.pattern.line(tuck.slit).role == wanted
        if tuck.lap_line:
            assert easy.pattern.line(tuck.lap_line).role == "lap"
    names = {tuck.id for tuck in easy.pattern.tucks}
    assert {name for zone in easy.pattern.zones for name in zone.tucks} <= names


@pytest.fixture(scope="module")
def curled():
    paths = [SAMPLES / f"{name}.jpg" for name in ("other-side", "other-side-2", "other-side-3")]
    return read_pattern([open_photo(p.name, p.read_bytes()) for p in paths], "curled", "right")


def test_three_photos_see_how_curled_paper_stands(curled):
    truth = from_json((SAMPLES / "other-side.truth.json").read_text())
    scores = compare(curled.pattern, truth)
    assert scores.placement_rms_mm <= 0.3
    assert scores.placement_95_mm <= scores.stated_accuracy_mm
    assert scores.tucks_found == scores.tucks_true and scores.tucks_false == 0
    assert curled.pattern.scale.accuracy_flatness_mm < 0.5
    assert len(curled.pattern.sources) == 3


def test_both_sides_read_by_the_same_cards_are_the_same_whatever_their_print(easy, curled):
    for pattern in (easy.pattern, curled.pattern):
        scale = pattern.scale
        assert not scale.print_doubt.measured and 0.002 < scale.print_doubt.relative <= 0.0055
        rest = np.hypot(scale.accuracy_cards_mm, scale.accuracy_flatness_mm)
        assert rest - 1e-3 <= scale.print_doubt.accuracy_beside_mm < scale.accuracy_mm
    comparison = compared(easy.pattern, curled.pattern, mirror=True)
    assert comparison.shared_cards == (1, 2, 3, 4)
    assert verdict_on(comparison, 4.0).says == "same"
    old = curled.pattern.scale.model_copy(update={"print_doubt": None})
    old = curled.pattern.model_copy(update={"scale": old})
    assert verdict_on(compared(easy.pattern, old, mirror=True), 4.0).says == "cannot tell"


def test_one_photo_owns_up_to_what_it_cannot_see(easy):
    assert easy.pattern.scale.accuracy_flatness_mm > 1
    assert [(remark.kind, remark.severity) for remark in easy.pattern.remarks] == [
        ("print-not-measured", "note"),
        ("flatness-unseen", "note"),
    ]
    assert f"{easy.pattern.scale.accuracy_print_mm:.1f} mm" in easy.pattern.warnings[0]
    assert not easy.pattern.scale.held_flat
    levels = {contour.within for contour in easy.pattern.scale.accuracy_lines}
    assert max(levels) <= easy.pattern.scale.accuracy_mm and len(levels) > 2


def test_paper_said_to_be_held_flat_is_stated_by_what_weights_leave_and_so_kept(easy):
    path = SAMPLES / "easy.jpg"
    photos = [open_photo(path.name, path.read_bytes())]
    held = read_pattern(photos, "easy", "left", Asked(held_flat=True)).pattern
    assert photos[0].picture.size == 0  # its pixels were let go for what follows
    assert held.scale.held_flat
    assert [remark.kind for remark in held.remarks] == ["print-not-measured"]
    assert held.lines == easy.pattern.lines
    assert held.scale.accuracy_flatness_mm < easy.pattern.scale.accuracy_flatness_mm / 4
    assert from_json(to_json(held)).scale == held.scale
