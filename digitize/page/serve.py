"""Start the page: on this computer alone, or for the phones in the shop too."""

import socket
import webbrowser
from collections.abc import Callable
from pathlib import Path

import segno
import uvicorn

from digitize.defaults import BENCH, DRAWER, PORT
from digitize.errors import WrongOption
from digitize.page.app import Shop, page_app
from digitize.page.bench import Bench
from digitize.page.forms import Forms
from digitize.page.guard import ENTER, Doors
from digitize.page.shoot import Shoots

__all__ = ["BENCH", "PORT", "code_picture", "code_words", "serve"]

# Documentation's own network (RFC 5737): nothing is sent to it, but it says which way out would be.
ELSEWHERE = ("192.0.2.1", 9)


def serve(
    folder: Path = BENCH,
    *,
    drawer: Path = DRAWER,
    phone: bool = False,
    port: int = PORT,
    browser: bool = True,
    ready: Callable[[str, str | None], None] = lambda here, phone: None,
) -> None:
    """Serve the page until it is stopped.

    Parameters
    ----------
    folder : the bench, with a folder for each pattern.
    phone : listen on the local network too.
    port : where to listen; another if it is taken.
    browser : open a browser on it.
    ready : told the address that lets a browser on this computer in, and a phone's; each once.

    Raises
    ------
    WrongOption
        If there is no network for a phone to come by.
    """
    address = _own_address() if phone else None
    if phone and address is None:
        raise WrongOption("--phone: this computer is on no network: join the phone's, or leave out")
    everywhere = "0.0.0.0"  # noqa: S104 - asked for by --phone, and guarded by its code
    listener = _listener(everywhere if phone else "127.0.0.1", port)
    port = listener.getsockname()[1]
    names = ["127.0.0.1", "localhost", *([address] if address else [])]
    doors = Doors(frozenset(f"{name}:{port}" for name in names))
    folder.mkdir(parents=True, exist_ok=True)
    bench = Bench(folder)
    phone_url = f"http://{address}:{port}" if address else None
    shop = Shop(bench, drawer, Shoots(bench), Forms(bench), doors, phone_url)
    here = f"http://127.0.0.1:{port}{ENTER}?code={doors.new_code()}"
    ready(here, f"{phone_url}{ENTER}?code={doors.new_code()}" if phone_url else None)
    if browser:
        webbrowser.open(here)
    config = uvicorn.Config(
        page_app(shop),
        log_level="critical",  # a browser that goes away is no news
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=1,
        limit_concurrency=200,
    )
    uvicorn.Server(config).run(sockets=[listener])


def code_picture(url: str) -> str:
    """An address as a QR code (ISO/IEC 18004), an SVG as a data URI."""
    return str(segno.make(url, error="m").svg_data_uri(scale=6, border=4, light="#ffffff"))


def code_words(url: str) -> str:
    """The same, to be printed on a terminal."""
    import io

    out = io.StringIO()
    segno.make(url, error="m").terminal(out, compact=True)
    return out.getvalue()


def _listener(host: str, port: int) -> socket.socket:
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
    except OSError:
        listener.bind((host, 0))
    listener.listen()
    return listener


def _own_address() -> str | None:
    """The computer's address on the network that it is on; None if it is on none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as way:
        try:
            way.connect(ELSEWHERE)
        except OSError:
            return None
        address = str(way.getsockname()[0])
    return None if address.startswith("127.") else address
