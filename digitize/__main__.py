"""Lets ``python -m digitize`` run the command."""

from digitize.cli import main

main()
