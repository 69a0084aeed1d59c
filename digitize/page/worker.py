"""Work that takes seconds, in a process of its own: it can be stopped at any moment."""

import multiprocessing
import traceback
from collections.abc import Callable
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from threading import Lock
from typing import Any

from digitize.errors import DigitizeError
from digitize.record import Side

Told = Callable[[Any], None]
PROCESSES = multiprocessing.get_context("spawn")
FAULT = "something went wrong in the program itself: try again, or another photo"
DIED = (
    "the work broke off, most likely because the photo is too much for this computer's memory: "
    "give a smaller one, or close other programs"
)


class Stopped(Exception):
    """The work was stopped, as was asked."""


class Worker:
    """A process that does one job after another; started when first needed, anew after a stop."""

    def __init__(self) -> None:
        self._turn = Lock()  # held by the job that runs
        self._state = Lock()  # held for moments, to start and to stop
        self._process: BaseProcess | None = None
        self._line: Connection | None = None
        self._now: object = None
        self._unwanted: set[int] = set()

    def run(self, job: str, given: dict[str, Any], told: Told, who: object) -> Any:
        """What one of JOBS makes of what it is given.

        Parameters
        ----------
        told : told of progress, from the calling thread.
        who : whose job it is, to stop it by.

        Raises
        ------
        DigitizeError
            If the job did, or broke off.
        Stopped
            If it was stopped before it was done.
        """
        with self._turn:
            try:
                with self._state:
                    if id(who) in self._unwanted:
                        raise Stopped
                    line = self._started()
                    self._now = who
                line.send((job, given))
                while True:
                    kind, value = line.recv()
                    if kind == "progress":
                        told(value)
                    elif kind == "done":
                        return value
                    else:
                        raise DigitizeError(value)
            except (EOFError, OSError) as error:
                with self._state:
                    self._end()  # it may be ending still
                if id(who) in self._unwanted:
                    raise Stopped from error
                raise DigitizeError(DIED) from error
            finally:
                with self._state:
                    self._now = None
                    self._unwanted.discard(id(who))

    def stop(self, who: object) -> None:
        """Stop somebody's job, or let it not begin; the next job finds a new process."""
        with self._state:
            self._unwanted.add(id(who))
            if self._now is who:
                self._end()

    def close(self) -> None:
        """Stop whatever is being done."""
        with self._state:
            self._unwanted.add(id(self._now))
            self._end()

    def _end(self) -> None:
        process, self._process, self._line = self._process, None, None
        if process is not None:
            process.kill()
            process.join()

    def _started(self) -> Connection:
        line = self._line
        if self._process is None or line is None or not self._process.is_alive():
            line, other = PROCESSES.Pipe()
            process = PROCESSES.Process(target=_work, args=(other,), daemon=True)
            process.start()
            other.close()
            self._process, self._line = process, line
        return line


def _work(line: Connection) -> None:
    """Do what is asked for, until nobody asks any more."""
    while True:
        try:
            job, given = line.recv()
        except (EOFError, KeyboardInterrupt):
            return
        try:
            line.send(("done", JOBS[job](lambda value: line.send(("progress", value)), **given)))
        except DigitizeError as error:
            line.send(("failed", str(error)))
        except KeyboardInterrupt:
            return
        except Exception:
            traceback.print_exc()
            line.send(("failed", FAULT))


def _glance(told: Told, photo: Path, shown: Path) -> dict[str, Any]:
    from digitize.jobs.glance import Glimpse, glance_at_photo

    def plain(glimpse: Glimpse) -> dict[str, Any]:
        glance = glimpse.glance
        return {
            "size": glimpse.size_px,
            "cards": [{"number": number, "around": ring.tolist()} for number, ring in glance.cards],
            "paper": None if glance.paper is None else glance.paper.tolist(),
            "faults": [
                {
                    "words": fault.words,
                    "stops": fault.stops,
                    "around": None if fault.around is None else fault.around.tolist(),
                }
                for fault in glance.faults
            ],
        }

    done = glance_at_photo(photo, shown=shown, progress=lambda glimpse: told(plain(glimpse)))
    return plain(done)


def _read(
    told: Told,
    photos: list[Path],
    out: Path,
    name: str,
    side: Side,
    held_flat: bool,
    measured_mm: tuple[float, float] | None,
    paper_px: tuple[tuple[float, float], ...],
) -> None:
    from digitize.jobs.read import read_photos
    from digitize.jobs.settings import print_scale

    read_photos(
        photos,
        out,
        name=name,
        side=side,
        held_flat=held_flat,
        print_scale=print_scale(*measured_mm, None) if measured_mm else None,
        paper_px=paper_px,
        progress=told,
    )


def _form(told: Told, pattern: Path, out: Path) -> None:
    from digitize.jobs.form import form_pattern

    form_pattern(pattern, out, stage=told)


JOBS: dict[str, Callable[..., Any]] = {"glance": _glance, "read": _read, "form": _form}
