"""Which lines of a device begin its sets, learned from the pauses before them.

A device that speaks unasked and marks no end sends its lines in bursts, one burst a period, in an
order of its own; the pause stands before the line that begins a set. What a reader knows, though,
is when it came to read a line, not when the line was sent: on a busy machine it sleeps, two bursts
come in one piece, and the pause seems to stand in the middle of a set. So one pause proves nothing.
Each kind of line is judged by its usual pauses over the last bursts, and by none of a piece that
holds more than one burst. Where that gives no clear answer, no set is told.
"""

from __future__ import annotations

from collections import deque
from typing import Final

#: The names of the fields that a line tells.
Kind = frozenset[str]

#: Pauses within a burst that are no pauses: USB adapters hand bytes on every 16 ms (common value).
BURST_SECONDS: Final = 0.03

#: A line that begins has at least half the widest usual pause of the others: in a device that
#: speaks evenly all lines have about the same, and any of them may begin; in a burst the others
#: have nearly none.
_SHARE: Final = 0.5

#: Two pauses that agree are enough to begin with: a reader would have to sleep twice at the very
#: same place to be misled.
_FEWEST: Final = 2

#: Bursts by which a kind is judged.
_MOST: Final = 25

#: The line that begins is taken at its shorter pauses and the others at their longer ones, each
#: with this part of its bursts left out as disturbed.
_DISTURBED: Final = 1.0 / 3.0

#: Kinds of line kept; a device has a dozen. Noise that looks like lines must not fill the memory.
_MOST_KINDS: Final = 64


class Beginnings:
    """`heard` is called for every line in order, `begins` asks whether a set may begin there."""

    def __init__(self) -> None:
        self._pauses: dict[Kind, deque[float]] = {}
        self._piece: list[tuple[Kind, float | None]] = []
        self._piece_seconds: float | None = None

    def heard(self, kind: Kind, seconds: float, pause: float | None) -> None:
        """A line read at `seconds`, `pause` after the one before (None: that is not known).

        Lines read at the same moment came in one piece.
        """
        if seconds != self._piece_seconds:
            self._settle_piece()
            self._piece_seconds = seconds
        self._piece.append((kind, pause))

    def begins(self, kinds: list[Kind]) -> bool:
        """Whether lines of these kinds, in this order, are known to stand in one set."""
        if any(len(self._of(kind)) < _FEWEST for kind in kinds):
            return False
        shortest = _rank(self._of(kinds[0]), _DISTURBED)
        widest = max(_rank(self._of(kind), 1.0 - _DISTURBED) for kind in kinds[1:])
        return shortest > max(BURST_SECONDS, _SHARE * widest)

    def _settle_piece(self) -> None:
        for kind, pause in self._trusted():
            if pause is None:
                continue
            if kind not in self._pauses and len(self._pauses) >= _MOST_KINDS:
                del self._pauses[next(iter(self._pauses))]
            self._pauses.setdefault(kind, deque(maxlen=_MOST)).append(pause)
        self._piece = []

    def _trusted(self) -> list[tuple[Kind, float | None]]:
        """The lines of the newest piece, unless it holds more than one burst."""
        kinds = {kind for kind, _ in self._piece}
        return self._piece if len(kinds) == len(self._piece) else []

    def _of(self, kind: Kind) -> list[float]:
        """Its last pauses, with those of the piece that is being read."""
        new = [pause for k, pause in self._trusted() if k == kind and pause is not None]
        return [*self._pauses.get(kind, ()), *new]


def _rank(pauses: list[float], share: float) -> float:
    """The pause below which that share of them lies; of few the shortest or the longest."""
    last = len(pauses) - 1
    at = int(share * last) if share < 0.5 else last - int((1.0 - share) * last)
    return sorted(pauses)[at]
