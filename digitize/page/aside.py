"""Work that would keep requests waiting, in a thread of its own."""

import asyncio
import threading
from collections.abc import Callable
from typing import Any


async def aside(work: Callable[..., Any], *given: Any) -> Any:
    """What work gives that would keep the others waiting, in a thread of its own.

    Not in one of the few that answer requests: a reading takes its time.
    """
    loop = asyncio.get_running_loop()
    done: asyncio.Future[Any] = loop.create_future()

    def finish(value: Any, error: BaseException | None) -> None:
        if done.cancelled():
            return
        if error is None:
            done.set_result(value)
        else:
            done.set_exception(error)

    def run() -> None:
        try:
            value, error = work(*given), None
        except BaseException as raised:
            value, error = None, raised
        if not loop.is_closed():
            loop.call_soon_threadsafe(finish, value, error)

    threading.Thread(target=run, daemon=True).start()
    return await done
