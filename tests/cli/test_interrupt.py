"""Ctrl-C ends a command soon, whatever it is at, and leaves a folder as it was."""

import os
import signal
import subprocess
import sys
import time

import pytest

from tests.conftest import SAMPLES

MOST_S = 1.0
DEAF = """
import numpy as np
from digitize.cli.interrupt import watch
watch()
print("begun", flush=True)
np.linalg.svd(np.random.default_rng(0).normal(size=(4000, 4000)))  # half a minute
"""
HEARING = (
    'import time\nfrom digitize.cli.interrupt import watch\nwatch()\nprint("begun", flush=True)'
)
SWALLOWS = """
import time
print("begun", flush=True)
try:
    time.sleep(60)
except BaseException as error:
    missing = error
"""


def ended_in(process):
    """Seconds from Ctrl-C to the program's end."""
    os.kill(process.pid, signal.SIGINT)
    began = time.monotonic()
    process.wait(30)
    return time.monotonic() - began


def hears_ctrl_c():
    """What a program is started with at a terminal; started behind one, it is to be deaf to it."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@pytest.mark.parametrize("work", [DEAF, f"{HEARING}\ntime.sleep(60)"])
def test_a_program_ends_within_a_second(work):
    program = subprocess.Popen(
        [sys.executable, "-c", work],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        preexec_fn=hears_ctrl_c,
    )
    assert program.stdout.readline() == b"begun\n"
    time.sleep(0.5)
    assert ended_in(program) < MOST_S
    assert program.returncode != 0


def test_a_library_that_swallows_ctrl_c_as_it_is_loaded_does_not_go_on(tmp_path):
    """As trimesh does, which takes it for the lack of Pillow (trimesh/visual/material.py)."""
    (tmp_path / "swallows.py").write_text(SWALLOWS, encoding="utf-8")
    command = "from digitize.cli.interrupt import watch; watch(); import swallows; print('on')"
    loading = subprocess.Popen(
        [sys.executable, "-c", command],
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        preexec_fn=hears_ctrl_c,
    )
    assert loading.stdout.readline() == b"begun\n"
    assert ended_in(loading) < MOST_S
    assert loading.returncode != 0
    assert loading.communicate() == (b"", b"")


@pytest.mark.slow
@pytest.mark.parametrize("after_s", [0.3, 0.9, 1.6, 2.4])
def test_a_reading_ends_within_a_second_and_its_folder_is_as_it_was(tmp_path, after_s):
    (tmp_path / "pattern.svg").write_bytes(b"old")
    command = "import sys; from digitize.cli import main; sys.argv[0] = 'digitize'; main()"
    given = ["photo", str(SAMPLES / "easy.jpg"), "--out", str(tmp_path)]
    reading = subprocess.Popen(
        [sys.executable, "-c", command, *given],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        preexec_fn=hears_ctrl_c,
    )
    time.sleep(after_s)
    assert reading.poll() is None, "it ended before it was interrupted"
    assert ended_in(reading) < MOST_S
    assert [(path.name, path.read_bytes()) for path in tmp_path.iterdir()] == [
        ("pattern.svg", b"old")
    ]
    assert b"Traceback" not in reading.stderr.read()
