"""``digitize schema``: the JSON Schema of the record."""

import typer

from digitize.record import schema_text


def schema() -> None:
    """Print the JSON Schema of pattern.json, for programs that read or check it."""
    typer.echo(schema_text(), nl=False)
