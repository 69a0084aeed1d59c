"""A camera kept: a phone's lens, solved once from several shots of cards, and its file."""

from collections.abc import Sequence
from typing import Annotated, Literal, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    TypeAdapter,
    model_validator,
)
from scipy.special import chdtri, ndtr

from digitize import __version__
from digitize.errors import CameraError
from digitize.floor.camera import LENS_TERMS, turned_size
from digitize.floor.crop import is_cut, told_cut
from digitize.floor.solve import FloorSolution, KeptLens, PrintScale, solve_floor
from digitize.floor.start import View
from digitize.record import Unfit, later_schema, refuse_unbounded, strictly
from digitize.words import printable

Floats = NDArray[np.float64]
SAME_FOCAL = 0.03  # EXIF's focal lengths further apart than this share are another zoom
MISFIT = 4.0  # in sigmas of the kept lens
SAME_CORRELATION = 1e-6  # of a covariance's two halves; more is no rounding
LEAST_EIGENVALUE = 1e-12  # of a lens's correlations; less is singular to a computer's precision
CAMERA_SCHEMA: Literal[1] = 1
MOST_PX = 1_000_000  # of a picture's side or a focal length
WORST_FOCAL = 0.005  # a lens known worse than this share of its focal length is not kept


class KeptCamera(BaseModel):
    """The file of a kept camera; lengths in px of the sensor's picture.

    ``terms`` are those of ``digitize.floor.camera.Camera.lens``.
    """

    model_config = ConfigDict(frozen=True, extra="allow")
    kind: Literal["camera"] = "camera"
    schema_version: Literal[1] = CAMERA_SCHEMA
    written_by: str | None = None
    camera: Annotated[str, Field(max_length=200), AfterValidator(printable)] | None
    focal_exif_px: Annotated[float, Field(gt=0, le=MOST_PX)] | None
    width_px: int = Field(ge=0, le=MOST_PX)
    height_px: int = Field(ge=0, le=MOST_PX)
    photos: int = Field(ge=1, le=MOST_PX)
    residual_px: float = Field(ge=0, le=MOST_PX)
    terms: tuple[float, ...] = Field(max_length=LENS_TERMS)
    covariance: tuple[Annotated[tuple[float, ...], Field(max_length=LENS_TERMS)], ...] = Field(
        max_length=LENS_TERMS
    )

    @model_validator(mode="after")
    def _can_be_written_again(self) -> Self:
        if self.model_extra:
            refuse_unbounded(self.model_extra)
        return self


_FILE = TypeAdapter(KeptCamera)


def keep_camera(solution: FloorSolution) -> KeptCamera:
    """The lens of a solution, as a file keeps it.

    Raises
    ------
    CameraError
        If the photos are of several cameras or zooms, or do not settle the lens.
    """
    problem = solution.fit.problem
    for photo, view in enumerate(problem.views):
        if is_cut(view):
            raise _was_cut(photo, view)
    if len(problem.lens_priors) > 1:
        raise CameraError(
            "the photos are of different cameras, zooms or sizes; give shots of one camera at one "
            "zoom"
        )
    at = problem.lens_at(0)
    covariance = solution.fit.covariance[at, at]
    terms = solution.fit.parameters[at]
    if np.sqrt(covariance[0, 0]) > WORST_FOCAL * terms[0]:
        raise CameraError(
            f"these shots leave the focal length open by {np.sqrt(covariance[0, 0]) / terms[0]:.1%}"
            "; take three to six shots of four or more cards, tilted by about 30 degrees to "
            "different sides, with cards out to the picture's corners"
        )
    view = problem.views[0]
    width, height = turned_size(view.size_px, view.quarter_turns)
    return KeptCamera(
        written_by=__version__,
        camera=view.camera,
        focal_exif_px=view.focal_px,
        width_px=width,
        height_px=height,
        photos=len(problem.views),
        residual_px=round(solution.reprojection_px, 4),
        terms=tuple(terms.tolist()),
        covariance=tuple(tuple(row) for row in covariance.tolist()),
    )


def camera_json(camera: KeptCamera) -> str:
    """The text of a kept camera's file."""
    return camera.model_dump_json(indent=2) + "\n"


def camera_from_json(text: str | bytes) -> KeptCamera:
    """Read a kept camera's file.

    Raises
    ------
    CameraError
        If the text is no such file.
    """
    try:
        camera = strictly(_FILE, text)
        shape = np.array(camera.covariance).shape
    except ValueError as error:
        later = later_camera(text)
        if later:
            raise CameraError(
                f"a camera file of {later}, where this one reads schema {CAMERA_SCHEMA}: use a "
                "later one, or make the file again with digitize camera"
            ) from error
        why = str(error) if isinstance(error, Unfit) else "the covariance: is no square"
        raise CameraError(f"not a camera file: {why}; make one with digitize camera") from error
    if len(camera.terms) != LENS_TERMS or shape != (LENS_TERMS, LENS_TERMS):
        raise CameraError("not a camera file: it holds the wrong number of lens terms")
    if not _is_lens(np.array(camera.terms), np.array(camera.covariance)) or not (
        camera.width_px > 0 and camera.height_px > 0
    ):
        raise CameraError(
            "the camera file is damaged: its figures are of no lens; make it again with "
            "digitize camera"
        )
    return camera


