"""Files that are no files are not waited for, and large ones are not read."""

import os
from pathlib import Path

import pytest

from digitize.errors import NotRead
from digitize.jobs.disk import content_of
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
