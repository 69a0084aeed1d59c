"""Card finding and solution against OpenCV's own marker and corner detection, in one run."""

import time
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.table import Table

from digitize.card.find import find_cards
from digitize.card.layout import DICTIONARY
from digitize.floor.faults import solve_sound_floor
from digitize.floor.photo import open_photo
from digitize.floor.start import View

SAMPLES = Path(__file__).parents[2] / "sample_photos"
MOST_RATIO = 1.5
ROUNDS = 5
Grey = NDArray[np.uint8]


def run(console: Console, short: bool) -> tuple[dict[str, object], list[str]]:
    """Time every sample photo, and six photos together against one."""
    figures: dict[str, object] = {}
    missed = []
    table = Table("photo", "cards and floor s", "OpenCV s", "ratio", title="Time, best of five")
    names = sorted(path.stem for path in SAMPLES.glob("*.jpg"))
    loaded = {}
    for name in names:
        path = SAMPLES / f"{name}.jpg"
        photo = open_photo(path.name, path.read_bytes())
        grey = np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY), np.uint8)
        loaded[name] = grey, photo.focal_px
    for name in names[:1] if short else names:
        some = [loaded[name]]
        ours = _best(lambda some=some: _solve(some))
        theirs = _best(lambda grey=some[0][0]: _opencv(grey))
        figures[name] = {"ours": ours, "opencv": theirs}
        table.add_row(name, f"{ours:.2f}", f"{theirs:.2f}", f"{ours / theirs:.2f}")
        if ours > MOST_RATIO * theirs:
            missed.append(f"time: {name} takes {ours / theirs:.2f} times OpenCV's")
    console.print(table)
    if not short:
        one, many = loaded["easy"], [loaded["easy"]] * 6
        ratio = _best(lambda: _solve(many)) / _best(lambda: _solve([one]))
        figures["six photos over one"] = ratio
        console.print(f"six photos take {ratio:.1f} times as long as one")
        if ratio > 6:
            missed.append(f"time: six photos take {ratio:.1f} times one")
    return figures, missed


def _best(work: Callable[[], None]) -> float:
    seconds = []
    for _ in range(ROUNDS):
        begin = time.perf_counter()
        work()
        seconds.append(time.perf_counter() - begin)
    return min(seconds)


def _solve(photos: list[tuple[Grey, float | None]]) -> None:
    views = [View(find_cards(grey), grey.shape[::-1], focal) for grey, focal in photos]
    solve_sound_floor(views)


def _opencv(grey: Grey) -> None:
    """Marker detection as OpenCV comes, with its corner refinement."""
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY))
    cv2.aruco.ArucoDetector(dictionary, parameters).detectMarkers(grey)
