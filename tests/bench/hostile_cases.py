"""The families of hostile cases: what is given, and what would be right if it is not refused."""

import io
import json
import os
import re
import shutil
import warnings
import xml.etree.ElementTree as ET
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from PIL import Image
from typer.testing import CliRunner

from digitize.cli import app
from digitize.cli.options import (
    check_distance,
    gaps,
    parsed,
    pixels,
    radii,
    two_places,
)
from digitize.cli.screen import screen
from digitize.draw import pattern_svg
from digitize.errors import DamagedKept, DigitizeError
from digitize.floor import camera_from_json, camera_json, open_photo
from digitize.jobs.find import check_drawer, find_patterns, take_pattern
from digitize.jobs.folder import record_of
from digitize.jobs.settings import ink_roles_in, print_scale
from digitize.keep import file_name
from digitize.keep.drawer import put
from digitize.keep.slip import Slip, slip_in, slip_text
from digitize.record import facts_from_json, from_json, to_json
from digitize.units import day, length_mm, sheet_size
from digitize.words import printable
from tests.draw.lopsided import PATTERN
from tests.floor.test_kept import known_camera
from tests.floor.test_photo import exif_with

Pixels = NDArray[np.uint8]
Case = Callable[[Generator, Path], str | None]
HUGE = 10**400
HOSTILE: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 7, 0.5, -0.0, 1e-308, 1e9, -1e9, 1e308, 1e5, 99999.0, HUGE,
    float("nan"), float("inf"), float("-inf"), "", " ", "0", "12", "NaN", "x" * 6000, "L1", "T1",
    "\x1b[31mred", "a\nb", "\u202egnp.exe", "\x00", "<b>&amp;</b>", "]]>", "[bold]x[/bold]",
    "../../etc/passwd", "%s%n", [], {}, [[]], [0], [1, 2], [[0, 0], [0, 0]], {"a": 1}, "\ud800",
)  # fmt: skip


@dataclass(frozen=True)
class Family:
    """Cases drawn by seed: what is wrong if one is taken without a word, or None."""

    cases: int
    case: Case


def pick(rng: Generator, some: Any) -> Any:
    return some[int(rng.integers(len(some)))]


def bytes_changed(content: bytes, rng: Generator, first: int = 0) -> bytes:
    """A file's bytes with some of them changed, gone, doubled or others' in their place."""
    changed = bytearray(content)
    at = int(rng.integers(first, len(changed)))
    length = int(min(rng.integers(1, 2 ** int(rng.integers(1, 13))), len(changed) - at))
    match int(rng.integers(7)):
        case 0:
            changed[at] ^= 1 << int(rng.integers(8))
        case 1:
            changed[at : at + length] = rng.bytes(length)
        case 2:
            changed[at : at + length] = bytes(length)
        case 3:
            del changed[at : at + length]
        case 4:
            del changed[at:]
        case 5:
            changed[at:at] = changed[at : at + length]
        case 6:
            changed[at:at] = rng.bytes(length)
    return bytes(changed)


# Pictures


@cache
def picture(kind: str) -> tuple[bytes, Pixels]:
    """A file of each kind, and its pixels as another decoder has them."""
    rng = np.random.default_rng(5)
    small = rng.integers(60, 200, (80, 100, 3), dtype=np.uint8)
    whole = Image.fromarray(small).resize((800, 640), Image.Resampling.BICUBIC)
    file = io.BytesIO()
    options: dict[str, Any] = {
        "progressive": {"progressive": True},
        "TIFF": {"compression": "tiff_adobe_deflate"},
        "HEIF": {"thumbnails": [320]},
    }.get(kind, {})
    copy = io.BytesIO()
    whole.resize((200, 160)).save(copy, "JPEG", quality=70)
    exif = exif_with(copy.getvalue())  # as phones write one; from memory
    whole.save(file, "JPEG" if kind == "progressive" else kind, exif=exif, **options)
    return file.getvalue(), np.asarray(Image.open(file).convert("RGB"))


