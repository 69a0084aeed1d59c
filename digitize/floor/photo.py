"""Loading a photo: JPEG, PNG, TIFF or HEIC, turned upright, with what its EXIF says of the lens."""

import hashlib
import os
import re
import threading
import warnings
import weakref
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from io import BytesIO
from tempfile import TemporaryFile
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError
from PIL.ExifTags import IFD
from PIL.TiffImagePlugin import TiffImageFile
from pillow_heif import register_heif_opener
from simplejpeg import decode_jpeg

from digitize.errors import DamagedPicture, NotAPicture, PhotoError, TooLarge, TooSmall
from digitize.floor.damage import boxes_are_whole, light_jumps, strips_are_whole, unlike_copy
from digitize.words import printable

register_heif_opener()

Pixels = NDArray[np.uint8]
FORMATS = ("JPEG", "PNG", "TIFF", "HEIF")  # and no other that the library would open
MOST_MEGAPIXELS = 120
MOST_HELD_MB = 400  # of pixels decoded, of all photos together
SHORTEST_SIDE_PX = 600
FULL_FRAME_DIAGONAL_MM = 43.2666  # 36 x 24 mm
LEAST_COPY_PX = (96, 96)  # that the picture can be held against
EQUIVALENT_MM = (4.0, 2000.0)  # from a fish's eye to the moon
LONGEST_CAMERA = 200
_ORIENTATION, _QUARTER_TURNS = 0x0112, {3: 2, 6: 1, 8: 3}
# What brings a picture upright, by its orientation.
_UPRIGHT: dict[int, Callable[[Pixels], Pixels]] = {
    2: lambda pixels: pixels[:, ::-1],
    3: lambda pixels: pixels[::-1, ::-1],
    4: lambda pixels: pixels[::-1],
    5: lambda pixels: pixels.swapaxes(0, 1),
    6: lambda pixels: pixels.swapaxes(0, 1)[:, ::-1],
    7: lambda pixels: pixels.swapaxes(0, 1)[::-1, ::-1],
    8: lambda pixels: pixels.swapaxes(0, 1)[::-1],
}
_BACK = {6: 8, 8: 6}  # what undoes an orientation, if not the same again
_JPEG, _END = b"\xff\xd8", b"\xff\xd9"
# What libjpeg warns of that harms no pixel: of the picture's colours or its making, or a camera's
# padding before the end.
_HARMLESS = ("Adobe color transform", "JFIF major", "ICC profile", "SOS parameters")
_PADDING = re.compile(r"(\d+) extraneous bytes before marker 0xd9")
# Exif 2.32
_MAKE, _MODEL, _DETAILS, _TAKEN, _EQUIVALENT = 0x010F, 0x0110, 0x8769, 0x9003, 0xA405
_PIXELS_ACROSS, _PIXELS_DOWN = 0xA002, 0xA003
_COPY_AT, _COPY_BYTES = 0x0201, 0x0202


class Stored:
    """A photo's pixels as its file has them, decoded whenever they are asked for.

    Those asked for last are held, up to MOST_HELD_MB together and one at least: sixty photos at
    once are more than a computer has memory for.
    """

    def __init__(self, content: bytes, decode: Callable[[bytes], Pixels]):
        self._content, self._decode = content, decode
        self._held: Pixels | None = None

    @property
    def pixels(self) -> Pixels:
        """(H, W, 3) sRGB, upright; not to be written to."""
        with _DECODING:
            pixels = self._held
            if pixels is None:
                _let_go(MOST_HELD_MB * 1e6 / 2)
                pixels = self._held = self._decode(self._content)
                pixels.setflags(write=False)
            _HELD[:] = [each for each in _HELD if each() not in (None, self)]
            _HELD.append(weakref.ref(self))
            _let_go(MOST_HELD_MB * 1e6)
            return pixels

    def forget(self) -> int:
        """Hold the pixels no longer; returns how many bytes they had."""
        size = 0 if self._held is None else self._held.nbytes
        self._held = None
        return size

    @property
    def size(self) -> int:
        """How many bytes are held."""
        return 0 if self._held is None else self._held.nbytes


