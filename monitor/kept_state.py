"""What the engine has learned, kept in a file from one start to the next.

Plain JSON, written whole beside the old one and then put in its place, so that a power cut leaves
the old or the new, never half of one. Whether a state belongs to this bank is for the engine to
say.
"""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from monitor.config import ConfigError
from monitor.engine.state import Json

FORMAT_VERSION: Final = 1


@dataclass(frozen=True, slots=True)
class KeptState:
    """The engine's state at feed time `seconds`, when the wall clock showed `wall`."""

    engine: Json
    seconds: float
    wall: float

    def resume_at(self, wall: float) -> float:
        """Feed time to go on from: later by what the wall clock says was missed, if it can."""
        return self.seconds + max(0.0, wall - self.wall)


def load_state(path: Path) -> KeptState | None:
    """The state kept in a file; None where there is none yet.

    ConfigError where the file cannot be read: what was learned is not thrown away in silence.
    """
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
        version = kept["version"]
        state = KeptState(kept["engine"], float(kept["seconds"]), float(kept["wall"]))
    except FileNotFoundError:
        return None
    except OSError as error:
        raise ConfigError((f"{path}: cannot be read: {error.strerror or error}",)) from None
    except (ValueError, KeyError, TypeError):
        raise ConfigError(
            (f"{path}: expected a state file, found something else; name another or delete it",)
        ) from None
    if version != FORMAT_VERSION:
        raise ConfigError(
            (f"{path}: expected state version {FORMAT_VERSION}, found {version}; delete it",)
        )
    return state


def save_state(path: Path, state: KeptState) -> None:
    """Put a state on disk in place of the old one; OSError where the disk refuses."""
    document = {
        "version": FORMAT_VERSION,
        "seconds": state.seconds,
        "wall": state.wall,
        "engine": state.engine,
    }
    beside = path.with_name(path.name + ".new")
    with beside.open("w", encoding="utf-8") as file:
        json.dump(document, file, allow_nan=False)
        file.flush()
        os.fsync(file.fileno())
    beside.replace(path)
