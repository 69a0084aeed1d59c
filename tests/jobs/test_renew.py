"""A kept pattern read again from its photo, with what was told about it."""

import pytest

from digitize.errors import NotKept
from digitize.jobs.disk import write_all
from digitize.jobs.folder import files_of_reading, load_pattern
from digitize.jobs.keep import keep_pattern
from digitize.jobs.renew import renew_patterns
from digitize.jobs.tell import tell
from tests.conftest import SAMPLES


@pytest.fixture(scope="module")
def drawer(easy, tmp_path_factory):
    """A drawer with the easy photo's pattern, and one that was kept without its photo."""
    folder = tmp_path_factory.mktemp("renew")
    write_all(
        files_of_reading(easy.pattern, easy.pattern, easy.raster, folder / "easy", mirror=False)
    )
    tell(folder / "easy", notes={"L17": "crown"}, radii={"R1-start": 76.2})
    where = folder / "drawer"
    keep_pattern(folder / "easy", with_photos=SAMPLES, drawer=where)
    keep_pattern(folder / "easy", name="bare", drawer=where)
    return where


@pytest.mark.slow
@pytest.mark.usefixtures("photos_seen_once")
def test_the_same_comes_out_and_is_kept_and_what_cannot_be_read_again_is_named(drawer):
    (bare,) = renew_patterns("bare", drawer=drawer)
    assert "without its photos" in bare.why_not and bare.kept is None
    (whole,) = renew_patterns("easy", drawer=drawer, keep=True)
    assert whole.why_not is None
    assert whole.lines[0] == whole.lines[1] > 10 and whole.tucks == (7, 7)
    assert whole.furthest_mm < 0.01 and whole.lap_mm < 0.01
    assert (whole.told, whole.lost) == (2, 0)
    assert whole.kept.number == 2
    record = load_pattern(whole.kept.folder)
    assert record.line("L17").note == "crown"
    assert {"reading.json", "photos"} <= {path.name for path in whole.kept.folder.iterdir()}


def test_words_that_nothing_kept_has_are_refused(tmp_path):
    (tmp_path / "drawer").mkdir()
    with pytest.raises(NotKept, match="no kept pattern fits"):
        renew_patterns("x", drawer=tmp_path / "drawer")
