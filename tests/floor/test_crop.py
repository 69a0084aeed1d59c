"""Cropped pictures: told by their shape, and no surer than a crop leaves them."""

from dataclasses import replace

import numpy as np
import pytest

from digitize.card.find import FoundCard
from digitize.errors import CameraError
from digitize.floor.accuracy import accuracy_at
from digitize.floor.crop import is_cut, may_be_cut, told_cut
from digitize.floor.exif import refuse_lone_cut, refuse_other_focal
from digitize.floor.kept import keep_camera, lens_for
from digitize.floor.solve import solve_floor
from digitize.floor.start import View
from tests.bench.compare import rigid
from tests.floor.test_kept import SHOTS, known_camera
from tests.floor.test_solve import PLACES, SHOT, view

WHOLE = (4032, 3024)


def shown(size, taken=None, turns=0):
    return View((), size, quarter_turns=turns, taken_px=taken)


@pytest.mark.parametrize(
    ("size", "taken", "cut"),
    [
        (WHOLE, WHOLE, False),
        # Made smaller, with the old size left in: 4:3 as it was, whichever way it was turned.
        ((1600, 1200), WHOLE, False),
        ((1200, 1600), WHOLE, False),
        # 1600 x 1204 is off 4:3 by 0.3 %, as whole pixels are; 1600 x 1220 by 1.6 %.
        ((1600, 1204), WHOLE, False),
        ((1600, 1220), WHOLE, True),
        ((4032, 2268), WHOLE, True),
        ((3024, 3024), WHOLE, True),
        # A crop of a wide picture to 4:3 is one too.
        ((2000, 1500), (4000, 2252), True),
        # Nothing in EXIF shows nothing.
        ((4032, 2268), None, False),
    ],
)
def test_a_crop_is_told_by_another_shape_than_the_picture_was_taken_in(size, taken, cut):
    assert is_cut(shown(size, taken)) == cut


@pytest.mark.parametrize(
    ("size", "taken", "doubted"),
    [
        # Sizes that phones and cameras give: 4:3, 3:2, 16:9, to within 1 %.
        ((4032, 3024), None, False),
        ((4080, 3072), None, False),
        ((6000, 4000), None, False),
        ((4000, 2252), None, False),
        ((2252, 4000), None, False),
        # A screen's 20:9, a panorama, a crop by hand.
        ((4000, 1800), None, True),
        ((4000, 1800), (4000, 1800), True),
        ((3100, 2700), None, True),
        # Squares are taken on purpose only where EXIF says so.
        ((3024, 3024), None, True),
        ((3024, 3024), (3024, 3024), False),
        ((1500, 1500), (3024, 3024), False),
        # Whatever is shown to be cut is doubted, usual as its shape may be.
        ((2000, 1500), (4000, 2252), True),
    ],
)
def test_a_shape_that_no_camera_takes_is_doubted(size, taken, doubted):
    assert may_be_cut(shown(size, taken)) == doubted


def test_both_sizes_are_named_as_the_picture_is_turned():
    words = told_cut(shown((1500, 2400), (4032, 3024), 1))
    assert "1500 x 2400 px" in words and "taken at 3024 x 4032 px" in words


def cropped(whole, left, top, width, height, taken=None):
    """What is left of a photo's view when a part of it is cut out, all cards still in it."""
    cards = tuple(
        FoundCard(card.number, card.paper, card.corners_mm, card.pixels - [left, top])
        for card in whole.cards
    )
    assert all(((c.pixels > 0) & (c.pixels < [width, height])).all() for c in cards)
    return replace(whole, cards=cards, size_px=(width, height), taken_px=taken)


