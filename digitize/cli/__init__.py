"""The command line: commands with their options, tables, progress, exit codes; no computation.

One file a command, named as the command is; each calls its job and prints what came of it.
``screen.py`` and ``tables.py`` print, ``options.py`` reads what users write. Open ``commands.py``
first.
"""

from digitize.cli.commands import app, main

__all__ = ["app", "main"]
