from pathlib import Path

import pytest

from digitize.floor import open_photo
from digitize.reading import Reading, read_pattern
from digitize.record import Pattern, from_json

SAMPLES = Path(__file__).parent.parent / "sample_photos"
RECORDS = Path(__file__).parent / "record" / "records"
READS_A_PHOTO = {"easy", "curled", "scenes", "reading"}


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """What reads a photo takes its time: the tests are so marked by their fixtures."""
    for item in items:
        if READS_A_PHOTO & set(item.fixturenames):
            item.add_marker(pytest.mark.slow)


@pytest.fixture(scope="session")
def easy() -> Reading:
    """The easy rendered photo, read once."""
    path = SAMPLES / "easy.jpg"
    return read_pattern([open_photo(path.name, path.read_bytes())], "easy", "left")


@pytest.fixture(scope="session")
def corner() -> Pattern:
    """The record that was read from the easy rendered photo once, as a file has it."""
    return from_json((RECORDS / "as-read.json").read_text())


@pytest.fixture(scope="session")
def easy_truth() -> Pattern:
    return from_json((SAMPLES / "easy.truth.json").read_text())
