from pathlib import Path

import pytest

from digitize.floor.photo import open_photo
from digitize.reading import Reading, read_pattern
from digitize.record import Pattern, from_json

SAMPLES = Path(__file__).parent.parent / "sample_photos"


@pytest.fixture(scope="session")
def easy() -> Reading:
    """The easy rendered photo, read once."""
    path = SAMPLES / "easy.jpg"
    return read_pattern([open_photo(path.name, path.read_bytes())], "easy", "left")


@pytest.fixture(scope="session")
def easy_truth() -> Pattern:
    return from_json((SAMPLES / "easy.truth.json").read_text())
