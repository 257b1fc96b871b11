"""Which conductor: by drop *and* by ampacity *and* by a fuse that fits, several side by side.

The drop is a fraction of the nominal voltage, as in ABYC E-11: 3 % for feeders, 10 % where it does
not matter. For a cable that *charges* the default is 1.5 %, tighter on purpose (`CHARGING_DROP`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from monitor.sizing.ampacity import TABLE_CELSIUS, ampacity
from monitor.sizing.cable import METRES_PER_FOOT, Drop, running_drop
from monitor.sizing.conductors import Conductor, gauges, metric_sizes
from monitor.sizing.fuses import CONTINUOUS, fuse_amps

#: Of nominal, there and back. 1.5 % of 12 V is 0.18 V: as much as lead-acid wants its set-point
#: moved for 6 °C (-5 mV a cell). At 3 % the posts miss more than most set-point tolerances
#: allow while the current is high, and a charger that counts its absorption from its own terminals
#: starts that clock early (our choice; ABYC E-11 asks no more than 3 % of any critical circuit).
CHARGING_DROP: Final = 0.015
#: ABYC E-11: feeders, panels, electronics, blowers; and what is not critical.
FEEDER_DROP: Final = 0.03
NON_CRITICAL_DROP: Final = 0.10

#: Our resistances meet NEC Chapter 9 Table 8 to half a percent: a finer verdict would be for show.
TABLE_ACCURACY: Final = 0.005

#: Cables side by side are ways of 1/0 (50 mm2) and up only (NEC 310.10: conductors in parallel).
PARALLEL_SQUARE_MM: Final = 49.0
MOST_PARALLEL: Final = 3
#: Hardly sold (common practice), and without an SAE area: never proposed, only judged when asked.
NOT_OFFERED: Final = frozenset({"3"})

#: Ohm circular mils a foot of copper in ABYC E-11 (from memory; NBS Handbook 100 has 11.1).
RULE_OHMS: Final = 10.75


@dataclass(frozen=True, slots=True)
class CableRun:
    """What the cable must do. Metres one way; `drop` a fraction of `nominal_volts`."""

    amps: float
    one_way_metres: float
    nominal_volts: float
    drop: float = CHARGING_DROP
    insulation: int = 105
    air_celsius: float = TABLE_CELSIUS
    engine_space: bool = False
    bundled: int = 2
    joint_ohms: float = 0.0

    @property
    def drop_volts(self) -> float:
        return self.drop * self.nominal_volts

    @property
    def air(self) -> float:
        """°C of the air that counts: an engine space is 50 °C at least."""
        return max(self.air_celsius, 50.0) if self.engine_space else self.air_celsius


@dataclass(frozen=True, slots=True)
class Option:
    """One conductor against the wanted. `why_not` empty where it will do."""

    conductor: Conductor
    parallel: int
    drop: Drop
    drop_fraction: float
    ampacity: float
    fuse: float | None
    why_not: tuple[str, ...]

    @property
    def suits(self) -> bool:
        return not self.why_not

    @property
    def name(self) -> str:
        words = self.conductor.name if self.conductor.metric else f"{self.conductor.name} AWG"
        return f"{self.parallel} x {words}" if self.parallel > 1 else words


def judge(wanted: CableRun, conductor: Conductor, parallel: int = 1) -> Option:
    """One conductor, or several alike side by side, against everything that is asked of it.

    The fuse is for each conductor of a parallel set together: it may not exceed what they carry.
    """
    # conductors side by side lie in one bundle, there and back
    bundled = wanted.bundled if parallel == 1 else max(wanted.bundled, 2 * parallel)
    drop = running_drop(
        conductor,
        wanted.one_way_metres,
        wanted.amps,
        wanted.insulation,
        air_celsius=wanted.air,
        bundled=bundled,
        parallel=parallel,
        joint_ohms=wanted.joint_ohms,
    )
    most = parallel * ampacity(
        conductor,
        wanted.insulation,
        air_celsius=wanted.air_celsius,
        engine_space=wanted.engine_space,
        bundled=bundled,
    )
    fuse = fuse_amps(wanted.amps, most)
    whys = []
    if most < wanted.amps:
        whys.append(f"may carry {most:.0f} A only")
    elif fuse is None:
        least = CONTINUOUS * wanted.amps
        whys.append(f"no fuse of {least:.0f} A or more is within its {most:.0f} A")
    fraction = drop.volts / wanted.nominal_volts
    if fraction > wanted.drop * (1.0 + TABLE_ACCURACY):
        whys.append(f"drops {100 * fraction:.2f} %, over {100 * wanted.drop:g} %")
    return Option(conductor, parallel, drop, fraction, most, fuse, tuple(whys))


def candidates(*, metric: bool, tinned: bool = False, sae: bool = False) -> tuple[Conductor, ...]:
    rows = metric_sizes(tinned=tinned) if metric else gauges(tinned=tinned, sae=sae)
    return tuple(row for row in rows if row.name not in NOT_OFFERED)


def smallest(wanted: CableRun, rows: tuple[Conductor, ...]) -> Option | None:
    """The thinnest conductor that will do, then the fewest side by side; None where none does."""
    for parallel in range(1, MOST_PARALLEL + 1):
        for row in rows:
            if parallel > 1 and row.square_mm < PARALLEL_SQUARE_MM:
                continue
            option = judge(wanted, row, parallel)
            if option.suits:
                return option
    return None


def side_by_side(
    wanted: CableRun, rows: tuple[Conductor, ...], thinner: int = 2, thicker: int = 1
) -> tuple[Option, ...]:
    """The choice with its neighbours; the thickest few where nothing will do."""
    choice = smallest(wanted, rows)
    if choice is None:
        return tuple(judge(wanted, row) for row in rows[-(thinner + thicker) :])
    at = rows.index(choice.conductor)
    near = rows[max(0, at - thinner) : at + thicker + 1]
    return tuple(judge(wanted, row, choice.parallel) for row in near)


def rule_circular_mils(amps: float, round_trip_feet: float, drop_volts: float) -> float:
    """ABYC E-11's own rule, CM = 10.75 I L / E: a second opinion, blind to heat and ampacity.

    12 V, 10 A, 21 ft there and back, 3 % -> 6 271 circular mils.
    """
    return RULE_OHMS * amps * round_trip_feet / drop_volts


def rule_choice(wanted: CableRun) -> Conductor | None:
    """The AWG size, by SAE areas, that ABYC's rule gives for this circuit's drop alone."""
    feet = 2.0 * wanted.one_way_metres / METRES_PER_FOOT
    least = rule_circular_mils(wanted.amps, feet, wanted.drop_volts)
    return next((row for row in gauges(sae=True) if row.circular_mils >= least - 0.5), None)
