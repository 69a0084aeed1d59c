"""Patterns' forms in space: solved when asked for, in a process of its own, one after another."""

import asyncio
import re
import tempfile
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from digitize.errors import DigitizeError, NotKept, WrongOption
from digitize.jobs.disk import alone, content_of, write_all
from digitize.jobs.form import STAGES
from digitize.jobs.formats import FORM_FILES
from digitize.page.aside import aside
from digitize.page.bench import Bench
from digitize.page.view import on_the_page
from digitize.page.worker import Stopped, Worker

MODEL = "form.glb"
HOW_TO_TELL = re.compile(r"digitize (label|tuck) FOLDER.*", re.DOTALL)
HERE = "tap the line or tuck in the pattern, and say what it is, its radius or its lap"
CHANGED = "the pattern was changed while its form was solved: solve it again"


@dataclass(eq=False)
class Solving:
    """A form that is solved: its ``stage``, and what is ``wrong`` once it could not be."""

    stage: str = "waiting"
    wrong: str | None = None
    ended: bool = False
    version: int = 0
    changed: asyncio.Event = field(default_factory=asyncio.Event)

    def note(self) -> None:
        """Wake whoever waits for a change."""
        self.version += 1
        self.changed.set()
        self.changed = asyncio.Event()


class Forms:
    """The forms of the patterns on a bench."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self._solving: dict[str, Solving] = {}
        self._worker = Worker()
        self._tasks: set[asyncio.Task[None]] = set()

    def begin(self, name: str) -> None:
        """Begin to solve a pattern's form, unless that is under way; raises NotKept."""
        self.bench.place(name)
        now = self._solving.get(name)
        if now is not None and not now.ended:
            return
        self._solving[name] = Solving()
        task = asyncio.ensure_future(self._solve(name, self._solving[name]))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    def stop(self, name: str) -> None:
        """Stop solving; raises NotKept if nothing is."""
        now = self._solving.get(name)
        if now is None or now.ended:
            raise NotKept("this form is not being solved")
        self._worker.stop(now)

    async def seen(self, name: str, known: str, wait_s: float) -> dict[str, Any]:
        """How far a pattern's form is, once that is no longer what the browser knows."""
        now = self._solving.get(name)
        if now is not None and known == str(now.version) and not now.ended:
            with suppress(TimeoutError):
                await asyncio.wait_for(now.changed.wait(), wait_s)
        there = (self.bench.place(name) / MODEL).exists()
        return {
            "there": there,
            "solving": now is not None and not now.ended,
            "stage": now.stage if now else "",
            "stages": ["waiting", *STAGES],
            "wrong": None if now is None or there else now.wrong,
            "version": now.version if now else 0,
        }

    def file(self, name: str, file: str) -> bytes:
        """One of FORM_FILES of a pattern; raises NotKept if it is not there."""
        if file not in FORM_FILES:
            raise WrongOption("a form has no such file")
        path = self.bench.place(name) / file
        if not path.exists():
            raise NotKept("the form is not solved, or the pattern was changed since")
        return content_of(path)

    def close(self) -> None:
        """Stop whatever is being solved."""
        self._worker.close()

    async def _solve(self, name: str, now: Solving) -> None:
        def began(stage: str) -> None:
            now.stage = stage
            loop.call_soon_threadsafe(now.note)

        loop = asyncio.get_running_loop()
        try:
            version = self.bench.version(name)
            with tempfile.TemporaryDirectory(dir=self.bench.folder, prefix=".form-") as written:
                given = {"pattern": self.bench.place(name), "out": Path(written)}
                await aside(self._worker.run, "form", given, began, now)
                await aside(self._put, name, version, Path(written))
        except DigitizeError as error:
            now.wrong = HOW_TO_TELL.sub(HERE, on_the_page(str(error)))
        except Stopped:
            now.wrong = "stopped"
        except OSError as error:
            now.wrong = f"the form cannot be written ({error.strerror})"
        finally:
            now.ended = True
            now.note()

    def _put(self, name: str, version: str, written: Path) -> None:
        """Put a form beside its pattern, if that is still the one that was solved."""
        with alone(self.bench.folder / name):
            place = self.bench.place(name)
            if self.bench.version(name) != version:
                raise WrongOption(CHANGED)
            write_all({place / path.name: path.read_bytes() for path in written.iterdir()})