def pictures(rng: Generator, place: Path) -> str | None:
    kind = pick(rng, ("JPEG", "JPEG", "progressive", "PNG", "TIFF", "HEIF"))
    content, right = picture(kind)
    photo = open_photo("p", bytes_changed(content, rng))
    if photo.pixels.shape != right.shape:
        turned = photo.pixels.shape == (right.shape[1], right.shape[0], 3)
        return None if turned else f"{kind}: has another size"
    if photo.quarter_turns:
        return None  # its orientation was what changed
    off = np.abs(photo.pixels.astype(int) - right).max(axis=2) > 24
    if off.mean() <= 0.005:
        return None
    lost = lost_detail(right, photo.pixels)
    if photo.light_jumps or photo.unlike_copy:
        return None  # a remark says so
    if lost > 0.02:
        return f"{kind}: what {lost:.0%} of it shows is elsewhere or gone"
    return f"light: {kind}: {off.mean():.0%} of the pixels"


def lost_detail(right: Pixels, found: Pixels) -> float:
    """The share of a picture's tiles whose detail does not correlate with the right one's."""
    one, two = (
        (grey := cv2.cvtColor(each, cv2.COLOR_RGB2GRAY).astype(np.float32))
        - cv2.GaussianBlur(grey, (0, 0), 6)
        for each in (right, found)
    )
    both, first, second = (
        cv2.boxFilter(product, cv2.CV_32F, (32, 32))[16::32, 16::32]
        for product in (one * two, one * one, two * two)
    )
    return float((both < 0.6 * np.sqrt(first * second) + 1e-3).mean())


def exifs(rng: Generator, place: Path) -> str | None:
    """Tags of any type; the picture is the same whatever they say."""
    exif = Image.Exif()
    tags = (0x0112, 0x010F, 0x0110, 0x9003, 0xA405, 0xA002, 0xA003, 0x8825, 0x927C)
    for _ in range(int(rng.integers(1, 5))):
        tag = pick(rng, tags)
        where = exif if tag in (0x0112, 0x010F, 0x0110) else exif.get_ifd(0x8769)
        where[tag] = pick(
            rng, (0, -1, 3.5, "wide", b"\xff\x00", (1, 2), float("inf"), 2**31, "\x1b")
        )
    file = io.BytesIO()
    try:
        with warnings.catch_warnings(action="ignore"):
            Image.new("RGB", (800, 640), (9, 90, 200)).save(file, "JPEG", exif=exif)
    except Exception:  # what cannot be written cannot be read either
        return None
    photo = open_photo("p", file.getvalue())
    if photo.focal_px is not None and not 0 < photo.focal_px < 1e9:
        return f"a focal length of {photo.focal_px}"
    if photo.camera is not None and not photo.camera.isprintable():
        return "a camera's name that acts"
    middle = photo.pixels[300, 300].tolist()
    return None if np.abs(np.array(middle) - [9, 90, 200]).max() < 6 else f"colour {middle}"


# Files of JSON


