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
    "import directions": [BIN / "lint-imports"],
    "tests": [sys.executable, "-m", "pytest", "-m", ""],
}
# Half a minute on one core: it runs beside the others, which wait now and then, and is shown last.
BESIDE = {"types": [BIN / "mypy"]}
# Each process that a test begins would compile the whole program anew where none may keep what it
# did.
ENVIRONMENT = dict(os.environ)
ENVIRONMENT.pop("PYTHONDONTWRITEBYTECODE", None)


def begun(command: list[Path | str], output: int | None = None) -> "subprocess.Popen[str]":
    words = [str(part) for part in command]
    return subprocess.Popen(
        words,
        cwd=ROOT,
        env=ENVIRONMENT,
        stdout=output,
        stderr=output and subprocess.STDOUT,
        text=True,
    )


beside = {name: begun(command, subprocess.PIPE) for name, command in BESIDE.items()}
failed = []
for name, command in PARTS.items():
    print(f"== {name}", flush=True)
    if begun(command).wait():
        failed.append(name)
for name, part in beside.items():
    print(f"== {name}\n{part.communicate()[0]}", end="", flush=True)
    if part.returncode:
        failed.append(name)
print("all passed" if not failed else f"failed: {', '.join(failed)}", flush=True)
sys.exit(bool(failed))
