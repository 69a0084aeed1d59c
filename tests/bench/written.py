"""Fit what tells writing from lines: ``python -m tests.bench.written`` prints the weights.

From marks whose kind is known: on the seen drawings those in words' boxes, and those along
connectors and tasks; on the seen pieces of rendered paper those along drawn lines, and those in
notes. A mark counts by its length, up to LONG_MM. By ridge regression on standardised values
(A. E. Hoerl and R. W. Kennard, "Ridge regression", Technometrics 12, 1970), Newton's way. Beside
the weights it prints how marks of each drawing are told by weights fitted to the others.
"""

import json
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from rich.console import Console

from digitize.floor.raster import Raster
from digitize.pencil.curves import Curve, fit_curves
from digitize.pencil.ridges import RidgeMap, find_ridges
from digitize.pencil.strokes import find_strokes
from digitize.pencil.thresholds import SURE_LINE
from digitize.pencil.writing import Score, links_of, looks_of
from digitize.plane import evenly, headings_along
from digitize.record import from_json
from tests.bench import drawings
from tests.bench.compare import nearest_line
from tests.bench.pencil import lines_of
from tests.bench.photos import RENDERED

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
PIECES = range(1, 33)  # those that are seen
LONG_MM = 40.0
MOSTLY, HARDLY, ON_LINE_MM = 0.7, 0.3, 1.0
PENALTY = 1.0


@dataclass(frozen=True)
class Paper:
    """Marks on a paper, and which of them are known.

    Attributes
    ----------
    looks : (N, 5) as ``looks_of`` gives them.
    line, word : (N,) known to be one, known to be writing.
    """

    name: str
    curves: tuple[Curve, ...]
    looks: Floats
    line: Flags
    word: Flags

    @property
    def known(self) -> Flags:
        return self.line | self.word

    @property
    def weight(self) -> Floats:
        return np.array([min(curve.length, LONG_MM) / 10 for curve in self.curves])


def main() -> None:
    console = Console(width=130)
    papers = [*(of_drawing(name) for name in drawings.SEEN), *(of_piece(n) for n in PIECES)]
    for name in drawings.SEEN:
        alone, linked = fitted([paper for paper in papers if paper.name != name])
        left_out = next(paper for paper in papers if paper.name == name)
        length = np.array([curve.length for curve in left_out.curves])
        sure = chances(left_out, alone, linked)
        kept = sure[-1] >= SURE_LINE
        console.print(
            f"{name}: of {length[left_out.line].sum():.0f} mm of lines "
            f"{length[left_out.line & kept].sum() / length[left_out.line].sum():.1%} are kept, of "
            f"{length[left_out.word].sum():.0f} mm of writing "
            f"{length[left_out.word & kept].sum() / length[left_out.word].sum():.1%}"
        )
    known = sum(int(paper.known.sum()) for paper in papers)
    console.print(f"of {known} marks on {len(papers)} papers:")
    for name, score in zip(("ALONE", "LINKED"), fitted(papers), strict=True):
        console.print(f"{name} = Score({', '.join(f'{weight:.2f}' for weight in score)})")


def fitted(papers: list[Paper]) -> tuple[Score, Score]:
    """The weights of a mark by itself, and with what its ends are at."""
    looks = np.concatenate([paper.looks[paper.known] for paper in papers])
    line = np.concatenate([paper.line[paper.known] for paper in papers])
    weight = np.concatenate([paper.weight[paper.known] for paper in papers])
    constant, by = regressed(looks, line, weight)
    alone = Score(constant, *by.tolist(), 0.0)
    links = [chances(paper, alone, None)[1][paper.known] for paper in papers]
    both = np.column_stack([looks, np.concatenate(links)])
    constant, by = regressed(both, line, weight)
    return alone, Score(constant, *by.tolist())


def chances(paper: Paper, alone: Score, linked: Score | None) -> tuple[Floats, ...]:
    """(N,) how surely each mark by itself is a line, its links, and how surely with them."""
    first = chance(alone, np.column_stack([paper.looks, np.zeros(len(paper.curves))]))
    links = links_of(paper.curves, first)
    if linked is None:
        return first, links
    return first, links, chance(linked, np.column_stack([paper.looks, links]))


def chance(score: Score, values: Floats) -> Floats:
    """(N,) the logistic function of a score of values (N, 6)."""
    return np.asarray(1 / (1 + np.exp(-score.constant - values @ np.array(score[1:]))))


def regressed(values: Floats, right: Flags, weight: Floats) -> tuple[float, Floats]:
    """Constant and weights of the logistic regression of ``right`` (N,) on values (N, M)."""
    middle, scale = values.mean(axis=0), values.std(axis=0)
    design = np.column_stack([np.ones(len(values)), (values - middle) / scale])
    penalty = PENALTY * np.eye(design.shape[1])
    penalty[0, 0] = 0.0
    by = np.zeros(design.shape[1])
    for _ in range(60):
        told = 1 / (1 + np.exp(-design @ by))
        curving = design.T @ (design * (weight * told * (1 - told))[:, None]) + penalty
        by += np.linalg.solve(curving, design.T @ (weight * (right - told)) - penalty @ by)
    weights = by[1:] / scale
    return float(by[0] - weights @ middle), weights


def of_drawing(name: str) -> Paper:
    """A drawing's marks."""
    sheet = drawings.sheet_of(name)
    curves, ridges = _marks(sheet.raster, sheet.outline)
    line, word = [], []
    for curve in curves:
        places = evenly(curve.points, drawings.STEP_MM)
        inside = drawings.in_boxes(places, sheet.words).mean()
        along = drawings.near(places, headings_along(places), sheet.asked).mean()
        line.append(along > MOSTLY and inside < HARDLY)
        word.append(inside > MOSTLY and along < HARDLY)
    looks = looks_of(curves, ridges.darkness_at)
    return Paper(name, curves, looks, np.array(line), np.array(word))


def of_piece(number: int) -> Paper:
    """The marks of a rendered piece of paper."""
    text = (RENDERED / f"piece-{number}.truth.json").read_text()
    truth, mm_per_px = from_json(text), json.loads(text)["mm_per_px"]
    outline = np.array(truth.outline)
    top = float(outline[:, 1].max()) - mm_per_px / 2
    pixels = np.array(Image.open(RENDERED / f"piece-{number}.png"))
    curves, ridges = _marks(Raster(mm_per_px / 2, top, mm_per_px, pixels), outline)
    drawn = lines_of(truth)
    line = [(nearest_line(c.points, drawn)[0] < ON_LINE_MM).mean() > MOSTLY for c in curves]
    boxes = [note.box for note in truth.notes] or [(0.0, 0.0, -9.0, -9.0)]
    word = [drawings.in_boxes(c.points, boxes).mean() > MOSTLY for c in curves]
    looks = looks_of(curves, ridges.darkness_at)
    return Paper(f"piece {number}", curves, looks, np.array(line), np.array(word))


def _marks(raster: Raster, outline: Floats) -> tuple[tuple[Curve, ...], RidgeMap]:
    ridges = find_ridges(raster, outline)
    return fit_curves(find_strokes(ridges), ridges, raster), ridges


if __name__ == "__main__":
    main()
