"""What was found, drawn over the rectified photo."""

import textwrap
from collections.abc import Sequence

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Point as Disc

from digitize.draw.callouts import Number, along_lines, tuck_callouts, what_is_drawn
from digitize.draw.lettering import width_px, write_on
from digitize.draw.placing import ASCENT, Box, Callout, Label, place_labels
from digitize.draw.style import (
    CONTOUR,
    HATCHED,
    OUTLINE,
    STYLES,
    UNSEEN,
    WITHDRAWN,
    ZONE,
    start_marks,
    style_of,
    styles_in,
)
from digitize.plane import arrays_of, length_of, lines_through, places_along
from digitize.record import Pattern, Point, Severity

Floats = NDArray[np.float64]
Picture = NDArray[np.uint8]
LONGEST_SIDE_PX = 3200
USUAL_MM = 1100.0  # a larger picture has all that is drawn in it larger
LINE_MM, TEXT_MM, START_MM, TIP_MM = 0.6, 7.0, 7.0, 3.0
WIDER = 1.2  # letters of the picture than those by which names are placed
GAP_MM = 5.0
FINEST_PX = 1 / 16  # to which lines are drawn
DOT_MM = 2.0  # from dot to dot of what was struck out or hatched
HATCH_MM, HATCH_LINE_MM = 8.0, 1.0  # from line to line along the rows, and each line's breadth
FLAG_MM, ROW_MM = 5.0, 9.5
# So that the drawing stands out, and the pencil under it still shows.
PALER = np.clip(np.arange(256, dtype=np.float32) * 0.6 + 95, 0, 255).astype(np.uint8)
FLAGS = {"note": "#0072b2", "warning": "#e69f00", "stop": "#d50000"}


def smaller(raster: Picture) -> tuple[Picture, float]:
    """A raster (H, W, 3) no larger than it is drawn over, and how many times smaller it is."""
    times = max(max(raster.shape[:2]) / LONGEST_SIDE_PX, 1.0)
    if times == 1:
        return raster, times
    size = int(raster.shape[1] / times), int(raster.shape[0] / times)
    return np.asarray(cv2.resize(raster, size, interpolation=cv2.INTER_AREA), np.uint8), times


