"""What is said of a new reading of a paper that was read before."""

from digitize.compare import Growth
from digitize.mend import Lost
from digitize.record import TellHole, TellRole
from digitize.remarks import about_grown, about_lost


def test_what_was_told_and_does_not_fit_is_told_with_why_and_where():
    hole = Lost(TellHole(number=4, at=(3.0, 5.0), diameter=6.0), "it lies off the paper")
    role = Lost(TellRole(number=7, on="L2", role="form"), "no line lies there any more")
    one, two = about_lost((hole, role))
    assert (one.kind, one.severity, one.at) == ("told-lost", "warning", (3.0, 5.0))
    assert "number 4 (hole)" in one.words and "it lies off the paper" in one.words
    assert "number 7 (role)" in two.words and two.at is None


def test_nothing_is_told_where_all_fits():
    assert not about_lost(())


def test_growth_is_told_only_where_it_is_sure():
    (remark,) = about_grown(Growth(along=0.004, across=-0.0005, along_deg=30, within=0.002))
    assert remark.severity == "note"
    assert "grown by 0.40% along 30 degrees and shrunk by 0.05% across" in remark.words
    assert not about_grown(Growth(along=0.0015, across=-0.0005, along_deg=30, within=0.002))
