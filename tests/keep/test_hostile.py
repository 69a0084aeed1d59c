"""A drawer that somebody else has laid hands on: what is read and written stays inside it."""

import os

import pytest

from digitize.errors import DamagedKept, NotKept, NotWritten
from digitize.jobs.find import check_drawer, take_pattern
from digitize.keep.chain import BEFORE, LATEST
from digitize.keep.drawer import content, faults_of, file_name, patterns_in, put, revisions_of
from digitize.keep.sums import SUMS, is_within, sha256, sums_in

FILES = {"pattern.json": b"{}\n", "slip.json": b"{}", "drawings/this-side/a.svg": b"<svg/>"}


@pytest.fixture
def kept(tmp_path):
    return put(tmp_path / "drawer", "corner-left", 0, FILES)


@pytest.mark.parametrize(
    "name",
    ["../../outside", "/etc/passwd", "a/../../b", "", "a//b", "./a", "c:\\x", "..\\x", "a\x1b[31m"],
)
def test_a_name_in_the_checksums_that_leads_elsewhere_damages_them(kept, tmp_path, name):
    assert not is_within(name)
    (tmp_path / "outside").write_bytes(b"not yours")
    line = f"{sha256(b'not yours')}  {name}\n"
    with pytest.raises(ValueError, match=r"."):
        sums_in(line)
    with (kept.folder / SUMS).open("a") as sums:
        sums.write(line)
    for taken in (
        lambda: take_pattern("corner-left", tmp_path / "out", drawer=tmp_path / "drawer"),
    ):
        with pytest.raises(DamagedKept, match="has changed since"):
            taken()
    assert not (tmp_path / "out").exists()
    assert len(check_drawer(drawer=tmp_path / "drawer").faults) == 1


def test_a_link_is_not_followed_out_of_the_drawer(kept, tmp_path):
    secret = tmp_path / "secret"
    secret.write_bytes(FILES["pattern.json"])  # the very same content, but elsewhere
    (kept.folder / "pattern.json").unlink()
    (kept.folder / "pattern.json").symlink_to(secret)
    with pytest.raises(DamagedKept, match="is a link"):
        content(kept, "pattern.json")
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (tmp_path / "drawer" / "linked").symlink_to(elsewhere)
    assert patterns_in(tmp_path / "drawer") == ["corner-left"]
    assert revisions_of(tmp_path / "drawer", "linked") == []


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_in_the_drawer_hangs_nothing(kept):
    for name in ("pattern.json", SUMS):
        (kept.folder / name).unlink()
        os.mkfifo(kept.folder / name)
        assert any(name in fault for fault in faults_of(kept))


@pytest.mark.parametrize("name", ["", "  ", ".", "..", "../drawer", "/", "corner-left/revision-1"])
def test_a_name_that_is_none_takes_nothing(kept, tmp_path, name):
    with pytest.raises(NotKept):
        take_pattern(name, tmp_path / "out", drawer=tmp_path / "drawer")
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("place", ["", "corner-left", "corner-left/revision-1", "new"])
def test_nothing_is_taken_out_into_the_drawer(kept, tmp_path, place):
    drawer = tmp_path / "drawer"
    with pytest.raises(NotWritten, match="in the drawer"):
        take_pattern("corner-left", drawer / place, drawer=drawer)


@pytest.mark.parametrize("left", ["", "first line"])
def test_checksums_that_were_cut_short_are_noticed_in_a_drawer_of_before(kept, tmp_path, left):
    sums = kept.folder / SUMS
    (kept.folder.parent / LATEST).unlink()
    (kept.folder / BEFORE).unlink()
    sums.write_text("".join(line for line in sums.open() if BEFORE not in line))
    first = sums.read_text().splitlines(keepends=True)[0]
    sums.write_text(first if left else "")
    with pytest.raises(DamagedKept, match="cut short"):
        take_pattern("corner-left", tmp_path / "out", drawer=tmp_path / "drawer")
    assert faults_of(kept)


def test_a_name_is_no_longer_than_a_disk_allows():
    assert file_name("n" * 500) == "n" * 120
    # Each of these letters takes two bytes, and none is cut in half.
    assert file_name("\N{LATIN SMALL LETTER E WITH ACUTE}" * 200).encode().__len__() == 120
    assert file_name("\udcff\x1b[") == "pattern"
