"""Two patterns by their files, laid on each other."""

from digitize.jobs.compare import compare_patterns
from digitize.record import to_json


def test_a_record_and_itself_are_the_same_and_that_is_said(corner, tmp_path):
    record = tmp_path / "pattern.json"
    record.write_text(to_json(corner))
    same = compare_patterns(record, tmp_path)
    assert same.verdict.says == "same" and same.verdict.reasons == ("it is the same record",)


def test_a_record_and_its_own_mirror_image_are_not(corner, tmp_path):
    record = tmp_path / "pattern.json"
    record.write_text(to_json(corner))
    assert compare_patterns(record, record, mirror=True).verdict.says != "same"
