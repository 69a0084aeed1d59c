"""``digitize page``: shoot, see, mend and print in a browser, here or on the phone."""

from pathlib import Path
from typing import Annotated

import typer

from digitize.cli.screen import reported, screen
from digitize.cli.search import Drawer
from digitize.defaults import BENCH, DRAWER, PORT


@reported
def page(
    bench: Annotated[
        Path,
        typer.Argument(
            envvar="DIGITIZE_BENCH",
            show_default="~/pattern-bench",
            help="The folder of patterns being worked on.",
        ),
    ] = BENCH,
    phone: Annotated[
        bool,
        typer.Option(
            "--phone", help="Let phones on the local network in too, by a code that is shown."
        ),
    ] = False,
    port: Annotated[int, typer.Option(min=1024, max=65535, help="Where to listen.")] = PORT,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open a browser on it.")
    ] = True,
    drawer: Drawer = DRAWER,
) -> None:
    """Open the page: take photos, see what was read, put it right, print, keep.

    It is for this computer alone, unless --phone lets phones in. Stop it with Ctrl-C; nothing that
    was told is lost.
    """
    from digitize.page import code_words, serve

    def ready(here: str, there: str | None) -> None:
        screen.print(f"The page is open, once, at {here}", highlight=False, soft_wrap=True)
        if there:
            screen.print("On the phone, in the same network, scan this:", highlight=False)
            screen.print(code_words(there), highlight=False, soft_wrap=True)
            screen.print(f"or type {there}", highlight=False, soft_wrap=True)
        screen.print("Ctrl-C stops it.", highlight=False)

    serve(bench, drawer=drawer, phone=phone, port=port, browser=browser, ready=ready)
