"""The public functions, as the manual uses them and as a script would find them."""

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import digitize
from digitize import errors
from tests.conftest import SAMPLES

ROOT = Path(__file__).parent.parent


@pytest.mark.slow
def test_the_lines_in_the_manual_run(tmp_path):
    (lines,) = re.findall(
        r"```python\n(.*?)```", (ROOT / "digitize" / "MANUAL.md").read_text(), re.S
    )
    assert len(lines.splitlines()) <= 14
    shutil.copytree(SAMPLES, tmp_path / "sample_photos", ignore=shutil.ignore_patterns("out"))
    ran = subprocess.run(
        [sys.executable, "-c", lines], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stderr
    assert "T7" in ran.stdout and "same" in ran.stdout
    assert (tmp_path / "out" / "pattern.json").exists()
    assert (tmp_path / "drawings" / "roof-corner-left.dxf").exists()


def test_every_public_name_is_there_and_has_words():
    for name in digitize.__all__:
        if name != "__version__":
            assert getattr(digitize, name).__doc__, name
    with pytest.raises(AttributeError, match="no attribute 'frobnicate'"):
        digitize.frobnicate  # noqa: B018


def test_the_package_itself_loads_next_to_nothing():
    script = "import digitize, sys; print('numpy' in sys.modules, 'pydantic' in sys.modules)"
    ran = subprocess.run([sys.executable, "-c", script], capture_output=True, check=True)
    assert ran.stdout.split() == [b"False", b"False"]


def every_error():
    kinds = [
        kind
        for kind in vars(errors).values()
        if isinstance(kind, type) and issubclass(kind, errors.DigitizeError)
    ]
    own = [kind for kind in kinds if "exit_code" in vars(kind) and kind.exit_code > 1]
    return sorted(own, key=lambda kind: kind.exit_code)


def test_each_exit_code_is_one_error_s():
    codes = [kind.exit_code for kind in every_error()]
    assert len(set(codes)) == len(codes) and min(codes) == 2
    assert not {30, 31} & set(codes)  # the comparison's verdicts


def test_the_table_of_errors_in_developers_md_is_that_of_the_program():
    rows = [
        f"| {kind.exit_code} | `{kind.__name__}` | {kind.__doc__.splitlines()[0].rstrip('.')} |"
        for kind in every_error()
    ]
    text = (ROOT / "DEVELOPERS.md").read_text()
    missing = [row for row in rows if row not in text]
    assert not missing, "put into DEVELOPERS.md:\n" + "\n".join(rows)
    listed = re.findall(r"^\| \d+ \| `\w+` \|.*$", text, re.M)
    assert [row for row in listed if row not in rows] == []
