"""Reading what is no file, and writing all or none, whenever it is broken off."""

import os
import random
import resource
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from digitize.errors import NotRead, NotWritten
from digitize.jobs import disk
from digitize.jobs.disk import BEGUN, content_of, settle, write_all
from digitize.keep import regular


def test_a_file_is_read_whole(tmp_path):
    (tmp_path / "one").write_bytes(b"all of it")
    assert content_of(tmp_path / "one") == b"all of it"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_or_a_device_is_refused_at_once(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    for path in (tmp_path / "pipe", Path("/dev/zero"), tmp_path):
        with pytest.raises(NotRead, match=r"read"):
            content_of(path)


def test_what_is_missing_or_cannot_be_a_name_is_said_with_its_reason(tmp_path):
    with pytest.raises(NotRead, match="No such file"):
        content_of(tmp_path / "none")
    with pytest.raises(NotRead, match="no file has that name"):
        content_of(Path("a\0b"))
    with pytest.raises(NotRead, match="too long"):
        content_of(tmp_path / ("n" * 300))


def test_a_file_larger_than_any_photo_is_refused_before_it_is_read(tmp_path, monkeypatch):
    monkeypatch.setattr(regular, "MOST_MB", 0.001)
    (tmp_path / "large").write_bytes(bytes(2000))
    with pytest.raises(NotRead, match="are not read"):
        content_of(tmp_path / "large")


NAMES = ("pattern.json", "pattern.svg", "shrink.svg", "overlay.jpg", "closed.svg")
WRITER = """
import sys, time
from pathlib import Path
from digitize.jobs.disk import write_all

replace = Path.replace

def slowly(path, target):
    time.sleep(0.003)  # so that a kill falls between two renamings often enough
    return replace(path, target)

Path.replace = slowly
folder = Path(sys.argv[1])
turn = 0
while True:
    turn += 1
    files = {folder / name: b"%d" % turn * 20000 for name in sys.argv[2].split(",")}
    write_all(files, [folder / "stale"])
    (folder / "stale").write_bytes(b"")
    print(turn, flush=True)
"""


@pytest.mark.slow
def test_a_kill_at_any_moment_leaves_all_of_the_old_or_all_of_the_new(tmp_path):
    """25 kills, each somewhere within a write; 200 looks at how it stands in the middle of one."""
    states = [state_after_kill(tmp_path, rng) for rng in map(random.Random, range(25))]
    assert {state for _, state in states} == {1}
    assert sum(halves for halves, _ in states)  # such moments there were
    assert not (tmp_path / BEGUN).exists()


def state_after_kill(folder, rng):
    """In how many of eight looks files were of several states; and of how many after a kill."""
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(folder), ",".join(NAMES)], stdout=subprocess.PIPE
    )
    writer.stdout.readline()
    halves = 0
    for _ in range(8):
        os.kill(writer.pid, signal.SIGCONT)
        time.sleep(rng.uniform(0.0, 0.02))
        os.kill(writer.pid, signal.SIGSTOP)
        time.sleep(0.001)
        halves += contents(folder) > 1
    writer.kill()
    writer.communicate()
    settle(folder)
    return halves, contents(folder)


def contents(folder):
    """How many states the files there are of."""
    return len({(folder / name).read_bytes() for name in NAMES})


def test_what_was_begun_is_finished_by_the_next_who_writes(tmp_path):
    (tmp_path / "pattern.json").write_bytes(b"old")
    (tmp_path / "gone.svg").write_bytes(b"old")
    (tmp_path / ".pattern.json.1.part").write_bytes(b"new")
    begun = '{"written": {"pattern.json": ".pattern.json.1.part"}, "gone": ["gone.svg"]}'
    (tmp_path / BEGUN).write_text(begun)
    write_all({tmp_path / "other.svg": b"more"})
    assert {path.name for path in tmp_path.iterdir()} == {"pattern.json", "other.svg"}
    assert (tmp_path / "pattern.json").read_bytes() == b"new"


@pytest.mark.parametrize(
    "begun",
    [
        "",
        "[]",
        '{"written": 3, "gone": []}',
        '{"written": {"../outside": "part"}, "gone": []}',
        '{"written": {}, "gone": ["../outside"]}',
        '{"written": {}, "gone": [".."]}',
        '{"written": {}, "gone": [7]}',
        "[" * 100_000,
    ],
)
def test_what_this_program_did_not_write_moves_nothing(tmp_path, begun):
    folder = tmp_path / "folder"
    folder.mkdir()
    (tmp_path / "outside").write_bytes(b"mine")
    (folder / "part").write_bytes(b"yours")
    (folder / BEGUN).write_text(begun)
    settle(folder)
    assert (tmp_path / "outside").read_bytes() == b"mine"
    assert [path.name for path in folder.iterdir()] == ["part"]


def test_where_one_cannot_be_written_none_is(tmp_path):
    (tmp_path / "pattern.svg").mkdir()
    (tmp_path / "pattern.json").write_bytes(b"old")
    files = {tmp_path / "pattern.json": b"new", tmp_path / "pattern.svg": b"new"}
    with pytest.raises(NotWritten, match="is a folder"):
        write_all(files)
    assert (tmp_path / "pattern.json").read_bytes() == b"old"
    assert len(list(tmp_path.iterdir())) == 2


def test_what_was_never_finished_goes_a_day_later(tmp_path):
    old, new = tmp_path / ".pattern.json.1.part", tmp_path / ".pattern.json.2.part"
    for part in (old, new):
        part.write_bytes(b"half")
    os.utime(old, (time.time() - 90_000,) * 2)
    write_all({tmp_path / "pattern.json": b"whole"})
    assert not old.exists() and new.exists()


OLD = {"pattern.json": b"old", "pattern.svg": b"old too"}


@pytest.fixture
def folder(tmp_path):
    for name, content in OLD.items():
        (tmp_path / name).write_bytes(content)
    return tmp_path


def stands(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_a_full_disk_leaves_all_as_it_was_and_names_the_file_and_why(folder):
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    before = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, limits[1]))
    files = {folder / "pattern.json": b"new", folder / "overlay.jpg": bytes(10_000)}
    try:
        with pytest.raises(NotWritten, match=r"overlay\.jpg: cannot be written \(File too large"):
            write_all(files, [folder / "pattern.svg"])
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
        signal.signal(signal.SIGXFSZ, before)
    assert stands(folder) == OLD


@pytest.mark.parametrize("fails", range(4))
def test_where_a_file_cannot_be_renamed_all_are_as_they_were(folder, monkeypatch, fails):
    """The first, second … renaming fails, as where another program holds a file open."""
    replace, turns = Path.replace, iter(range(100))

    def failing(path, target):
        own = path.name.endswith(".part") and not path.name.startswith(".begun")
        if own and next(turns) == fails:
            raise OSError(16, "Device or resource busy", str(path))
        return replace(path, target)

    files = {folder / name: b"new" for name in ("pattern.json", "a.svg", "pattern.svg", "b.svg")}
    monkeypatch.setattr(Path, "replace", failing)
    with pytest.raises(NotWritten, match=r"/(pattern|a|b)\.\w+: cannot be written \(Device or"):
        write_all(files)
    assert stands(folder) == OLD


def test_ctrl_c_while_files_are_written_leaves_nothing_half_done(folder, monkeypatch):
    written = iter(range(100))

    def interrupted(path, content):
        if next(written) == 1:
            raise KeyboardInterrupt
        path.write_bytes(content)

    monkeypatch.setattr(disk, "write_synced", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_all({folder / name: b"new" for name in ("pattern.json", "a.svg", "b.svg")})
    assert stands(folder) == OLD
