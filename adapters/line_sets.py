"""From a stream of bytes to complete sets of figures, through any amount of garbage.

`LineSplitter` cuts bytes into lines of bounded length; `SetCollector` gathers the figures of
several lines until the set is complete. Both take what comes, raise nothing, and keep count of
what they threw away. Neither knows a clock: arrival times are passed in.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from adapters.conversion import Decoded, Measurand
from adapters.line_beginnings import BURST_SECONDS, Beginnings, Kind
from adapters.text_lines import LinesDescription

#: A pause inside a set is the true beginning when it is this much wider than the one before the
#: set: lines spread evenly over the period differ by less.
_WIDER: Final = 2.0


class LineSplitter:
    """Bytes in, whole lines out. Lines end with CR, LF or both.

    A reader that joins a talking device lands in the middle of a line, so with `joining` what
    comes before the first line end is thrown away. A line longer than `longest` is thrown away up
    to its end; so is one that is not text.
    """

    def __init__(self, longest: int, *, joining: bool) -> None:
        self._longest = longest
        self._skipping = joining
        self._rest = b""
        self.thrown_away = 0

    def feed(self, data: bytes) -> list[str]:
        """The lines that these bytes complete."""
        *ended, rest = (self._rest + data).replace(b"\r", b"\n").split(b"\n")
        lines = []
        for line in ended:
            if self._skipping:
                self._skipping = False
            elif len(line) > self._longest:
                self.thrown_away += 1
            elif line.strip() and (text := self._text(line)) is not None:
                lines.append(text)
        if len(rest) > self._longest:
            self.thrown_away += not self._skipping
            self._skipping, rest = True, b""
        # What is skipped anyway need not be kept.
        self._rest = b"" if self._skipping else rest
        return lines

    def _text(self, line: bytes) -> str | None:
        try:
            text = line.decode("utf-8")
        except UnicodeDecodeError:
            self.thrown_away += 1
            return None
        if all(character.isprintable() or character == "\t" for character in text):
            return text.strip()
        self.thrown_away += 1
        return None


class _Line(NamedTuple):
    """What one line told, when it came, and how long after the line before it."""

    texts: dict[str, str]
    seconds: float
    gap: float

    @property
    def kind(self) -> Kind:
        return frozenset(self.texts)


class SetCollector:
    """Lines in, complete sets out; figures of different moments are never told as one.

    A set is complete when every field that is not optional has come, or at the end marker if the
    device sends one. Without a marker a reader that joins between two lines of a set, or misses
    one, would for ever pair the end of one set with the beginning of the next. So a set begins
    anew when a field comes twice, when it takes longer than `longest_seconds`, and at a pause
    inside it that is wider than the pause before it: devices speak in bursts. And a set of several
    lines is told only once it is known which line begins one (`Beginnings`), from the third burst
    on: when lines are read is a poor witness on a busy machine.
    """

    def __init__(self, description: LinesDescription, longest_seconds: float) -> None:
        self._description = description
        self._longest = longest_seconds
        self._lines: list[_Line] = []
        self._last: float | None = None
        self._asked = False
        self._beginnings = Beginnings()
        self.garbage = 0
        self.broken_sets = 0

    def begin(self) -> None:
        """What comes next begins a set for certain: the device has just been asked."""
        self._lines = []
        self._last = -math.inf
        self._asked = True

    def feed(self, line: str, seconds: float) -> Decoded | None:
        """The set that this line completes, or None."""
        if self._description.is_end(line):
            return self._finish()
        texts = self._description.parse(line)
        if texts is None:
            self.garbage += 1
            return None
        if texts:
            self._add(texts, seconds)
        if not self._lines or self._description.end_marker or self.missing():
            return None
        return self._finish()

    def missing(self) -> tuple[Measurand, ...]:
        """What the set being gathered still waits for."""
        return self._description.missing(self._texts())

    def _add(self, texts: dict[str, str], seconds: float) -> None:
        pause = None if self._last is None else seconds - self._last
        gap = pause or 0.0
        self._last = seconds
        self._beginnings.heard(frozenset(texts), seconds, pause)
        late = self._lines and seconds - self._lines[0].seconds > self._longest
        if late or not self._texts().keys().isdisjoint(texts):
            self._start_anew(len(self._lines))
        self._lines.append(_Line(texts, seconds, gap))

    def _texts(self) -> dict[str, str]:
        return {spot: text for line in self._lines for spot, text in line.texts.items()}

    def _finish(self) -> Decoded | None:
        if not self._lines:
            return None
        if self.missing():
            self._start_anew(len(self._lines))
            return None
        if not self._description.end_marker and (torn_at := self._torn_at()):
            self._start_anew(torn_at)
            return None
        if self._drop_what_does_not_begin() and self.missing():
            return None
        decoded = self._description.decode(self._texts())
        self._lines = []
        return decoded

    def _drop_what_does_not_begin(self) -> bool:
        """Give up lines in front until one is known to begin a set, or stands alone."""
        if self._asked or self._description.end_marker:
            return False
        before = len(self._lines)
        while len(self._lines) > 1:
            if self._beginnings.begins([line.kind for line in self._lines]):
                break
            self._lines = self._lines[1:]
        return len(self._lines) < before

    def _torn_at(self) -> int:
        """The line before which the device paused for longer than before the set, or 0."""
        widest = max(range(len(self._lines)), key=lambda at: self._lines[at].gap)
        pause = max(_WIDER * self._lines[0].gap, BURST_SECONDS)
        return widest if self._lines[widest].gap > pause else 0

    def _start_anew(self, line: int) -> None:
        """Give up what came before this line of the set being gathered."""
        self.broken_sets += 1
        self._lines = self._lines[line:]
