"""How far acquisition has come, for whoever must know that it is not stuck."""

from __future__ import annotations

from typing import NamedTuple


class ReaderPulse(NamedTuple):
    """One device's reader: seconds since it last went round its loop, answer or not."""

    device: str
    age_seconds: float
    period_seconds: float


class Pulse(NamedTuple):
    """`taken` counts the inputs that went through the recorder and the engine."""

    taken: int
    readers: tuple[ReaderPulse, ...]
