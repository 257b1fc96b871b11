"""The example that comes with the program: record and recording of an invented coach."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Final

from monitor.mishaps import Refusal

EXAMPLE: Final = "hazelbank"
_FOLDER: Final = Path(__file__).parent / "example"


def put_example(folder: Path) -> tuple[Path, Path]:
    """Record and recording, copied into a new folder; Refusal where something lies there."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise Refusal(f"{folder}: is there already and not empty; name another folder")
    folder.mkdir(parents=True, exist_ok=True)
    names = (f"{EXAMPLE}.json", f"{EXAMPLE}.capture.gz")
    for name in names:
        shutil.copyfile(_FOLDER / name, folder / name)
    return folder / names[0], folder / names[1]
