"""Everything that has to pass: ``python -m tests``. All parts run, then it is summed up."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent
BIN = Path(sys.executable).parent
PARTS = {
    "format": [BIN / "ruff", "format", "--check", "."],
    "lint": [BIN / "ruff", "check", "."],
    "types": [BIN / "mypy"],
    "import directions": [BIN / "lint-imports"],
    "tests": [sys.executable, "-m", "pytest", "-m", ""],
}


def passes(name: str) -> bool:
    print(f"== {name}", flush=True)
    command = [str(part) for part in PARTS[name]]
    # As many tests run at once as there are cores: a solver that takes them all too is slower.
    threads = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    return subprocess.run(command, cwd=ROOT, check=False, env=os.environ | threads).returncode == 0


failed = [name for name in PARTS if not passes(name)]
print("all passed" if not failed else f"failed: {', '.join(failed)}", flush=True)
sys.exit(bool(failed))
