"""Work done side by side: one pool of threads for the whole program, as many as there are cores.

Threads help where a library lets go of the interpreter's lock while it computes, as OpenCV and
numpy do over large arrays. What comes of it hangs on the work alone, never on how many do it: items
are given out whole, and results come back in their order.
"""

import os
import threading
from collections.abc import Callable, Iterable
from concurrent.futures import Future, ThreadPoolExecutor
from functools import cache
from typing import TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")
_INSIDE = threading.local()


def worker_count() -> int:
    """How many work at once: the cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def side_by_side(work: Callable[[Item], Result], items: Iterable[Item]) -> list[Result]:
    """What comes of each item, in order; the first error that an item raises, if one does.

    Work that is given out within other such work is done where it is, so that no worker waits for
    another.
    """
    items = list(items)
    if len(items) < 2 or worker_count() < 2 or getattr(_INSIDE, "pool", False):
        return [work(item) for item in items]
    begun: list[Future[Result]] = [_pool().submit(_worked, work, item) for item in items]
    try:
        return [each.result() for each in begun]
    finally:
        # After an error, or Ctrl-C, what has not begun never does.
        for each in begun:
            each.cancel()


def _worked(work: Callable[[Item], Result], item: Item) -> Result:
    _INSIDE.pool = True
    return work(item)


@cache
def _pool() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(worker_count(), thread_name_prefix="digitize")


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_pool.cache_clear)  # a child has none of its threads
