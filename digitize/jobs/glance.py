"""Look at a photo at a glance, while the paper still lies there: is it good enough to be read?"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from PIL import Image

from digitize.floor import open_photo
from digitize.jobs.disk import content_of, write_all
from digitize.jobs.folder import jpeg
from digitize.reading import Fault, Glance, glance_at

__all__ = ["Fault", "Glance", "Glimpse", "glance_at_photo"]

SHOWN_PX = 1600  # the longer side of a photo as a screen shows it


@dataclass(frozen=True)
class Glimpse:
    """A photo's size in px, and what it shows; more of it as time goes on."""

    size_px: tuple[int, int]
    glance: Glance


def glance_at_photo(
    path: Path,
    *,
    shown: Path | None = None,
    progress: Callable[[Glimpse], None] = lambda so_far: None,
) -> Glimpse:
    """What a photo shows at a glance: its cards, the paper, what is wrong and what to do.

    Parameters
    ----------
    shown : where to put a small JPEG of it, upright, for a screen.
    progress : told what is known as soon as it is: first its size alone, then cards.

    Raises
    ------
    NotRead, NotAPicture, DamagedPicture, TooSmall, TooLarge, NotWritten
    """
    photo = open_photo(path.name, content_of(path))
    width, height = photo.size_px
    if shown is not None:
        picture = Image.fromarray(photo.pixels)
        picture.thumbnail((SHOWN_PX, SHOWN_PX))
        write_all({shown: jpeg(picture)})
    progress(Glimpse((width, height), Glance()))
    glance = glance_at(photo, lambda so_far: progress(Glimpse((width, height), so_far)))
    return Glimpse((width, height), glance)
