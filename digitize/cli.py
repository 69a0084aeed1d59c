"""The commands, in the order that a job takes them; each is loaded when it is asked for."""

from importlib import import_module

import typer
from typer.core import TyperGroup

COMMANDS = {
    "card": "readings",
    "photo": "readings",
    "camera": "readings",
    "label": "records",
    "tuck": "records",
    "shrink": "records",
    "draw": "records",
    "compare": "comparing",
    "keep": "keeping",
    "find": "finding",
    "show": "keeping",
    "take": "finding",
    "check": "finding",
}


class _Commands(TyperGroup):
    """Commands by name. To load all takes seconds; what only looks into the drawer needs few."""

    def list_commands(self, ctx: typer.Context) -> list[str]:  # type: ignore[override]
        return list(COMMANDS)

    def get_command(self, ctx: typer.Context, cmd_name: str):  # type: ignore[override,no-untyped-def]
        if cmd_name not in COMMANDS:
            return None
        module = import_module(f"digitize.{COMMANDS[cmd_name]}")
        return typer.main.get_group(module.app).commands[cmd_name]


app = typer.Typer(
    cls=_Commands,
    add_completion=False,
    no_args_is_help=True,
    epilog="Start with: digitize card, print the PDF at 100 %, then digitize photo.",
)


@app.callback()
def about() -> None:
    """Reads a photo of a metal shaper's paper pattern, taken beside printed scale cards, into a
    true-size record and drawings for this side and the other.
    """


def main() -> None:
    """Entry point of the ``digitize`` command."""
    app()
