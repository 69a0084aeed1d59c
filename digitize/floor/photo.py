"""Loading a photo: JPEG, PNG, TIFF or HEIC, turned upright, with what its EXIF says of the lens."""

import hashlib
from dataclasses import dataclass
from io import BytesIO

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps, UnidentifiedImageError
from pillow_heif import register_heif_opener

from digitize.errors import DamagedPicture, NotAPicture, TooLarge, TooSmall

register_heif_opener()

MOST_MEGAPIXELS = 120
SHORTEST_SIDE_PX = 600
FULL_FRAME_DIAGONAL_MM = 43.2666  # 36 x 24 mm
_ORIENTATION, _QUARTER_TURNS = 0x0112, {3: 2, 6: 1, 8: 3}
# Exif 2.32
_MAKE, _MODEL, _DETAILS, _TAKEN, _EQUIVALENT = 0x010F, 0x0110, 0x8769, 0x9003, 0xA405
_PIXELS_ACROSS, _PIXELS_DOWN = 0xA002, 0xA003


@dataclass(frozen=True)
class Photo:
    """A photo in memory.

    Attributes
    ----------
    pixels : (H, W, 3) sRGB, upright.
    focal_px : focal length from EXIF's 35 mm equivalent, or None.
    camera, taken : as EXIF gives them, or None.
    quarter_turns : clockwise turns that brought the sensor's picture upright.
    taken_px : the width and height at which EXIF says that it was taken, before it was turned
        upright, or None. A copy, smaller or cut, often still has those of the whole.
    """

    name: str
    pixels: NDArray[np.uint8]
    sha256: str
    focal_px: float | None
    camera: str | None
    taken: str | None
    quarter_turns: int = 0
    taken_px: tuple[int, int] | None = None


def open_photo(name: str, content: bytes) -> Photo:
    """Decode a photo from a file's bytes.

    Raises
    ------
    PhotoError
        If it is no picture, is cut short, or is too small or too large.
    """
    Image.MAX_IMAGE_PIXELS = None  # the size is checked below, before anything is decoded
    try:
        picture: Image.Image = Image.open(BytesIO(content))
        width, height = picture.size
        if width * height > MOST_MEGAPIXELS * 1e6:
            raise TooLarge(
                f"{name}: {width * height / 1e6:.0f} megapixels is more than this program reads "
                f"({MOST_MEGAPIXELS}); scale the photo down, 12 to 50 is plenty"
            )
        if min(width, height) < SHORTEST_SIDE_PX:
            raise TooSmall(
                f"{name}: {width} x {height} px is too small to measure from; "
                "use the phone's full-size photo, not a preview"
            )
        exif = picture.getexif()
        details = exif.get_ifd(_DETAILS)
        picture.load()
        # What is upright RGB already need not be copied.
        if exif.get(_ORIENTATION, 1) != 1:
            picture = ImageOps.exif_transpose(picture)
        if picture.mode != "RGB":
            picture = picture.convert("RGB")
    except UnidentifiedImageError as error:
        raise NotAPicture(
            f"{name}: not a picture that can be read; give a JPEG, PNG, TIFF or HEIC photo"
        ) from error
    except (OSError, SyntaxError, ValueError) as error:
        raise DamagedPicture(
            f"{name}: the file is damaged or cut short; copy it from the phone again"
        ) from error
    equivalent = float(details.get(_EQUIVALENT, 0) or 0)
    diagonal = float(np.hypot(width, height))
    words = [str(exif.get(tag, "")).strip(" \0") for tag in (_MAKE, _MODEL)]
    return Photo(
        name=name,
        pixels=np.asarray(picture),
        sha256=hashlib.sha256(content).hexdigest(),
        focal_px=equivalent / FULL_FRAME_DIAGONAL_MM * diagonal if equivalent > 0 else None,
        camera=" ".join(word for word in words if word) or None,
        taken=_iso_time(str(details.get(_TAKEN, ""))),
        quarter_turns=_QUARTER_TURNS.get(exif.get(_ORIENTATION, 1), 0),
        taken_px=_size_px(details.get(_PIXELS_ACROSS), details.get(_PIXELS_DOWN)),
    )


def _size_px(across: object, down: object) -> tuple[int, int] | None:
    """A size as EXIF gives it; None where it is missing or cannot be one."""
    if isinstance(across, int) and isinstance(down, int) and across > 0 and down > 0:
        return across, down
    return None


def _iso_time(exif_time: str) -> str | None:
    date, _, clock = exif_time.strip(" \0").partition(" ")
    return f"{date.replace(':', '-')}T{clock}" if len(date) == 10 and len(clock) == 8 else None
