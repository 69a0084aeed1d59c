"""The user's own small files: what is in them, or one line that says what is wrong."""

import json

import pytest

from digitize.errors import WrongOption
from digitize.jobs.settings import LARGEST_BYTES, ink_roles_in, print_scale


def written(tmp_path, content):
    path = tmp_path / "small.json"
    path.write_bytes(content if isinstance(content, bytes) else json.dumps(content).encode())
    return path


def test_a_profile_is_read_though_it_says_more(tmp_path):
    path = written(tmp_path, {"measured_x": 149.6, "measured_y": 150, "printer": "in the office"})
    scale = print_scale(None, None, path)
    assert (scale.x, scale.y) == pytest.approx((149.6 / 150, 1.0))
    assert print_scale(151.0, None, path).x == pytest.approx(151 / 150)


@pytest.mark.parametrize(
    ("content", "fault"),
    [
        ({"measured_x": "149.6", "measured_y": 150}, "measured_x: Input should be a valid number"),
        ({"measured_x": True, "measured_y": 150}, "measured_x"),
        ({"measured_x": float("nan"), "measured_y": 150}, "measured_x"),
        ({"measured_x": 1e9, "measured_y": 150}, "measured_x: Input should be less"),
        ({"measured_x": 149}, "measured_y: Field required"),
        ([149, 150], "the file"),
        (b"", "the file: Invalid JSON"),
        (b"\xff\xfe", "the file: Invalid JSON"),
        (b"[" * 50_000, "the file"),
        (b" " * LARGEST_BYTES + b"{}", "more than 100000 bytes"),
    ],
)
def test_a_profile_that_is_none_says_why_in_one_line(tmp_path, content, fault):
    with pytest.raises(WrongOption, match="not a print profile") as raised:
        print_scale(None, None, written(tmp_path, content))
    assert fault in str(raised.value) and "\n" not in str(raised.value)


@pytest.mark.parametrize("content", [{"red": 7}, {"red": None}, ["red"], b"{", {"red": ["lap"]}])
def test_a_file_of_inks_that_is_none_says_so(tmp_path, content):
    with pytest.raises(WrongOption, match="not a file of inks"):
        ink_roles_in(written(tmp_path, content))


def test_inks_are_read(tmp_path):
    assert ink_roles_in(written(tmp_path, {"red": "lap"})) == {"red": "lap"}
    with pytest.raises(WrongOption, match="inks are"):
        ink_roles_in(written(tmp_path, {"r" * 900: "lap"}))
