"""What is said of a new reading of a paper that was read before."""

from digitize.compare import Growth
from digitize.mend import Carried
from digitize.record import Pattern
from digitize.remarks import about_carried, about_grown
from tests.mend.test_carry import line

PATTERN = Pattern(name="p", outline=((0, 0), (9, 0), (9, 9)))


def test_what_was_told_and_is_not_found_again_is_told_of_lines_and_slits():
    lost = (line("L4", [(0, 0), (9, 9)], "radius-start"), line("L7", [(0, 0), (9, 9)], "form"))
    remarks = about_carried(Carried(PATTERN, lost, spreads=3, spreads_found=2))
    assert [each.kind for each in remarks] == ["told-lost"] * 3
    assert "about L4 (radius-start)" in remarks[0].words
    assert "about L7 (form)" in remarks[1].words
    assert remarks[2].words == "of 3 slits told to have opened 2 are in this reading"


def test_nothing_is_told_where_all_is_found_again():
    assert not about_carried(Carried(PATTERN, (), spreads=2, spreads_found=2))


def test_growth_is_told_only_where_it_is_sure():
    (remark,) = about_grown(Growth(along=0.004, across=-0.0005, along_deg=30, within=0.002))
    assert remark.severity == "note"
    assert "grown by 0.40% along 30 degrees and shrunk by 0.05% across" in remark.words
    assert not about_grown(Growth(along=0.0015, across=-0.0005, along_deg=30, within=0.002))
