"""The last hours in columns: what the strip charts draw.

A store of fixed bins per bank, filled from the engine's `Glance` at every step, so that a chart
of any width costs the same and a spike between two columns is not lost. Bins come in three
widths, the wide ones made from the narrow ones as these are completed, so that a week fits into a
few hundred kilobytes.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from monitor.engine.snapshot import Glance, Stage


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a chart; figures are None where nothing was measured in its time.

    Means, except where named low or high; `stage` is the one that held longest.
    """

    seconds: float
    volts: float | None = None
    volts_low: float | None = None
    volts_high: float | None = None
    amps: float | None = None
    amps_low: float | None = None
    amps_high: float | None = None
    celsius: float | None = None
    soc: float | None = None
    stage: Stage | None = None


@dataclass(frozen=True, slots=True)
class Trend:
    """Columns from `start` to `end` monotonic seconds, oldest first, all equally wide."""

    start: float
    end: float
    columns: tuple[Column, ...]


class _Layer(NamedTuple):
    """Bins of one width, and how many of them are kept."""

    seconds: float
    kept: int


#: 4 h in 5 s bins, two days in minutes, a month in quarter hours; each a whole multiple of the one
#: before. About 8,600 bins a bank.
_LAYERS: Final = (_Layer(5.0, 2880), _Layer(60.0, 2880), _Layer(900.0, 2880))

#: The width of the coarsest bins: where a store may be cut (`rewind`) without a trace.
WIDEST_SECONDS: Final = _LAYERS[-1].seconds

#: A stage holds until the next glance, but a gap is not filled with it.
_LONGEST_HOLD_SECONDS: Final = 60.0


#: A column is made of at least so many bins where there are such: else their edges would show.
_BINS: Final = 4


class _Figure:
    """Count, sum, lowest and highest of one figure in one bin."""

    __slots__ = ("count", "high", "low", "total")

    def __init__(self) -> None:
        self.count, self.total, self.low, self.high = 0, 0.0, math.inf, -math.inf

    def add(self, figure: float) -> None:
        self.count += 1
        self.total += figure
        if figure < self.low:
            self.low = figure
        if figure > self.high:
            self.high = figure

    def merge(self, other: _Figure) -> None:
        self.count += other.count
        self.total += other.total
        self.low = min(self.low, other.low)
        self.high = max(self.high, other.high)

    @property
    def mean(self) -> float | None:
        return self.total / self.count if self.count else None


class _Bin:
    """What was seen from `index * width` on, for one width of bin."""

    __slots__ = ("amps", "celsius", "index", "soc", "stages", "volts")

    def __init__(self, index: int) -> None:
        self.index = index
        self.volts, self.amps = _Figure(), _Figure()
        self.celsius, self.soc = _Figure(), _Figure()
        self.stages: dict[Stage, float] = {}

    def add(self, glance: Glance, held: float) -> None:
        if glance.volts is not None:
            self.volts.add(glance.volts)
        if glance.amps is not None:
            self.amps.add(glance.amps)
        if glance.celsius is not None:
            self.celsius.add(glance.celsius)
        if glance.volts is None or glance.amps is None:
            return  # stage and charge stand still while the bank is not read: that is no course
        if glance.soc is not None:
            self.soc.add(glance.soc)
        if glance.stage is not None:
            self.stages[glance.stage] = self.stages.get(glance.stage, 0.0) + held

    def merge(self, other: _Bin) -> None:
        self.volts.merge(other.volts)
        self.amps.merge(other.amps)
        self.celsius.merge(other.celsius)
        self.soc.merge(other.soc)
        for stage, held in other.stages.items():
            self.stages[stage] = self.stages.get(stage, 0.0) + held

    def column(self, seconds: float) -> Column:
        volts, amps = self.volts, self.amps
        return Column(
            seconds=seconds,
            volts=volts.mean,
            volts_low=volts.low if volts.count else None,
            volts_high=volts.high if volts.count else None,
            amps=amps.mean,
            amps_low=amps.low if amps.count else None,
            amps_high=amps.high if amps.count else None,
            celsius=self.celsius.mean,
            soc=self.soc.mean,
            stage=max(self.stages, key=self.stages.__getitem__) if self.stages else None,
        )


