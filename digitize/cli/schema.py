"""``digitize schema``: the JSON Schema of the record."""

import typer


def schema() -> None:
    """Print the JSON Schema of pattern.json, for programs that read or check it."""
    from digitize.record import schema_text

    typer.echo(schema_text(), nl=False)
