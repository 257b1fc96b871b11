"""Reading the registers of one model, poll after poll, in as few requests as it can take.

Id and length are read along each time: where they are not what the walk found, the device has
another map by now and nothing of what came is used. Where a model needs more than one request its
scale factors are read once more at the end, for they may have changed in between.

A request that the device refuses is halved, on the borders of points, down to single points; one
that fails (busy, broken, silent) is left alone for a while, longer each time, so that a block that
is dead does not take the time of those that live.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final, NamedTuple

from adapters.adapter import LinkError, LinkLost
from adapters.modbus_link import Refused
from adapters.sunspec.meanings import HEARTBEAT
from adapters.sunspec.models import HEADER, Placed, Values, decode, models
from adapters.sunspec.walk import Found, Read

#: A heart that beats once a second and has not for this long has stopped; ten beats forgive a slow
#: gateway (our choice).
HEARTBEAT_SECONDS: Final = 10.0

#: Polls that a failing model is left alone, at most: a minute at one poll a second.
_LONGEST_REST: Final = 60


#: Refusals in a row after which a model is taken to end there: a point refused on its own is
#: ordinary, twenty in a row with their halves are a map that is not there (our choice).
_MOST_REFUSALS: Final = 48
#: Points named in one line.
_MOST_NAMES: Final = 12


class MapChangedError(LinkError):
    """The device no longer has this model at this place."""


class _Span(NamedTuple):
    """Points read by one request; offsets from the id of the model."""

    points: tuple[Placed, ...]

    @property
    def start(self) -> int:
        return self.points[0].offset

    @property
    def end(self) -> int:
        return max(point.end for point in self.points)


class ModelReader:
    """One model of a device. `trouble` says what is wrong with it now, empty when nothing is."""

    def __init__(
        self, found: Found, points: Sequence[Placed], longest: int, clock: Callable[[], float]
    ) -> None:
        self.found = found
        self.trouble = ""
        self._model = models()[found.id]
        self._clock = clock
        self._longest = longest
        self._points = tuple(points)
        self._spans = self._cut()
        self._refused: dict[str, str] = {}
        self._in_vain = 0
        self.failures = 0
        self._rest = 0
        self._beat: object = None
        self._beat_since = self._looked = clock()
        self._beats = False

    def rests(self) -> bool:
        """Whether the model is left alone in this poll, which counts as one of its rest."""
        self._rest = max(0, self._rest - 1)
        return self._rest > 0

    def wake(self) -> None:
        """Rest no longer: where no model can be read, none is to blame."""
        self._rest = 0

    async def read(self, read: Read) -> Values:
        """The values of this moment; `LinkError` where there are none to be believed."""
        try:
            values = await self._values(read)
        except (LinkLost, MapChangedError):
            raise
        except LinkError as fault:
            self.failures += 1
            self._rest = min(2 ** (self.failures - 1), _LONGEST_REST)
            self.trouble = f"{self.found} not read: {fault}"
            raise
        self.failures = self._rest = 0
        self.trouble = self._refusals()
        return values

    def _cut(self) -> list[_Span]:
        """The points in requests as long as allowed, the header in the first."""
        header = [p for p in self._header() if p not in self._points]
        spans: list[_Span] = []
        gathered: list[Placed] = []
        for point in (*header, *self._points):
            if gathered and point.end - gathered[0].offset > self._longest:
                spans.append(_Span(tuple(gathered)))
                gathered = []
            gathered.append(point)
        return [*spans, _Span(tuple(gathered))]

    def _header(self) -> tuple[Placed, ...]:
        first, second, *_ = self._model.points.values()
        return Placed(first, 0), Placed(second, 1)

    async def _values(self, read: Read) -> Values:
        words: dict[int, int] = {}
        for span in list(self._spans):
            words.update(await self._span(read, span))
            self._check_header(words)
        if len(self._spans) > 1:
            await self._check_scales(read, words)
        if not words.keys() - set(range(HEADER)):
            raise LinkError(self._refusals() or "the device refuses it")
        values = decode(self._model, self.found.length, words)
        self._check_heartbeat(values)
        return values

    async def _span(self, read: Read, span: _Span) -> dict[int, int]:
        """The words of a span, or of those parts of it that are not refused.

        A length that is garbage makes thousands of points that do not exist: after so many
        refusals in a row the rest is not asked for.
        """
        if self._in_vain >= _MOST_REFUSALS:
            self._spans.remove(span)
            self._refused.setdefault("and more", "not asked for any more")
            return {}
        try:
            words = await read(self.found.address + span.start, span.end - span.start)
        except Refused as refusal:
            self._in_vain += 1
            parts = _halves(span)
            at = self._spans.index(span)
            self._spans[at : at + 1] = parts
            if not parts:
                self._refused[span.points[0].point.name] = str(refusal)
            found: dict[int, int] = {}
            for part in parts:
                found.update(await self._span(read, part))
            return found
        self._in_vain = 0
        return {span.start + index: word for index, word in enumerate(words)}

    def _check_header(self, words: dict[int, int]) -> None:
        """Whatever is not refused must be what the walk found."""
        expected = (self.found.id, self.found.length)
        for at, word in enumerate(expected):
            if words.get(at, word) != word:
                raise MapChangedError(
                    f"{self.found} is no longer there (found id {words.get(0, '?')}, length "
                    f"{words.get(1, '?')}): the device has changed its map, which is read anew"
                )

    async def _check_scales(self, read: Read, words: dict[int, int]) -> None:
        places = [p for p in self._points if p.point.type == "sunssf" and p.offset in words]
        if not places:
            return
        first, last = places[0].offset, places[-1].offset
        try:
            again = await read(self.found.address + first, last + 1 - first)
        except Refused:
            again = []
            for place in places:
                again += await read(self.found.address + place.offset, 1)
            pairs = list(zip(places, again, strict=True))
        else:
            pairs = [(place, again[place.offset - first]) for place in places]
        if any(words[place.offset] != word for place, word in pairs):
            raise LinkError("its scale factors changed while it was read")

    def _check_heartbeat(self, values: Values) -> None:
        """A heart that once beat and stands still: what is told then is old.

        Only looks that follow each other closely count: a beat that starts again from 0 now and
        then looks the same to one who looks rarely.
        """
        name = HEARTBEAT.get(self.found.id)
        beat = values.at(name) if name else None
        if beat is None:
            return
        now = self._clock()
        if beat != self._beat:
            self._beats = self._beats or self._beat is not None
            self._beat, self._beat_since = beat, now
        elif now - self._looked > HEARTBEAT_SECONDS / 2:
            self._beat_since = now
        elif self._beats and now - self._beat_since > HEARTBEAT_SECONDS:
            self._looked = now
            raise LinkError("the battery behind it has stopped: its heartbeat stands still")
        self._looked = now

    def _refusals(self) -> str:
        if not self._refused:
            return ""
        reasons = ", ".join(dict.fromkeys(self._refused.values()))
        names = ", ".join(list(self._refused)[:_MOST_NAMES])
        return f"{self.found}: the device refuses {names} ({reasons})"


def _halves(span: _Span) -> list[_Span]:
    """A span in two, cut between points near its middle; nothing where it is one point."""
    if len(span.points) == 1:
        return []
    middle = (span.start + span.end) / 2
    cut = min(range(1, len(span.points)), key=lambda at: abs(span.points[at].offset - middle))
    return [_Span(span.points[:cut]), _Span(span.points[cut:])]
