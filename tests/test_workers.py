"""Work side by side comes back in order, and is the same however many do it."""

import os
import threading
import time

import pytest

from digitize import workers
from digitize.workers import side_by_side


@pytest.fixture(params=[1, 2, 7])
def count(request, monkeypatch):
    workers._pool.cache_clear()
    monkeypatch.setattr(workers, "worker_count", lambda: request.param)
    yield request.param
    workers._pool.cache_clear()


def test_results_are_in_the_order_of_the_items(count):
    def late(item):
        time.sleep(0.002 * (9 - item))
        return item * item

    assert side_by_side(late, range(9)) == [item * item for item in range(9)]
    assert side_by_side(late, []) == []


def test_as_many_work_at_once_as_there_are_workers(count):
    at_work, most, lock = set(), [], threading.Lock()

    def busy(item):
        with lock:
            at_work.add(item)
            most.append(len(at_work))
        time.sleep(0.01)
        with lock:
            at_work.remove(item)

    side_by_side(busy, range(14))
    assert max(most) == count


def test_work_within_work_waits_for_no_worker(count):
    def outer(item):
        return sum(side_by_side(lambda inner: item * inner, range(4)))

    assert side_by_side(outer, range(20)) == [6 * item for item in range(20)]


def test_the_first_error_comes_through_and_what_has_not_begun_never_does(count):
    done = []

    def work(item):
        if item == 3:
            raise ValueError("three")
        time.sleep(0.01)
        done.append(item)

    with pytest.raises(ValueError, match="three"):
        side_by_side(work, range(200))
    time.sleep(0.05)
    assert set(range(3)) <= set(done) and len(done) < 40


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no such thing here")
@pytest.mark.filterwarnings("ignore::DeprecationWarning")  # of a fork beside threads
def test_a_forked_child_has_workers_of_its_own(count):
    side_by_side(abs, range(4))
    child = os.fork()
    if child == 0:
        os._exit(0 if side_by_side(abs, [-1, -2]) == [1, 2] else 1)
    for _ in range(200):
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            break
        time.sleep(0.02)
    else:
        os.kill(child, 9)
        os.waitpid(child, 0)
        pytest.fail("the child waits for workers that it has not")
    assert status == 0