def places_in(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Paths to everything in a value."""
    found = [path] if path else []
    if isinstance(value, dict | list):
        for key, each in list(value.items() if isinstance(value, dict) else enumerate(value)):
            found += places_in(each, (*path, key))
    return found


def json_changed(text: str, rng: Generator) -> bytes:
    """A JSON file's text with a few values of it others, or a few bytes."""
    if rng.random() < 0.2:
        return bytes_changed(text.encode(), rng)
    value = json.loads(text)
    for _ in range(int(rng.integers(1, 4))):
        path = pick(rng, places_in(value) or [()])
        if not path:
            value = pick(rng, HOSTILE)
            break
        holder = value
        for key in path[:-1]:
            holder = holder[key]
        match int(rng.integers(6)):
            case 0 | 1 | 2:
                holder[path[-1]] = pick(rng, HOSTILE)
            case 3:
                del holder[path[-1]]
            case 4 if isinstance(holder, list):
                holder.insert(path[-1], holder[path[-1]])
            case 4:
                holder[pick(rng, ("later", "", "\x1b", "__class__", "id", "x" * 300))] = pick(
                    rng, HOSTILE
                )
            case 5:
                holder[path[-1]] = DEEP
    depth = int(2 ** rng.integers(1, 18))
    text = json.dumps(value).replace(json.dumps(DEEP), "[" * depth + "0" + "]" * depth)
    return text.encode("utf-8", "surrogatepass")


def told_otherwise(given: Any, read: Any, where: str = "") -> str | None:
    """The first place where what was read is not what was given; None if there is none."""
    if isinstance(given, dict) and isinstance(read, dict):
        for key in given.keys() - {"written_by", "warnings", "remarks"}:
            if key not in read:
                return f"{where}.{key} is gone"
            if other := told_otherwise(given[key], read[key], f"{where}.{key}"):
                return other
        return None
    if isinstance(given, list) and isinstance(read, list):
        if len(given) != len(read):
            return f"{where} has {len(read)} for {len(given)}"
        others = (told_otherwise(a, b, where) for a, b in zip(given, read, strict=True))
        return next((other for other in others if other), None)
    if isinstance(given, str) and isinstance(read, dict):
        return None if read.get("line") == printable(given) else f"{where} is another line"
    same = type(given) is type(read) or {type(given), type(read)} <= {int, float}
    if same and (given == read or (isinstance(given, str) and printable(given) == read)):
        return None
    return f"{where}: {str(read)[:40]!r} for {str(given)[:40]!r}"


DEEP = "so deep"  # which becomes lists within lists
RECORD = to_json(PATTERN)


def records(rng: Generator, place: Path) -> str | None:
    text = json_changed(RECORD, rng)
    read = json.loads(to_json(from_json(text)))
    return told_otherwise(json.loads(text.decode("utf-8-sig")), read)


def records_drawn(rng: Generator, place: Path) -> str | None:
    """A right drawing, of every line there is, or a line of words."""
    pattern = record_of(json_changed(RECORD, rng))
    svg = pattern_svg(pattern)
    ids = {each.get("id") for each in ET.fromstring(svg).iter()}
    if re.search(r"[\"\s,(-](nan|inf)[\"\s,)]", svg):
        return "a number that is none in the drawing"
    missing = [line.id for line in pattern.lines if line.id not in ids]
    return f"{missing[0]!r} is not drawn" if missing else None


CAMERA = camera_json(known_camera())


def cameras(rng: Generator, place: Path) -> str | None:
    text = json_changed(CAMERA, rng)
    read = json.loads(camera_json(camera_from_json(text)))
    return told_otherwise(json.loads(text.decode("utf-8-sig")), read)


PROFILE = '{"measured_x": 149.6, "measured_y": 150.2, "printer": {"name": "a"}}'
INKS_FILE = '{"red": "lap", "blue": "form", "green": "radius-start"}'


def small_files(rng: Generator, place: Path) -> str | None:
    path = place / "small.json"
    if rng.random() < 0.5:
        path.write_bytes(text := json_changed(PROFILE, rng))
        scale = print_scale(None, None, path)
        said = json.loads(text.decode("utf-8-sig"))
        right = scale and (scale.x, scale.y) == (said["measured_x"] / 150, said["measured_y"] / 150)
        return None if right else "another size than the file says"
    path.write_bytes(text := json_changed(INKS_FILE, rng))
    roles = ink_roles_in(path)
    said = json.loads(text.decode("utf-8-sig"))
    return None if {k: v.strip().lower() for k, v in said.items()} == roles else "other roles"


FACTS = json.dumps(
    [
        {"kind": "draw", "points": [[1, 2], [3, 4]], "role": "form", "closed": False},
        {"kind": "erase", "on": "L1", "between": [[1, 2], [3, 4]]},
        {"kind": "radius", "on": {"line": "L2"}, "radii": [{"at": [1, 2], "radius": 82.5}]},
        {"kind": "take-up", "on": "T1", "laps": [{"depth": 40, "lap": 3}]},
        {"kind": "allowance", "on": ["L1", "L2"], "width": 25},
        {"kind": "about", "name": "corner", "sheet": {"material": "steel", "thickness": 0.9}},
        {"kind": "words", "on": "L3", "words": "crown"},
        {"kind": "area", "boundary": [[0, 0], [9, 0], [9, 9]], "use": "stretch"},
    ]
)


def facts(rng: Generator, place: Path) -> str | None:
    text = json_changed(FACTS, rng)
    read = [fact.model_dump() for fact in facts_from_json(text)]
    return told_otherwise(json.loads(text.decode("utf-8-sig")), json.loads(json.dumps(read)))


SLIP = Slip("corner", "left", "2026-11-25T09:00:00+00:00", 900.0, 600.0, notes=("a", "b"), tucks=3)


def slips(rng: Generator, place: Path) -> str | None:
    text = json_changed(slip_text(SLIP), rng)
    try:
        read = slip_in(text)
    except ValueError as error:
        raise DamagedKept(f"slip: {printable(str(error))[:90]}") from error  # as the index does
    return told_otherwise(json.loads(text), json.loads(slip_text(read)))


# Drawers


def drawers(rng: Generator, place: Path) -> str | None:
    """A drawer of two patterns in which one thing was changed by hand."""
    drawer, kept = place / "drawer", {}
    for pattern in ("corner-left", "sill-right"):
        for state in range(int(rng.integers(1, 4))):
            files = {
                "pattern.json": b'{"state": %d}' % state,
                "slip.json": slip_text(replace(SLIP, name=pattern)).encode(),
                "photos/1-a.jpg": rng.bytes(50),
                "drawings/this-side/a.svg": b"<svg/>",
            }
            revision = put(drawer, pattern, state, files)
            kept[pattern, revision.number] = files
    there = sorted(path for path in drawer.rglob("*") if path.name not in ("index", ABOUT))
    victim = pick(rng, there)
    outside = place / "outside"
    outside.write_bytes(b"not yours")
    harmed = _harm(victim, outside, rng, drawer)
    found = check_drawer(drawer=drawer)
    if harmed and not found.faults:
        return f"{harmed}: check says nothing"
    find_patterns(drawer=drawer)
    out = place / "out"
    for pattern in ("corner-left", "sill-right"):
        shutil.rmtree(out, ignore_errors=True)
        latest = max(number for name, number in kept if name == pattern)
        try:
            taken = take_pattern(pattern, out, drawer=drawer)
        except DigitizeError:
            continue
        right = kept[pattern, latest]["pattern.json"]
        if taken.revision.number != latest or (out / "pattern.json").read_bytes() != right:
            return f"{harmed}: take takes what was not kept last"
        if {path.name for path in out.rglob("*")} - {"pattern.json", "a.svg"}:
            return f"{harmed}: take takes more than was kept"
    if outside.read_bytes() != b"not yours":
        return f"{harmed}: a file outside was changed"
    return None


ABOUT = "HOW TO READ THIS.txt"


def _harm(victim: Path, outside: Path, rng: Generator, drawer: Path) -> str:
    """Change something in a drawer; in words, what; nothing if it does no harm."""
    what = int(rng.integers(8))
    words = f"{victim.relative_to(drawer)} {what}"
    # Of a pattern that has gone altogether nothing is left to say that it was there.
    whole = victim.parent == drawer
    if what == 0:
        shutil.rmtree(victim) if victim.is_dir() else victim.unlink()
        return "" if whole else words
    if what == 1:
        victim.rename(victim.with_name(f"{victim.name}-moved"))
        return "" if whole else words
    if victim.is_dir():
        (victim / "stranger").write_bytes(b"x")
        inside = victim.name.startswith("revision") or victim.parent.parent.parent == drawer
        return words if inside or len(victim.relative_to(drawer).parts) > 2 else ""
    before = victim.read_bytes()
    if what == 2:
        victim.unlink()
        os.mkfifo(victim)
    elif what == 3:
        victim.unlink()
        victim.symlink_to(outside)
    elif what == 4:
        victim.write_bytes(b"")
    elif what == 5:
        with victim.open("ab") as file:
            file.write(b"%s  ../../../outside\n" % (b"0" * 64))
    else:
        victim.write_bytes(bytes_changed(before, rng) if before else b"x")
    same = victim.is_file() and not victim.is_symlink() and victim.read_bytes() == before
    return "" if same else words


# Names and options

SIGNS = "aé\x1b\n\r\t\x00\u202e\ud800\udcff<>&\"'[]/\\.%{}$`|\N{SNOWMAN}\U0001f600 -_"


def words_of(rng: Generator) -> str:
    length = int(rng.integers(0, 2 ** int(rng.integers(1, 13))))
    return "".join(SIGNS[k] for k in rng.integers(0, len(SIGNS), length))


def names(rng: Generator, place: Path) -> str | None:
    words = words_of(rng)
    name = file_name(words)
    (place / f"{name}-left.json").write_bytes(b"")  # which the disk has to take
    if Path(name).name != name or name in ("", ".", ".."):
        return f"{name!r} leads elsewhere"
    with screen.capture() as shown:
        screen.print(words)
    said = shown.get().replace("\n", "")
    if not said.isprintable():
        return "signs that act on the terminal"
    text = json.dumps({**json.loads(RECORD), "name": words, "part": words[:50]})
    pattern = from_json(text.encode("utf-8", "surrogatepass"))
    drawn = "".join(ET.fromstring(pattern_svg(pattern)).itertext())
    said = json.loads(json.dumps(words))  # where two halves of a sign become one
    return None if printable(said) in drawn else "the drawing has another name"


UNITS = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, '"': 25.4, "ft": 304.8, "'": 304.8}


