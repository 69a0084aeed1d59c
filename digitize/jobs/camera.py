"""Solve a phone's lens once, and keep it in a file."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from digitize.errors import CameraError
from digitize.floor import KeptCamera, PrintScale, camera_json, later_camera, open_photo
from digitize.jobs.disk import content_of, write_all
from digitize.reading import solve_camera
from digitize.record import Remark

STAGES = ("cards", "floor")


@dataclass(frozen=True)
class CameraSolved:
    """A camera that was kept, and what is to be said about its shots."""

    camera: KeptCamera
    remarks: tuple[Remark, ...]


def write_camera(
    photos: Sequence[Path],
    out: Path,
    *,
    print_scale: PrintScale | None = None,
    progress: Callable[[str], None] = lambda stage: None,
) -> CameraSolved:
    """Solve the lens from three to six shots of four or more cards on the floor; write its file.

    Raises
    ------
    NotRead, PhotoError, CameraError, NotWritten
    """
    later = later_camera(content_of(out)) if out.is_file() else None
    if later:
        raise CameraError(f"{out}: is a camera file of {later}, and is not overwritten")
    contents = [content_of(path) for path in photos]
    shots = [open_photo(path.name, each) for path, each in zip(photos, contents, strict=True)]
    kept, remarks = solve_camera(shots, print_scale, progress)
    write_all({out: camera_json(kept).encode()})
    return CameraSolved(kept, remarks)
