"""What was learned of this bank and its installation: each figure with its uncertainty and date.

The rooms that learn hold what they need to go on; this one keeps the ledger a person can read and
that outlives a restart: figure, standard deviation, and when it was last news. News is a figure
that became surer, or that moved by a good part of its own uncertainty. The date is monotonic
seconds, with the wall clock's offset where that was known then.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, ClassVar, Final

from monitor.engine.snapshot import Estimate, Learned
from monitor.engine.state import Json
from monitor.engine.unknowns import GASSING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from monitor.engine.charge import ChargeFilter
    from monitor.engine.setpoints import Level
    from monitor.engine.source import SourceRoom
    from monitor.engine.stage import StageFilter

#: A deviation that shrank by this share since the last date, or a figure that moved by this share
#: of its deviation, is news (our choice: less is the filters' breathing).
SURER: Final = 0.02
MOVED: Final = 0.25


Get = Callable[["StageFilter", "ChargeFilter"], Estimate]


def _level(level: Level, cells: int) -> Estimate:
    if level.seen <= 0.0:
        return Estimate(None, None)
    return Estimate(level.mean * cells, level.sd * cells)


def _roughly(figure: float | None, least: float) -> Estimate:
    """A taper's figure, whose error is known only roughly: a share of itself, and so much."""
    if figure is None:
        return Estimate(None, None)
    return Estimate(figure, max(TAPER_SHARE * abs(figure), least))


def _set_point(name: str) -> Get:
    def get(stage: StageFilter, _: ChargeFilter) -> Estimate:
        points = stage.set_points
        return _level(getattr(points, name), points.cells)

    return get


def _efficiency(_: StageFilter, charge: ChargeFilter) -> Estimate:
    """What gas and the loss beside charging leave of C/20; LFP loses next to nothing."""
    gas = charge.circuit.gassing if charge.circuit.lead else 0.0
    stored = 1.0 / (1.0 + charge.circuit.share(HIGH_SOC))
    sd = gas * charge.belief.sd(GASSING) / HIGH_RATE
    return Estimate(max(0.0, 1.0 - gas / HIGH_RATE) * stored, sd * stored)


def _resistance(_: StageFilter, charge: ChargeFilter) -> Estimate:
    return charge.resistance.view()


def _taper_time(stage: StageFilter, _: ChargeFilter) -> Estimate:
    return _roughly(stage.taper_seconds, TAPER_LEAST_SECONDS)


def _taper_floor(stage: StageFilter, charge: ChargeFilter) -> Estimate:
    return _roughly(stage.taper_floor, TAPER_LEAST_RATE * charge.bank.amp_hours)


#: Where charging is judged: a rate and a fraction of charge at which it loses a good part.
HIGH_RATE: Final = 0.05
HIGH_SOC: Final = 0.9
#: A taper's line is fitted to forty points that scatter by about a fifth (from memory).
TAPER_SHARE: Final = 0.2
TAPER_LEAST_SECONDS: Final = 60.0
TAPER_LEAST_RATE: Final = 0.0005

#: Name, unit, words, and where the figure comes from: one row for each learned thing.
TABLE: Final[tuple[tuple[str, str, str, Get], ...]] = (
    ("absorption-set-point", "V", "absorption set-point at 25 °C", _set_point("absorption")),
    ("float-set-point", "V", "float set-point at 25 °C", _set_point("float_")),
    ("low-hold-set-point", "V", "low hold at 25 °C", _set_point("low_hold")),
    ("fixed-set-point", "V", "voltage of a source that never stages", _set_point("fixed")),
    (
        "sensor-offset",
        "A",
        "what the current sensor shows when nothing flows",
        lambda _, charge: Estimate(charge.offset_amps, charge.offset_amps_sd),
    ),
    (
        "resistance",
        "mohm",
        "the bank's own resistance at 25 °C",
        _resistance,
    ),
    (
        "usable-capacity",
        "Ah",
        "usable capacity at the 20 h rate and 25 °C",
        lambda _, charge: Estimate(charge.capacity_ah, charge.capacity_ah_sd),
    ),
    (
        "charge-efficiency",
        "",
        "share of the current that is stored at C/20, 90 % full and 2.40 V a cell",
        _efficiency,
    ),
    (
        "taper-time",
        "s",
        "time constant of the taper",
        _taper_time,
    ),
    (
        "taper-floor",
        "A",
        "current that the taper heads for",
        _taper_floor,
    ),
)


#: These start from what is usual for a bank of this kind; the others are nothing until seen.
ASSUMED: Final = frozenset({"sensor-offset", "usable-capacity", "charge-efficiency"})


class Ledger:
    """`look` once a minute; `view` for whoever asks. Kept by name, so that the table may grow."""

    KEPT: ClassVar[tuple[str, ...]] = ("memory",)
    __slots__ = ("memory",)

    def __init__(self) -> None:
        #: By name: figure, sd, and figure, sd, seconds, wall offset (or None) when last news.
        self.memory: Json = {}

    def look(
        self,
        stage: StageFilter,
        charge: ChargeFilter,
        sources: Iterable[SourceRoom],
        seconds: float,
        wall_offset: float | None,
    ) -> None:
        for name, _, _, get in TABLE:
            figure, sd, _ = get(stage, charge)
            if figure is not None and sd is not None:
                self._note(name, figure, sd, seconds, wall_offset)
        for room in sources:
            figure, sd, _ = room.lead_estimate()
            if figure is not None and sd is not None:
                self._note(_lead(room.source.id), figure, sd, seconds, wall_offset)

    def _note(
        self, name: str, figure: float, sd: float, seconds: float, wall_offset: float | None
    ) -> None:
        entry = self.memory.get(name)
        if entry is None:
            date = (None, None) if name in ASSUMED else (seconds, wall_offset)
            self.memory[name] = [figure, sd, figure, sd, *date]
            return
        entry[0], entry[1] = figure, sd
        if sd < (1.0 - SURER) * entry[3] or abs(figure - entry[2]) > MOVED * entry[3]:
            entry[2:] = [figure, sd, seconds, wall_offset]

    def forget(self, names: frozenset[str]) -> None:
        for name in names:
            self.memory.pop(name, None)

    def view(self, sources: Iterable[SourceRoom]) -> tuple[Learned, ...]:
        rows: list[tuple[str, str, str]] = [(name, unit, words) for name, unit, words, _ in TABLE]
        rows += [
            (_lead(room.source.id), "mohm", f"leads between {room.source.id} and the posts")
            for room in sources
        ]
        found = []
        for name, unit, words in rows:
            entry: list[Any] | None = self.memory.get(name)
            if entry is not None:
                found.append(Learned(name, words, unit, *entry[:2], *entry[4:]))
        return tuple(found)


def _lead(source: str) -> str:
    return f"lead-resistance/{source}"


#: What belongs to the batteries themselves, and goes when they go.
OF_THE_BANK: Final = frozenset(
    {"resistance", "usable-capacity", "charge-efficiency", "taper-time", "taper-floor"}
)
