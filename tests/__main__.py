"""Everything that has to pass: ``python -m tests``. Stops at the first that does not."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent
BIN = Path(sys.executable).parent
STEPS = (
    ("format", [BIN / "ruff", "format", "--check", "."]),
    ("lint", [BIN / "ruff", "check", "."]),
    ("types", [BIN / "mypy"]),
    ("import directions", [BIN / "lint-imports"]),
    ("tests", [sys.executable, "-m", "pytest"]),
)

for name, command in STEPS:
    print(f"== {name}", flush=True)
    if subprocess.run([str(part) for part in command], cwd=ROOT, check=False).returncode:
        sys.exit(f"{name}: failed")
