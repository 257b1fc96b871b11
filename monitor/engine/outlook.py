"""What is known of one bank at one moment, frozen: all that questions about the future need.

Taken from the rooms by `outlook`; nothing in it changes afterwards, so that whoever plans asks pure
functions (`plan.py`, `plan_generator.py`, `plan_load.py`) and may ask them again.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from monitor.bank import REFERENCE_CELSIUS, Bank, Source
from monitor.engine.as_of import why_not_now
from monitor.engine.by_hour import DAY_SECONDS, HOUR_SECONDS, HOURS, SUN_SHARE, Hourly, Total
from monitor.engine.daylight import Place, clear_share
from monitor.engine.resistance import PER_CELSIUS
from monitor.engine.snapshot import Estimate, Stage
from monitor.engine.unknowns import SOC

if TYPE_CHECKING:
    from monitor.engine.by_hour import ByHour
    from monitor.engine.engine import Engine
    from monitor.engine.rooms import BankRooms

#: An hour whose loads were never seen draws what the others do, or what a house bank is made for
#: (common practice: three to five days' use, so about a hundredth of it an hour), and may as well
#: draw nothing or twice as much (ours).
UNSEEN_RATE: Final = 0.01
#: How far the load of this moment may be from that of the hours to come, as a share (ours).
GOES_ON_SHARE: Final = 0.5
#: Hours with less of a clear sky than this tell little of what a panel gives (from memory).
LOW_SUN: Final = 0.1


@dataclass(frozen=True, slots=True)
class Outlook:
    """One bank now.

    `seconds` the engine's; `wall_offset` and `place` None where unknown. `mean` and `directions`
    are those of the charge filter's belief (`unknowns.py`), `ohmic` volts per unit rate and cell,
    `ohms` of the whole bank at its present temperature as measured by load steps. `held_volts` per
    cell, what sources hold in absorption now, and whether that was `held_seen` or told. `end_amps`
    the net current at which charges end. `leads` in milliohm between each source and the posts.
    `load` and `sun` watts by hour, None where never seen;
    `recent_watts` the load of this hour so far. `unread` says why none of this is known now, where
    the bank is not read: then nothing may be planned from it.
    """

    bank: Bank
    sources: tuple[Source, ...]
    seconds: float
    wall_offset: float | None
    place: Place | None
    stage: Stage
    mean: tuple[float, ...]
    directions: tuple[tuple[float, ...], ...]
    ohmic: float
    ohms: Estimate
    celsius: float | None
    held_volts: Estimate
    held_seen: bool
    end_amps: float
    leads: tuple[Estimate, ...]
    load: Hourly | None
    recent_watts: float | None
    sun: Hourly | None
    unread: str = ""

    @property
    def soc(self) -> Estimate:
        variance = sum(column[SOC] ** 2 for column in self.directions)
        return Estimate(self.mean[SOC], math.sqrt(variance))

    @property
    def working_celsius(self) -> float:
        """The bank's temperature, or that of its figures where it is not known."""
        return REFERENCE_CELSIUS if self.celsius is None else self.celsius

    @property
    def wall(self) -> float | None:
        """Unix time now."""
        return None if self.wall_offset is None else self.seconds + self.wall_offset

    # Loads and sun of the time to come.

    def load_at(self, moment: float) -> float:
        """Watts that loads usually draw at a moment of the engine's time."""
        if self.load is not None:
            usual = self.load.at(moment)
            return self._unseen_watts if usual is None else usual
        return max(self.recent_watts or 0.0, 0.0)

    def sun_at(self, moment: float) -> float:
        return 0.0 if self.sun is None else self.sun.at(moment) or 0.0

    def load_between(self, start: float, end: float) -> Total | None:
        """Watt-hours that the loads will draw; None where no load was ever seen."""
        if self.load is not None:
            unseen = self._unseen_watts
            return self.load.total(start, end, Total(unseen, unseen))
        if self.recent_watts is None:
            return None
        hours = (end - start) / HOUR_SECONDS
        watts = max(self.recent_watts, 0.0)
        return Total(watts * hours, GOES_ON_SHARE * max(watts, self._unseen_watts) * hours)

    @property
    def _unseen_watts(self) -> float:
        made_for = UNSEEN_RATE * self.bank.amp_hours * self.bank.nominal_volts
        return made_for if self.load is None else max(made_for, self.load.mean)

    def sun_between(self, start: float, end: float) -> Total | None:
        """Watt-hours that the sun will give if nothing holds it back; None where never seen."""
        return None if self.sun is None else self.sun.total(start, end, Total(0.0, 0.0))


