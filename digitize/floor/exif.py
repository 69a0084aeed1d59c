"""What EXIF says of a lens and a picture, against what the cards say of them."""

import numpy as np

from digitize.errors import CameraError
from digitize.floor.camera import LENS_TERMS, turned_size
from digitize.floor.crop import is_cut, told_cut
from digitize.floor.solve import FloorSolution

CONTRADICTION = 4.0  # sigmas
LEAST = 0.05  # of EXIF's sigma: cards that tell nothing of the lens leave it to rounding


def refuse_other_focal(solution: FloorSolution) -> None:
    """Nothing, if the focal lengths solved without a kept camera are about those of EXIF.

    A solution that began from EXIF's focal length, good to s, and ends at one good to t has left it
    by no more than sqrt(s^2 - t^2) (1 sigma), what the cards say being as good as they say it is.

    Raises
    ------
    CameraError
        If a photo's is not; it names both.
    """
    problem, fit = solution.fit.problem, solution.fit
    for photo, view in enumerate(problem.views):
        if view.focal_px is None:
            continue
        at = problem.lens_of[photo] * LENS_TERMS
        solved = float(fit.parameters[at])
        prior = 1 / float(problem.lens_priors[problem.lens_of[photo]][1][0, 0])
        sigma = float(np.sqrt(max(prior**2 - fit.covariance[at, at], (LEAST * prior) ** 2)))
        if abs(solved - view.focal_px) > CONTRADICTION * sigma:
            raise CameraError(
                f"photo {photo + 1}: EXIF gives a focal length of {view.focal_px:.0f} px, and the "
                f"cards show one of {solved:.0f} px; the picture was cropped, enlarged or edited "
                "since: give the phone's own file"
            )


def refuse_open_lens(solution: FloorSolution) -> None:
    """Nothing, if one card alone leaves a lens that shows the whole picture.

    Where EXIF does not name the lens, one card may take its own waves for a bend of the lens, so
    strong that the picture's corners have no place on any floor.

    Raises
    ------
    CameraError
        If a photo's does not.
    """
    if len(solution.cards) > 1:
        return
    for photo, camera in enumerate(solution.cameras):
        sensor = np.array(turned_size(camera.size_px, camera.quarter_turns))
        corner = (sensor - 1) / 2 + np.abs(camera.lens[1:3])
        if camera.sees_px() < np.hypot(*corner):
            raise CameraError(
                f"photo {photo + 1}: one card does not settle what the lens does out to the "
                "picture's corners: lay more cards beside the paper, keep the camera with digitize "
                "camera, or give the phone's own file, which names its lens"
            )


def refuse_lone_cut(solution: FloorSolution) -> None:
    """Nothing, if one card alone is not all that tells of a picture that EXIF shows to be cut.

    One card hardly tells where in a cut picture the lens's middle lies, and the paper's size goes
    by that; with two and more it is solved.

    Raises
    ------
    CameraError
        If a photo is so; it names both sizes.
    """
    if len(solution.cards) > 1:
        return
    for photo, view in enumerate(solution.fit.problem.views):
        if is_cut(view):
            raise CameraError(
                f"photo {photo + 1}: {told_cut(view)}, and one card cannot make up for that: give "
                "the photo as it was taken, or lay more cards beside the paper"
            )
