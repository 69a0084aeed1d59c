import json
from functools import cache

import numpy as np
import pytest

from digitize.errors import CameraError
from digitize.floor.accuracy import accuracy_at
from digitize.floor.exif import refuse_other_focal
from digitize.floor.faults import solve_sound_floor
from digitize.floor.kept import (
    KeptCamera,
    camera_from_json,
    camera_json,
    keep_camera,
    lens_for,
    refuse_misfit,
)
from digitize.floor.solve import KeptLens, solve_floor
from digitize.floor.start import View
from tests.bench.compare import rigid
from tests.floor.by_hand import camera_over, solution_of
from tests.floor.test_solve import PLACES, SHOT, view
from tests.scene import Shot

SHOTS = [
    Shot(eye=(80, -500, 1050)),
    Shot(eye=(-520, 60, 1000)),
    Shot(eye=(450, 300, 1050)),
    Shot(eye=(0, 40, 1250)),
]


@cache
def kept():
    views = [view(shot, PLACES, 1500.0, 0.1, n, camera="demo") for n, shot in enumerate(SHOTS)]
    return keep_camera(solve_floor(views))


def test_a_kept_camera_has_the_lens_and_survives_its_file():
    camera = camera_from_json(camera_json(kept()))
    assert camera == kept()
    assert camera.terms[0] == pytest.approx(1500, abs=2)
    assert camera.terms[3:5] == pytest.approx(SHOT.radial, abs=0.003)


def test_with_a_kept_camera_one_card_is_enough():
    paper = np.array([[x, y] for x in (-200, 0, 250) for y in (-200, 0, 200)], float)
    first = np.zeros(len(paper), int)
    errors = {}
    for name, camera in {"unknown": None, "kept": kept()}.items():
        squares = []
        for seed in range(6):
            views = [view(SHOT, [1], 1520.0, 0.1, seed, camera="demo")]
            lens = lens_for(camera, views) if camera else None
            solution = solve_floor(views, kept_lens=lens)
            found = solution.cameras[0].to_floor(SHOT.project(paper))
            rotation, shift = rigid(found, paper)
            away = np.linalg.norm(found @ rotation.T + shift - paper, axis=1)
            squares.append(np.mean(away**2))
            assert (away < 2 * accuracy_at(solution, found, first, found, first).cards_mm).all()
        errors[name] = np.sqrt(np.mean(squares))
    assert errors["kept"] < 0.3 < errors["unknown"]


def test_a_smaller_picture_of_the_same_camera_is_known_too():
    half = Shot(eye=(80, -200, 1150), focal_px=750.0, size=(1008, 756), offset=(0.25, 0.25))
    lens = lens_for(kept(), [view(half, [1], 750.0, camera="demo")])
    assert lens.terms[0] == pytest.approx(750, abs=1)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"camera": "another"}, "another"),
        ({"focal_px": 3000.0}, "2.0 times"),
        ({"size": (2016, 1134)}, "shape"),
    ],
)
def test_photos_that_the_kept_camera_did_not_take_are_refused(change, words):
    shot = Shot(eye=(80, -200, 1150), size=change.get("size", (2016, 1512)))
    views = [view(shot, [1], change.get("focal_px", 1500.0), camera=change.get("camera", "demo"))]
    with pytest.raises(CameraError, match=words):
        lens_for(kept(), views)


def test_shots_that_leave_the_lens_open_are_refused():
    with pytest.raises(CameraError, match="tilted"):
        keep_camera(solve_floor([view(Shot(eye=(0, 1, 1200)), [1], 1500.0, 0.2)]))


def test_what_is_no_camera_file_is_refused():
    for text in ("", "{}", '{"kind": "camera"}'):
        with pytest.raises(CameraError, match="not a camera file"):
            camera_from_json(text)


TERMS = (1500.0, 8.0, -6.0, 0.03, -0.02, 0.01, 0.001, -0.002)
SIGMAS = np.array([3.0, 2.0, 1.0, 0.01, 0.02, 0.03, 1e-4, 2e-4])


