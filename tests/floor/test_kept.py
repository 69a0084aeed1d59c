from functools import cache

import numpy as np
import pytest

from digitize.errors import CameraError
from digitize.floor.accuracy import accuracy_at
from digitize.floor.kept import camera_from_json, camera_json, keep_camera, lens_for
from digitize.floor.solve import solve_floor
from tests.bench.compare import rigid
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
