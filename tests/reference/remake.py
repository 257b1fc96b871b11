"""Remake every frozen reference with the heavy libraries and fail on drift: `make reference`.

Each remaker is a module with `main()` that writes its files into a folder given as first argument;
what it writes must be the frozen file beside it, byte for byte (text) or as unpacked (gzip).
"""

from __future__ import annotations

import gzip
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Final

HERE: Final = Path(__file__).parent


@dataclass(frozen=True)
class Reference:
    """A module that remakes files, and the folder in which they are frozen."""

    module: str
    frozen: Path


REFERENCES: Final = (
    Reference("tests.reference.second_truth.make", HERE / "second_truth"),
    Reference("tests.reference.remake_bode", HERE / "frozen"),
    Reference("tests.reference.remake_alarm_names", HERE / "frozen"),
    Reference("tests.reference.remake_codata", HERE / "frozen"),
)


def content(path: Path) -> bytes:
    data = path.read_bytes()
    return gzip.decompress(data) if path.suffix == ".gz" else data


def remake(reference: Reference) -> list[str]:
    """What drifted, in words."""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", reference.module, folder]
        run = subprocess.run(command, capture_output=True, text=True, check=False)
        if run.returncode != 0:
            last = (run.stderr.strip().splitlines() or ["no words"])[-1]
            return [f"{reference.module} failed: {last}"]
        made = sorted(Path(folder).iterdir())
        if not made:
            return [f"{reference.module} made nothing"]
        drifted = []
        for path in made:
            frozen = reference.frozen / path.name
            if not frozen.exists():
                drifted.append(f"{path.name}: made, but not frozen in {reference.frozen.name}")
            elif content(frozen) != content(path):
                drifted.append(f"{path.name}: what is made now differs from what is frozen")
        print(f"{reference.module}: {len(made)} files, {len(drifted)} drifted")
        return drifted


def main() -> None:
    drifted = [line for reference in REFERENCES for line in remake(reference)]
    for line in drifted:
        print(f"drift: {line}", file=sys.stderr)
    sys.exit(1 if drifted else 0)


if __name__ == "__main__":
    main()