def lengths(rng: Generator, place: Path) -> str | None:
    """Lengths whose value is known, and the same with a sign of them changed."""
    unit = pick(rng, list(UNITS))
    whole, top, bottom = (int(each) for each in rng.integers([0, 1, 2], [400, 64, 64]))
    number, value = pick(
        rng,
        (
            (f"{whole}", whole),
            (f"{whole}.{top}", float(f"{whole}.{top}")),
            (f"{whole},{top}", float(f"{whole}.{top}")),
            (f"{whole} {top}/{bottom}", whole + top / bottom),
            (f"{top}/{bottom}", top / bottom),
        ),
    )
    words = f"{number}{pick(rng, ('', ' '))}{unit}"
    right = value * UNITS[unit]
    if rng.random() < 0.5:
        found = parsed(length_mm, words, "--length", "25mm")
        return None if abs(found - right) < 1e-6 * right + 1e-9 else f"{words}: {found}"
    at = int(rng.integers(len(words) + 1))
    changed = words[:at] + pick(rng, HOSTILE_WORDS) + words[at:]
    found = parsed(length_mm, changed, "--length", "25mm")
    if not 0 < found <= 100_000:
        return f"{changed!r}: {found}"
    # With no more than spaces or digits more it is a length still; else it is what it was.
    plain = re.fullmatch(r"[\s\d.,/'\"a-z½-]*", changed)
    return None if plain or abs(found - right) < 1e-6 * right else f"{changed!r}: {found}"


