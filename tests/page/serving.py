"""The page as it is started, in a process of its own, and a client that was let in."""

import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx

from digitize.record import to_json


@dataclass(frozen=True)
class Served:
    """A running page: its address, the way in for one browser, and its process."""

    url: str
    way_in: str
    process: subprocess.Popen

    def client(self) -> httpx.Client:
        """A client that asks as the page itself does, not let in yet."""
        return httpx.Client(base_url=self.url, headers={"origin": self.url}, timeout=60)

    def entered(self) -> httpx.Client:
        """A client that was let in."""
        client = self.client()
        assert client.get(self.way_in).status_code == 303
        return client


@contextmanager
def serving(bench: Path, drawer: Path) -> Iterator[Served]:
    """The page over a bench and a drawer, until the block ends."""
    command = [sys.executable, "-m", "digitize", "page", str(bench), "--no-browser"]
    process = subprocess.Popen(
        [*command, "--drawer", str(drawer)], stdout=subprocess.PIPE, text=True
    )
    try:
        assert process.stdout is not None
        way_in = next(
            found[0] for line in process.stdout if (found := re.search(r"http://\S+", line))
        )
        yield Served(way_in.split("/enter")[0], way_in, process)
    finally:
        process.terminate()
        process.wait()


def put_on(bench: Path, name: str, record) -> Path:
    """A pattern's folder on a bench, as a reading leaves it, without its pictures."""
    folder = bench / name
    folder.mkdir(parents=True)
    for each in ("pattern.json", "reading.json"):
        (folder / each).write_text(to_json(record))
    return folder
