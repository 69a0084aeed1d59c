"""What stands in a folder is not lost: records of later versions, what was told, unknown keys."""

import json
import os

import pytest

from digitize.errors import RecordError
from digitize.jobs import disk
from digitize.jobs.folder import earlier_record, load_pattern, save_pattern
from digitize.jobs.tell import tell
from digitize.record import file, from_json, to_json


@pytest.fixture
def folder(corner, tmp_path):
    """A folder with a record."""
    (tmp_path / "pattern.json").write_text(to_json(corner))
    return tmp_path


def changed(folder, change):
    path = folder / "pattern.json"
    record = json.loads(path.read_text())
    change(record)
    path.write_text(json.dumps(record))
    return path


@pytest.mark.parametrize("schema", [2, 10])
def test_a_record_of_a_later_schema_is_never_overwritten(corner, folder, schema):
    path = changed(folder, lambda record: record.update(schema=schema, written_by="7.1"))
    before = path.read_bytes()
    with pytest.raises(RecordError, match=rf"schema {schema}, written by 7\.1"):
        save_pattern(corner, folder)
    with pytest.raises(RecordError, match="later version"):
        tell(folder, notes={"L17": "crown"})
    with pytest.raises(RecordError, match="later version"):
        earlier_record(folder)
    assert path.read_bytes() == before and sorted(folder.iterdir()) == [path]


def test_who_writes_and_who_reads_mean_the_same_schema():
    assert disk.SCHEMA == file.SCHEMA


def test_a_record_that_cannot_be_read_is_not_taken_for_none(folder):
    (folder / "pattern.json").write_text('{"schema": 1, "name":')
    with pytest.raises(RecordError, match="would be lost"):
        earlier_record(folder)
    (folder / "pattern.json").unlink()
    assert earlier_record(folder) is None


def test_unknown_keys_in_zones_and_bands_survive_what_is_told(folder):
    def mark(record):
        record["zones"][0]["later"] = {"kept": 1}
        record["zones"][0]["curvature"]["later"] = 2
        record["bands"][0]["later"] = 3

    changed(folder, mark)
    told = tell(folder, radii={"L8": 76.0}).pattern
    again = json.loads(to_json(from_json((folder / "pattern.json").read_text())))
    assert told.bands[0].stations[0].radius == 76.0
    assert again["zones"][0]["later"] == {"kept": 1}
    assert again["zones"][0]["curvature"]["later"] == 2 and again["bands"][0]["later"] == 3


def test_a_saved_record_is_worked_out_and_drawn_and_loads_as_it_was_saved(corner, tmp_path):
    written = save_pattern(corner, tmp_path / "out")
    assert {path.name for path in written} >= {"pattern.json", "pattern.svg", "shrink.svg"}
    assert load_pattern(tmp_path / "out") == load_pattern(tmp_path / "out" / "pattern.json")
    (alone,) = save_pattern(corner, tmp_path / "alone.json")
    assert load_pattern(alone).tucks == load_pattern(tmp_path / "out").tucks


def test_a_record_is_read_once_and_again_when_its_file_is_another(folder, corner):
    path = changed(folder, lambda record: None)
    before, there = load_pattern(path), path.stat()
    assert load_pattern(path) is before
    text = path.read_text()
    aside = folder / "aside"
    aside.write_text(text.replace('"name": "easy"', '"name": "hard"'))
    os.utime(aside, ns=(there.st_atime_ns, there.st_mtime_ns))
    aside.replace(path)
    assert path.stat().st_size == there.st_size and path.stat().st_mtime_ns == there.st_mtime_ns
    assert load_pattern(path).name == "hard"
