"""What sheets tell of a print, worked out by hand."""

import numpy as np
import pytest

from digitize.floor import PrintScale, PrintSeen, ScaleSeen, SheetSeen, SheetSide
from digitize.floor.print_size import print_doubt, print_of

TRUE = PrintScale()


def sheet(across, along, sigma=0.1, paper="a4", number=1):
    sides = [None if side is None else SheetSide(side, sigma) for side in (across, along)]
    return SheetSeen(number, paper, *sides)


def test_a_sheet_that_looks_too_large_was_printed_too_small():
    # 210 / 0.97 = 216.495; 297 / 0.971 = 305.870.
    seen = print_of([sheet(216.495, 305.870)])
    assert seen.across.scale == pytest.approx(0.97, abs=1e-5)
    assert seen.along.scale == pytest.approx(0.971, abs=1e-5)
    # The edges' 0.1 mm and the pack's 0.75 mm together are 0.7566 mm.
    assert seen.across.sigma == pytest.approx(0.7566 / 210, abs=1e-5)
    assert seen.along.sigma == pytest.approx(0.7566 / 297, abs=1e-5)


def test_more_sheets_of_one_pack_leave_its_cut_as_open_as_one():
    one, nine = (print_of([sheet(210.0, 297.0)] * count) for count in (1, 9))
    # 0.1 / 3 and 0.75 mm.
    assert nine.across.sigma == pytest.approx(0.75074 / 210, abs=1e-6)
    assert one.across.sigma < 1.01 * nine.across.sigma


def test_a_sheet_unlike_the_others_does_not_count():
    seen = print_of([sheet(210.1, 297.1), sheet(209.9, 296.9), sheet(214.0, None)])
    assert seen.across.scale == pytest.approx(1.0, abs=1e-5)
    assert print_of([sheet(210.0, 297.0), sheet(213.0, 297.0)]).across is None
    # Nor does one in the middle speak for two that it disagrees with.
    assert print_of([sheet(207.0, None), sheet(210.0, None), sheet(213.0, None)]).across is None


def test_sheets_that_show_less_surely_count_less():
    # Weights of 1 / 0.1^2 and 1 / 0.2^2: (4 * 210 / 210.3 + 1) / 5.
    seen = print_of([sheet(210.3, None, 0.1), sheet(210.0, None, 0.2)])
    assert seen.across.scale == pytest.approx((4 * 210 / 210.3 + 1) / 5, abs=1e-5)
    assert print_of([]) == PrintSeen(None, None)


def test_a_card_fitted_to_another_paper_is_told_by_the_sheet_s_shape():
    # An A4 card shrunk until its height fits a Letter sheet: 279.4 / 297 = 0.94074. The sheet then
    # looks as high as it should, and 215.9 / 0.94074 = 229.5 mm wide.
    seen = print_of([sheet(229.5, 297.0)])
    assert seen.across.scale == pytest.approx(0.94074, abs=1e-4)
    assert seen.along.scale == pytest.approx(0.94074, abs=1e-4)
    # With one way in sight there's no shape: it is taken to be the card's own.
    assert print_of([sheet(None, 297.0)]).along.scale == 1.0
    assert print_of([sheet(None, 279.4, paper="letter")]).along.scale == 1.0


def test_both_ways_together_tell_more_than_one():
    # Weights as 210^2 to 297^2: (44100 * 0.97 + 88209 * 0.971) / 132309 = 0.970667; sigma
    # 0.75 / sqrt(132309) = 0.002062.
    seen = PrintSeen(ScaleSeen(0.97, 0.75 / 210), ScaleSeen(0.971, 0.75 / 297))
    both = seen.beside(TRUE)
    assert both.scale == pytest.approx(0.970667, abs=1e-6)
    assert both.sigma == pytest.approx(0.002062, abs=1e-6)
    # Beside a print measured at 0.97 and 1.942 / 2 nothing is left over.
    assert seen.beside(PrintScale(0.97, 0.971)).scale == pytest.approx(1.0, abs=1e-9)
    assert PrintSeen(None, None).beside(TRUE) is None


def seen_at(across, along, sigma=0.001):
    return PrintSeen(ScaleSeen(across, sigma), ScaleSeen(along, sigma))


def test_a_print_contradicts_where_it_is_off_by_more_than_allowed_and_than_is_open():
    assert seen_at(0.97, 0.99).contradiction(TRUE, 0.007) == pytest.approx(0.03)
    assert seen_at(1.0, 1.008).contradiction(TRUE, 0.007) == pytest.approx(0.008)
    assert seen_at(1.0, 1.006).contradiction(TRUE, 0.007) == 0
    # 1.96 * 0.0045 = 0.0088 are open each way, but both ways together only 0.0062.
    assert seen_at(1.008, 1.008, 0.0045).contradiction(TRUE, 0.007) == pytest.approx(0.008)
    assert seen_at(1.008, 0.992, 0.0045).contradiction(TRUE, 0.007) == 0
    # A rule typed as 152.4 mm: 1.6 % from what the sheets show.
    assert seen_at(1.0, 1.0).contradiction(PrintScale(1.016, 1.0), 0.012) == pytest.approx(
        0.01575, abs=1e-5
    )
    assert PrintSeen(None, None).contradiction(TRUE, 0.0) == 0


def test_a_print_that_nobody_measured_is_doubted_by_what_is_known_of_it():
    assert print_doubt(PrintSeen(None, None), TRUE, measured=False) == 0.005
    # A rule's reading, 0.15 of 150 mm.
    assert print_doubt(seen_at(1.0, 1.0), TRUE, measured=True) == pytest.approx(0.001)
    # 1.96 * 0.75 / sqrt(210^2 + 297^2) = 0.00404 are less than the printer's 0.005.
    both = PrintSeen(ScaleSeen(1.0, 0.75 / 210), ScaleSeen(1.0, 0.75 / 297))
    assert print_doubt(both, TRUE, measured=False) == pytest.approx(0.00404, abs=1e-5)
    # One way alone leaves 0.007 open: the printer is known better.
    across = PrintSeen(ScaleSeen(1.0, 0.75 / 210), None)
    assert print_doubt(across, TRUE, measured=False) == pytest.approx(0.005)


def test_a_difference_that_the_sheets_show_is_part_of_the_doubt():
    both = PrintSeen(ScaleSeen(1.003, 0.75 / 210), ScaleSeen(1.003, 0.75 / 297))
    assert print_doubt(both, TRUE, measured=False) == pytest.approx(
        np.hypot(0.00404, 0.003), abs=2e-5
    )
    assert print_doubt(seen_at(0.97, 0.97), TRUE, measured=False) == pytest.approx(0.0301, abs=1e-4)
    assert print_doubt(seen_at(0.97, 0.97), PrintScale(0.97, 0.97), measured=True) == pytest.approx(
        0.001
    )
    assert print_doubt(seen_at(1.0, 1.0), PrintScale(1.016, 1.016), measured=True) == pytest.approx(
        0.01578, abs=1e-4
    )
