"""The panel's form in space: models, gauges to check the metal by, the form sheet."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import get_args

import numpy as np
from numpy.typing import NDArray

from digitize.draw import (
    Model,
    ShownForm,
    drawing_of,
    form_sheets,
    gauges_dxf,
    gauges_pdf,
    model_glb,
    model_stl,
    pages_pdf,
    picture_png,
    size_words,
)
from digitize.errors import FormError
from digitize.form import (
    STAGES as SOLVING,
)
from digitize.form import (
    Face,
    Formed,
    Frame,
    Gauge,
    Sizes,
    check_of,
    formed,
    frame_of,
    gauges_of,
    lengths_of,
    lines_on,
    saddles_of,
    shaded,
    sizes_of,
    templates_of,
    view_from,
)
from digitize.jobs.disk import write_all
from digitize.jobs.folder import MARKED_DOWN, MARKED_UP, load_pattern, opposite, record_path
from digitize.record import Band, Pattern, Point, Remark
from digitize.units import length_in_words

__all__ = ["FACES", "STAGES", "Shaped", "form_pattern"]

FACES: tuple[Face, ...] = get_args(Face)
Pixels = NDArray[np.uint8]
STAGES = (*SOLVING, "gauges", "sheets")
EYE = (0.9, -1.3, 1.1)  # from the front, the right and above
PIXELS_PER_MM = 1.2
LIFT_MM = 0.3  # of lines over the metal, so that they are seen


@dataclass(frozen=True)
class Shaped:
    """A form as it was written.

    Attributes
    ----------
    sizes : over all, and how the panel lies in them, in words.
    within_95 : that half of the panel's places lie within, mm at 95 %, and that nearly all do; None
        if lengths and bending contradict each other, as nobody knows then.
    gauges : those that were drawn.
    holds : whether lengths and bending fit each other.
    words : its sizes, and what it may be off by, in the user's own unit.
    """

    written: tuple[Path, ...]
    remarks: tuple[Remark, ...]
    sizes: Sizes
    lies: str
    gauges: tuple[Gauge, ...]
    within_95: tuple[float, float] | None
    holds: bool
    words: tuple[str, ...]


def form_pattern(
    pattern: Path,
    out: Path | None = None,
    *,
    between: Sequence[tuple[Point, Point]] = (),
    face: Face = "outer",
    sheet: str = "a4",
    stage: Callable[[str], None] = lambda _: None,
) -> Shaped:
    """Solve a record's panel in space, and write it for both sides.

    Parameters
    ----------
    pattern : the record's file or folder.
    out : the folder to write into; None for the record's own.
    between : pairs of places (mm) of the paper between which further gauges stand.
    face : of the metal, on which the paper lay.
    sheet : the printer's, ``a4`` or ``letter``.
    stage : told each of STAGES as it begins.

    Raises
    ------
    NotRead, RecordError, FormError, BlankError, NotWritten
    """
    record = load_pattern(pattern)
    folder = out or record_path(pattern).parent
    refuse_untold(record)
    form = formed(record, stage=stage)
    frame = frame_of(form)
    lines = [
        replace(line, runs=tuple(frame.at(run) for run in line.runs))
        for line in lines_on(form, LIFT_MM)
    ]
    solution, doubt = form.solution, form.doubt
    places = frame.at(solution.places)
    sizes, remarks = sizes_of(form, frame), remarks_of(form)
    within = _within_95(form)
    words = size_words(sizes, within, bool(doubt.open.any()), record.unit)
    model = Model(
        record.name,
        places,
        solution.mesh.triangles,
        doubt.open,
        lines,
        (*words, *(r.words for r in remarks)),
    )
    stage("gauges")
    gauges = gauges_of(form, between)
    if between and not any(gauge.where.startswith("from ") for gauge in gauges):
        raise FormError(
            "--between: no metal lies between these places; give two places inside the trim edge, "
            "in mm as the drawing has them: --between 120,85 240,92"
        )
    stage("sheets")
    thickness = record.sheet.thickness if record.sheet else 0.0
    files = {}
    for each, middle, drawn, marked in (
        (model, "", record, MARKED_UP),
        (model.mirrored(), ".mirrored", opposite(record), MARKED_DOWN),
    ):
        files[folder / f"form{middle}.glb"] = model_glb(each)
        files[folder / f"form{middle}.stl"] = model_stl(each)
        templates = [
            template
            for gauge in gauges
            for template in templates_of(gauge, thickness, face, mirror=bool(middle))
        ]
        files[folder / f"gauges{middle}.pdf"] = gauges_pdf(templates, drawn, marked, sheet)
        files[folder / f"gauges{middle}.dxf"] = gauges_dxf(templates, drawn.unit)
        pages, picture = _sheets(form, frame, each, drawn, marked)
        files[folder / f"form{middle}.svg"] = pages[0].encode()
        files[folder / f"form{middle}.png"] = picture_png(picture)
        title = f"{drawn.name}, {drawn.side} side: form"
        drawings = [drawing_of(page) for page in pages]
        files[folder / f"form{middle}.pdf"] = pages_pdf(drawings, title, sheet)
    write_all(files)
    return Shaped(
        tuple(files),
        remarks,
        sizes,
        frame.words,
        gauges,
        within,
        form.holds,
        tuple(words),
    )


def _sheets(
    form: Formed, frame: Frame, model: Model, drawn: Pattern, marked: str
) -> tuple[list[str], Pixels]:
    """The form sheet of one side, its pages as SVG, and its shaded picture."""
    places, triangles = model.places, model.triangles
    picture = shaded(places, triangles, model.open, view_from(EYE), PIXELS_PER_MM)
    paper = form.solution.mesh.paper * ([-1.0, 1.0] if marked == MARKED_DOWN else [1.0, 1.0])
    shown = ShownForm(
        drawn,
        marked,
        places,
        triangles,
        paper,
        model.open,
        tuple(model.lines),
        picture,
        PIXELS_PER_MM,
        sizes_of(form, frame),
        frame.words,
        _within_95(form),
    )
    return form_sheets(shown, lengths_of(form.pattern), check_of(form)), picture


def _within_95(form: Formed) -> tuple[float, float] | None:
    """That half of the panel's places lie within, and nearly all, mm at 95 %; None if nobody knows,
    as lengths and bending contradict each other.
    """
    half, most = np.percentile(form.doubt.within_95, [50, 95]).tolist()
    return (half, most) if form.holds else None


def refuse_untold(pattern: Pattern) -> None:
    """Raise FormError where the record does not say what lengths or bends the panel has."""
    counted = {name for zone in pattern.zones for name in zone.tucks}
    missing = ", ".join(tuck.id for tuck in pattern.tucks if tuck.id not in counted)
    if missing:
        raise FormError(
            f"without the lap of {missing} the lengths are wrong, and the form by far: which of "
            "the marks there is the cut is not sure, or no lap was read; say what they are: "
            "digitize tuck FOLDER T2 --lap-line L7, or --fold, --slit --lap 6mm, or --none"
        )
    if not pattern.bands and not any(zone.curvature for zone in pattern.zones):
        raise FormError(
            "nothing on this paper says how the panel bends: it has no tucks that were read, and "
            "no radius start with a radius end across from it; tell which lines they are: "
            "digitize label FOLDER --role L1=radius-start --role L2=radius-end --radius L1=76mm"
        )
    untold = [band for band in pattern.bands if not any(s.radius for s in band.stations)]
    if pattern.bands and len(untold) == len(pattern.bands):
        raise FormError(
            "no radius is told, so how the panel bends is open: " + _how_to_tell(pattern, untold)
        )
    for zone in saddles_of(pattern):
        assert zone.curvature is not None
        raise FormError(
            f"zone {zone.id} opens by {-zone.curvature.laps_deg:.0f} degrees: a saddle, whose "
            "lengths do not say which way it rises and which way it falls. If it bends along a "
            "line, say where that radius starts and ends, and what it is: digitize label FOLDER "
            "--role L1=radius-start --role L2=radius-end --radius L1=76mm"
        )


def _how_to_tell(pattern: Pattern, bands: list[Band]) -> str:
    """Which band to measure first, the one that turns most metal, and how to tell it."""
    largest = max(bands, key=lambda b: sum(s.width for s in b.stations))
    start = pattern.line(largest.start)
    return (
        f"hold radius gauges to the metal along {start.label} (band {largest.id}, "
        f"{start.length:.0f} mm long), at both ends and wherever the radius changes, and tell what "
        f'fits: digitize label FOLDER --radius {start.id}="76mm@0%, 82mm@50%, 90mm@100%", or '
        f"--radius {start.id}=76mm if it is one all along"
    )


def remarks_of(form: Formed) -> tuple[Remark, ...]:
    """What is not determined, what would gain most, and what contradicts what."""
    found = []
    pattern, doubt = form.pattern, form.doubt
    missed = doubt.most_missed()
    if missed is not None:
        bands = [band for band in pattern.bands if band.id == missed]
        share = float(doubt.open.mean())
        found.append(
            Remark(
                kind="form-open",
                severity="warning",
                words=f"{share:.0%} of the form is not determined and is drawn pale: a radius is "
                f"missing. What would gain most: {_how_to_tell(pattern, bands)}",
                about=(missed,),
            )
        )
    place = doubt.next_radius()
    if place is not None and missed is None:
        band = next(each for each in pattern.bands if each.id == place[0])
        start, along = pattern.line(band.start), length_in_words(place[1], pattern.unit, 0)
        found.append(
            Remark(
                kind="form-radius-between",
                severity="note",
                words="the form is least sure of the radius away from where it was told: a further "
                f"one, {along} along {start.label} (band {band.id}), would gain most",
                about=(band.id,),
            )
        )
    for uneven in form.uneven:
        found.append(
            Remark(
                kind="form-not-round",
                severity="warning",
                words=f"at {' and '.join(uneven.tucks)} the paper takes up {uneven.share:.0%} less "
                f"for its length than elsewhere round zone {uneven.zone}: a tuck between them was "
                "not read, or the panel is not round there, as its form is taken to be",
                about=(uneven.zone, *uneven.tucks),
            )
        )
    if not form.holds and not form.uneven:
        found.append(
            Remark(
                kind="form-contradicts",
                severity="warning",
                words="the paper's lengths and the radii told do not fit one panel: see the form "
                "sheet for where, look whether a tuck was missed, and measure the radii there "
                "again",
            )
        )
    return tuple(found)
