"""What cannot be worked out costs one tuck, by name, and never the reading."""

import numpy as np
import pytest
from shapely.errors import GEOSException

from digitize.remarks import with_remarks
from digitize.tucks import laps, slits
from digitize.tucks.laps import measure_laps
from digitize.tucks.slits import find_tucks
from tests.marks import blank, curve_of, record_of

OUTLINE = np.array([[0, 0], [400, 0], [400, 300], [0, 300]], float)
PLAIN = [curve_of([[100, 120], [100, 0.5]], 0.9, 0.4), curve_of([[100.3, 119], [112.3, 0.5]])]
OTHER = [curve_of([[300, 120], [300, 0.5]], 0.9, 0.4), curve_of([[300.3, 119], [312.3, 0.5]])]
LINE = curve_of([[20, 200], [380, 200]])


def failing_at_the_second(work, error):
    """Work on a cut that cannot be done at the second slit."""

    def attempt(cut, *others):
        if cut.points[0, 0] > 200:
            raise error
        return work(cut, *others)

    return attempt


@pytest.fixture(params=[GEOSException("side location conflict"), ValueError("empty")])
def unworkable(request, monkeypatch):
    """Lap lines cannot be parted from their cut there, nor gaps be measured."""
    for module, name in ((slits, "parted"), (laps, "gape_of")):
        work = failing_at_the_second(getattr(module, name), request.param)
        monkeypatch.setattr(module, name, work)


@pytest.mark.usefixtures("unworkable")
def test_a_tuck_that_cannot_be_worked_out_is_unsure_and_the_others_are_read():
    found, lines = find_tucks([*PLAIN, *OTHER, LINE], OUTLINE, blank)
    plain, other = sorted(found, key=lambda tuck: tuck.main.points[0, 0])
    assert plain.second is not None and plain.sure > 0.5
    assert (other.kind, other.second, other.sure) == ("slit", None, 0.5)
    assert len(lines) == 2  # the second lap line stays a line
    assert measure_laps(plain, 0.0, lines, blank).stations
    assert not measure_laps(other, 0.0, lines, blank).stations


@pytest.mark.usefixtures("unworkable")
def test_it_is_named_in_the_warnings():
    pattern = with_remarks(record_of([*PLAIN, *OTHER, LINE], OUTLINE))
    (lost,) = (tuck for tuck in pattern.tucks if tuck.tip[0] > 200)
    assert lost.unsure
    said = {remark.kind: remark.about for remark in pattern.remarks}
    assert lost.id in said["lap-unread"] and lost.id in said["tuck-unsure"]
