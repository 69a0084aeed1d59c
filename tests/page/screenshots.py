"""Every view of the page at both sizes, to be looked at: ``python -m tests.page.screenshots OUT``.

Two of them stand in README.
"""

import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Browser, expect

from digitize.jobs.folder import load_pattern
from digitize.jobs.keep import keep_pattern
from digitize.jobs.read import read_photos
from tests.conftest import SAMPLES
from tests.page.browsing import SIZES, Fingers, browser, opened, tab
from tests.page.serving import serving


def take(chromium: Browser, size: str, bench: Path, drawer: Path, out: Path, dark: bool) -> None:
    """All views of one size."""
    look = f"{size}-dark" if dark else size
    with serving(bench, drawer) as served, opened(chromium, size, served.way_in, dark) as page:

        def shot(name: str, whole: bool = False) -> None:
            page.wait_for_timeout(900)
            page.screenshot(path=out / f"{look}-{name}.png", full_page=whole)

        shot("bench")
        page.goto(f"{served.url}/#/drawer")
        shot("drawer")
        page.goto(f"{served.url}/#/shoot")
        page.set_input_files("input[multiple]", [SAMPLES / "easy.jpg", SAMPLES / "one-card.jpg"])
        expect(page.locator(".state").nth(1)).to_contain_text("but", timeout=90_000)
        shot("shoot", whole=True)
        page.goto(f"{served.url}/#/take/roof-corner")
        shot("take", whole=True)
        page.goto(f"{served.url}/#/pattern/roof-corner")
        expect(page.locator("image")).to_be_attached()
        shot("pattern")
        for words in ("Lines", "Writing", "Told"):
            tab(page, words)
            shot(words.lower())
        pattern = load_pattern(bench / "roof-corner")
        fingers = Fingers(page, touch=size == "phone")
        tuck = pattern.tucks[2]
        fingers.look_at(tuck.tip, 2.5)
        fingers.tap(tuck.tip)
        shot("tuck")
        start = next(line for line in pattern.lines if line.role == "radius-start")
        at = start.points[len(start.points) // 2]
        fingers.look_at(at, 2.5)
        fingers.tap(at)
        shot("line")
        page.get_by_role("button", name="Draw a line").click()
        fingers.look_at(at, 2.5)
        if size == "phone":
            fingers.hold(at)
        shot("draw")


def main(out: Path) -> None:
    """Read the easy rendered photo onto a bench, and open the page on it."""
    out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as aside, browser() as chromium:
        bench, drawer = Path(aside) / "bench", Path(aside) / "drawer"
        for name, photo in (("roof-corner", "easy.jpg"), ("roof-corner-in-shade", "shadow.jpg")):
            read_photos([SAMPLES / photo], bench / name, name=name.replace("-", " "), side="left")
        keep_pattern(bench / "roof-corner", part="caravan, rear roof corner", drawer=drawer)
        for size in SIZES:
            for dark in (False, True):
                take(chromium, size, bench, drawer, out, dark)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
