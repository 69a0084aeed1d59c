"""The commands, in the order that a job takes them; each is loaded when it is called."""

import ast
import os
import sys
from importlib import import_module
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperCommand, TyperGroup

from digitize import __version__
from digitize.cli.interrupt import watch
from digitize.words import printable

COMMANDS = (
    "card",
    "photo",
    "page",
    "camera",
    "label",
    "tuck",
    "tell",
    "told",
    "shrink",
    "draw",
    "form",
    "compare",
    "keep",
    "find",
    "show",
    "take",
    "check",
    "renew",
    "schema",
)


USAGE: Any = typer.BadParameter.__bases__  # what all that is wrong with a command line is


class _Commands(TyperGroup):
    """Commands by name. To load all takes seconds; what only looks into the drawer needs few."""

    def get_params(self, ctx: typer.Context):  # type: ignore[override,no-untyped-def]
        """Its own options. All are flags: one that is not given is no, which needs no reading."""
        flags = super().get_params(ctx)
        for each in flags:
            each.default = each.default or False
        return flags

    def list_commands(self, ctx: typer.Context) -> list[str]:  # type: ignore[override]
        return list(COMMANDS)

    def get_command(self, ctx: typer.Context, cmd_name: str):  # type: ignore[override,no-untyped-def]
        """What lists show of a command; it is loaded when it is called (``resolve_command``)."""
        if cmd_name not in COMMANDS:
            return None
        return TyperCommand(cmd_name, help=_first_line(cmd_name))

    def invoke(self, ctx: typer.Context):  # type: ignore[override,no-untyped-def]
        """Run what was asked for; what is wrong with an option is said with its signs escaped."""
        try:
            return super().invoke(ctx)
        except Exception as error:
            if isinstance(error, USAGE):
                error.message = printable(error.message)
            raise

    def resolve_command(self, ctx: typer.Context, args: list[str]):  # type: ignore[override,no-untyped-def]
        name, found, rest = super().resolve_command(ctx, args)
        return name, None if found is None else _loaded(found.name or ""), rest


def _loaded(name: str):  # type: ignore[no-untyped-def]
    command = typer.Typer(add_completion=False)
    command.command(name)(getattr(import_module(f"digitize.cli.{name}"), name))
    return typer.main.get_command(command)


def _first_line(name: str) -> str:
    """What a command does, from its text alone."""
    tree = ast.parse(Path(__file__).with_name(f"{name}.py").read_text(encoding="utf-8"))
    functions = (each for each in tree.body if isinstance(each, ast.FunctionDef))
    (words,) = (ast.get_docstring(each) or "" for each in functions if each.name == name)
    return words.split("\n\n")[0]


app = typer.Typer(
    cls=_Commands,
    no_args_is_help=True,
    epilog="Start with: digitize card, print the PDF at 100 %, then digitize photo.",
)


def _version(asked: bool) -> None:
    if asked:
        typer.echo(f"digitize {__version__}")
        raise typer.Exit


@app.callback()
def about(
    version: Annotated[
        bool,
        typer.Option("--version", help="Print the version.", callback=_version, is_eager=True),
    ] = False,
) -> None:
    """Reads a photo of a metal shaper's paper pattern, taken beside printed scale cards, into a
    true-size record and drawings for this side and the other.
    """


def main() -> None:
    """Entry point of the ``digitize`` command."""
    # Work is done side by side (``workers.py``). A solver that takes all cores too takes them from
    # that, and waits for them at full speed. Read as numpy loads, which nothing has done yet.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    if sys.argv[1:2] != ["page"]:  # whose server ends what it has begun
        watch()
    app()
