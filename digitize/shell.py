"""What all commands share: the app, the screen, and exit codes for what is wrong with a file."""

from collections.abc import Callable
from functools import wraps
from typing import ParamSpec

import typer
from rich.console import Console

from digitize.card.find import CardError, TooBlurred, TooDark
from digitize.files import NotRead, NotWritten
from digitize.floor.check import CheckError
from digitize.floor.kept import CameraError
from digitize.floor.photo import DamagedPicture, NotAPicture, TooLarge, TooSmall
from digitize.floor.start import CardsApart
from digitize.options import stop
from digitize.paper.outline import PaperError
from digitize.pattern import PatternFileError
from digitize.pipeline import ReadingError
from digitize.shop.blank import BlankError
from digitize.shop.labels import LabelError
from digitize.shop.spread import TuckError

EXIT_CODES: tuple[tuple[type[Exception], int], ...] = (
    (NotRead, 3),
    (NotWritten, 4),
    (NotAPicture, 10),
    (DamagedPicture, 11),
    (TooSmall, 12),
    (TooLarge, 13),
    (TooDark, 14),
    (TooBlurred, 15),
    (CardsApart, 17),
    (CardError, 16),
    (PaperError, 18),
    (ReadingError, 19),
    (CameraError, 20),
    (CheckError, 21),
    (PatternFileError, 22),
    (LabelError, 23),
    (TuckError, 24),
    (BlankError, 25),
)
Given = ParamSpec("Given")

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    help="Reads a photo of a metal shaper's paper pattern, taken beside printed scale cards, "
    "into a true-size record and drawings for this side and the other.",
    epilog="Start with: digitize card, print the PDF at 100 %, then digitize photo.",
)
screen = Console()


def reported(command: Callable[Given, None]) -> Callable[Given, None]:
    """The command, with what is wrong with its files or photos as one line and an exit code."""

    @wraps(command)
    def run(*given: Given.args, **named: Given.kwargs) -> None:
        try:
            command(*given, **named)
        except tuple(kind for kind, _ in EXIT_CODES) as error:
            stop(next(code for kind, code in EXIT_CODES if isinstance(error, kind)), str(error))

    return run
