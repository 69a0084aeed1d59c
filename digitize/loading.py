"""Names of a package that are loaded when they are first used."""

from collections.abc import Callable, Mapping, Sequence
from importlib import import_module
from typing import Any


def on_use(package: str, homes: Mapping[str, Sequence[str]]) -> Callable[[str], Any]:
    """A package's ``__getattr__`` (PEP 562), by the modules in which its names are at home."""

    def found(name: str) -> Any:
        for home, names in homes.items():
            if name in names:
                return getattr(import_module(home, package), name)
        raise AttributeError(f"module {package!r} has no attribute {name!r}")

    return found
