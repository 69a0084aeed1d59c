"""The commands, in the order that a job takes them."""

from digitize import readings, records  # their commands join the app as they are imported
from digitize.shell import app

__all__ = ["app", "main", "readings", "records"]


def main() -> None:
    """Entry point of the ``digitize`` command."""
    app()