# One at a time: what a decoder says on standard error is that picture's.
_DECODING = threading.Lock()
_HELD: list[weakref.ref[Stored]] = []  # in the order in which they were last asked for


def _let_go(most_bytes: float) -> None:
    """Forget those asked for longest ago, until no more is held than this, or one photo alone."""
    held = [stored for each in _HELD if (stored := each()) is not None and stored.size]
    total = sum(stored.size for stored in held)
    for stored in held[:-1]:
        if total <= most_bytes:
            return
        total -= stored.forget()


@dataclass(frozen=True)
class Photo:
    """A photo, its pixels in memory or as its file has them.

    Attributes
    ----------
    picture : (H, W, 3) sRGB, upright; or what decodes them.
    focal_px : focal length from EXIF's 35 mm equivalent, or None.
    camera, taken : as EXIF gives them, or None.
    quarter_turns : clockwise turns that brought the sensor's picture upright.
    taken_px : the width and height at which EXIF says that it was taken, before it was turned
        upright, or None. A copy, smaller or cut, often still has those of the whole.
    upright_px : its width and height, where pixels are not at hand.
    light_jumps : whether its light jumps along a row of a JPEG's blocks, as where bytes were lost.
    unlike_copy : whether it shows elsewhere than the small copy of it that its file has beside it.
    """

    name: str
    picture: Pixels | Stored
    sha256: str
    focal_px: float | None
    camera: str | None
    taken: str | None
    quarter_turns: int = 0
    taken_px: tuple[int, int] | None = None
    upright_px: tuple[int, int] | None = None
    light_jumps: bool = False
    unlike_copy: bool = False

    @property
    def pixels(self) -> Pixels:
        """(H, W, 3) sRGB, upright."""
        return self.picture.pixels if isinstance(self.picture, Stored) else self.picture

    def forget_pixels(self) -> None:
        """Hold no longer what the file can be asked for again."""
        if isinstance(self.picture, Stored):
            self.picture.forget()

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height."""
        return self.upright_px or (self.pixels.shape[1], self.pixels.shape[0])


def open_photo(name: str, content: bytes) -> Photo:
    """A photo from a file's bytes, looked through to its end; its name is kept as it can be shown.

    Raises
    ------
    PhotoError
        If it is no picture, is cut short or damaged, or is too small or too large.
    """
    name = printable(name)
    Image.MAX_IMAGE_PIXELS = None  # the size is checked below, before anything is decoded
    try:
        picture = _opened(content)
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
        if isinstance(picture, TiffImageFile) and not strips_are_whole(content, picture.tag_v2):
            raise ValueError("a strip of the picture is not what was packed")
        # What it says of EXIF is no part of the picture.
        with warnings.catch_warnings(action="ignore"):
            exif, details = _exif_of(picture)
        turns = exif.get(_ORIENTATION, 1)
        picture.close()
        stored = Stored(content, partial(_decoded, turns=turns))
        down, across = stored.pixels.shape[:2]
        back = _UPRIGHT.get(_BACK.get(turns, turns))
        as_stored = back(stored.pixels) if back else stored.pixels
        jumps = content.startswith(_JPEG) and light_jumps(as_stored)
        copy = _own_copy(content)
        unlike = copy is not None and unlike_copy(as_stored, copy)
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
    if not EQUIVALENT_MM[0] <= equivalent <= EQUIVALENT_MM[1]:
        equivalent = 0.0  # no lens's
    diagonal = float(np.hypot(width, height))
    words = [str(exif.get(tag, "")).strip(" \0") for tag in (_MAKE, _MODEL)]
    return Photo(
        name=name,
        picture=stored,
        sha256=hashlib.sha256(content).hexdigest(),
        focal_px=equivalent / FULL_FRAME_DIAGONAL_MM * diagonal if equivalent > 0 else None,
        camera=printable(" ".join(word for word in words if word))[:LONGEST_CAMERA] or None,
        taken=_iso_time(str(details.get(_TAKEN, ""))),
        quarter_turns=_QUARTER_TURNS.get(turns, 0),
        taken_px=_size_px(details.get(_PIXELS_ACROSS), details.get(_PIXELS_DOWN)),
        upright_px=(across, down),
        light_jumps=jumps,
        unlike_copy=unlike,
    )


def _own_copy(content: bytes) -> Pixels | None:
    """(h, w, 3) the small copy of the picture that its file has beside it; None without one."""
    with _opened(content) as picture:
        if picture.format == "HEIF" and picture.draft("RGB", LEAST_COPY_PX) is not None:
            with _unsaid():
                picture.load()
            return np.asarray(_in_rgb(picture), np.uint8)
        if picture.format == "JPEG":
            return _exif_copy(picture)
    return None


def _exif_copy(picture: Image.Image) -> Pixels | None:
    """(h, w, 3) the small copy in a picture's EXIF, if it is the same shape."""
    try:
        place = picture.getexif().get_ifd(IFD.IFD1)
        exif = picture.info["exif"].removeprefix(b"Exif\0\0")
        small = exif[place[_COPY_AT] : place[_COPY_AT] + place[_COPY_BYTES]]
        copy = decode_jpeg(small, "RGB", strict=False)
    except Exception:  # it is no part of the picture, and of any make
        return None
    (down, across), (width, height) = copy.shape[:2], picture.size
    # Some cameras fill a copy of 4:3 up with black bars.
    same = abs(across / down * height / width - 1) < 2 / min(down, across)
    large = across >= LEAST_COPY_PX[0] and down >= LEAST_COPY_PX[1]
    return np.asarray(copy, np.uint8) if same and large else None


