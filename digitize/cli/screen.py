"""What all commands share: the screen, progress, and how what is wrong ends a command."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import wraps
from pathlib import Path
from typing import Any, ParamSpec

import typer
from rich.console import Console
from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    Progress,
    TextColumn,
    TimeElapsedColumn,
)
from rich.text import Text

from digitize.errors import DigitizeError, NotRead
from digitize.jobs.changed import Changed
from digitize.words import printable

Given = ParamSpec("Given")


class _Screen(Console):
    """A console that shows words as they are: nothing in them is markup, or acts on a terminal."""

    def render_str(self, text: str, **given: Any) -> Text:
        """The words with signs that would act escaped; line ends stay."""
        return super().render_str("\n".join(map(printable, text.split("\n"))), **given)


screen = _Screen(markup=False, emoji=False)
errors = _Screen(stderr=True, markup=False, emoji=False)


def reported(command: Callable[Given, None]) -> Callable[Given, None]:
    """The command, with what is wrong as one line of words and its exit code."""

    @wraps(command)
    def run(*given: Given.args, **named: Given.kwargs) -> None:
        try:
            command(*given, **named)
        except DigitizeError as error:
            errors.print(str(error), style="bold", highlight=False, soft_wrap=True)
            raise typer.Exit(error.exit_code) from error
        except OSError as error:  # of a disk or folder, where no job expects it
            why = printable(error.strerror or str(error))
            errors.print(f"{error.filename or 'a file'}: {why}", style="bold", soft_wrap=True)
            raise typer.Exit(NotRead.exit_code) from error

    return run


def show_written(files: Sequence[Path]) -> None:
    """The names of the files that were written."""
    screen.print("written: " + ", ".join(str(path) for path in files), highlight=False)


def show_changed(changed: Changed) -> None:
    """The names of the files written after something was told, and of those taken away."""
    show_written(changed.written)
    if changed.gone:
        names = ", ".join(str(path) for path in changed.gone)
        screen.print(f"taken away, as no longer true: {names}", highlight=False)


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
