"""Which version of the program this is, and where it is installed."""

from __future__ import annotations

from pathlib import Path
from typing import Final

DISTRIBUTION: Final = "ampwright"


def software() -> str:
    """Name and version, as they stand in captures and reports."""
    # Reading what is installed takes longer than asking a service; most never need it.
    from importlib.metadata import PackageNotFoundError, version

    try:
        return f"{DISTRIBUTION} {version(DISTRIBUTION)}"
    except PackageNotFoundError:
        return f"{DISTRIBUTION} (not installed)"


def place() -> Path:
    """The folder that holds the packages."""
    return Path(__file__).resolve().parent.parent
