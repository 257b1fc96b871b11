"""The stages in the order in which probabilities and scores are listed."""

from __future__ import annotations

from typing import Final

from monitor.engine.snapshot import Stage

STAGES: Final = tuple(Stage)
REST: Final = 0
DISCHARGE: Final = 1
BULK: Final = 2
ABSORPTION: Final = 3
FLOAT: Final = 4
EQUALIZE: Final = 5
FIXED: Final = 6