def later_camera(text: str | bytes) -> str | None:
    """Of which later schema a camera's file is, in words; None if it is of none."""
    return later_schema(text, "schema_version", CAMERA_SCHEMA)


def _is_lens(terms: Floats, covariance: Floats) -> bool:
    """Whether terms (8,) and their covariance (8, 8) can be a lens's; unsolved terms vary by 0."""
    if not (np.isfinite(terms).all() and np.isfinite(covariance).all() and terms[0] > 0):
        return False
    sigmas = np.sqrt(np.clip(np.diag(covariance), 0, None))
    if sigmas[0] == 0 or (np.diag(covariance) < 0).any():
        return False
    solved = sigmas > 0
    with np.errstate(all="ignore"):  # what is no number then is refused below
        alike = covariance[np.ix_(solved, solved)] / np.outer(sigmas[solved], sigmas[solved])
    left = covariance[~solved].any() or covariance[:, ~solved].any()
    whole = np.allclose(alike, alike.T, atol=SAME_CORRELATION)
    return bool(whole and not left and np.linalg.eigvalsh(alike)[0] > LEAST_EIGENVALUE)


def lens_for(camera: KeptCamera, views: Sequence[View]) -> KeptLens:
    """The kept lens at these photos' size.

    Raises
    ------
    CameraError
        If a photo is of another camera, zoom or shape of picture.
    """
    widths = set()
    for index, view in enumerate(views):
        width, height = turned_size(view.size_px, view.quarter_turns)
        widths.add(width)
        name = f"photo {index + 1}"
        if is_cut(view):
            raise _was_cut(index, view)
        if abs(width * camera.height_px / (height * camera.width_px) - 1) > 0.01:
            raise CameraError(
                f"{name}: its picture is {width} x {height} px, not the shape of the kept "
                f"camera's ({camera.width_px} x {camera.height_px}); it was cropped, or is of "
                "another camera"
            )
        if camera.camera and view.camera and camera.camera != view.camera:
            raise CameraError(
                f"{name}: taken with {view.camera}; the kept camera is {camera.camera}"
            )
        if camera.focal_exif_px and view.focal_px:
            zoom = view.focal_px / width / (camera.focal_exif_px / camera.width_px)
            if abs(zoom - 1) > SAME_FOCAL:
                raise CameraError(f"{name}: taken at {zoom:.1f} times the kept camera's zoom")
    if len(widths) > 1:
        raise CameraError("photos of different sizes cannot share a kept camera; give one size")
    share = widths.pop() / camera.width_px
    factor = np.array([share] * 3 + [1.0] * (LENS_TERMS - 3))
    return KeptLens(
        np.array(camera.terms) * factor, np.array(camera.covariance) * np.outer(factor, factor)
    )


def refuse_misfit(solution: FloorSolution, print_scale: PrintScale | None = None) -> None:
    """Nothing, if the cards bear out the kept lens that a solution started from.

    Uneven cards can make up for a wrong lens, and one that is held fast does not budge. So the lens
    is also solved as if no camera were kept, and all that the cards say of it set against the kept
    one (P. Mahalanobis, "On the generalised distance in statistics", 1936).

    Raises
    ------
    CameraError
        If the cards contradict the kept lens.
    """
    problem, fit = solution.fit.problem, solution.fit
    misses, _ = problem.prior_misses(fit.parameters)
    of_lenses = misses[: len(problem.lens_priors) * LENS_TERMS]
    if not np.isfinite(of_lenses).all() or np.abs(of_lenses).max() > MISFIT:
        raise contradiction()
    if not problem.sights:
        return
    free = solve_floor(problem.views, print_scale).fit
    kept = problem.lens_at(0)
    for lens in range(len(free.problem.lens_priors)):
        at = free.problem.lens_at(lens)
        apart = fit.parameters[kept] - free.parameters[at]
        doubt = fit.covariance[kept, kept] + free.covariance[at, at]
        solved = np.flatnonzero(np.diag(free.covariance[at, at]) > 0)
        square = apart[solved] @ np.linalg.solve(doubt[np.ix_(solved, solved)], apart[solved])
        if square > chdtri(len(solved), 2 * ndtr(-MISFIT)):
            raise contradiction()


def _was_cut(photo: int, view: View) -> CameraError:
    """What is said of a picture that cannot show what its camera's whole picture does."""
    return CameraError(
        f"photo {photo + 1}: {told_cut(view)}, and a kept camera is one of whole pictures: give "
        "the photo as it was taken"
    )


def contradiction() -> CameraError:
    """What is said where cards and a kept camera do not go together."""
    return CameraError(
        "the cards contradict the kept camera; the photos are of another camera or zoom, or "
        "its lens has changed: solve it again with digitize camera, or leave it out"
    )
