"""The checksums beside a revision's files, in the form that ``sha256sum --check`` reads."""

import hashlib
from collections.abc import Mapping

SUMS = "SHA256SUMS"


def sha256(content: bytes) -> str:
    """The SHA-256 of a file's content (FIPS 180-4), in hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def sums_text(files: Mapping[str, bytes]) -> str:
    """A line for each file: its checksum, two spaces, its name."""
    return "".join(f"{sha256(files[name])}  {name}\n" for name in sorted(files))


def sums_in(text: str) -> dict[str, str]:
    """Checksums by file name; ValueError if a line is none, or names a file that is elsewhere."""
    sums = {}
    for line in text.splitlines():
        value, gap, name = line.partition("  ")
        if not gap or len(value) != 64 or not is_within(name):
            raise ValueError(line)
        sums[name] = value
    return sums


def is_within(name: str) -> bool:
    """Whether a file's name is one within a folder, ``/`` between its parts, on any system."""
    parts = name.split("/")
    return name.isprintable() and not any(
        part in ("", ".", "..") or "\\" in part or ":" in part for part in parts
    )
