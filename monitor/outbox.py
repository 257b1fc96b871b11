"""Notices that wait, on disk: what could not be sent is sent later, after a restart too.

One small file, written whole beside the old one and then put in its place. It also remembers what
was told and how much was sent lately, so that a restart neither repeats nor floods.
"""

from __future__ import annotations

import contextlib
import json
import os
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, Final

from monitor.notices import Notice, Told

FORMAT_VERSION: Final = 1
#: Notices that wait at most (our choice): at more, the oldest that is not high is left out.
MOST_WAITING: Final = 200


@dataclass(slots=True)
class Outbox:
    """`sent` are the Unix seconds of what went out in the last hour; `left_out` counts what was
    dropped since then; `beat` is when a sign of life was last delivered."""

    path: Path | None = None
    waiting: list[Notice] = field(default_factory=list)
    sent: list[float] = field(default_factory=list)
    told: dict[str, Told] = field(default_factory=dict)
    left_out: int = 0
    beat: float | None = None

    def put(self, notice: Notice) -> None:
        self.waiting.append(notice)
        if len(self.waiting) > MOST_WAITING:
            victims = [each for each in self.waiting if each.rank] or self.waiting
            self.waiting.remove(victims[0])
            self.left_out += 1

    def next(self) -> Notice | None:
        """What should go out first: high before the rest, then the oldest."""
        return min(self.waiting, key=lambda each: (each.rank, each.time), default=None)

    def gone(self, notice: Notice, wall: float) -> None:
        """It was delivered."""
        self.waiting.remove(notice)
        self.sent.append(wall)
        self.left_out = 0

    def sent_lately(self, wall: float) -> int:
        """How many went out within the hour before now; a clock set back forgets later ones."""
        self.sent = [each for each in self.sent if 0.0 <= wall - each < 3600.0]
        return len(self.sent)

    def save(self) -> str:
        """Put it on disk; why not, in words, where the disk refuses."""
        if self.path is None:
            return ""
        document = {
            "version": FORMAT_VERSION,
            "waiting": [asdict(each) for each in self.waiting],
            "sent": self.sent,
            "told": {key: asdict(told) for key, told in self.told.items()},
            "left_out": self.left_out,
            "beat": self.beat,
        }
        beside = self.path.with_name(self.path.name + ".new")
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with beside.open("w", encoding="utf-8") as file:
                json.dump(document, file, ensure_ascii=False)
                file.flush()
                os.fsync(file.fileno())
            beside.replace(self.path)
        except OSError as error:
            return f"{self.path}: {error.strerror or error}"
        return ""


def load_outbox(path: Path) -> Outbox:
    """What was left there; an empty one where there is nothing, or nothing that can be read.

    A broken file is set aside, not thrown away.
    """
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
        return _outbox(path, kept)
    except FileNotFoundError:
        return Outbox(path)
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        with contextlib.suppress(OSError):
            path.replace(path.with_name(path.name + ".aside"))
        return Outbox(path)


def _outbox(path: Path, kept: dict[str, Any]) -> Outbox:
    if kept["version"] != FORMAT_VERSION:
        raise ValueError("another version")
    beat = kept["beat"]
    return Outbox(
        path,
        [Notice.of(each) for each in kept["waiting"]],
        [float(each) for each in kept["sent"]],
        {str(key): Told(**told) for key, told in kept["told"].items()},
        int(kept["left_out"]),
        None if beat is None else float(beat),
    )
