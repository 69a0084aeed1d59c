"""What a photo shows, looked at once a run: for all its tests, their workers and their pages.

Marks that were seen are kept in a folder of the run's own, by the photo and what was asked; which
folder that is stands in the environment, so that whatever the tests start knows it too. Nothing
outlasts the run.
"""

import hashlib
import os
import pickle
import shutil
import tempfile
from dataclasses import replace
from pathlib import Path

from filelock import FileLock

from digitize.reading import STAGES, pipeline

FOLDER = "DIGITIZE_TESTS_SEEN"
_see_marks = pipeline.read_marks


def begin() -> None:
    """Make the run's folder."""
    os.environ[FOLDER] = tempfile.mkdtemp(prefix="digitize-seen-")


def end() -> None:
    """Take the run's folder away."""
    shutil.rmtree(os.environ.pop(FOLDER), ignore_errors=True)


def read_marks(photos, asked=pipeline.NOTHING_ASKED, progress=lambda stage: None):
    """As the pipeline's own; what one photo shows is seen once for all who ask the same of it."""
    if len(photos) > 1 or not photos[0].sha256 or asked.kept_camera:
        return _see_marks(photos, asked, progress)
    key = hashlib.sha256(repr((photos[0].sha256, asked)).encode()).hexdigest()
    kept = Path(os.environ[FOLDER]) / key
    with FileLock(kept.with_suffix(".lock")):
        if not kept.exists():
            seen = _see_marks(photos, asked, progress)
            # The photo is left out, which whoever asks has.
            bare = replace(seen, scene=replace(seen.scene, photos=()))
            kept.write_bytes(pickle.dumps(bare, pickle.HIGHEST_PROTOCOL))
            return seen
    for stage in STAGES[: STAGES.index("tucks")]:
        progress(stage)
    seen = pickle.loads(kept.read_bytes())  # noqa: S301 (what was written above)
    return replace(seen, scene=replace(seen.scene, photos=tuple(photos), asked=asked))
