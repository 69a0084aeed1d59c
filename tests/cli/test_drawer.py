"""The drawer as its user has it: kept, found, shown, taken out and checked by commands."""

import json

import pypdfium2
import pytest
from typer.testing import CliRunner

from digitize.cli import app
from digitize.jobs.disk import write_all
from digitize.jobs.folder import files_of_reading
from digitize.keep.sums import sha256
from digitize.record import Line, Pattern, Source, to_json
from tests.conftest import SAMPLES

runner = CliRunner(env={"COLUMNS": "130"})


@pytest.fixture(scope="module")
def reading(easy, tmp_path_factory):
    """A folder as digitize photo leaves it."""
    folder = tmp_path_factory.mktemp("reading")
    write_all(files_of_reading(easy.pattern, easy.pattern, easy.raster, folder, mirror=False))
    return folder


@pytest.fixture
def small(tmp_path):
    """A folder with the record of a sheet with its trim edge and a line, read from one photo."""
    source = Source(photo="a.jpg", sha256=sha256(b"photo"), width_px=1, height_px=1)
    seen = {"role_confidence": 0.9, "width": 0.5, "sigma": 0.05}
    trim = ((20, 20), (280, 20), (280, 180), (20, 180))
    lines = (
        Line(id="L1", role="form", points=((60, 40), (90, 160)), **seen),
        Line(id="L2", role="trim-edge", points=trim, closed=True, **seen),
    )
    sheet = ((0, 0), (300, 0), (300, 200), (0, 200))
    pattern = Pattern(name="sill", side="left", sources=(source,), outline=sheet, lines=lines)
    folder = tmp_path / "small"
    write_all({folder / "pattern.json": to_json(pattern).encode()})
    return folder


@pytest.fixture
def run(tmp_path):
    def command(*words, code=0):
        drawer = ["--drawer", str(tmp_path / "drawer")] if words[0] in DRAWER else []
        result = runner.invoke(app, [*map(str, words), *drawer])
        assert result.exit_code == code, result.output
        assert "Traceback" not in result.output
        return " ".join((result.stdout + result.stderr).split())

    return command


DRAWER = ("keep", "find", "show", "take", "check", "compare", "photo")


def test_a_pattern_kept_comes_out_as_it_went_in_on_both_sides(run, reading, tmp_path):
    said = run("keep", reading, "--part", "caravan, rear", "--with-photos", SAMPLES)
    assert "kept as easy-left, revision 1" in said
    assert "nothing new to keep" in run("keep", reading)
    kept = tmp_path / "drawer" / "easy-left" / "revision-1"
    assert (kept / "photos" / "1-easy.jpg").read_bytes() == (SAMPLES / "easy.jpg").read_bytes()

    run("take", "easy-left", "--out", tmp_path / "this")
    run("take", "easy", "--out", tmp_path / "other", "--mirror")
    run("draw", reading, "--out", tmp_path / "drawn")
    run("draw", reading, "--out", tmp_path / "drawn", "--mirror")
    for path in (tmp_path / "drawn").iterdir():
        side = "this" if "left" in path.name else "other"
        assert (tmp_path / side / path.name).read_bytes() == path.read_bytes()
    for name in ("pattern.json", "rectified.jpg", "overlay.jpg"):
        assert (tmp_path / "this" / name).read_bytes() == (reading / name).read_bytes()
    assert json.loads((tmp_path / "other" / "pattern.mirrored.json").read_text())["side"] == "right"
    assert "caravan" in run("find", "CARAVAN", "--side", "left", "--size", "885x700")
    assert "no kept pattern fits" in run("find", "wing", code=26)
    assert "every file is as it was kept" in run("check")


def test_a_change_is_a_new_revision_and_the_first_stays(run, small, tmp_path):
    run("keep", small, "--reference", "K-12", "--name", "long sill")
    run("label", small, "--note", "L1=crown line")
    assert "long-sill-left, revision 2" in run("keep", small, "--name", "long sill")
    assert "K-12" in run("find", "crown")
    first = run("take", "long-sill-left", "--revision", "1", "--out", tmp_path / "first")
    assert "revision 1" in first
    record = json.loads((tmp_path / "first" / "pattern.json").read_text())
    assert record["lines"][0]["note"] is None
    assert "has no revision 7, but 1, 2" in run(
        "take", "sill", "--revision", "7", "--out", tmp_path / "none", code=26
    )
    kept = tmp_path / "drawer" / "long-sill-left" / "revision-1"
    assert "is a kept revision" in run("label", kept, "--note", "L1=x", code=4)


def test_another_paper_does_not_slip_in_under_the_same_name(run, small):
    run("keep", small)
    record = json.loads((small / "pattern.json").read_text())
    record["sources"][0]["sha256"] = "0" * 64
    (small / "pattern.json").write_text(json.dumps(record))
    assert "read from other photos" in run("keep", small, code=28)
    assert "sill-left, revision 2" in run("keep", small, "--revise")
    assert "does not hold a.jpg" in run("keep", small, "--with-photos", SAMPLES, code=26)


