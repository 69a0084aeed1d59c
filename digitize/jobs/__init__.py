"""What each command does: paths and what was asked in, files and a typed result out; no terminal.

The command line and the Python API both work through these. One file a job: ``read.py``
(photos to a folder), ``tell.py`` (what the user says of a record), ``draw.py``, ``form.py`` (the
panel in space), ``compare.py``, ``keep.py``, ``find.py`` (into the drawer and out of it),
``show.py``, ``shrink.py``, ``cards.py``, ``camera.py``, ``glance.py`` (is a photo good enough?),
``follow.py`` (pencil, before it is told). ``folder.py`` is what a reading's folder holds,
``disk.py`` reads and writes files, ``settings.py`` the user's own small files.
Each is loaded when it is asked for, so that finding answers at once.
Open ``read.py`` first.
"""

__all__ = [
    "camera",
    "cards",
    "compare",
    "disk",
    "draw",
    "find",
    "folder",
    "follow",
    "form",
    "glance",
    "keep",
    "looks",
    "read",
    "settings",
    "show",
    "shrink",
    "tell",
]
