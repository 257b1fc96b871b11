"""From a stream of bytes to complete sets of figures, through any amount of garbage.

`LineSplitter` cuts bytes into lines of bounded length; `SetCollector` gathers the figures of
several lines until the set is complete. Both take what comes, raise nothing, and keep count of
what they threw away. Neither knows a clock: arrival times are passed in.
"""

from __future__ import annotations

from adapters.conversion import Decoded, Measurand
from adapters.text_lines import LinesDescription


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


class SetCollector:
    """Lines in, complete sets out.

    A set is complete when every field that is not optional has come, or at the end marker if the
    device sends one. A field that comes twice begins a new set, and so does a pause longer than
    `longest_seconds`: figures of different moments are never told as one.
    """

    def __init__(self, description: LinesDescription, longest_seconds: float) -> None:
        self._description = description
        self._longest = longest_seconds
        self._texts: dict[str, str] = {}
        self._began = 0.0
        self.garbage = 0
        self.broken_sets = 0

    def feed(self, line: str, seconds: float) -> Decoded | None:
        """The set that this line completes, or None."""
        if self._texts and seconds - self._began > self._longest:
            self._give_up()
        if self._description.is_end(line):
            return self._finish()
        texts = self._description.parse(line)
        if texts is None:
            self.garbage += 1
            return None
        if not self._texts.keys().isdisjoint(texts):
            self._give_up()
        if not self._texts:
            self._began = seconds
        self._texts.update(texts)
        if self._description.end_marker or self._description.missing(self._texts):
            return None
        return self._finish()

    def missing(self) -> tuple[Measurand, ...]:
        """What the set being gathered still waits for."""
        return self._description.missing(self._texts)

    def _finish(self) -> Decoded | None:
        if not self._texts:
            return None
        if self.missing():
            self._give_up()
            return None
        decoded = self._description.decode(self._texts)
        self._texts = {}
        return decoded

    def _give_up(self) -> None:
        self.broken_sets += 1
        self._texts = {}