def test_one_card_in_a_cropped_picture_is_refused_with_both_sizes_and_several_are_solved():
    # 2016 x 1512 px, cut on the right and below.
    lone = cropped(view(SHOT, [1], 1500.0, 0.1), 0, 0, 1300, 1100, taken=SHOT.size)
    with pytest.raises(CameraError, match=r"photo 1: .* 1300 x 1100 .* 2016 x 1512 .*more cards"):
        refuse_lone_cut(solve_floor([lone]))
    whole = view(SHOT, [1], 1500.0, 0.1)
    refuse_lone_cut(solve_floor([whole]))
    # A copy at half the size, EXIF's size left in it, is no crop.
    half = replace(whole.cards[0], pixels=(whole.cards[0].pixels + 0.5) / 2 - 0.5)
    small = replace(whole, cards=(half,), size_px=(1008, 756), taken_px=SHOT.size)
    refuse_lone_cut(solve_floor([replace(small, focal_px=750.0)]))
    # 300 px cut off at the left shift the picture's middle by half of that, away from the lens's.
    # EXIF's 900 px are no contradiction of 1500 now, as they are of a whole picture's.
    with pytest.raises(CameraError, match="900 px"):
        refuse_other_focal(solve_floor([view(SHOT, PLACES, 900.0, 0.1)]))
    four = cropped(view(SHOT, PLACES, 900.0, 0.1), 300, 0, 1716, 1512, taken=SHOT.size)
    solution = solve_floor([four])
    refuse_other_focal(solution)
    for found in (solution, solve_floor([replace(four, cards=four.cards[:2])])):
        refuse_lone_cut(found)
    away = solution.cameras[0].lens[:3] - [1500, -149.5, 0.5]
    sigmas = np.sqrt(np.diag(solution.fit.covariance)[:3])
    assert (np.abs(away) < 3 * sigmas).all() and (sigmas < [100, 15, 15]).all()


def test_a_cropped_picture_is_as_unsure_as_a_crop_may_leave_it():
    # c even from 0 to 1: its root mean square is 0.57735; half of it, either way: 1/6 of the side.
    for size, taken, focal, known, centre in [
        ((2000, 1500), None, 1500.0, 0.04, 0.006),
        ((2000, 1500), None, None, 0.2, 0.006),
        ((2000, 1700), None, 1500.0, np.hypot(0.04, 0.57735), np.hypot(0.006, 1 / 6)),
        ((2000, 1700), None, None, np.hypot(0.2, 0.57735), np.hypot(0.006, 1 / 6)),
        ((2000, 1500), (4000, 2252), 1500.0, np.hypot(0.04, 0.57735), np.hypot(0.006, 1 / 6)),
    ]:
        seen = replace(view(SHOT, [1], focal), size_px=size, taken_px=taken)
        ((terms, root),) = solve_floor([seen]).fit.problem.lens_priors
        assert 1 / np.diag(root)[:3] == pytest.approx(
            [known * terms[0], centre * 2000, centre * 2000], rel=1e-4
        )


def test_cuts_are_at_places_of_their_own_and_pictures_of_one_size_share_a_lens():
    whole = [view(shot, PLACES, 1500.0, 0.1, camera="demo") for shot in SHOTS[:2]]
    assert len(solve_floor(whole).fit.problem.lens_priors) == 1
    # A phone's own wide format, twice.
    wide = [replace(each, size_px=(2016, 1700)) for each in whole]
    assert len(solve_floor(wide).fit.problem.lens_priors) == 1
    cut = [replace(each, taken_px=(2016, 1134)) for each in whole]
    assert len(solve_floor(cut).fit.problem.lens_priors) == 2


def test_what_is_stated_of_one_card_holds_a_crop_of_no_usual_shape():
    # 316 px cut off at the left: 2016 x 1512 become 1700 x 1512, and the middle lies 158 px aside.
    paper = np.array([[x, y] for x in (-200, 0, 200) for y in (-200, 0, 200)], float)
    first = np.zeros(len(paper), int)
    held = []
    for seed in range(6):
        whole = view(SHOT, [2], 1500.0, 0.1, seed)
        part = cropped(whole, 316, 0, 1700, 1512)
        solution = solve_floor([part])
        found = solution.cameras[0].to_floor(SHOT.project(paper) - [316, 0])
        rotation, shift = rigid(found, paper)
        away = np.linalg.norm(found @ rotation.T + shift - paper, axis=1)
        stated = accuracy_at(solution, found, first, found, first).cards_mm
        held.append((away < stated).mean())
    assert np.mean(held) > 0.95


def test_a_cropped_picture_goes_with_no_kept_camera():
    for size in ((2016, 1512), (1008, 756)):
        cut = View((), size, 1500.0 * size[0] / 2016, camera="demo", taken_px=(2016, 1134))
        with pytest.raises(CameraError, match=r"photo 1: .*cropped"):
            lens_for(known_camera(), [cut])
    whole = View((), (1008, 756), 750.0, camera="demo", taken_px=(2016, 1512))
    assert lens_for(known_camera(), [whole]).terms[0] == pytest.approx(750)
    shots = [view(shot, PLACES, 1500.0, 0.1, n, camera="demo") for n, shot in enumerate(SHOTS)]
    shots[2] = replace(shots[2], taken_px=(2016, 1134))
    with pytest.raises(CameraError, match=r"photo 3: .*cropped"):
        keep_camera(solve_floor(shots))
