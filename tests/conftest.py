import gc
from pathlib import Path

import pytest

from digitize.floor import open_photo
from digitize.reading import Reading, pipeline, read_pattern
from digitize.record import Pattern, from_json
from tests import seen_once

SAMPLES = Path(__file__).parent.parent / "sample_photos"
RECORDS = Path(__file__).parent / "record" / "records"
READS_A_PHOTO = {"easy", "curled", "scenes", "reading"}
# Files whose tests take the longest: with these begun first, no worker waits for another at the
# end. A file is one worker's, as its tests share what they have made.
LONGEST = (
    "page/test_browser.py",
    "reading/test_reading.py",
    "cli/test_commands.py",
    "page/test_space.py",
    "page/test_shoot.py",
    "reading/test_reprint.py",
    "paper/test_edge.py",
    "cli/test_drawer.py",
    "form/test_demo.py",
    "tucks/test_pressed.py",
    "jobs/test_renew.py",
    "jobs/test_tell.py",
    "test_api.py",
    "reading/test_glance.py",
    "page/test_bench.py",
    "reading/test_misprint.py",
)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """What reads a photo takes its time: the tests are so marked by their fixtures."""
    for item in items:
        if READS_A_PHOTO & set(item.fixturenames):
            item.add_marker(pytest.mark.slow)
    items.sort(key=lambda item: _begun(item.path.relative_to(Path(__file__).parent).as_posix()))


def pytest_collection_finish():
    # What was loaded stays: it need not be looked through again and again.
    gc.collect()
    gc.freeze()


def _begun(file):
    """When a file's tests are begun."""
    return LONGEST.index(file) if file in LONGEST else len(LONGEST)


def pytest_configure(config):
    if not hasattr(config, "workerinput"):  # a worker's folder is that of the run
        seen_once.begin()


def pytest_unconfigure(config):
    if not hasattr(config, "workerinput"):
        seen_once.end()


@pytest.fixture(scope="session")
def easy() -> Reading:
    """The easy rendered photo, read once."""
    path = SAMPLES / "easy.jpg"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pipeline, "read_marks", seen_once.read_marks)
        return read_pattern([open_photo(path.name, path.read_bytes())], "easy", "left")


@pytest.fixture
def photos_seen_once(monkeypatch):
    """A photo that was read before is not looked at again: for tests of what follows from it."""
    monkeypatch.setattr(pipeline, "read_marks", seen_once.read_marks)


@pytest.fixture(scope="session")
def corner() -> Pattern:
    """The record that was read from the easy rendered photo once, as a file has it."""
    return from_json((RECORDS / "as-read.json").read_text())


@pytest.fixture(scope="session")
def easy_truth() -> Pattern:
    return from_json((SAMPLES / "easy.truth.json").read_text())
