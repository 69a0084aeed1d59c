"""The lowest versions allowed, as constraints for pip: ``python -m tests.lowest``."""

import re
import tomllib
from pathlib import Path

project = tomllib.loads((Path(__file__).parent.parent / "pyproject.toml").read_text())["project"]
for wanted in (*project["dependencies"], *project["optional-dependencies"]["test"]):
    print(re.sub(r"\[.*\]", "", wanted).replace(">=", "=="))