def test_damage_is_named_and_stops_only_what_it_touches(run, small, tmp_path):
    run("keep", small)
    kept = tmp_path / "drawer" / "sill-left" / "revision-1"
    drawing = kept / "drawings" / "other-side" / "sill-right.dxf"
    drawing.write_bytes(drawing.read_bytes()[:-9])
    said = run("check", code=27)
    assert "sill-left, revision 1: drawings/other-side/sill-right.dxf has changed" in said
    run("take", "sill-left", "--out", tmp_path / "out")
    said = run("take", "sill-left", "--mirror", "--out", tmp_path / "none", code=27)
    assert "sill-right.dxf has changed since it was kept" in said
    assert not (tmp_path / "none").exists()


def test_the_contact_sheet_has_a_picture_of_each(run, small, tmp_path):
    run("keep", small, "--part", "rear corner")
    run("keep", small, "--name", "second")
    out = tmp_path / "sheet.pdf"
    run("show", "--out", out)
    page = pypdfium2.PdfDocument(out)[0]
    words = page.get_textpage().get_text_bounded()
    assert "sill-left" in words and "second-left" in words and "rear corner" in words
    assert sum(each.type == pypdfium2.raw.FPDF_PAGEOBJ_IMAGE for each in page.get_objects()) == 2


def test_two_patterns_are_compared_by_file_or_by_their_name_in_the_drawer(run, small, tmp_path):
    run("keep", small)
    out = tmp_path / "compared.svg"
    said = run("compare", "sill-left", small, "--out", out)
    assert "same" in said and "L1" in said and "<svg" in out.read_text()
    record = json.loads((small / "pattern.json").read_text())
    record["lines"][0]["points"] = [[64, 39], [94, 159]]
    (small / "pattern.json").write_text(json.dumps(record))
    said = run("compare", "sill-left", small, "--out", out, code=30)
    assert "different" in said and "L1 (form) lies up to 4." in said and "further in" in said
    said = run("compare", "sill-left", small, "--out", out, "--tolerance", "4.1mm", code=31)
    assert "cannot tell" in said
    assert "no such pattern" in run("compare", "sill-left", "none", "--out", out, code=26)
    assert "--tolerance x" in run("compare", small, small, "--tolerance", "x", code=2)


@pytest.mark.usefixtures("photos_seen_once")
def test_a_kept_paper_is_read_again(run, reading, tmp_path):
    """What was told is carried over, and the paper has not grown between one photo and itself."""
    work = tmp_path / "work"
    work.mkdir()
    write_all({work / "pattern.json": (reading / "pattern.json").read_bytes()})
    run("label", work, "--note", "L17=crown line")
    run("keep", work, "--name", "roof corner")
    again = tmp_path / "again"
    said = run("photo", SAMPLES / "easy.jpg", "--kept", "roof corner", "--out", again)
    assert "grown by 0.00%" in said or "shrunk by 0.00%" in said
    assert (again / "since.svg").exists()
    record = json.loads((again / "pattern.json").read_text())
    assert (record["name"], record["side"]) == ("roof corner", "left")
    assert [line["note"] for line in record["lines"] if line["note"]] == ["crown line"]
    assert "roof-corner-left, revision 2" in run("keep", again)


def test_words_given_as_one_are_looked_for_as_one(run, small):
    run("keep", small, "--part", "caravan, rear corner")
    assert "sill-left" in run("find", "rear", "caravan")
    assert "sill-left" in run("find", "rear corner")
    assert "no kept pattern fits" in run("find", "corner rear", code=26)


def test_what_cannot_be_found_is_said(run, tmp_path):
    assert "no kept pattern fits" in run("find", code=26)
    assert "there is no drawer here" in run("check", code=26)
    assert "no such pattern" in run("take", "corner", "--out", tmp_path / "out", code=26)
    assert "no such pattern" in run("take", "../corner", "--out", tmp_path / "out", code=26)
    assert "--size 3: is no size of two sides; write it like" in run("find", "--size", "3", code=2)
    assert "--side up" in run("find", "--side", "up", code=2)


def test_a_reading_without_what_was_told_does_not_take_the_place_of_one_with_it(run, small):
    run("label", small, "--note", "L1=crown")
    run("keep", small)
    run("told", small, "--take-back", "1")
    (small / "reading.json").rename(small / "pattern.json")
    said = run("keep", small, code=28)
    assert "1 facts were told about it, and none about this" in said
    assert "revision 2" in run("keep", small, "--revise")


def test_a_name_given_when_it_was_kept_outlasts_what_is_told_later(run, small, tmp_path):
    run("keep", small, "--name", "roof corner")
    run("take", "roof-corner-left", "--out", tmp_path / "out")
    run("label", tmp_path / "out", "--note", "L1=crown")
    assert "roof-corner-left, revision 2" in run("keep", tmp_path / "out")
