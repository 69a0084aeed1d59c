"""What two readings' sizes leave open between them, worked out by hand."""

import numpy as np
import pytest

from digitize.compare.deviation import compared
from digitize.compare.sizes import size_doubt
from digitize.compare.verdict import verdict_on
from digitize.plane import Placement
from digitize.record import CardSeen, Pattern, PrintCorrection, PrintDoubt, Scale, mirrored
from tests.compare.test_compare import panel, turned

# 600 by 800 mm: the corners lie 500 mm from the middle.
OUTLINE = ((0.0, 0.0), (600.0, 0.0), (600.0, 800.0), (0.0, 800.0))


def scale(beside_mm, turns=(0.0, 90.0), relative=0.004, measured=False, x=1.0, **more):
    """A reading by cards 1, 2, .. that lie turned so; its print alone makes 2 mm at a corner."""
    return Scale(
        **{
            "cards": tuple(
                CardSeen(number=n, paper="a4", corners=66, centre=(0.0, 0.0), turn_deg=turn)
                for n, turn in enumerate(turns, 1)
            ),
            "reprojection_px": 0.1,
            "print_correction": PrintCorrection(x=x),
            "accuracy_mm": float(np.hypot(beside_mm, 500 * relative)),
            "accuracy_cards_mm": beside_mm,
            "accuracy_print_mm": 500 * relative,
            "accuracy_flatness_mm": 0.0,
            "print_doubt": PrintDoubt(
                relative=relative, measured=measured, accuracy_beside_mm=beside_mm
            ),
            **more,
        }
    )


def doubt(own, its, turn_deg=0.0, anew=False):
    turn = np.radians(turn_deg)
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    placement = Placement(matrix, np.zeros(2), np.zeros(2), np.zeros((3, 3)))
    patterns = [Pattern(name="p", outline=OUTLINE, scale=each) for each in (own, its)]
    return size_doubt(*patterns, None if anew else placement)


def test_the_print_of_the_same_cards_makes_no_difference():
    # 0.3 and 0.4 mm beside the print make 0.5; with 2 mm of print in each, the root of 0.25 + 8.
    alike = doubt(scale(0.3), scale(0.4))
    assert alike.mm == pytest.approx(0.5) and alike.shared_cards == (1, 2)
    told = {"measured": True, "x": 1.01}
    assert doubt(scale(0.3, **told), scale(0.4, **told)).mm == pytest.approx(0.5)
    # Turned half round, a card is as it was.
    assert doubt(scale(0.3), scale(0.4, (180.0, -90.0))).mm == pytest.approx(0.5)


@pytest.mark.parametrize(
    "its",
    [
        scale(0.4, measured=True),
        scale(0.4, x=1.001),
        scale(0.4, turns=(0.0,)),
        scale(0.4, turns=(0.0, 90.0, 5.0)),
        scale(0.4).model_copy(
            update={
                "cards": tuple(
                    card.model_copy(update={"paper": "letter"}) for card in scale(0.4).cards
                )
            }
        ),
        scale(0.4, print_doubt=None),
    ],
    ids=["measured", "other rules", "fewer cards", "more cards", "other sheets", "old record"],
)
def test_the_print_counts_in_both_where_it_may_be_another(its):
    for pair in ((scale(0.3), its), (its, scale(0.3))):
        apart = doubt(*pair)
        assert apart.mm == pytest.approx(np.sqrt(0.25 + 8)) and apart.shared_cards == ()


def test_a_print_of_another_day_counts_and_one_scale_alone_is_its_own():
    apart = doubt(scale(0.3), scale(0.4), anew=True)
    assert apart.mm == pytest.approx(np.sqrt(0.25 + 8)) and apart.shared_cards == ()
    assert doubt(scale(0.3), None).mm == pytest.approx(np.sqrt(0.09 + 4))


@pytest.mark.parametrize(
    ("turns", "laid_deg", "print_mm"),
    [
        # Turned by 30 degrees, half of the root of 2 times 2 mm comes back.
        ((30.0, 90.0), 0.0, np.sqrt(2)),
        ((0.0, 60.0), 0.0, np.sqrt(2)),
        # By a right angle all of it, as of two prints.
        ((90.0, 180.0), 0.0, np.sqrt(8)),
        # What the pattern as a whole is turned by does not count.
        ((-30.0, 60.0), 30.0, 0.0),
        ((0.0, 90.0), 30.0, np.sqrt(2)),
    ],
)
def test_a_card_that_lies_turned_brings_its_print_back(turns, laid_deg, print_mm):
    apart = doubt(scale(0.3), scale(0.4, turns), laid_deg)
    assert apart.mm == pytest.approx(np.hypot(0.5, print_mm))


def test_the_less_sure_print_and_the_larger_paper_count():
    # Card 1 turned by 30 degrees: half of the root of 2 times 0.8 % of 500 mm.
    for pair in ((0.004, 0.008), (0.008, 0.004)):
        own, its = (scale(0.0, (30.0 * i, 90.0), each) for i, each in enumerate(pair))
        assert doubt(own, its).mm == pytest.approx(np.sqrt(2) * 2)
    small = Pattern(name="s", outline=tuple((x / 2, y / 2) for x, y in OUTLINE), scale=scale(0.0))
    large = Pattern(name="l", outline=OUTLINE, scale=scale(0.0, (30.0, 90.0)))
    placement = Placement(np.eye(2), np.zeros(2), np.zeros(2), np.zeros((3, 3)))
    for pair in ((small, large), (large, small)):
        assert size_doubt(*pair, placement).mm == pytest.approx(np.sqrt(2))


def read(beside_mm=0.3, degrees=0.0, **more):
    """The panel as read, lying turned, its cards with it."""
    found = turned(panel(), degrees) if degrees else panel()
    turns = (5.0 + degrees, 95.0 + degrees)
    return found.model_copy(update={"scale": scale(beside_mm, turns, **more)})


def test_a_verdict_by_the_same_cards_says_what_it_rests_on():
    found = compared(read(), read(degrees=70.0))
    assert found.accuracy_mm == pytest.approx(np.sqrt(0.18), abs=0.01)
    assert found.shared_cards == (1, 2)
    verdict = verdict_on(found)
    assert verdict.says == "same" and "by cards 1, 2, so that" in verdict.reasons[-1]
    assert "printed anew" in verdict.reasons[-1]
    # The same of the other side, whose cards lie as in a mirror.
    flipped = compared(read(), mirrored(read(degrees=70.0)), mirror=True)
    assert flipped.accuracy_mm == pytest.approx(np.sqrt(0.18), abs=0.01)
    # Measured in one only, it cannot be told, as ever: about 2 mm in each, of 1.6 allowed.
    open_ = verdict_on(compared(read(), read(measured=True)))
    assert open_.says == "cannot tell" and "of true size" in open_.reasons[-1]
    assert not any("by cards" in words for words in open_.reasons)
    # Where it is open by more than the print, that is between the two.
    open_ = verdict_on(compared(read(1.5), read(1.5)))
    assert "of each other's size" in open_.reasons[-2]


def test_a_paper_read_again_may_have_been_read_by_cards_printed_since():
    grown = compared(read(), read(), growing=True)
    assert grown.shared_cards == () and grown.accuracy_mm > 2
