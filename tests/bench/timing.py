"""Card finding against OpenCV's own, and a whole reading against its bare floor, in one run."""

import itertools
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image
from rich.console import Console
from rich.table import Table

from digitize.card.find import find_cards
from digitize.card.layout import DICTIONARY
from digitize.floor.faults import solve_sound_floor
from digitize.floor.photo import open_photo
from digitize.floor.start import View
from digitize.reading import read_pattern
from tests.bench.photos import RENDERED, SAMPLES, peak_of, render_sets

MOST_RATIO, MOST_WHOLE_RATIO = 1.5, 3.0
MOST_12_MP_MIB, MOST_50_MP_MIB = 1536, 5120
BIG_PX = 8160, 6120  # 50 megapixels
WHOLE = ("easy", "shadow")
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
    if not short:
        missed += _whole(console, figures)
    return figures, missed


def _whole(console: Console, figures: dict[str, object]) -> list[str]:
    """Whole readings over the bare floor of the job, and their peak memory."""
    missed = []
    for name in WHOLE:
        path = SAMPLES / f"{name}.jpg"
        content = path.read_bytes()
        ours = _best(lambda path=path, content=content: _read(path.name, content))
        floor = _best(lambda content=content: _bare_floor(content))
        stages = _stages(path.name, content)
        figures[f"whole reading, {name}"] = {"ours": ours, "bare floor": floor, **stages}
        words = ", ".join(f"{stage} {seconds:.2f}" for stage, seconds in stages.items())
        console.print(
            f"{name}: a whole reading takes {ours:.2f} s, {ours / floor:.1f} times its bare floor "
            f"of {floor:.2f} s ({words})"
        )
        if ours > MOST_WHOLE_RATIO * floor:
            missed.append(f"time: reading {name} takes {ours / floor:.1f} times its bare floor")
    with TemporaryDirectory() as folder:
        small, big = SAMPLES / "easy.jpg", Path(folder) / "big.jpg"
        Image.open(small).resize(BIG_PX, Image.Resampling.BICUBIC).save(big, quality=88)
        for path, size, most in (
            (small, "12 megapixels", MOST_12_MP_MIB),
            (big, "50 megapixels", MOST_50_MP_MIB),
        ):
            peak = peak_of(path)
            figures[f"peak at {size} MiB"] = peak
            console.print(f"peak memory at {size}: {peak:.0f} MiB")
            if peak > most:
                missed.append(f"memory: {peak:.0f} MiB at {size}, at most {most}")
    return missed


def _read(name: str, content: bytes) -> None:
    read_pattern([open_photo(name, content)], "bench")


def _stages(name: str, content: bytes) -> dict[str, float]:
    """Seconds that each stage of one reading takes."""
    photo = open_photo(name, content)
    begun: list[tuple[str, float]] = []
    read_pattern([photo], "bench", progress=lambda s: begun.append((s, time.perf_counter())))
    begun.append(("", time.perf_counter()))
    return {stage: then - now for (stage, now), (_, then) in itertools.pairwise(begun)}


def _bare_floor(content: bytes) -> None:
    """What no reading can do without: decode, markers, one warp, a threshold, components."""
    picture = cv2.imdecode(np.frombuffer(content, np.uint8), cv2.IMREAD_COLOR)
    _opencv(np.asarray(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY), np.uint8))
    tilt = np.array([[1.0, 0.02, 3.0], [0.01, 1.0, 5.0], [1e-6, 2e-6, 1.0]])
    flat = cv2.warpPerspective(picture, tilt, picture.shape[1::-1], flags=cv2.INTER_CUBIC)
    dark = cv2.adaptiveThreshold(
        cv2.cvtColor(flat, cv2.COLOR_BGR2GRAY),
        255,
        cv2.ADAPTIVE_THRESH_GAUSSIAN_C,
        cv2.THRESH_BINARY_INV,
        31,
        8,
    )
    cv2.connectedComponentsWithStats(dark)


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
