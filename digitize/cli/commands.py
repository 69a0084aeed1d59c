"""The commands, in the order that a job takes them; each is loaded when it is asked for."""

from importlib import import_module
from typing import Annotated

import typer
from typer.core import TyperGroup

from digitize import __version__

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


class _Commands(TyperGroup):
    """Commands by name. To load all takes seconds; what only looks into the drawer needs few."""

    def list_commands(self, ctx: typer.Context) -> list[str]:  # type: ignore[override]
        return list(COMMANDS)

    def get_command(self, ctx: typer.Context, cmd_name: str):  # type: ignore[override,no-untyped-def]
        if cmd_name not in COMMANDS:
            return None
        module = import_module(f"digitize.cli.{cmd_name}")
        command = typer.Typer(add_completion=False)
        command.command(cmd_name)(getattr(module, cmd_name))
        return typer.main.get_command(command)


app = typer.Typer(
    cls=_Commands,
    add_completion=False,
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
    app()
