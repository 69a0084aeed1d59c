import os
import resource
import shutil
import subprocess
from contextlib import contextmanager

import pytest

from digitize.errors import DamagedKept, NotWritten
from digitize.keep.drawer import (
    ABOUT,
    ASIDE,
    Outrun,
    content,
    faults_of,
    gaps_in,
    patterns_in,
    put,
    revisions_of,
    unfinished_in,
)
from digitize.keep.sums import SUMS
from digitize.keep.synced import FORGOTTEN_S

FILES = {"pattern.json": b"{}\n", "drawings/this-side/a.svg": b"<svg/>" * 500}
NOBODY = 65534


@pytest.fixture
def drawer(tmp_path):
    return tmp_path / "drawer"


@contextmanager
def as_nobody():
    """Without the superuser's right to write anywhere."""
    if os.geteuid() == 0:
        os.seteuid(NOBODY)
        try:
            yield
        finally:
            os.seteuid(0)
    else:
        yield


def test_a_revision_is_kept_whole_and_the_next_beside_it(drawer):
    first = put(drawer, "corner-left", 0, FILES)
    second = put(drawer, "corner-left", 1, {**FILES, "pattern.json": b"[]"})
    assert patterns_in(drawer) == ["corner-left"]
    assert revisions_of(drawer, "corner-left") == [first, second]
    assert content(first, "pattern.json") == b"{}\n"
    assert content(second, "pattern.json") == b"[]"
    assert (drawer / ABOUT).exists() and not list(unfinished_in(drawer))
    assert faults_of(first) == faults_of(second) == []


def test_a_number_that_is_taken_is_not_taken_again(drawer):
    first = put(drawer, "corner", 0, FILES)
    with pytest.raises(Outrun):
        put(drawer, "corner", 0, {"pattern.json": b"other"})
    assert content(first, "pattern.json") == b"{}\n"
    assert not list(unfinished_in(drawer))


def test_a_later_revision_counts_though_this_number_is_missing(drawer):
    put(drawer, "corner", 0, FILES)
    put(drawer, "corner", 1, FILES)
    shutil.rmtree(drawer / "corner" / "revision-1")
    with pytest.raises(Outrun):
        put(drawer, "corner", 0, FILES)
    assert gaps_in(drawer, "corner") == ["corner, revision 1: is missing"]


def test_what_has_changed_gone_or_come_is_named_and_the_rest_can_be_used(drawer):
    revision = put(drawer, "corner", 0, {**FILES, "overlay.jpg": b"picture"})
    changed = revision.folder / "drawings/this-side/a.svg"
    rotten = bytearray(changed.read_bytes())
    rotten[700] ^= 1
    changed.write_bytes(bytes(rotten))
    (revision.folder / "overlay.jpg").unlink()
    (revision.folder / "mine.txt").write_text("mine")
    faults = faults_of(revision)
    assert [fault.split(": ")[1].split()[0] for fault in faults] == [
        "drawings/this-side/a.svg",
        "overlay.jpg",
        "mine.txt",
    ]
    assert "has changed" in faults[0] and "cannot be read" in faults[1]
    with pytest.raises(DamagedKept, match="has changed since"):
        content(revision, "drawings/this-side/a.svg")
    assert content(revision, "pattern.json") == b"{}\n"


@pytest.mark.parametrize("harm", [lambda p: p.unlink(), lambda p: p.write_bytes(b"\xff\xfe")])
def test_a_revision_without_sound_checksums_is_damaged(drawer, harm):
    revision = put(drawer, "corner", 0, FILES)
    harm(revision.folder / SUMS)
    assert SUMS in faults_of(revision)[0]
    with pytest.raises(DamagedKept, match=SUMS):
        content(revision, "pattern.json")


def test_a_disk_that_is_full_leaves_everything_as_it_was(drawer):
    put(drawer, "corner", 0, FILES)
    before = sorted(drawer.rglob("*"))
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, limits[1]))
    try:
        with pytest.raises(NotWritten, match="cannot be written"):
            put(drawer, "corner", 1, {"pattern.json": b"x", "large.jpg": bytes(10_000)})
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
    assert sorted(drawer.rglob("*")) == before


def test_a_folder_that_cannot_be_written_can_still_be_read(drawer, tmp_path):
    revision = put(drawer, "corner", 0, FILES)
    for folder in (drawer, drawer / "corner"):
        folder.chmod(0o555)
    for folder in tmp_path.parents[:2]:
        folder.chmod(0o755)
    with as_nobody(), pytest.raises(NotWritten, match="cannot be written"):
        put(drawer, "corner", 1, FILES)
    assert faults_of(revision) == []
    drawer.chmod(0o755)


def test_what_was_never_finished_goes_a_day_later(drawer):
    old, new = (drawer / f"{ASIDE}{age}" for age in ("old", "new"))
    for folder in (old, new):
        folder.mkdir(parents=True)
    os.utime(old, (0, old.stat().st_mtime - FORGOTTEN_S - 60))
    put(drawer, "corner", 0, FILES)
    assert list(unfinished_in(drawer)) == [new]
    assert patterns_in(drawer) == ["corner"]


@pytest.mark.skipif(not shutil.which("sha256sum"), reason="coreutils are not here")
def test_the_checksums_can_be_checked_without_this_program(drawer):
    revision = put(drawer, "corner", 0, FILES)
    command = ["sha256sum", "--check", "--strict", SUMS]
    assert subprocess.run(command, cwd=revision.folder, check=False).returncode == 0
    (revision.folder / "pattern.json").write_bytes(b"rot")
    assert subprocess.run(command, cwd=revision.folder, check=False).returncode == 1