def known_camera():
    """A lens whose terms hang together: all correlations are 0.3."""
    alike = 0.3 + 0.7 * np.eye(8)
    return KeptCamera(
        camera="demo",
        focal_exif_px=1500.0,
        width_px=2016,
        height_px=1512,
        photos=4,
        residual_px=0.1,
        terms=TERMS,
        covariance=tuple(tuple(row) for row in (alike * np.outer(SIGMAS, SIGMAS)).tolist()),
    )


def test_at_half_the_size_pixels_are_half_as_many_and_the_bend_is_the_same():
    lens = lens_for(known_camera(), [View((), (1008, 756), 750.0, camera="demo")])
    assert lens.terms == pytest.approx([750, 4, -3, 0.03, -0.02, 0.01, 0.001, -0.002])
    sigmas = [1.5, 1.0, 0.5, 0.01, 0.02, 0.03, 1e-4, 2e-4]
    assert np.sqrt(np.diag(lens.covariance)) == pytest.approx(sigmas)
    # Focal length with the first bend: half of 0.3 * 3 * 0.01; with the centre: a quarter.
    assert lens.covariance[0, 3] == pytest.approx(0.0045)
    assert lens.covariance[0, 1] == lens.covariance[1, 0] == pytest.approx(0.45)


def test_a_photo_turned_upright_has_the_sensors_shape():
    lens = lens_for(known_camera(), [View((), (1512, 2016), 1500.0, 1, "demo")])
    assert lens.terms == pytest.approx(TERMS)
    with pytest.raises(CameraError, match="shape"):
        lens_for(known_camera(), [View((), (1512, 2016), 1500.0, 2, "demo")])


@pytest.mark.parametrize("times", [0.25, 1, 4])
def test_a_crop_of_two_percent_is_another_shape_at_any_size(times):
    width = round(2016 * times)
    focal = 1500.0 * times
    assert lens_for(known_camera(), [View((), (width, round(1512 * times)), focal, 0, "demo")])
    with pytest.raises(CameraError, match="shape"):
        lens_for(known_camera(), [View((), (width, round(1482 * times)), focal, 0, "demo")])


@pytest.mark.parametrize("sigmas", [-5.0, -3.5, 3.5, 5.0])
def test_cards_may_pull_a_kept_lens_by_four_sigmas_to_either_side(sigmas):
    solution = solution_of([camera_over((0.0, 0.0, 1000.0))])
    # The lens made by hand has a prior of one pixel.
    solution.fit.parameters[0] += sigmas
    if abs(sigmas) < 4:
        refuse_misfit(solution)
    else:
        with pytest.raises(CameraError, match="contradict"):
            refuse_misfit(solution)


def test_a_kept_lens_is_weighed_by_its_covariance_and_a_focal_length_drifts():
    camera = known_camera()
    lens = KeptLens(np.array(camera.terms), np.array(camera.covariance))
    solution = solve_floor([view(SHOT, [1], 1500.0)], kept_lens=lens)
    ((terms, root),) = solution.fit.problem.lens_priors
    # Focusing moves the focal length by 0.2 %: 3 px, as much again as it was uncertain.
    drifted = np.array(camera.covariance) + np.diag([9.0] + [0.0] * 7)
    assert terms == pytest.approx(TERMS)
    assert np.linalg.inv(root.T @ root) == pytest.approx(drifted, rel=1e-6)


def without_exif(**changes):
    """The camera kept of SHOTS, with other figures in its file."""
    return kept().model_copy(update={"focal_exif_px": None, **changes})


@pytest.mark.parametrize("times", [0.25, 0.5, 2.0, 4.0, 20.0])
@pytest.mark.parametrize("numbers", [[1, 2], [1, 2, 3, 4]])
def test_a_kept_camera_of_another_focal_length_is_refused_by_the_cards(times, numbers):
    camera = without_exif(terms=(kept().terms[0] * times, *kept().terms[1:]))
    views = [view(SHOT, numbers, None, 0.1, camera="demo")]
    with pytest.raises(CameraError, match="contradict"):
        refuse_misfit(solve_sound_floor(views, kept_lens=lens_for(camera, views))[0])