HOSTILE_WORDS = (
    "-", "e999999999", "nan", "inf", "0x1f", "1" * 30, "9" * 5000, "\x00", "\n", "@", "=", ":", ",",
    "/0", "..", "١٢", "½", "\u202e", "[", "%", "mm mm", "km", "_",
)  # fmt: skip


def options(rng: Generator, place: Path) -> str | None:
    """Words of options, by what reads them; figures that come of them are finite and in bounds."""
    kinds = (
        (check_distance, "1:3=1204.5"),
        (pixels, "812,402 3260,398 3301,2210"),
        (two_places, "1,2 3,4"),
        (radii, "3in@0%, 3-1/4in@50%, 100@640mm"),
        (gaps, "3mm@40mm, 4@80"),
        (sheet_size, "1250x2500"),
        (day, "last week"),
    )
    kind, words = pick(rng, kinds)
    for _ in range(int(rng.integers(1, 4))):
        at = int(rng.integers(len(words) + 1))
        new = pick(rng, (*HOSTILE_WORDS, words_of(rng)[:20]))
        words = words[:at] + new + words[at + int(rng.integers(0, 3)) :]
    said = parsed(kind, words, "--option", "this")
    numbers = [
        float(each) for each in re.findall(r"-?(?:\d+\.?\d*(?:e[+-]?\d+)?|inf|nan)", repr(said))
    ]
    if kind is not day and not all(abs(each) <= 1e6 for each in numbers):
        return f"{words!r}: {str(said)[:80]}"
    return None


