import io
import struct

import cv2
import numpy as np
import pytest
from PIL import Image, ImageOps

from digitize.errors import DamagedPicture, NotAPicture, TooLarge, TooSmall
from digitize.floor import photo as photo_module
from digitize.floor.damage import light_jumps, unlike_copy
from digitize.floor.photo import open_photo


def encoded(kind: str, size=(800, 640), orientation=None, **options) -> bytes:
    picture = Image.fromarray(np.zeros((size[1], size[0], 3), np.uint8))
    picture.paste((250, 10, 10), (0, 0, size[0] // 4, size[1] // 4))
    exif = Image.Exif()
    if orientation:
        exif[0x0112] = orientation
        exif.get_ifd(0x8769)[0xA405] = 26
        exif.get_ifd(0x8769)[0x9003] = "2026:05:09 10:30:00"
    file = io.BytesIO()
    picture.save(file, kind, exif=exif, **options)
    return file.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "HEIF"])
def test_each_kind_of_picture_is_read(kind):
    photo = open_photo("p", encoded(kind))
    assert photo.pixels.shape == (640, 800, 3)
    assert photo.pixels[20, 20, 0] > 200


def test_orientation_is_applied_and_the_lens_is_read():
    photo = open_photo("p", encoded("JPEG", orientation=6))
    assert photo.pixels.shape == (800, 640, 3)
    assert photo.pixels[20, -20, 0] > 200  # stored at the upper left, shown at the upper right
    assert photo.focal_px == pytest.approx(26 / 43.2666 * np.hypot(800, 640), rel=1e-4)
    assert photo.taken == "2026-05-09T10:30:00"


@pytest.mark.parametrize(("orientation", "turns"), [(3, 2), (6, 1), (8, 3)])
def test_the_turn_that_brought_a_photo_upright_is_kept(orientation, turns):
    stored = open_photo("p", encoded("PNG"))
    shown = open_photo("p", encoded("PNG", orientation=orientation))
    assert shown.quarter_turns == turns
    clockwise = np.rot90(stored.pixels, -turns)
    assert (shown.pixels == clockwise).all()


def test_other_kinds_that_the_library_would_open_are_refused():
    """Encapsulated PostScript among them, which takes an interpreter of its own."""
    picture = Image.new("RGB", (800, 640))
    for kind in ("EPS", "BMP", "GIF", "PPM", "WEBP", "ICO"):
        file = io.BytesIO()
        picture.save(file, kind)
        with pytest.raises(NotAPicture):
            open_photo("p.jpg", file.getvalue())


def of_mode(picture):
    file = io.BytesIO()
    picture.save(file, "TIFF")
    assert Image.open(file).mode == picture.mode
    return open_photo("p", file.getvalue()).pixels


def test_pictures_of_other_modes_look_as_they_do_elsewhere():
    shape = (640, 800)
    # 40000 of 65535 are 155.6 of 255.
    deep = Image.fromarray(np.full(shape, 40000, np.uint16))
    assert of_mode(deep)[5, 5] == pytest.approx([155, 155, 155], abs=1)
    clear = np.full(shape, 255, np.uint8)
    clear[:50] = 0  # see-through: as on white
    grey = Image.fromarray(np.full(shape, 90, np.uint8)).convert("LA")
    grey.putalpha(Image.fromarray(clear))
    seen = of_mode(grey)
    assert (seen[10, 10] == 255).all() and (seen[100, 10] == 90).all()
    red, green, blue = of_mode(Image.new("CMYK", shape[::-1], (255, 0, 0, 0)))[5, 5]  # cyan
    assert red == 0 and green > 200 and blue > 200


def test_exif_that_is_no_number_or_of_another_type_is_as_good_as_none():
    def read(tag, value, inside=True):
        file = io.BytesIO()
        exif = Image.Exif()
        (exif.get_ifd(0x8769) if inside else exif)[tag] = value
        Image.new("RGB", (800, 640)).save(file, "JPEG", exif=exif)
        return open_photo("p", file.getvalue())

    for value in ("wide", (1, 2), float("inf"), float("nan"), -26, b"\x00\xff"):
        assert read(0xA405, value).focal_px is None
    assert read(0x0112, 99, inside=False).pixels.shape == (640, 800, 3)
    assert read(0x9003, 17).taken is None


