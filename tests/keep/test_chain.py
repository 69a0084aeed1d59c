"""What was taken out of a drawer, or put in another's place, is noticed by who checks and takes."""

import json
import os
import shutil
import subprocess
import tempfile
from pathlib import Path

import pytest

from digitize.errors import DamagedKept, NotKept, NotWritten
from digitize.jobs.find import check_drawer, find_patterns, take_pattern
from digitize.keep.chain import BEFORE, LATEST, NONE, Link, link_in, link_text
from digitize.keep.drawer import put, revisions_of
from digitize.keep.sums import SUMS, sha256, sums_text
from tests.keep.test_drawer import as_nobody

SLIP = b'{"name": "c", "side": "left", "kept": "2026-11-01", "width_mm": 9, "height_mm": 9}'


def files(state):
    return {
        "pattern.json": json.dumps({"name": "c", "state": state}).encode(),
        "slip.json": SLIP,
        "photos/1-a.jpg": b"photo",
    }


@pytest.fixture
def drawer(tmp_path):
    for state in range(3):
        put(tmp_path / "drawer", "corner", state, files(state))
    return tmp_path / "drawer"


def faults(drawer):
    return check_drawer(drawer=drawer).faults


def take(drawer, revision=None):
    return take_pattern("corner", drawer.parent / "out", revision=revision, drawer=drawer)


def swap(folder, name, content):
    """Another file in the place of a kept one, with checksums that fit it."""
    held = {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and path.name != SUMS
    }
    (folder / name).write_bytes(content)
    (folder / SUMS).write_text(sums_text({**held, name: content}))


def test_a_drawer_as_it_was_kept_has_no_fault(drawer):
    assert faults(drawer) == ()
    assert [take(drawer, number).revision.number for number in (1, 2, 3)] == [1, 2, 3]


@pytest.mark.skipif(not shutil.which("sha256sum"), reason="coreutils are not here")
def test_the_links_can_be_checked_without_this_program(drawer):
    for folder, name in ((drawer / "corner", LATEST), (drawer / "corner/revision-3", BEFORE)):
        command = ["sha256sum", "--check", "--strict", name]
        assert subprocess.run(command, cwd=folder, check=False).returncode == 0


def test_a_latest_revision_that_was_taken_away_is_noticed(drawer):
    shutil.rmtree(drawer / "corner" / "revision-3")
    assert faults(drawer) == ("corner, revision 3: is missing",)
    assert find_patterns(drawer=drawer).damages == ("corner, revision 3: is missing",)
    with pytest.raises(DamagedKept, match="revision 3: is missing"):
        take(drawer)
    assert take(drawer, 2).revision.number == 2
    with pytest.raises(NotKept, match="has no revision 4"):
        take(drawer, 4)


def test_its_number_is_not_given_again(drawer):
    shutil.rmtree(drawer / "corner" / "revision-3")
    assert put(drawer, "corner", 2, files(9)).number == 4
    assert faults(drawer) == ("corner, revision 3: is missing",)
    assert take(drawer).revision.number == 4


def test_all_revisions_gone_are_noticed_too(drawer):
    for number in (1, 2, 3):
        shutil.rmtree(drawer / "corner" / f"revision-{number}")
    assert len(faults(drawer)) == 3
    with pytest.raises(DamagedKept, match="is missing"):
        take(drawer)


@pytest.mark.parametrize("number", [1, 2, 3])
def test_a_photo_swapped_with_its_checksum_is_noticed(drawer, number):
    swap(drawer / "corner" / f"revision-{number}", "photos/1-a.jpg", b"another")
    assert faults(drawer) == (f"corner, revision {number}: {SUMS} is not the one that was kept",)
    with pytest.raises(DamagedKept, match="not the one that was kept"):
        take(drawer, number)


@pytest.mark.parametrize("number", [1, 2, 3])
def test_checksums_emptied_are_noticed(drawer, number):
    (drawer / "corner" / f"revision-{number}" / SUMS).write_text("")
    assert any("not the one that was kept" in fault for fault in faults(drawer))
    with pytest.raises(DamagedKept):
        take(drawer, number)


@pytest.mark.parametrize("said", [b"", b"x", b"\xff", b"0" * 64 + b"  revision-3/SHA256SUM\n"])
def test_a_latest_that_says_nothing_is_noticed(drawer, said):
    (drawer / "corner" / LATEST).write_bytes(said)
    assert any(LATEST in fault for fault in faults(drawer))
    with pytest.raises(DamagedKept, match=LATEST):
        take(drawer)


def test_a_latest_that_has_gone_is_noticed(drawer):
    (drawer / "corner" / LATEST).unlink()
    assert any(f"{LATEST} is missing" in fault for fault in faults(drawer))
    with pytest.raises(DamagedKept, match="is missing"):
        take(drawer)


def test_killed_before_the_latest_was_written_nothing_is_amiss(drawer):
    before = (drawer / "corner" / LATEST).read_bytes()
    put(drawer, "corner", 3, files(4))
    (drawer / "corner" / LATEST).write_bytes(before)
    assert faults(drawer) == ()
    assert take(drawer).revision.number == 4
    put(drawer, "corner", 4, files(5))
    assert link_in((drawer / "corner" / LATEST).read_bytes()).number == 5


def test_a_drawer_of_before_works_as_it_did_and_is_tied_from_then_on(drawer):
    for number in (1, 2, 3):
        folder = drawer / "corner" / f"revision-{number}"
        (folder / BEFORE).unlink()
        (folder / SUMS).write_text(sums_text(files(number - 1)))
    (drawer / "corner" / LATEST).unlink()
    assert faults(drawer) == ()
    assert take(drawer).revision.number == 3
    put(drawer, "corner", 3, files(3))
    assert faults(drawer) == ()
    swap(drawer / "corner" / "revision-3", "photos/1-a.jpg", b"another")
    assert len(faults(drawer)) == 1


def test_a_link_is_read_as_it_is_written():
    for link in (NONE, Link(1, sha256(b"a")), Link(999, sha256(b"b"))):
        assert link_in(link_text(link).encode()) == link_in(link_text(link, "../").encode()) == link


def test_what_is_not_kept_is_written_over_only_when_told(drawer, tmp_path):
    out = tmp_path / "out"
    take(drawer)
    take(drawer, 1)  # over one that is kept
    (out / "pattern.json").write_text('{"name": "mine"}')
    with pytest.raises(NotWritten, match="not kept in the drawer"):
        take(drawer)
    assert (out / "pattern.json").read_text() == '{"name": "mine"}'
    take_pattern("corner", out, over=True, drawer=drawer)
    assert json.loads((out / "pattern.json").read_bytes())["state"] == 2


def test_a_folder_that_cannot_be_read_is_named_and_passed_over(drawer, tmp_path):
    put(drawer, "sill", 0, files(0))
    top = Path(tempfile.gettempdir())
    for folder in (tmp_path, *tmp_path.parents):
        if folder.is_relative_to(top) and folder != top:
            folder.chmod(0o755)
    (drawer / "corner").chmod(0)
    try:
        with as_nobody():
            if os.access(drawer / "corner", os.R_OK, effective_ids=True):
                pytest.skip("this user may read everything")
            found = find_patterns(drawer=drawer)
            assert [each.pattern for each in found.kept] == ["sill"]
            assert "corner: cannot be read" in found.damages[0]
            assert "corner: cannot be read" in faults(drawer)[0]
            with pytest.raises(DamagedKept, match="cannot be read"):
                take(drawer)
    finally:
        (drawer / "corner").chmod(0o755)
    assert len(revisions_of(drawer, "corner")) == 3
