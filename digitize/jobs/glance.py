"""Look at a photo at a glance, while the paper still lies there: is it good enough to be read?"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from PIL import Image

from digitize.floor import Photo, open_photo
from digitize.jobs.disk import content_of
from digitize.jobs.folder import jpeg
from digitize.reading import Fault, Glance, glance_at

__all__ = ["Fault", "Glance", "Glimpse", "glance_at_photo", "small_picture"]

SHOWN_PX = 1600  # the longer side of a photo as a screen shows it


@dataclass(frozen=True)
class Glimpse:
    """A photo's size in px, and what it shows; more of it as time goes on."""

    size_px: tuple[int, int]
    glance: Glance


def glance_at_photo(
    path: Path, *, progress: Callable[[Glimpse], None] = lambda so_far: None
) -> Glimpse:
    """What a photo shows at a glance: its cards, the paper, what is wrong and what to do.

    Parameters
    ----------
    progress : told what is known as soon as it is: cards first.

    Raises
    ------
    NotRead, NotAPicture, DamagedPicture, TooSmall, TooLarge
    """
    photo = open_photo(path.name, content_of(path))
    height, width = photo.pixels.shape[:2]
    glance = glance_at(photo, lambda so_far: progress(Glimpse((width, height), so_far)))
    return Glimpse((width, height), glance)


def small_picture(path: Path, longest_px: int = SHOWN_PX) -> bytes:
    """A photo, upright and made smaller, as the bytes of a JPEG; raises as the glance does."""
    photo: Photo = open_photo(path.name, content_of(path))
    picture = Image.fromarray(photo.pixels)
    picture.thumbnail((longest_px, longest_px))
    return jpeg(picture)
