"""A scenario as a capture on disk, the same bytes every time it is made."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Final

from replay.capture import CaptureWriter, Header, compress
from replay.coach.config_text import config_text
from replay.coach.scenario import Scenario
from replay.coach.simulate import simulate

#: Nothing is at stake while a simulation is written: one commit in an hour of its time is plenty.
_COMMIT_SECONDS: Final = 3600.0
#: Of the simulation, not of the program: captures change only when this does.
MAKER: Final = "coach 1"


def header_of(scenario: Scenario, capture: str = "") -> Header:
    """All that is needed to play the capture anywhere."""
    return Header(
        config=config_text(scenario, capture),
        software=MAKER,
        wall_offset=scenario.start_unix,
        title=scenario.words,
        origin="simulated",
    )


def write_capture(scenario: Scenario, path: Path) -> Path:
    """Simulate and write; gzip where the name ends in .gz. An existing file is replaced."""
    with tempfile.TemporaryDirectory(dir=path.parent) as folder:
        plain = Path(folder) / "plain.capture"
        writer = CaptureWriter(plain, header_of(scenario, path.name), _COMMIT_SECONDS)
        for inputs, _ in simulate(scenario):
            for value in inputs:
                writer.append(value)
        closing = writer.close()
        if closing.lost:
            raise OSError(closing.trouble)
        made = plain
        if path.suffix == ".gz":
            made = Path(folder) / "sealed.capture.gz"
            compress(plain, made)
        made.replace(path)
    return path