def outlook_of(engine: Engine, bank_id: str) -> Outlook | None:
    """What an engine knows of one bank now; KeyError if there is no such bank."""
    for rooms in engine.banks:
        if rooms.bank.id == bank_id:
            return outlook(rooms, engine.seconds or 0.0, engine.site_watch.wall_offset)
    raise KeyError(bank_id)


def outlook(rooms: BankRooms, seconds: float, wall_offset: float | None) -> Outlook | None:
    """What the rooms of a bank know; None before the first reading."""
    if not rooms.started:
        return None
    charge, stage, by_hour, site = rooms.charge, rooms.stage, rooms.by_hour, rooms.site
    given = rooms.given
    mean = list(charge.belief.mean)
    mean[SOC] = charge.soc
    celsius = rooms.signal.celsius
    place = None
    if site.latitude is not None and site.longitude is not None:
        place = Place(site.latitude, site.longitude)
    absorption = stage.set_points.absorption
    return Outlook(
        bank=rooms.bank,
        sources=tuple(room.source for room in rooms.sources),
        seconds=seconds,
        wall_offset=wall_offset,
        place=place,
        stage=stage.stage,
        mean=tuple(mean),
        directions=tuple(tuple(column) for column in charge.belief.directions()),
        ohmic=charge.circuit.ohmic,
        ohms=_ohms(charge.resistance.ohms, charge.resistance.sd, celsius),
        celsius=celsius,
        held_volts=Estimate(absorption.mean + stage.set_points.shift(celsius), absorption.sd),
        held_seen=absorption.given is not None or absorption.seen > 0.0,
        end_amps=charge.expected_end_amps(),
        leads=tuple(room.lead_estimate() for room in rooms.sources),
        load=by_hour.loads(),
        recent_watts=by_hour.recent_watts,
        sun=whole_sun(by_hour, place, None if wall_offset is None else seconds + wall_offset),
        unread=why_not_now(given.volts.measured(seconds), given.amps.measured(seconds)),
    )


def _ohms(ohms: float | None, sd: float, celsius: float | None) -> Estimate:
    """The bank's resistance at its temperature, from that at 25 °C."""
    if ohms is None:
        return Estimate(None, None, "no load step seen yet")
    warmer = 0.0 if celsius is None else celsius - REFERENCE_CELSIUS
    factor = 1.0 + PER_CELSIUS * warmer
    return Estimate(ohms * factor, sd * factor)


def whole_sun(by_hour: ByHour, place: Place | None, wall: float | None) -> Hourly | None:
    """Sun by hour, with the hours in which it was always held back filled in.

    Where the place is known they get what a clear sky gives there, compared with the hours that
    were seen; elsewhere no more than was seen in them. None where no hour was seen unheld.
    """
    sun = by_hour.suns()
    if sun is None:
        return None
    clear: tuple[float, ...] | None = None
    scale = 0.0
    if place is not None and wall is not None:
        day = wall // DAY_SECONDS * DAY_SECONDS
        middles = [day + (hour + 0.5) * HOUR_SECONDS for hour in range(HOURS)]
        clear = tuple(clear_share(place, middle) for middle in middles)
        scale = _scale(sun, clear)
    watts = list(sun.watts)
    sd = list(sun.sd)
    for hour, least in enumerate(by_hour.least):
        if watts[hour] is None and least > 0.0:
            figure = least if clear is None else max(least, scale * clear[hour])
            watts[hour] = figure
            sd[hour] = SUN_SHARE * figure
    return sun._replace(watts=tuple(watts), sd=tuple(sd))


def _scale(sun: Hourly, clear: tuple[float, ...]) -> float:
    """Watts that the panels give for a whole sun overhead, by the hours that were seen."""
    pairs = zip(sun.watts, clear, strict=True)
    seen = [(watts, share) for watts, share in pairs if watts is not None and share > LOW_SUN]
    whole = sum(share for _, share in seen)
    return sum(watts for watts, _ in seen) / whole if whole > 0.0 else 0.0