@dataclass(slots=True)
class _Track:
    """One bank: the bins of every width, the newest of each last and still filling."""

    layers: tuple[deque[_Bin], ...] = field(
        default_factory=lambda: tuple(deque(maxlen=layer.kept) for layer in _LAYERS)
    )
    last: float = -math.inf

    def add(self, glance: Glance) -> None:
        if glance.seconds < self.last:
            return
        # Cut at the widest bins, so that a rewound store fills again exactly as before.
        edge = math.floor(glance.seconds / WIDEST_SECONDS) * WIDEST_SECONDS
        held = min(glance.seconds - max(self.last, edge), _LONGEST_HOLD_SECONDS)
        self.last = glance.seconds
        for bins, layer in zip(self.layers, _LAYERS, strict=True):
            index = math.floor(glance.seconds / layer.seconds)
            if not bins or bins[-1].index != index:
                bins.append(_Bin(index))
            bins[-1].add(glance, held)

    def rewind(self, seconds: float) -> None:
        for bins, layer in zip(self.layers, _LAYERS, strict=True):
            while bins and (bins[-1].index + 1) * layer.seconds > seconds:
                bins.pop()
        self.last = min(self.last, seconds)


class TrendStore:
    """What `trend` draws from: one track of bins per bank."""

    def __init__(self) -> None:
        self._tracks: dict[str, _Track] = {}

    def add(self, bank: str, glance: Glance) -> None:
        """Take in how a bank looks now. A glance older than the last is left out."""
        track = self._tracks.get(bank)
        if track is None:
            track = self._tracks[bank] = _Track()
        track.add(glance)

    def rewind(self, seconds: float) -> None:
        """Forget everything from `seconds` on; exact where it is a multiple of `WIDEST_SECONDS`."""
        for track in self._tracks.values():
            track.rewind(seconds)

    def trend(self, bank: str, window_seconds: float, columns: int) -> Trend:
        """The last `window_seconds` in so many columns; the newest column may still be filling.

        Columns lie on a fixed grid of their own width: all but the newest two never change.
        """
        columns = max(1, columns)
        width = window_seconds / columns
        track = self._tracks.get(bank)
        last = track.last if track is not None and math.isfinite(track.last) else 0.0
        end = (math.floor(last / width) + 1) * width
        start = end - columns * width
        merged: dict[int, _Bin] = {}
        if track is not None:
            bins, bin_seconds = _layer_for(track, width, start)
            _merge_into(merged, bins, bin_seconds, start, width, columns)
        times = (start + place * width for place in range(columns))
        return Trend(
            start,
            end,
            tuple(
                merged[place].column(seconds) if place in merged else Column(seconds)
                for place, seconds in enumerate(times)
            ),
        )


def _layer_for(track: _Track, width: float, start: float) -> tuple[deque[_Bin], float]:
    """The widest bins that give a column enough of them, or wider ones where these reach back."""
    chosen = 0
    for place, layer in enumerate(_LAYERS):
        bins = track.layers[place]
        reaches = len(bins) < layer.kept or bins[0].index * layer.seconds <= start
        chosen = place
        if reaches and (place + 1 == len(_LAYERS) or _LAYERS[place + 1].seconds * _BINS > width):
            break
    return track.layers[chosen], _LAYERS[chosen].seconds


def _merge_into(
    merged: dict[int, _Bin],
    bins: deque[_Bin],
    bin_seconds: float,
    start: float,
    width: float,
    columns: int,
) -> None:
    """Sort bins into columns by their middle; a bin wider than a column fills all it covers."""
    for one in reversed(bins):
        begin = one.index * bin_seconds
        if begin + bin_seconds <= start:
            break
        if bin_seconds <= width:
            first = last = math.floor((begin + bin_seconds / 2 - start) / width)
        else:
            first = math.ceil((begin - start) / width - 0.5)
            last = math.ceil((begin + bin_seconds - start) / width - 0.5) - 1
        for place in range(max(first, 0), min(last, columns - 1) + 1):
            merged.setdefault(place, _Bin(place)).merge(one)
