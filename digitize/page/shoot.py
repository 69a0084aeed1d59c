"""Photos that are being taken: kept aside, looked at one by one, then read together."""

import asyncio
import os
import secrets
import shutil
import time
from collections.abc import AsyncIterator, Coroutine
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from digitize.errors import DigitizeError, NotKept, TooLarge, WrongOption
from digitize.jobs.read import STAGES
from digitize.page.aside import aside
from digitize.page.bench import PHOTOS, SHOOTS, Bench
from digitize.page.worker import Stopped, Worker

MOST_PHOTOS, MOST_BYTES, MOST_SHOOTS = 12, 64_000_000, 8
FORGOTTEN_S = 24 * 3600.0
SHOWN = ".shown.jpg"


@dataclass(eq=False)
class Shot:
    """A photo as it came, and what it shows at a glance, as far as that is known.

    ``here`` says that all of it has come in.
    """

    path: Path
    here: bool = False
    shows: dict[str, Any] | None = None
    wrong: str | None = None
    looked_at: bool = False

    @property
    def shown(self) -> Path:
        """A small picture of it, once it has been looked at."""
        return self.path.with_suffix(SHOWN)


@dataclass(eq=False)
class Shoot:
    """Photos of one paper; ``stage`` while they are read, ``pattern`` when they have been.

    ``again`` is the pattern that they are read again for; ``asked`` how it was read before.
    """

    folder: Path
    shots: dict[int, Shot] = field(default_factory=dict)
    reading: bool = False
    stage: str = ""
    wrong: str | None = None
    pattern: str | None = None
    again: str | None = None
    asked: dict[str, Any] = field(default_factory=dict)
    last: int = 0
    version: int = 0
    changed: asyncio.Event = field(default_factory=asyncio.Event)


