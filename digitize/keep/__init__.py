"""The drawer of kept patterns: a plain folder that needs no program to read.

In come files by name; out go revisions that never change, and what can be found of them. Loads
neither numpy nor pydantic, so that finding answers at once. Open ``drawer.py`` first.
"""

from digitize.keep.chain import BEFORE, LATEST
from digitize.keep.drawer import (
    Outrun,
    Revision,
    content,
    faults_of,
    file_name,
    gaps_in,
    kept_sums,
    patterns_in,
    put,
    revisions_of,
    sound,
    unfinished_in,
    vouched,
)
from digitize.keep.index import Found, Kept, Wanted, find
from digitize.keep.regular import read_regular
from digitize.keep.slip import SLIP, THUMBNAIL, Slip, slip_in, slip_text
from digitize.keep.sums import SUMS, is_within, sha256
from digitize.keep.synced import sweep, sync_folder, write_synced

__all__ = [
    "BEFORE",
    "LATEST",
    "SLIP",
    "SUMS",
    "THUMBNAIL",
    "Found",
    "Kept",
    "Outrun",
    "Revision",
    "Slip",
    "Wanted",
    "content",
    "faults_of",
    "file_name",
    "find",
    "gaps_in",
    "is_within",
    "kept_sums",
    "patterns_in",
    "put",
    "read_regular",
    "revisions_of",
    "sha256",
    "slip_in",
    "slip_text",
    "sound",
    "sweep",
    "sync_folder",
    "unfinished_in",
    "vouched",
    "write_synced",
]