def overlay_picture(
    pattern: Pattern,
    raster: Picture,
    left: float,
    top: float,
    mm_per_px: float,
) -> Picture:
    """An RGB picture (H, W, 3) of the pattern over the raster it was read from.

    Parameters
    ----------
    raster : (H, W, 3) sRGB, in the pattern frame.
    left, top : mm at the centre of its first pixel.
    mm_per_px : side of its pixels.
    """
    raster, times = smaller(raster)
    mm_per_px *= times
    picture = np.asarray(cv2.LUT(raster, PALER), np.uint8)
    larger = max(max(picture.shape[:2]) * mm_per_px / USUAL_MM, 1.0)
    drawn_px = mm_per_px / larger  # mm of what is drawn for a pixel
    thick = max(round(LINE_MM / drawn_px), 1)

    def pixels(points: Sequence[Point] | Floats) -> NDArray[np.int32]:
        at = (np.asarray(points) - [left, top]) / [mm_per_px, -mm_per_px]
        return np.round(at / FINEST_PX).astype(np.int32)

    def draw(points: Sequence[Point] | Floats, closed: bool, colour: str, width: int) -> None:
        cv2.polylines(picture, [pixels(points)], closed, _rgb(colour), width, cv2.LINE_AA, 4)

    if pattern.zones:
        tint = picture.copy()
        for zone in pattern.zones:
            cv2.fillPoly(tint, [pixels(zone.boundary)], _rgb(ZONE.colour), cv2.LINE_AA, 4)
        picture[:] = cv2.addWeighted(tint, 0.28, picture, 0.72, 0)
    if pattern.unseen:
        _hatch(picture, [pixels(area.boundary) for area in pattern.unseen], drawn_px)
    contours = pattern.scale.accuracy_lines if pattern.scale else ()
    for contour in contours:
        cv2.polylines(
            picture,
            [pixels(contour.points)],
            False,
            _rgb(CONTOUR.colour),
            max(thick // 2, 1),
            cv2.LINE_AA,
            4,
        )
    draw(pattern.outline, True, OUTLINE.colour, thick)
    seen_lines = [line for line in pattern.lines if not line.withdrawn]
    runs = shapely.simplify(
        lines_through(arrays_of([line.path for line in seen_lines])),
        FINEST_PX * mm_per_px,
        preserve_topology=False,
    )
    for line, run in zip(seen_lines, runs, strict=True):
        draw(shapely.get_coordinates(run), line.closed, STYLES[line.role].colour, thick)
    unsure = {name for tuck in pattern.tucks if tuck.unsure for name in (tuck.slit, tuck.lap_line)}
    doubtful = [line.points for line in pattern.lines if line.id in unsure]
    dotted = [(line.path, WITHDRAWN) for line in pattern.lines if line.withdrawn]
    hatched = [area for area in pattern.areas if area.use == "hatched"]
    dotted += [((*area.boundary, area.boundary[0]), HATCHED) for area in hatched]
    for path, style in dotted:
        along = np.arange(0.0, length_of(np.array(path)), DOT_MM * larger)
        for at in pixels(places_along(np.array(path), along)).tolist():
            cv2.circle(picture, at, 8 * thick + 8, _rgb(style.colour), -1, cv2.LINE_AA, 4)
    for stretch in (*pattern.outline_unsure, *doubtful):
        for gap in _gaps(np.array(stretch)):
            draw([(x, y) for x, y in gap.tolist()], False, "#ffffff", thick + 2)
    for tuck in pattern.tucks:
        tip = pixels((tuck.tip,))[0]
        radius = int(TIP_MM / drawn_px * 16)
        cv2.circle(picture, tip.tolist(), radius, (0, 0, 0), thick, cv2.LINE_AA, 4)
    metal = [line for line in pattern.lines if line.is_of_metal]
    for line, head in zip(metal, start_marks(metal, START_MM * larger), strict=True):
        cv2.fillPoly(picture, [pixels(head)], _rgb(STYLES[line.role].colour), cv2.LINE_AA, 4)
    for note in pattern.notes:
        x0, y0, x1, y1 = note.box
        draw(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), True, "#7a7a7a", 1)
    for number, remark in enumerate(pattern.remarks, start=1):
        if remark.at is not None:
            _flag(picture, number, pixels((remark.at,))[0] / 16, drawn_px, remark.severity)
    height, width = picture.shape[:2]
    seen = (left, -top, left + width * mm_per_px, height * mm_per_px - top)
    for label in overlay_names(pattern, seen, larger):
        if label.leader:
            draw([(x, -y) for x, y in label.leader], False, label.callout.colour, 1)
        x, y = pixels(((label.box[0], -label.box[1] - ASCENT * label.callout.size),))[0] / 16
        write_on(picture, label.callout.words, (x, y), TEXT_MM / drawn_px, label.callout.colour)
    picture = _with_key(picture, pattern, drawn_px, bool(contours))
    return _with_remarks(picture, pattern, drawn_px) if pattern.remarks else picture


