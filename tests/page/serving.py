"""The page as it is started, in a process of its own, and a client that was let in."""

import multiprocessing
import os
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path

import httpx

from digitize.cli import app
from digitize.page import worker
from digitize.reading import pipeline
from digitize.record import to_json
from tests import seen_once

# Each page is forked from a process that has loaded all of it: to load it takes seconds of CPU.
PROCESSES = multiprocessing.get_context("forkserver")
JOBS = ["digitize.jobs.form", "digitize.jobs.glance", "digitize.jobs.read"]
PROCESSES.set_forkserver_preload(["digitize.page.serve", *JOBS, __name__])
_work = worker._work


@dataclass(frozen=True)
class Served:
    """A running page: the ways in, each for one browser and once, and its process."""

    ways_in: tuple[str, ...]
    process: BaseProcess

    @property
    def way_in(self) -> str:
        """The way in on this computer."""
        return self.ways_in[0]

    @property
    def url(self) -> str:
        """The page's address on this computer."""
        return self.way_in.split("/enter")[0]

    def client(self, way_in: str | None = None) -> httpx.Client:
        """A client that asks as the page itself does, not let in yet."""
        url = (way_in or self.way_in).split("/enter")[0]
        return httpx.Client(base_url=url, headers={"origin": url}, timeout=60)

    def entered(self, way_in: str | None = None) -> httpx.Client:
        """A client that was let in."""
        client = self.client(way_in)
        assert client.get(way_in or self.way_in).status_code == 303
        return client


@contextmanager
def serving(bench: Path, drawer: Path, *options: str) -> Iterator[Served]:
    """The page over a bench and a drawer, until the block ends."""
    given = ["page", str(bench), "--no-browser", *options, "--drawer", str(drawer)]
    said, says = PROCESSES.Pipe(duplex=False)
    process = PROCESSES.Process(target=_serve, args=(says, given, dict(os.environ)))
    process.start()
    says.close()
    try:
        ways_in: list[str] = []
        with open(said.fileno(), closefd=False) as lines:
            for line in lines:
                ways_in += re.findall(r"http://\S+", line)
                if "Ctrl-C" in line:
                    break
        yield Served(tuple(ways_in), process)
    finally:
        process.terminate()
        process.join()
        said.close()


def _serve(says: Connection, given: list[str], environment: dict[str, str]) -> None:
    """Run the command, which says on a line what it would say on the terminal."""
    os.environ.update(environment)
    sys.stdout = open(says.fileno(), "w", closefd=False)  # noqa: SIM115 (as long as it runs)
    worker._work, worker.PROCESSES = _work_seen_once, PROCESSES
    app(given)


def _work_seen_once(line: Connection) -> None:
    """As a page's worker does, but that photos which the tests have read are not read again."""
    pipeline.read_marks = seen_once.read_marks
    _work(line)


def put_on(bench: Path, name: str, record) -> Path:
    """A pattern's folder on a bench, as a reading leaves it, without its pictures."""
    folder = bench / name
    folder.mkdir(parents=True)
    for each in ("pattern.json", "reading.json"):
        (folder / each).write_text(to_json(record))
    return folder
