"""The patterns on the bench: a folder with a folder for each, as a reading leaves it."""

import shutil
import tempfile
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from digitize.errors import NotKept, NotWritten, ToldError
from digitize.jobs.disk import RECORD, alone, content_of
from digitize.jobs.draw import draw_pattern
from digitize.jobs.find import take_pattern
from digitize.jobs.folder import OVERLAY, RECTIFIED, draw_beside, load_pattern, picture_at_most
from digitize.jobs.follow import followed
from digitize.jobs.formats import file_name
from digitize.jobs.keep import KeptAs, keep_pattern
from digitize.jobs.settings import RULE_MM
from digitize.jobs.tell import facts_said, tell
from digitize.record import FollowPencil, Pattern, Point, Told, steps_of

PHOTOS, SHOOTS = "photos", ".photos-being-taken"
MOST_TRIES = 1000


@dataclass(frozen=True)
class Bench:
    """The folder of patterns that are being worked on.

    Patterns are known by their folders' names, which are looked up among those that are there: a
    name from outside never becomes a path.
    """

    folder: Path

    def names(self) -> list[str]:
        """The patterns' names, the one last changed first."""
        if not self.folder.is_dir():
            return []
        times: dict[str, int] = {}
        for each in self.folder.iterdir():
            if not each.name.startswith("."):
                with suppress(OSError):  # no pattern's folder, or one that is being taken away
                    times[each.name] = (each / RECORD).stat().st_mtime_ns
        return sorted(times, key=lambda name: times[name], reverse=True)

    def place(self, name: str) -> Path:
        """A pattern's folder; raises NotKept if there is none of that name."""
        if name not in self.names():
            raise NotKept(f"{name[:60]}: is no longer on the bench")
        return self.folder / name

    def version(self, name: str) -> str:
        """What changes whenever a pattern's record does."""
        try:
            there = (self.place(name) / RECORD).stat()
        except OSError as error:
            raise NotKept(f"{name[:60]}: is no longer on the bench") from error
        return f"{there.st_mtime_ns:x}-{there.st_size:x}"

    def pattern(self, name: str) -> tuple[Pattern, str]:
        """A pattern and its version; raises NotKept, RecordError."""
        version = self.version(name)
        return load_pattern(self.place(name)), version

    def told(self, name: str, facts: Sequence[Mapping[str, Any]]) -> tuple[Pattern, str]:
        """The pattern with more facts, once they are safely on the disk; raises ToldError."""
        with alone(self.folder / name):
            folder = self.place(name)
            tell(folder, facts=[_as_followed(folder, fact) for fact in facts], draw=False)
            return self.pattern(name)

    def step(self, name: str, back: bool) -> tuple[Pattern, str]:
        """The pattern with its last fact taken back, or told again; raises ToldError."""
        with alone(self.folder / name):
            undo, redo = steps_of(self.pattern(name)[0].told)
            number = undo if back else redo
            if number is None:
                raise ToldError("there is nothing to undo" if back else "there is nothing to redo")
            if back:
                tell(self.place(name), take_back=[number], draw=False)
            else:
                tell(self.place(name), again=[number], draw=False)
            return self.pattern(name)

    def followed(self, name: str, points: Sequence[Point]) -> tuple[Point, ...]:
        """The line (mm) along the pencil near points; raises ToldError."""
        fact = followed(self.place(name), points)
        return fact.found.points if fact.found else ()

    def photos(self, name: str) -> list[Path]:
        """The photos that a pattern was read from, as they came; none if they are not kept."""
        folder = self.place(name) / PHOTOS
        return sorted(folder.iterdir()) if folder.is_dir() else []

    def asked(self, name: str) -> dict[str, Any]:
        """How a pattern's photos were read, as the page asks for it."""
        pattern = self.pattern(name)[0]
        scale = pattern.scale
        asked: dict[str, Any] = {"name": pattern.name, "side": pattern.side}
        if scale is not None:
            asked["held_flat"] = scale.held_flat
            if scale.print_doubt is not None and scale.print_doubt.measured:
                correction = scale.print_correction
                asked["measured_x"] = f"{RULE_MM * correction.x:.6g}"
                asked["measured_y"] = f"{RULE_MM * correction.y:.6g}"
        return asked

    def drawn(self, name: str) -> Path:
        """A pattern's folder, with the drawings that were taken away when something was told."""
        folder = self.place(name)
        with alone(folder):
            if not (folder / "pattern.svg").exists():
                draw_beside(folder)
        return folder

    def picture(self, name: str, most_px: int | None) -> bytes:
        """The paper from above, no larger than asked for, as the bytes of a JPEG."""
        place = self.place(name) / RECTIFIED
        return picture_at_most(place, most_px) if most_px else content_of(place)

    def picture_version(self, name: str) -> str | None:
        """What changes whenever the paper's picture does; None if it is not kept."""
        try:
            return f"{(self.place(name) / RECTIFIED).stat().st_mtime_ns:x}"
        except OSError:
            return None

    def thumbnail(self, name: str, most_px: int) -> bytes:
        """A small picture of what was found."""
        folder = self.place(name)
        shown = folder / OVERLAY
        return picture_at_most(shown if shown.exists() else folder / RECTIFIED, most_px)

    def drawing(self, name: str, each: str, other_side: bool) -> tuple[str, bytes]:
        """A drawing's file name and content, drawn anew; raises BlankError, NotWritten."""
        with tempfile.TemporaryDirectory() as aside:
            place = self.place(name)
            done = draw_pattern(place, Path(aside), formats=[each], mirror=other_side)
            return done.written[0].name, done.written[0].read_bytes()

    def kept(
        self,
        name: str,
        drawer: Path,
        *,
        part: str | None,
        reference: str | None,
        note: str | None,
        revise: bool,
    ) -> KeptAs:
        """Keep a pattern in the drawer, with its photos; raises as ``keep_pattern`` does."""
        with alone(self.folder / name):
            folder = self.drawn(name)
            photos = folder / PHOTOS
            return keep_pattern(
                folder,
                part=part,
                reference=reference,
                note=note,
                with_photos=photos if photos.is_dir() else None,
                revise=revise,
                drawer=drawer,
            )

    def taken(self, drawer: Path, name: str) -> str:
        """Put a kept pattern on the bench; its name there. Raises NotKept, DamagedKept."""
        with tempfile.TemporaryDirectory(dir=self.folder, prefix=".taken-") as aside:
            out = Path(aside) / "taken"
            return self.put(out, take_pattern(name, out, drawer=drawer).revision.pattern)

    def put(self, folder: Path, name: str) -> str:
        """Take in a pattern's folder, written aside, under a name; the name it then has.

        Raises NotWritten.
        """
        for count in range(1, MOST_TRIES):
            wanted = file_name(name)[:80] + (f"-{count}" if count > 1 else "")
            if (self.folder / wanted).exists():
                continue
            try:
                folder.rename(self.folder / wanted)
            except OSError as error:
                raise NotWritten(
                    f"{self.folder / wanted}: cannot be written ({error.strerror})"
                ) from error
            return wanted
        raise NotWritten(f"{name}: too many patterns of that name are on the bench")

    def remove(self, name: str) -> None:
        """Take a pattern off the bench."""
        with alone(self.folder / name):
            shutil.rmtree(self.place(name))


def _as_followed(folder: Path, fact: Mapping[str, Any]) -> Told:
    """A fact; one that follows pencil with the line that was shown."""
    (said,) = facts_said([fact])
    return followed(folder, said.points, said.role) if isinstance(said, FollowPencil) else said