class Shoots:
    """All photos that are being taken, and who looks at them."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self._shoots: dict[str, Shoot] = {}
        self._glancer, self._reader = Worker(), Worker()
        self._tasks: set[asyncio.Task[None]] = set()

    def open(self) -> None:
        """Find photos again that were taken before the page was closed."""
        _sweep(self.bench.folder / SHOOTS)
        for folder in sorted((self.bench.folder / SHOOTS).glob("*"), key=os.path.getmtime):
            shoot = Shoot(folder)
            for path in folder.glob("photo-*.jpg"):
                number = path.stem.removeprefix("photo-")
                if number.isdecimal():
                    shoot.shots[int(number)] = Shot(path, here=True)
            if shoot.shots:
                shoot.shots = dict(sorted(shoot.shots.items()))
                shoot.last = max(shoot.shots)
                self._shoots[folder.name] = shoot
                for shot in shoot.shots.values():
                    self._later(self._look(shoot, shot))

    def begin(self, anew: bool = False) -> str:
        """The id of the shoot that is under way, or of a new one.

        The oldest of too many is forgotten, unless it is being read.
        """
        waiting = [key for key, each in self._shoots.items() if not (each.pattern or each.again)]
        if waiting and not anew:
            return waiting[-1]
        idle = [key for key, each in self._shoots.items() if not each.reading]
        for key in idle[: max(len(self._shoots) - MOST_SHOOTS + 1, 0)]:
            self._forget(key)
        key = secrets.token_hex(8)
        folder = self.bench.folder / SHOOTS / key
        folder.mkdir(parents=True)
        self._shoots[key] = Shoot(folder)
        return key

    async def again(self, name: str) -> str:
        """A new shoot with the photos that a pattern was read from; raises NotKept."""
        photos = self.bench.photos(name)
        if not photos:
            raise NotKept("the photos of this pattern are not kept: take new ones")
        asked = await aside(self.bench.asked, name)
        key = self.begin(anew=True)
        shoot = self.get(key)
        shoot.again, shoot.asked = name, asked
        for path in photos:
            await self.add(key, _content(path))
        return key

    def get(self, key: str) -> Shoot:
        """A shoot by its id; raises NotKept if there is none."""
        if key not in self._shoots:
            raise NotKept("these photos are no longer here: take them again")
        return self._shoots[key]

    def _forget(self, key: str) -> None:
        shoot = self._shoots.pop(key)
        shutil.rmtree(shoot.folder, ignore_errors=True)

    async def add(self, key: str, content: AsyncIterator[bytes]) -> int:
        """Take in a photo as it comes, and have it looked at; its number.

        Raises
        ------
        NotKept, TooLarge, WrongOption
        """
        shoot = self.get(key)
        if len(shoot.shots) >= MOST_PHOTOS:
            raise WrongOption(f"no more than {MOST_PHOTOS} photos can be read together")
        shoot.last += 1
        number = shoot.last
        shot = shoot.shots[number] = Shot(shoot.folder / f"photo-{number}.jpg")
        size = 0
        try:
            with shot.path.open("xb") as file:
                async for part in content:
                    size += len(part)
                    if size > MOST_BYTES:
                        raise TooLarge(
                            f"a photo of more than {MOST_BYTES / 1e6:.0f} MB is not read"
                        )
                    file.write(part)
                file.flush()
                os.fsync(file.fileno())
            self.get(key)  # it may have been forgotten meanwhile
        except BaseException:
            shoot.shots.pop(number, None)
            shot.path.unlink(missing_ok=True)
            raise
        shot.here = True
        self._note(shoot)
        self._later(self._look(shoot, shot))
        return number

    def drop(self, key: str, number: int) -> None:
        """Leave out a photo."""
        shoot = self.get(key)
        if shoot.reading:
            raise WrongOption("these photos are being read: stop that first")
        shot = shoot.shots.pop(number, None)
        if shot is not None:
            self._glancer.stop(shot)
            shot.path.unlink(missing_ok=True)
            shot.shown.unlink(missing_ok=True)
        self._note(shoot)

    def read(self, key: str, asked: dict[str, Any]) -> None:
        """Begin to read a shoot's photos; what comes of it stands in the shoot."""
        shoot = self.get(key)
        if shoot.reading:
            raise WrongOption("these photos are being read already")
        if not any(shot.here for shot in shoot.shots.values()):
            raise WrongOption("take a photo first")
        shoot.reading, shoot.wrong, shoot.stage = True, None, "waiting"
        self._note(shoot)
        self._later(self._read(shoot, asked))

    def stop(self, key: str) -> None:
        """Stop reading; the photos stay."""
        shoot = self.get(key)
        if shoot.reading:
            self._reader.stop(shoot)

    def close(self) -> None:
        """Stop all that is being done."""
        self._glancer.close()
        self._reader.close()

    async def _look(self, shoot: Shoot, shot: Shot) -> None:
        def seen(shows: dict[str, Any]) -> None:
            shot.shows = shows
            loop.call_soon_threadsafe(self._note, shoot)

        loop = asyncio.get_running_loop()
        given = {"photo": shot.path, "shown": shot.shown}
        try:
            shot.shows = await aside(self._glancer.run, "glance", given, seen, shot)
        except DigitizeError as error:
            name = shot.path.name
            shot.wrong = str(error).removeprefix(f"{name}: ").removeprefix(f"{shot.path}: ")
        except Stopped:
            return  # it was left out
        finally:
            shot.looked_at = True
        self._note(shoot)

    async def _read(self, shoot: Shoot, asked: dict[str, Any]) -> None:
        def began(stage: str) -> None:
            shoot.stage = stage
            loop.call_soon_threadsafe(self._note, shoot)

        loop = asyncio.get_running_loop()
        photos = [shot.path for shot in shoot.shots.values() if shot.here]
        try:
            # A pattern that is read again keeps what was told, up to the moment of writing.
            out = self.bench.place(shoot.again) if shoot.again else shoot.folder / "read"
            given = {"photos": photos, "out": out, **asked}
            await aside(self._reader.run, "read", given, began, shoot)
            shoot.pattern = await aside(self._put, shoot, photos, asked["name"])
        except DigitizeError as error:
            shoot.wrong = str(error)
        except Stopped:
            shoot.wrong = "stopped"
        except OSError as error:
            shoot.wrong = f"the photos cannot be kept ({error.strerror})"
        finally:
            shoot.reading, shoot.stage = False, ""
            self._note(shoot)

    def _put(self, shoot: Shoot, photos: list[Path], name: str) -> str:
        """Put what was read on the bench, with its photos; the pattern's name there."""
        if shoot.again:
            pattern = shoot.again
        else:
            out = shoot.folder / "read"
            (out / PHOTOS).mkdir(exist_ok=True)
            for path in photos:
                shutil.copy2(path, out / PHOTOS / path.name)
            pattern = self.bench.put(out, name)
        shutil.rmtree(shoot.folder, ignore_errors=True)
        return pattern

    def _later(self, work: Coroutine[Any, Any, None]) -> None:
        task = asyncio.ensure_future(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    def _note(self, shoot: Shoot) -> None:
        """Wake whoever waits for a change."""
        shoot.version += 1
        shoot.changed.set()
        shoot.changed = asyncio.Event()


def shoot_view(shoot: Shoot) -> dict[str, Any]:
    """All that the page shows of a shoot, as JSON has it."""
    return {
        "version": shoot.version,
        "reading": shoot.reading,
        "stage": shoot.stage,
        "stages": ["waiting", *STAGES],
        "wrong": shoot.wrong,
        "pattern": shoot.pattern,
        "again": shoot.again,
        "asked": shoot.asked,
        "photos": [
            {
                "number": number,
                "looked_at": shot.looked_at,
                "wrong": shot.wrong,
                "shows": shot.shows,
            }
            for number, shot in shoot.shots.items()
            if shot.here
        ],
    }


async def _content(path: Path) -> AsyncIterator[bytes]:
    yield path.read_bytes()


def _sweep(folder: Path) -> None:
    """Take away photos that were left when the page was closed, a day after."""
    if not folder.is_dir():
        return
    for path in folder.iterdir():
        if time.time() - path.stat().st_mtime > FORGOTTEN_S:
            shutil.rmtree(path, ignore_errors=True)
