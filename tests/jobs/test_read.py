"""Reading into a folder where a record stands already."""

import pytest
from shapely import Polygon
from shapely.affinity import affine_transform

from digitize.errors import NameTaken
from digitize.jobs import read
from digitize.jobs.folder import load_pattern, save_pattern
from digitize.jobs.read import read_photos
from digitize.record import Pattern, TellWords
from tests.draw.lopsided import PATTERN
from tests.told import with_facts

FILES = ("pattern.json", "pattern.svg", "overlay.jpg")


@pytest.fixture
def photo(easy, monkeypatch, tmp_path):
    """A photo which is read as the easy one was."""
    monkeypatch.setattr(read, "open_photo", lambda name, content: name)
    monkeypatch.setattr(read, "read_pattern", lambda *given: easy)
    path = tmp_path / "photo.jpg"
    path.write_bytes(b"")
    return path


def of_other_photos(pattern: Pattern) -> Pattern:
    """The same record, of photos that nobody has any more."""
    sources = [each.model_copy(update={"sha256": "0" * 64}) for each in pattern.sources]
    return pattern.model_copy(update={"sources": tuple(sources)})


def test_another_papers_record_is_not_written_over_nor_what_was_told_moved_on(photo, tmp_path):
    out = tmp_path / "out"
    other = with_facts(PATTERN, TellWords(on=PATTERN.lines[0].id, words="crown"))
    save_pattern(other, out)
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    with pytest.raises(NameTaken, match=r"another paper.*--replace"):
        read_photos([photo], out)
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before
    read_photos([photo], out, replace=True)
    again = load_pattern(out)
    assert not again.told and not [remark for remark in again.remarks if "told" in remark.kind]
    assert all((out / name).exists() for name in FILES)


def test_the_same_paper_in_other_photos_turned_is_read_over_and_keeps_what_was_told(
    photo, easy, tmp_path
):
    """Turned by 90 degrees and shifted: another photo lies as it likes."""
    out = tmp_path / "out"
    turn = (0, -1, 1, 0, 12.0, -7.0)

    def turned(points):
        return tuple(affine_transform(Polygon(points), turn).exterior.coords[:-1])

    lines = [
        line.model_copy(update={"points": turned(line.points)})
        for line in easy.pattern.lines
        if len(line.points) > 2
    ]
    update = {"lines": tuple(lines), "outline": turned(easy.pattern.outline), "tucks": ()}
    bare = of_other_photos(easy.pattern).model_copy(update={**update, "groups": ()})
    long = max((line for line in lines if not line.is_tuck_mark), key=lambda line: line.length)
    save_pattern(with_facts(bare, TellWords(on=long.id, words="crown")), out)
    read_photos([photo], out)
    assert [line.note for line in load_pattern(out).lines if line.note] == ["crown"]