def overlay_names(pattern: Pattern, seen: Box, larger: float) -> tuple[Label, ...]:
    """What is named in the overlay, and where: clear of what is drawn and of each other.

    Parameters
    ----------
    seen : left, top, right, low of the picture, mm; here and in what comes out y runs down.
    larger : how much larger all is drawn than in a picture of the usual size.
    """

    def at(place: tuple[Number, Number]) -> tuple[Number, Number]:
        return place[0], -place[1]

    size = TEXT_MM / ASCENT * WIDER * larger
    named = [line for line in pattern.lines if not line.is_tuck_mark]
    names = [
        Callout(line.label, places, style_of(line).colour, size)
        for line, places in zip(named, along_lines(named, at), strict=True)
    ]
    names += tuck_callouts(pattern, at, size, at_tip=True)
    names += [
        Callout(f"{area.id} {HATCHED.words}", (at(area.boundary[0]),), HATCHED.colour, size)
        for area in pattern.areas
        if area.use == "hatched"
    ]
    for contour in pattern.scale.accuracy_lines if pattern.scale else ():
        places = tuple(at(place) for place in contour.points[:: len(contour.points) // 8 + 1])
        names.append(Callout(f"{contour.within:g}", places, CONTOUR.colour, size))
    taken = what_is_drawn(pattern, None, at, START_MM * larger)
    taken += [Disc(at(tuck.tip)).buffer(TIP_MM * larger) for tuck in pattern.tucks]
    taken += [Disc(at(said.at)).buffer(FLAG_MM * larger) for said in pattern.remarks if said.at]
    return place_labels(names, taken, seen)


def _hatch(picture: Picture, rings: Sequence[NDArray[np.int32]], drawn_px: float) -> None:
    """Slanting lines over the insides of rings, in sixteenths of a pixel."""
    inside = np.zeros(picture.shape[:2], np.uint8)
    for ring in rings:
        cv2.fillPoly(inside, [ring], 1, cv2.LINE_8, 4)
    rows, columns = np.nonzero(inside)
    line = np.mod((columns + rows) * drawn_px, HATCH_MM) < HATCH_LINE_MM
    picture[rows[line], columns[line]] = _rgb(UNSEEN.colour)


def _gaps(points: Floats) -> list[Floats]:
    """Every second piece of GAP_MM along a line (N, 2), so that it looks dashed."""
    length = length_of(points)
    starts = np.arange(0.0, length, 2 * GAP_MM)
    steps = np.linspace(0, GAP_MM, 4)
    return [places_along(points, np.minimum(start + steps, length)) for start in starts]


def _rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def _with_key(picture: Picture, pattern: Pattern, drawn_px: float, with_contours: bool) -> Picture:
    """A strip under the picture: what each colour means, and how far points may be off."""
    row = int(14 / drawn_px)
    strip = np.full((2 * row, picture.shape[1], 3), 255, np.uint8)
    styles = styles_in(pattern)
    styles += [OUTLINE, *([ZONE] if pattern.zones else []), *([CONTOUR] if with_contours else [])]
    styles += [UNSEEN] if pattern.unseen else []
    step = picture.shape[1] // max(len(styles), 1)
    for index, style in enumerate(styles):
        x, y = index * step + row // 3, row // 2
        thick = max(round(2 * LINE_MM / drawn_px), 2)
        cv2.line(strip, (x, y), (x + row, y), _rgb(style.colour), thick, cv2.LINE_AA)
        at = x + 1.2 * row, y + 2.5 / drawn_px
        write_on(strip, style.words, at, TEXT_MM / 1.35 / drawn_px, "#000000")
    if pattern.scale is not None:
        words = (
            f"{pattern.name}, {pattern.side} side. Points are within "
            f"{pattern.scale.accuracy_mm:.2f} mm (95 %) of true size."
        )
        write_on(strip, words, (row / 3, 1.65 * row), TEXT_MM / 1.2 / drawn_px, "#000000")
    return np.concatenate([picture, strip])


def _flag(picture: Picture, number: int, at: Floats, drawn_px: float, severity: Severity) -> None:
    """A numbered disc at the place that a remark is about."""
    middle = int(at[0]), int(at[1])
    radius = int(FLAG_MM / drawn_px)
    cv2.circle(picture, middle, radius, (255, 255, 255), -1, cv2.LINE_AA)
    cv2.circle(picture, middle, radius, _rgb(FLAGS[severity]), max(radius // 4, 2), cv2.LINE_AA)
    letters, high = str(number), 0.9 * FLAG_MM / drawn_px
    corner = at[0] - width_px(letters, high) / 2, at[1] + high / 2
    write_on(picture, letters, corner, high, "#000000")


def _with_remarks(picture: Picture, pattern: Pattern, drawn_px: float) -> Picture:
    """The remarks under the picture, numbered as they are in it."""
    row = int(ROW_MM / drawn_px)
    high = TEXT_MM / 1.25 / drawn_px
    letters = int(picture.shape[1] / width_px("e", high))
    lines = [
        (remark.severity, words)
        for number, remark in enumerate(pattern.remarks, start=1)
        for words in textwrap.wrap(f"{number}  {remark.severity}: {remark.words}", letters)
    ]
    strip = np.full((row * len(lines) + row // 2, picture.shape[1], 3), 255, np.uint8)
    for index, (severity, words) in enumerate(lines):
        down = int((index + 0.8) * row)
        bar = (0, index * row), (max(row // 8, 2), (index + 1) * row)
        cv2.rectangle(strip, *bar, _rgb(FLAGS[severity]), -1)
        write_on(strip, words, (row / 3, down), high, "#000000")
    return np.concatenate([picture, strip])