RUNNER = CliRunner()


def commands(rng: Generator, place: Path) -> str | None:
    """Whole command lines, of which one word was changed."""
    record = place / "pattern"
    record.mkdir()
    (record / "pattern.json").write_text(RECORD)
    strange = place / pick(rng, ("a\x1b[31m", "n" * 200, "\udcff", "a b", "[red]x", "-"))
    line = list(
        pick(
            rng,
            (
                ["label", record, "--note", "L1=crown"],
                ["label", record, "--radius", "L1=82"],
                ["label", record, "--role", "L1=form"],
                ["tuck", record, "--spread", "T1=3mm@40mm"],
                ["told", record],
                ["draw", record, "--out", place / "out", "--format", "svg"],
                ["draw", record, "--out", place / "out", "--format", "svg", "--allowance", "25mm"],
                ["draw", record, "--out", place / "out", "--format", "svg", "--stock", "1250x2500"],
                ["find", "corner", "--drawer", place / "drawer"],
                ["take", "corner", "--out", place / "out", "--drawer", place / "drawer"],
                ["check", "--drawer", place / "drawer"],
                ["photo", strange, "--out", place / "out"],
                ["tell", record, record / "pattern.json"],
                ["compare", record, record, "--out", place / "c.svg"],
                ["shrink", record],
            ),
        )
    )
    at = int(rng.integers(1, len(line)))
    hostile = pick(rng, (*HOSTILE_WORDS, words_of(rng)[:300], "/dev/zero", "", str(strange), "--"))
    line[at] = hostile if rng.random() < 0.6 else f"{line[at]}{hostile}"
    given = [str(each).replace("\x00", "") for each in line]  # no system passes that on
    result = RUNNER.invoke(app, given)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    acts = [sign for sign in result.output if not sign.isprintable() and sign not in "\n"]
    if acts:
        return f"{given[0]}: {acts[0]!r} on the terminal"
    if result.exit_code and not (result.stdout + result.stderr).strip():
        return f"{given[0]}: ends with {result.exit_code} and not a word"
    return None


FAMILIES = {
    "pictures": Family(1000, pictures),
    "EXIF": Family(250, exifs),
    "records": Family(10_000, records),
    "records drawn": Family(250, records_drawn),
    "camera files": Family(500, cameras),
    "profiles and inks": Family(400, small_files),
    "facts": Family(600, facts),
    "slips": Family(300, slips),
    "drawers": Family(300, drawers),
    "names": Family(150, names),
    "lengths": Family(600, lengths),
    "options": Family(500, options),
    "command lines": Family(200, commands),
}
