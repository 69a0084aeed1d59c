"""What all commands share: the screen, progress, and exit codes for what is wrong."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import wraps
from typing import NoReturn, ParamSpec

import typer
from rich.console import Console
from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    Progress,
    TextColumn,
    TimeElapsedColumn,
)

# By name, so that a command loads only what it needs.
EXIT_CODES = {
    "digitize.disk.NotRead": 3,
    "digitize.disk.NotWritten": 4,
    "digitize.keep.drawer.Unkeepable": 4,
    "digitize.floor.photo.NotAPicture": 10,
    "digitize.floor.photo.DamagedPicture": 11,
    "digitize.floor.photo.TooSmall": 12,
    "digitize.floor.photo.TooLarge": 13,
    "digitize.card.find.TooDark": 14,
    "digitize.card.find.TooBlurred": 15,
    "digitize.card.find.CardError": 16,
    "digitize.floor.start.CardsApart": 17,
    "digitize.paper.outline.PaperError": 18,
    "digitize.pipeline.ReadingError": 19,
    "digitize.floor.kept.CameraError": 20,
    "digitize.floor.check.CheckError": 21,
    "digitize.pattern.PatternFileError": 22,
    "digitize.shop.labels.LabelError": 23,
    "digitize.shop.spread.TuckError": 24,
    "digitize.shop.blank.BlankError": 25,
    "digitize.keep.drawer.NotKept": 26,
    "digitize.keep.drawer.Damaged": 27,
    "digitize.keep.drawer.NameTaken": 28,
    "digitize.compare.deviation.CompareError": 29,
}
Given = ParamSpec("Given")

screen = Console()
errors = Console(stderr=True)


def stop(code: int, message: str) -> NoReturn:
    """End the command with a line of words and an exit code."""
    errors.print(message, style="bold", highlight=False, soft_wrap=True, markup=False)
    raise typer.Exit(code)


def reported(command: Callable[Given, None]) -> Callable[Given, None]:
    """The command, with what is wrong with its files or photos as one line and an exit code."""

    @wraps(command)
    def run(*given: Given.args, **named: Given.kwargs) -> None:
        try:
            command(*given, **named)
        except Exception as error:
            names = [f"{kind.__module__}.{kind.__qualname__}" for kind in type(error).__mro__]
            code = next((EXIT_CODES[name] for name in names if name in EXIT_CODES), None)
            if code is None:
                raise
            stop(code, str(error))

    return run


@contextmanager
def stages_shown(stages: Sequence[str]) -> Iterator[Callable[[str], None]]:
    """A bar that names each stage as it begins; nothing where no one is watching."""
    if not errors.is_terminal:
        yield lambda stage: None
        return
    columns = TextColumn("{task.description:>18}"), BarColumn(), TimeElapsedColumn()
    with Progress(*columns, console=errors, transient=True) as progress:
        task = progress.add_task("opening", total=len(stages) + 1)
        yield lambda stage: progress.update(task, advance=1, description=stage)


@contextmanager
def count_shown(words: str) -> Iterator[Callable[[int, int], None]]:
    """A bar over so many of so many; nothing where no one is watching."""
    if not errors.is_terminal:
        yield lambda done, of: None
        return
    columns = TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn()
    with Progress(*columns, console=errors, transient=True) as progress:
        task = progress.add_task(words, total=None, visible=False)
        yield lambda done, of: progress.update(task, completed=done, total=of, visible=True)