def test_a_kept_camera_of_the_right_focal_length_is_taken_without_exif():
    views = [view(SHOT, PLACES, None, 0.1, camera="demo")]
    lens = lens_for(without_exif(), views)
    refuse_misfit(solve_sound_floor(views, kept_lens=lens)[0])


def test_a_lens_that_nothing_can_be_solved_with_is_refused():
    bent = (*kept().terms[:3], 80.0, 0.0, -1e4, 0.0, 0.0)
    views = [view(SHOT, PLACES, None, 0.1, camera="demo")]
    with pytest.raises(CameraError, match="contradict"):
        solution, _ = solve_sound_floor(views, kept_lens=lens_for(without_exif(terms=bent), views))
        refuse_misfit(solution)


SPREAD = np.diag(SIGMAS**2)


@pytest.mark.parametrize(
    "changes",
    [
        {"terms": (*TERMS[:3], np.nan, *TERMS[4:])},
        {"terms": (np.inf, *TERMS[1:])},
        {"terms": (-1500.0, *TERMS[1:])},
        {"terms": (0.0, *TERMS[1:])},
        {"width_px": 0},
        {"covariance": np.zeros((8, 8))},
        {"covariance": -SPREAD},
        {"covariance": np.ones((8, 8))},
        {"covariance": SPREAD + np.diag([0.5] * 7, 1)},
        {"covariance": np.where(np.eye(8) > 0, SPREAD, np.nan)},
    ],
)
def test_a_file_whose_figures_are_of_no_lens_is_refused(changes):
    if "covariance" in changes:
        changes = {"covariance": tuple(map(tuple, changes["covariance"].tolist()))}
    text = json.dumps({**known_camera().model_dump(), **changes})
    with pytest.raises(CameraError, match="damaged"):
        camera_from_json(text)


@pytest.mark.parametrize(("exif_px", "refused"), [(1500.0, False), (1350.0, False), (900.0, True)])
def test_cards_that_contradict_exifs_focal_length_are_said_to(exif_px, refused):
    # EXIF is good to 4 %, so 36 px of 900: 1500 is far over four times that.
    solution = solve_floor([view(SHOT, PLACES, exif_px, 0.1)])
    if refused:
        with pytest.raises(CameraError, match="photo 1: EXIF gives a focal length of 900 px"):
            refuse_other_focal(solution)
    else:
        refuse_other_focal(solution)


def test_a_camera_file_of_a_later_schema_is_named_with_what_wrote_it():
    text = json.dumps({**known_camera().model_dump(), "schema_version": 2, "written_by": "0.9"})
    with pytest.raises(CameraError, match=r"schema 2, written by 0\.9 of this program"):
        camera_from_json(text)


def test_what_nobody_knows_in_a_camera_file_stays():
    text = json.dumps({**known_camera().model_dump(), "lens": {"name": "wide"}})
    assert json.loads(camera_json(camera_from_json(text)))["lens"] == {"name": "wide"}


@pytest.mark.parametrize(
    "values",
    [
        {"width_px": "4000"},
        {"width_px": 4000.5},
        {"width_px": 10**400},
        {"photos": -3},
        {"residual_px": float("inf")},
        {"camera": "c" * 300},
        {"focal_exif_px": 0},
        {"covariance": [[1.0], [1.0, 2.0]]},
        {"terms": [1.0] * 900},
    ],
)
def test_what_no_camera_file_says_is_refused_in_one_line(values):
    with pytest.raises(CameraError, match="not a camera file") as raised:
        camera_from_json(json.dumps({**known_camera().model_dump(), **values}))
    assert next(iter(values)) in str(raised.value) and "\n" not in str(raised.value)
