"""Loading a photo: JPEG, PNG, TIFF or HEIC, turned upright, with what its EXIF says of the lens."""

import hashlib
from dataclasses import dataclass
from io import BytesIO
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError
from pillow_heif import register_heif_opener

from digitize.errors import DamagedPicture, NotAPicture, PhotoError, TooLarge, TooSmall
from digitize.words import printable

register_heif_opener()

FORMATS = ("JPEG", "PNG", "TIFF", "HEIF")  # and no other that the library would open
MOST_MEGAPIXELS = 120
SHORTEST_SIDE_PX = 600
FULL_FRAME_DIAGONAL_MM = 43.2666  # 36 x 24 mm
_ORIENTATION, _QUARTER_TURNS = 0x0112, {3: 2, 6: 1, 8: 3}
_TURNED = {  # what brings a picture upright, by its orientation
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
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
    """Decode a photo from a file's bytes; its name is kept as it can be shown.

    Raises
    ------
    PhotoError
        If it is no picture, is cut short, or is too small or too large.
    """
    name = printable(name)
    Image.MAX_IMAGE_PIXELS = None  # the size is checked below, before anything is decoded
    try:
        picture: Image.Image = Image.open(BytesIO(content), formats=FORMATS)
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
        exif, details = _exif_of(picture)
        picture.load()
        # What is upright RGB already need not be copied.
        turns = exif.get(_ORIENTATION, 1)
        if turns in _TURNED:
            picture = picture.transpose(_TURNED[turns])
        picture = _in_rgb(picture)
    except PhotoError:
        raise
    except UnidentifiedImageError as error:
        raise NotAPicture(
            f"{name}: not a picture that can be read; give a JPEG, PNG, TIFF or HEIC photo"
        ) from error
    except Exception as error:  # whatever a decoder makes of bytes that anyone may have written
        raise DamagedPicture(
            f"{name}: the file is damaged or cut short; copy it from the phone again"
        ) from error
    equivalent = _number(details.get(_EQUIVALENT))
    diagonal = float(np.hypot(width, height))
    words = [str(exif.get(tag, "")).strip(" \0") for tag in (_MAKE, _MODEL)]
    return Photo(
        name=name,
        pixels=np.asarray(picture),
        sha256=hashlib.sha256(content).hexdigest(),
        focal_px=equivalent / FULL_FRAME_DIAGONAL_MM * diagonal if equivalent > 0 else None,
        camera=" ".join(word for word in words if word) or None,
        taken=_iso_time(str(details.get(_TAKEN, ""))),
        quarter_turns=_QUARTER_TURNS.get(turns, 0),
        taken_px=_size_px(details.get(_PIXELS_ACROSS), details.get(_PIXELS_DOWN)),
    )


def _exif_of(picture: Image.Image) -> tuple[dict[int, Any], dict[int, Any]]:
    """What EXIF says of the picture and of its taking, by tag; nothing where it cannot be read."""
    try:
        exif = picture.getexif()
        found, details = dict(exif), dict(exif.get_ifd(_DETAILS))
    except Exception:  # it is no part of the picture, and of any make
        return {}, {}
    # A tag of another type than the standard's is as good as none.
    turns = found.get(_ORIENTATION)
    return ({**found, _ORIENTATION: turns if isinstance(turns, int) else 1}, details)


def _in_rgb(picture: Image.Image) -> Image.Image:
    """A picture of any mode in RGB: 16 bits a pixel made 8, what is see-through on white."""
    if picture.mode.startswith("I"):
        values = np.asarray(picture).astype(np.float64)
        most = 255.0 if values.max(initial=0) < 256 else 65535.0
        picture = Image.fromarray(np.clip(values * (255.0 / most), 0, 255).astype(np.uint8))
    if picture.mode in ("LA", "RGBA", "PA") or "transparency" in picture.info:
        clear = picture.convert("RGBA")
        picture = Image.new("RGBA", clear.size, "white")
        picture.alpha_composite(clear)
    return picture if picture.mode == "RGB" else picture.convert("RGB")


def _number(value: object) -> float:
    """A number as EXIF gives it; nought where it is none."""
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, ZeroDivisionError):
        return 0.0
    return number if np.isfinite(number) else 0.0


def _size_px(across: object, down: object) -> tuple[int, int] | None:
    """A size as EXIF gives it; None where it is missing or cannot be one."""
    if isinstance(across, int) and isinstance(down, int) and across > 0 and down > 0:
        return across, down
    return None


def _iso_time(exif_time: str) -> str | None:
    date, _, clock = exif_time.strip(" \0").partition(" ")
    return f"{date.replace(':', '-')}T{clock}" if len(date) == 10 and len(clock) == 8 else None