def test_a_name_is_kept_as_it_can_be_shown():
    assert open_photo("a\x1b[31m\udcff.jpg", encoded("PNG")).name == "a\\x1b[31m\\udcff.jpg"


def test_bad_files_are_told_apart():
    whole = encoded("JPEG")
    with pytest.raises(NotAPicture):
        open_photo("p", b"not a picture at all")
    with pytest.raises(DamagedPicture):
        open_photo("p", whole[: len(whole) // 2])
    with pytest.raises(TooSmall):
        open_photo("p", encoded("PNG", (1, 1)))
    # One bit a pixel, for its size alone is looked at.
    file = io.BytesIO()
    Image.new("1", (20000, 10000)).save(file, "PNG", compress_level=1)
    with pytest.raises(TooLarge, match="200 megapixels"):
        open_photo("p", file.getvalue())


def test_the_size_at_which_a_photo_was_taken_is_read_as_the_sensor_lay():
    def taken(across, down, orientation=1):
        file = io.BytesIO()
        exif = Image.Exif()
        exif[0x0112] = orientation
        details = exif.get_ifd(0x8769)
        details[0xA002], details[0xA003] = across, down
        Image.new("RGB", (800, 640)).save(file, "JPEG", exif=exif)
        return open_photo("p", file.getvalue()).taken_px

    assert taken(4032, 3024) == (4032, 3024)
    assert taken(4032, 3024, orientation=6) == (4032, 3024)
    assert taken(0, 3024) is None
    assert open_photo("p", encoded("JPEG")).taken_px is None


def textured(size=(1600, 1200)):
    rng = np.random.default_rng(5)
    small = rng.integers(60, 200, (size[1] // 8, size[0] // 8, 3), dtype=np.uint8)
    return Image.fromarray(small).resize(size, Image.Resampling.BICUBIC)


def jpeg_of(picture, **options):
    file = io.BytesIO()
    picture.save(file, "JPEG", **options)
    return file.getvalue()


@pytest.mark.parametrize("options", [{}, {"progressive": True}, {"subsampling": 0}])
def test_a_jpeg_comes_out_as_other_decoders_have_it(options):
    content = jpeg_of(textured(), **options)
    assert (open_photo("p", content).pixels == np.asarray(Image.open(io.BytesIO(content)))).all()
    grey = jpeg_of(textured().convert("L"), **options)
    assert (open_photo("p", grey).pixels[..., 1] == np.asarray(Image.open(io.BytesIO(grey)))).all()


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_every_orientation_comes_out_as_pillow_turns_it(kind, orientation):
    content = encoded(kind, orientation=orientation)
    upright = ImageOps.exif_transpose(Image.open(io.BytesIO(content)))
    photo = open_photo("p", content)
    assert (photo.pixels == np.asarray(upright)).all()
    assert photo.size_px == upright.size


HARM = {
    "cut out": lambda middle: b"",
    "nought": lambda middle: bytes(len(middle)),
    "noise": lambda middle: np.random.default_rng(1).bytes(len(middle)),
    "turned round": lambda middle: middle[::-1],
    "twice": lambda middle: middle * 2,
    "restarts": lambda middle: b"\xff\xd0" * (len(middle) // 2),
}


@pytest.mark.parametrize("harm", HARM)
@pytest.mark.parametrize("progressive", [False, True])
def test_a_jpeg_damaged_in_its_middle_is_not_read_as_if_whole(harm, progressive):
    """Pillow alone fills in grey, or rows shifted aside, and says nothing."""
    whole = jpeg_of(textured(), progressive=progressive)
    middle = slice(len(whole) // 2, len(whole) // 2 + 3000)
    content = whole[: middle.start] + HARM[harm](whole[middle]) + whole[middle.stop :]
    with pytest.raises(DamagedPicture, match="damaged"):
        open_photo("p", content)


def test_a_cameras_padding_before_the_end_is_no_damage():
    whole = jpeg_of(textured())
    for padding in (bytes(5), b"\x00" * 900):
        photo = open_photo("p", whole[:-2] + padding + whole[-2:])
        assert (photo.pixels == open_photo("p", whole).pixels).all()
    with pytest.raises(DamagedPicture):
        open_photo("p", whole[:-2] + b"\x00\x01\x02\x03" + whole[-2:])


def test_bytes_after_a_jpegs_end_are_none_of_its_own():
    """Phones put further pictures there: of depth, of a brighter screen."""
    whole = jpeg_of(textured())
    photo = open_photo("p", whole + jpeg_of(textured((800, 640)))[:-500])
    assert (photo.pixels == open_photo("p", whole).pixels).all()


def test_of_many_photos_only_some_are_held_in_memory(monkeypatch):
    monkeypatch.setattr(photo_module, "MOST_HELD_MB", 15)
    contents = [jpeg_of(textured((1600, 1200 + 8 * k))) for k in range(6)]
    photos = [open_photo(f"{k}", content) for k, content in enumerate(contents)]
    held = [photo.picture.size for photo in photos]
    assert sum(held) <= 15e6 and held[-1] and not held[0]
    first = photos[0].pixels
    assert (first == open_photo("0", contents[0]).pixels).all()
    assert photos[0].size_px == (1600, 1200)
    # What was asked for last stays, though it alone is more than is held.
    monkeypatch.setattr(photo_module, "MOST_HELD_MB", 1)
    assert photos[3].pixels is photos[3].pixels


def test_pixels_that_were_forgotten_are_decoded_again():
    photo = open_photo("p", jpeg_of(textured()))
    before = photo.pixels.copy()
    photo.forget_pixels()
    assert photo.picture.size == 0 and photo.size_px == before.shape[1::-1]
    assert (photo.pixels == before).all() and photo.picture.size == before.nbytes


@pytest.mark.parametrize("turns", range(1, 9))
def test_where_a_decoder_misses_lost_bytes_the_jump_of_light_is_noticed(turns):
    """From the middle of a row on all is brighter, as where one block's difference was changed."""
    picture = np.asarray(textured())
    harmed = picture.astype(int)
    harmed[600:608, 300:] += 30
    harmed[608:] += 30
    for pixels, jumps in ((picture, False), (np.clip(harmed, 0, 255).astype(np.uint8), True)):
        exif = Image.Exif()
        exif[0x0112] = turns
        photo = open_photo("p", jpeg_of(Image.fromarray(pixels), exif=exif, quality=95))
        assert photo.light_jumps is jumps


def test_light_that_changes_across_a_photo_is_no_jump():
    shade = np.linspace(40, 220, 1200)[:, None, None] + np.zeros((1, 1600, 3))
    edge = np.where(
        np.arange(1200)[:, None, None] * 20 + np.arange(1600)[None, :, None] > 13000, 200, 90
    ) + np.zeros((1, 1, 3))
    for pixels in (shade, edge):
        assert not light_jumps(pixels.astype(np.uint8))


@pytest.mark.slow
def test_a_heif_whose_coded_picture_was_changed_is_unlike_its_own_copy():
    """In every place of its coded picture: refused, or seen, or no pixel in a hundred is another.

    The file has the picture before its copy.
    """
    file = io.BytesIO()
    textured((800, 640)).save(file, "HEIF", quality=80, thumbnails=[320])
    content = file.getvalue()
    whole = open_photo("p", content)
    assert not whole.unlike_copy
    begin = content.index(b"mdat") + 4
    seen = 0
    for share in np.linspace(0.02, 0.6, 6):
        changed = bytearray(content)
        at = begin + int(share * (len(content) - begin))
        changed[at : at + 16] = bytes(255 - value for value in changed[at : at + 16])
        try:
            photo = open_photo("p", bytes(changed))
        except DamagedPicture:
            continue
        off = np.abs(photo.pixels.astype(int) - whole.pixels).max(axis=2) > 24
        assert photo.unlike_copy or off.mean() < 0.01
        seen += photo.unlike_copy
    assert seen > 2
    file = io.BytesIO()
    textured((800, 640)).save(file, "HEIF")
    assert not open_photo("p", file.getvalue()).unlike_copy


def test_a_copy_made_crudely_darker_or_shifted_by_part_of_a_pixel_is_like_its_picture():
    """Black strokes on white, as far from smooth as a picture goes."""
    picture = np.full((1200, 1600, 3), 235, np.uint8)
    rng = np.random.default_rng(4)
    for x, y in rng.integers(0, 1200, (60, 2)):
        cv2.line(picture, (int(x), int(y)), (int(y), int(x) + 200), (20, 20, 20), 5)
    copy = cv2.resize(picture, (320, 240), interpolation=cv2.INTER_AREA)
    for shown in (
        picture[2::5, 2::5],
        cv2.convertScaleAbs(copy, alpha=1, beta=-18),
        cv2.warpAffine(copy, np.float32([[1, 0, 0.3], [0, 1, 0.3]]), (320, 240), borderMode=1),
    ):
        assert not unlike_copy(picture, shown)
    harmed = picture.copy()
    harmed[600:664, 300:900] = 90
    assert unlike_copy(harmed, copy)


def test_a_copy_of_which_pixels_were_left_out_is_like_its_picture_however_fine_that_is():
    """Every fifth column black, in a third: a copy of every fifth one is all black there, or all
    white.
    """
    picture = np.full((1200, 1600, 3), 235, np.uint8)
    picture[:, :500:5] = 20
    for first in (0, 1):
        assert not unlike_copy(picture, picture[::5, first::5])


def test_pale_detail_that_is_elsewhere_is_unlike_the_copy():
    """By twenty levels, as of a wash of light on plain paper."""
    picture = np.full((1200, 1600, 3), 200, np.uint8)
    copy = cv2.resize(picture, (320, 240), interpolation=cv2.INTER_AREA)
    assert not unlike_copy(picture, copy)
    for levels, unlike in ((8, False), (20, True)):
        harmed = picture.copy()
        harmed[600:664, 300:900] -= np.uint8(levels)
        assert unlike_copy(harmed, copy) is unlike


@pytest.mark.parametrize("packed", ["tiff_adobe_deflate", "tiff_lzw", None])
def test_a_tiff_whose_strip_was_changed_where_it_is_packed_is_refused(packed):
    """RFC 1950's checksum; the other ways of packing have none."""
    file = io.BytesIO()
    textured().save(file, "TIFF", compression=packed)
    content = bytearray(file.getvalue())
    assert open_photo("p", bytes(content)).size_px == (1600, 1200)
    content[len(content) // 2 : len(content) // 2 + 90] = bytes(90)
    if packed == "tiff_adobe_deflate":
        with pytest.raises(DamagedPicture):
            open_photo("p", bytes(content))


def exif_with(copy):
    """EXIF (Exif 2.32, 4.5.2; TIFF 6.0) of an upright picture that has a small copy in JPEG."""
    upright, at, size = (0x0112, 1), 0x0201, 0x0202
    begin = 8 + 2 * (2 + 12 + 4) + 12  # a header, a directory of one entry, one of two
    exif = b"II*\0" + struct.pack("<I", 8)
    for entries, following in (([upright], 26), ([(at, begin), (size, len(copy))], 0)):
        exif += struct.pack("<H", len(entries))
        exif += b"".join(struct.pack("<HHII", tag, 4, 1, value) for tag, value in entries)
        exif += struct.pack("<I", following)
    return b"Exif\0\0" + exif + copy


@pytest.mark.parametrize(("copied", "unlike"), [("own", False), ("other", True), ("bars", False)])
def test_a_jpeg_is_held_against_the_copy_in_its_exif_if_that_is_the_same_shape(copied, unlike):
    """A copy of another shape, filled up with bars, tells nothing."""
    picture = textured()
    small = picture.resize((160, 120))
    if copied == "other":
        small.paste((0, 0, 0), (60, 40, 120, 80))
    if copied == "bars":
        small = ImageOps.pad(small.resize((160, 90)), (160, 100))
    exif = exif_with(jpeg_of(small, quality=70))
    assert open_photo("p", jpeg_of(picture, exif=exif, quality=90)).unlike_copy is unlike
