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
    """A running page: the ways in, each for one browser and once, and its process."""

    ways_in: tuple[str, ...]
    process: subprocess.Popen

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
    command = [sys.executable, "-m", "digitize", "page", str(bench), "--no-browser", *options]
    process = subprocess.Popen(
        [*command, "--drawer", str(drawer)], stdout=subprocess.PIPE, text=True
    )
    try:
        assert process.stdout is not None
        ways_in: list[str] = []
        for line in process.stdout:
            ways_in += re.findall(r"http://\S+", line)
            if "Ctrl-C" in line:
                break
        yield Served(tuple(ways_in), process)
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
