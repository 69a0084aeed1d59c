"""A real browser on the page, as on a phone or on a desk, and fingers on its paper."""

import math
import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect, sync_playwright

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
WHY_NOT = "no chromium to open the page in: apt-get install chromium"
SLOW_MS = 30_000  # on a machine that has other work
expect.set_options(timeout=SLOW_MS)
SIZES = {"phone": (360, 740), "desk": (1920, 1080)}


@contextmanager
def browser() -> Iterator[Browser]:
    """Chromium, without a window."""
    with sync_playwright() as playwright:
        # As root, as CI runs, it has no sandbox of its own.
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield opened
        opened.close()


@contextmanager
def opened(browser: Browser, size: str, way_in: str, dark: bool = False) -> Iterator[Page]:
    """A page that was let in; what its scripts complain of fails."""
    width, height = SIZES[size]
    touch = {"has_touch": True, "is_mobile": True, "device_scale_factor": 2}
    context = browser.new_context(
        viewport={"width": width, "height": height},
        color_scheme="dark" if dark else "light",
        accept_downloads=True,
        **(touch if size == "phone" else {}),
    )
    page = context.new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
    page.set_default_timeout(SLOW_MS)
    page.goto(way_in)
    yield page
    context.close()
    assert not wrong, wrong


def refuse_barriers(page: Page) -> None:
    """Fail if axe-core's rules find something that a screen reader or a keyboard cannot use."""
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


@dataclass
class Fingers:
    """Fingers, or a mouse, on the paper of a pattern that is open."""

    page: Page
    touch: bool

    def place(self, at: tuple[float, float]) -> tuple[float, float]:
        """Where a place (mm) is on the screen."""
        self.page.wait_for_timeout(60)  # for the frame in which the paper is drawn
        matrix = self.page.locator("svg.paper > g").first.get_attribute("transform")
        scale, _, _, _, left, top = map(float, re.findall(r"-?[\d.]+(?:e-?\d+)?", matrix or ""))
        box = self.page.locator("svg.paper").bounding_box()
        assert box is not None
        return box["x"] + left + scale * at[0], box["y"] + top - scale * at[1]

    def look_at(self, at: tuple[float, float], scale: float) -> None:
        """Enlarge round a place, which comes to the middle."""
        box = self.page.locator("svg.paper").bounding_box()
        assert box is not None
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        for _ in range(40):
            here = self.place(at)
            if math.hypot(here[0] - x, here[1] - y) < 8:  # less than 7 would be a tap
                break
            self._move((x, y), (x + self._step(here[0] - x), y + self._step(here[1] - y)))
        for _ in range(20):
            matrix = self.page.locator("svg.paper > g").first.get_attribute("transform") or ""
            if float(matrix[7:].split()[0]) >= scale:
                return
            self.pinch((x, y), 1.4)

    def _step(self, off: float) -> float:
        return -max(min(off, 100.0), -100.0)

    def tap(self, at: tuple[float, float]) -> None:
        """Touch a place (mm)."""
        x, y = self.place(at)
        if self.touch:
            self.page.touchscreen.tap(x, y)
        else:
            self.page.mouse.click(x, y)

    def hold(self, at: tuple[float, float]) -> None:
        """Put a finger down on a place (mm), and leave it there."""
        self._touch("touchStart", [self.place(at)])

    def _move(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Move the paper: with two fingers, as one points while places are asked for."""
        if not self.touch:
            self.drag(start, end)
            return
        for k in range(5):
            x, y = (s + (e - s) * k / 4 for s, e in zip(start, end, strict=True))
            self._touch("touchMove" if k else "touchStart", [(x - 40, y), (x + 40, y)])
        self._touch("touchEnd", [])

    def drag(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Drag from one place on the screen to another."""
        if not self.touch:
            self.page.mouse.move(*start)
            self.page.mouse.down()
            self.page.mouse.move(*end, steps=4)
            self.page.mouse.up()
            return
        steps = [(s + (e - s) * k / 4) for k in range(5) for s, e in zip(start, end, strict=True)]
        path = list(zip(steps[::2], steps[1::2], strict=True))
        self._touch("touchStart", [path[0]])
        for at in path[1:]:
            self._touch("touchMove", [at])
        self._touch("touchEnd", [])

    def pinch(self, middle: tuple[float, float], times: float) -> None:
        """Enlarge round a place on the screen: with two fingers, or the wheel."""
        x, y = middle
        if not self.touch:
            self.page.mouse.move(x, y)
            self.page.mouse.wheel(0, -210 * (times - 1) / 0.4)
            return
        self._touch("touchStart", [(x - 40, y), (x + 40, y)])
        for k in range(1, 5):
            apart = 40 * (1 + (times - 1) * k / 4)
            self._touch("touchMove", [(x - apart, y), (x + apart, y)])
        self._touch("touchEnd", [])

    def _touch(self, kind: str, at: list[tuple[float, float]]) -> None:
        if not hasattr(self, "_line"):
            self._line = self.page.context.new_cdp_session(self.page)
        points = [{"x": x, "y": y, "id": index} for index, (x, y) in enumerate(at)]
        self._line.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})


def tab(page: Page, words: str) -> None:
    """Open one of the lists beside the paper."""
    page.get_by_role("tab", name=re.compile(f"^{words}")).click()


def kept(page: Page) -> None:
    """Wait until what was told has been kept."""
    expect(page.locator("#said")).to_have_text("kept")
    page.evaluate("document.getElementById('said').textContent = ''")
