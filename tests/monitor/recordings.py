"""Small recordings for tests: the beginning of a shipped one, whole in every other respect."""

from __future__ import annotations

import itertools
from importlib import resources
from pathlib import Path
from typing import Final

from adapters.reading import Input
from replay.capture import CaptureWriter, open_capture

SHIPPED: Final = "pinewater"

BANK_TOML: Final = """\
[banks.house]
chemistry = "flooded"
nominal_volts = 12
amp_hours = 230
"""


def shipped_path(name: str = SHIPPED) -> Path:
    """A shipped capture in the checkout."""
    return Path(str(resources.files("replay") / "captures" / f"{name}.capture.gz"))


def shipped_inputs(count: int) -> list[Input]:
    return list(itertools.islice(open_capture(shipped_path()).inputs(), count))


def small_capture(folder: Path, count: int = 1200) -> Path:
    """The first so many inputs of a shipped capture, with its header."""
    path = folder / "small.capture"
    writer = CaptureWriter(path, open_capture(shipped_path()).header)
    for value in shipped_inputs(count):
        writer.append(value)
    assert writer.close().lost == 0
    return path
