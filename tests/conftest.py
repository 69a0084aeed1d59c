from dataclasses import replace
from pathlib import Path

import pytest

from digitize.floor import open_photo
from digitize.reading import STAGES, Reading, pipeline, read_pattern
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


_SEEN: dict[tuple[str, str], pipeline.Marks] = {}
_see_marks = pipeline.read_marks


def _marks_seen_once(photos, asked=pipeline.NOTHING_ASKED, progress=lambda stage: None):
    """As ``read_marks``; what one photo shows is seen once for all who ask the same of it."""
    if len(photos) > 1 or not photos[0].sha256 or asked.kept_camera:
        return _see_marks(photos, asked, progress)
    key = photos[0].sha256, repr(asked)
    if key not in _SEEN:
        _SEEN[key] = _see_marks(photos, asked, progress)
        return _SEEN[key]
    for stage in STAGES[: STAGES.index("tucks")]:
        progress(stage)
    seen = _SEEN[key]
    return replace(seen, scene=replace(seen.scene, photos=tuple(photos), asked=asked))


@pytest.fixture(scope="session")
def easy() -> Reading:
    """The easy rendered photo, read once."""
    path = SAMPLES / "easy.jpg"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pipeline, "read_marks", _marks_seen_once)
        return read_pattern([open_photo(path.name, path.read_bytes())], "easy", "left")


@pytest.fixture
def photos_seen_once(monkeypatch):
    """A photo that was read before is not looked at again: for tests of what follows from it."""
    monkeypatch.setattr(pipeline, "read_marks", _marks_seen_once)


@pytest.fixture(scope="session")
def corner() -> Pattern:
    """The record that was read from the easy rendered photo once, as a file has it."""
    return from_json((RECORDS / "as-read.json").read_text())


@pytest.fixture(scope="session")
def easy_truth() -> Pattern:
    return from_json((SAMPLES / "easy.truth.json").read_text())