def _opened(content: bytes) -> Image.Image:
    """A picture of one of FORMATS, not decoded yet; fails if it is none, or not whole."""
    with warnings.catch_warnings(action="ignore"):
        picture = Image.open(BytesIO(content), formats=FORMATS)
    if picture.format == "HEIF" and not boxes_are_whole(content):
        raise ValueError("the file's boxes do not fill it")
    return picture


@contextmanager
def _unsaid() -> Iterator[None]:
    """Decoders in C that complain do so on standard error: what they say is damage, and not shown.

    Raises
    ------
    ValueError
        If one said anything.
    """
    with TemporaryFile() as said:
        shown = os.dup(2)
        try:
            os.dup2(said.fileno(), 2)
            yield
        finally:
            os.dup2(shown, 2)
            os.close(shown)
        if said.seek(0, os.SEEK_END):
            raise ValueError("the decoder complained")


def _decoded(content: bytes, turns: int) -> Pixels:
    """(H, W, 3) sRGB of a file's bytes, brought upright from its orientation; fails if damaged."""
    with _opened(content) as picture, warnings.catch_warnings(action="ignore"):
        if content.startswith(_JPEG) and picture.mode in ("L", "RGB"):
            pixels = jpeg_pixels(content)
        else:
            if content.startswith(_JPEG):
                jpeg_pixels(content, "CMYK")
            with _unsaid():
                picture.load()
            pixels = np.asarray(_in_rgb(picture), np.uint8)
    return np.ascontiguousarray(_UPRIGHT[turns](pixels)) if turns in _UPRIGHT else pixels


def jpeg_pixels(content: bytes, colours: str = "RGB") -> Pixels:
    """(H, W, 3) of a JPEG file's bytes, every one of which was understood.

    What a decoder makes up where bytes were lost (T.81, Annex F, has no way to tell) is no picture.

    Raises
    ------
    ValueError
        If the decoder had to pass over anything, or to make anything up.
    """
    try:
        return np.asarray(decode_jpeg(content, colours), np.uint8)
    except ValueError as error:
        said = str(error)
        padding = _PADDING.search(said)
        if padding is None and not any(words in said for words in _HARMLESS):
            raise
        if padding is not None:
            end = content.rindex(_END)
            if len(set(content[end - int(padding[1]) : end]) - {0, 255}):
                raise
        return np.asarray(decode_jpeg(content, colours, strict=False), np.uint8)


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
        values = np.asarray(picture)
        if values.max(initial=0) > 255:
            values = np.clip(values, 0, 65535) // 257
        picture = Image.fromarray(np.clip(values, 0, 255).astype(np.uint8))
    if picture.mode in ("LA", "RGBA", "PA") or "transparency" in picture.info:
        clear = picture.convert("RGBA")
        picture = Image.new("RGB", clear.size, "white")
        picture.paste(clear, mask=clear.getchannel("A"))
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
