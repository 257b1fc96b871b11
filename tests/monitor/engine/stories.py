"""Made-up days of a made-up bank, in units of any bank: cell volts, C20 amps, °C.

A `Spell` is some minutes of one kind: a source that gives so much up to the voltage it holds, a
load, nothing at all, or silence. `told` strings spells into moments by a circuit of its own (one
resistance, one slow voltage, a tail that falls as the bank fills): enough for stages to come and
go, and not the engine's. `readings` makes a bank of any size say it. Powers of two in cells and
ampere-hours leave every bit of the mantissa alone, noise and steps alike.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from random import Random
from typing import Final, NamedTuple

from adapters.reading import Channel, Quantity, Reading
from monitor.bank import Bank, Chemistry
from tests.monitor.engine.sites import AMPS, CELSIUS, VOLTS

#: Volts per cell that a source without set-points of its own holds: absorption, then float.
NOISE_CELL: Final = 0.001
STEP_CELL: Final = 1.0 / 1024.0  # about 6 mV in 12 V, and a power of two
NOISE_RATE: Final = 0.0005
STEP_RATE: Final = 1.0 / 4096.0  # 0.05 A of 200 Ah
OHM: Final = 0.12  # volts per cell and C20
SLOW: Final = 0.06  # volts per cell at the end of a long charge
SLOW_HOURS: Final = 1.0


class Spell(NamedTuple):
    """`kind` is charge, float, load, rest or silence; `rate` what source or load moves, C20."""

    kind: str
    minutes: float
    rate: float


class Moment(NamedTuple):
    seconds: float
    cell: float
    rate: float
    celsius: float | None


def told(
    chemistry: Chemistry,
    spells: Iterable[Spell],
    *,
    seed: int = 1,
    period: float = 60.0,
    soc: float = 0.6,
    celsius: float | None = 20.0,
) -> list[Moment]:
    """The moments of these spells, one every `period` seconds."""
    random = Random(seed)
    seconds = 0.0
    slow = 0.0
    moments = []
    for spell in spells:
        until = seconds + 60.0 * spell.minutes
        if spell.kind == "silence":
            seconds = until
            continue
        while seconds < until:
            rest = _rest(chemistry, soc)
            if spell.kind in ("charge", "float"):
                aim = chemistry.absorption if spell.kind == "charge" else chemistry.float_
                missing = max(1.0 - soc, 1e-3)
                rate = (aim.typical - rest - slow) / (OHM + 0.3 / missing)
                rate = min(spell.rate, max(0.0, rate) + 0.002)
                cell = min(aim.typical, rest + slow + rate * (OHM + 0.3 / missing))
                level = SLOW
            else:
                rate = -spell.rate if spell.kind == "load" else 0.0
                cell = rest + slow + rate * OHM
                level = 0.0
            hours = period / 3600.0
            soc = min(1.0, max(0.02, soc + rate * hours * (0.9 if rate > 0.0 else 1.0)))
            slow += min(1.0, hours / SLOW_HOURS) * (level - slow)
            moments.append(
                Moment(
                    seconds,
                    _stepped(cell + random.gauss(0.0, NOISE_CELL), STEP_CELL),
                    _stepped(rate + random.gauss(0.0, NOISE_RATE), STEP_RATE),
                    celsius,
                )
            )
            seconds += period
    return moments


def readings(
    bank: Bank, moments: Iterable[Moment], more: tuple[tuple[Channel, float | str], ...] = ()
) -> list[Reading]:
    """What the shunt of this bank says of these moments."""
    volts = Channel(bank.id, Quantity.BANK_VOLTS)
    amps = Channel(bank.id, Quantity.BANK_AMPS)
    celsius = Channel(bank.id, Quantity.BANK_CELSIUS)
    assert (volts, amps, celsius) == (VOLTS, AMPS, CELSIUS)
    given = []
    for moment in moments:
        values: list[tuple[Channel, float | str]] = [
            (volts, moment.cell * bank.cells),
            (amps, moment.rate * bank.amp_hours),
        ]
        if moment.celsius is not None:
            values.append((celsius, moment.celsius))
        given.append(Reading(moment.seconds, "shunt", (*values, *more)))
    return given


def _stepped(figure: float, step: float) -> float:
    return round(figure / step) * step


def _rest(chemistry: Chemistry, soc: float) -> float:
    curve = chemistry.rest_volts
    for (low_soc, low), (high_soc, high) in pairwise(curve):
        if soc <= high_soc:
            return low + (soc - low_soc) / (high_soc - low_soc) * (high - low)
    return curve[-1][1]
