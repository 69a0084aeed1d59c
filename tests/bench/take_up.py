"""A pattern's tucks and zones against their truth: laps, tips, turns, curvature and shrink."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline, LinearNDInterpolator

from digitize.record import Pattern, Tuck
from digitize.take_up.fan import Fan
from digitize.take_up.zones import field_depths, zones_and_fans

Floats = NDArray[np.float64]
Fit = Callable[[object], Floats]  # points of the reading to points of the truth
TIP_MM = 12.0
NORMAL_95 = 1.96
WORTH_FINDING_MM = 1.5


@dataclass
class TuckScores:
    """Errors of one or more patterns; lengths in mm, angles in degrees.

    Attributes
    ----------
    missed, slits_missed : tucks with a lap worth finding, and slits of any lap.
    laps, profile : (error, stated sigma) at stations, and along the smooth laps.
    tips, deficits : errors, one for each tuck.
    curvature : (found, true) total curvature, one for each pattern whose tucks were all found.
    shrink, shrink_rms : median and RMS error over the peak, one for each pattern.
    plain, plain_rms : the same of a field that is even over each tuck's share.
    """

    true: int = 0
    missed: int = 0
    slits_missed: int = 0
    false: int = 0
    laps: list[tuple[float, float]] = field(default_factory=list)
    profile: list[tuple[float, float]] = field(default_factory=list)
    tips: list[float] = field(default_factory=list)
    deficits: list[float] = field(default_factory=list)
    curvature: list[tuple[float, float]] = field(default_factory=list)
    closure: list[float] = field(default_factory=list)
    shrink: list[float] = field(default_factory=list)
    shrink_rms: list[float] = field(default_factory=list)
    plain: list[float] = field(default_factory=list)
    plain_rms: list[float] = field(default_factory=list)

    def add(self, other: "TuckScores") -> None:
        """Count another's errors too."""
        for name, value in vars(other).items():
            setattr(self, name, getattr(self, name) + value)


def tuck_scores(found: Pattern, truth: Pattern, fitted: Fit) -> TuckScores:
    """How a pattern's tucks compare with the truth's; ``fitted`` carries its points there."""
    scores = TuckScores(true=len(truth.tucks))
    tips = np.array([tuck.tip for tuck in truth.tucks])
    twins: dict[str, Tuck] = {}
    for tuck in found.tucks:
        tip = fitted([tuck.tip])[0]
        nearest = int(np.argmin(np.linalg.norm(tips - tip, axis=1)))
        twin = truth.tucks[nearest]
        if np.linalg.norm(tips[nearest] - tip) > TIP_MM or twin.id in twins:
            scores.false += 1
            continue
        twins[twin.id] = tuck
        ends = [np.array(truth.line(twin.slit).points[k]) for k in (0, -1)]
        ahead = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
        scores.tips.append(float(np.linalg.norm(tips[nearest] - tip)))
        scores.deficits.append(tuck.deficit_deg - twin.deficit_deg)
        depths = [0.0] + [station.depth for station in twin.stations]
        lap = CubicSpline(depths, [0.0] + [station.lap for station in twin.stations])
        offset = float((tip - tips[nearest]) @ ahead)  # both measured from the true tip
        read = () if tuck.kind == "spread" else tuck.stations
        for kept, stations in ((scores.laps, read), (scores.profile, tuck.profile)):
            for station in stations:
                depth = station.depth + offset
                if 0 < depth <= depths[-1]:
                    kept.append((station.lap - float(lap(depth)), station.sigma))
    missed = [tuck for tuck in truth.tucks if tuck.id not in twins]
    scores.missed = sum(tuck.lap_at_trim > WORTH_FINDING_MM for tuck in missed)
    scores.slits_missed = sum(tuck.kind == "slit" for tuck in missed)
    if found.closure_rms is not None:
        scores.closure.append(found.closure_rms)
    extra = truth.model_extra or {}
    if "true_shrink" in extra and len(twins) == len(truth.tucks):
        turned = sum(zone.curvature.laps_deg for zone in found.zones if zone.curvature)
        scores.curvature.append((turned, float(extra["curvature_deg"])))
        true = np.array(extra["true_shrink"])
        errors = _shrink_errors(found, true, fitted) / np.abs(true[:, 2]).max()
        scores.shrink, scores.plain = ([float(e)] for e in np.median(np.abs(errors), axis=1))
        scores.shrink_rms, scores.plain_rms = ([rms(list(e))] for e in errors)
    return scores


def _shrink_errors(found: Pattern, true: Floats, fitted: Fit) -> Floats:
    """(2, N) errors of the smooth field of shrink at known places, and of the plain one."""
    total = np.zeros((2, len(true)))
    for _, fan in zones_and_fans(found):
        rows = field_depths(fan)
        places = fitted(fan.rows(rows).reshape(-1, 2))
        plain = np.array([_plain(fan, depths) for depths in rows])
        for kind, values in enumerate((fan.shrinks(rows), plain)):
            at = LinearNDInterpolator(places, values.ravel(), fill_value=0.0)
            total[kind] += at(true[:, :2])
    return np.asarray(total - true[:, 2])


def _plain(fan: Fan, depths: Floats) -> Floats:
    """(M,) shrink that is even from half way to one neighbour to half way to the other."""
    row = fan.row(depths)
    along = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(row, axis=0), axis=1)))
    widths = np.diff(along[fan.edges])
    share = np.minimum(np.searchsorted(fan.edges, np.arange(len(row)), "right"), len(widths)) - 1
    return np.asarray((fan.take_up(depths) / np.maximum(widths, 1e-6))[share])


def rms(values: list[float]) -> float:
    """Root mean square; nan if there are none."""
    return float(np.sqrt(np.mean(np.square(values)))) if values else float("nan")


def coverage(pairs: list[tuple[float, float]]) -> float:
    """Share of errors within the stated 95 % band."""
    return float(np.mean([abs(e) <= NORMAL_95 * s for e, s in pairs])) if pairs else float("nan")
