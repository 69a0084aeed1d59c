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
from tests.bench.photos import RENDERED, SAMPLES, render_sets

MOST_RATIO = 1.5
ROUNDS = 5
Grey = NDArray[np.uint8]


def run(console: Console, short: bool) -> tuple[dict[str, object], list[str]]:
    """Time every sample photo, and six photos together against one by one."""
    figures: dict[str, object] = {}
    missed = []
    table = Table("photo", "cards and floor s", "OpenCV s", "ratio", title="Time, best of five")
    names = sorted(path.stem for path in SAMPLES.glob("*.jpg"))
    loaded = {name: _load(SAMPLES / f"{name}.jpg") for name in (names[:1] if short else names)}
    for name, photo in loaded.items():
        some = [photo]
        ours = _best(lambda some=some: _solve(some))
        theirs = _best(lambda grey=some[0][0]: _opencv(grey))
        figures[name] = {"ours": ours, "opencv": theirs}
        table.add_row(name, f"{ours:.2f}", f"{theirs:.2f}", f"{ours / theirs:.2f}")
        if ours > MOST_RATIO * theirs:
            missed.append(f"time: {name} takes {ours / theirs:.2f} times OpenCV's")
    console.print(table)
    if not short:
        render_sets(console)
        many = [_load(RENDERED / f"long-{n}.jpg") for n in range(1, 7)]
        singly = sum(_best(lambda photo=photo: _solve([photo])) for photo in many)
        ratio = _best(lambda: _solve(many)) / singly
        figures["six photos together over one by one"] = ratio
        console.print(f"six photos together take {ratio:.2f} times as long as one by one")
        if ratio > 1:
            missed.append(f"time: six photos together take {ratio:.2f} times one by one")
    return figures, missed


def _load(path: Path) -> tuple[Grey, float | None]:
    photo = open_photo(path.name, path.read_bytes())
    return np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY), np.uint8), photo.focal_px


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
