"""Ctrl-C ends a command within a second, also while a library computes that hears nothing.

Python tells its main thread of a signal only between two steps of its own, and one step of a
library may take many seconds, in which no other thread may run either. So a small process beside
it waits for the signal, and ends a command that has not ended by itself. What is half done by then
is nowhere: files are written all or none.
"""

import os
import select
import signal
import sys
from types import FrameType

PATIENCE_S = 0.5  # in which a command may end by itself, with a word
SHOW_CURSOR = b"\x1b[?25h"  # a bar of progress hides it


def watch() -> None:
    """From now on, end the program if it has not ended by itself soon after Ctrl-C."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, _interrupted)
    if not hasattr(os, "fork"):
        return  # as fast as its libraries
    reading, writing = os.pipe()
    command = os.getpid()
    if os.fork() == 0:
        try:
            os.close(writing)
            _wait(reading, command)
        finally:
            os._exit(0)
    os.close(reading)
    os.set_blocking(writing, False)
    # The number of each signal is written there at once, before Python hears of it.
    signal.set_wakeup_fd(writing, warn_on_full_buffer=False)


def _interrupted(number: int, frame: FrameType | None) -> None:
    """Raise as Python does; but while a library is being loaded, end the program where it is.

    Some take any exception in their own loading, Ctrl-C's too, for the lack of a part that they
    can do without, and fail in words of their own further on.
    """
    while frame is not None:
        if frame.f_globals.get("__name__") == "importlib._bootstrap":
            signal.signal(number, signal.SIG_DFL)
            signal.raise_signal(number)
        frame = frame.f_back
    raise KeyboardInterrupt


def _wait(reading: int, command: int) -> None:
    """Wait for the command's end, or for Ctrl-C; then end it if it has not ended soon."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    os.close(1)  # or who reads what the command says would wait for this process too
    while True:
        heard = os.read(reading, 1)
        if not heard:
            return
        if heard[0] == signal.SIGINT:
            break
    while select.select([reading], [], [], PATIENCE_S)[0]:
        if not os.read(reading, 100):
            return
    if sys.stderr.isatty():
        os.write(2, SHOW_CURSOR)
    os.kill(command, signal.SIGTERM)
