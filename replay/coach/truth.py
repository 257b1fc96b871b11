"""What is true at each step, by the conventions the engine is measured with.

* Stage: the source's own. With several, the one that holds the bank's voltage counts, absorption
  before float. *Discharge*: no source gives and a load draws; also bulk with net current below
  -0.002 C (then ambiguous). *Rest*: no source and no load worth the name. While a protection keeps
  the charge side open no source reaches the bank: discharge if it feeds a load, else rest.
* Full: net current at or below the end-of-charge current for 60 s while absorption is held, or the
  end of absorption, whichever comes first; once in each charge. A fixed source: at 0.95.
* Ambiguous: the source's stage does not show at the posts for the moment, or within 60 s of the
  protection opening or closing.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from replay.coach.plant import Plant
from replay.coach.sources import ABSORPTION, BULK, EQUALIZE, FIXED, FLOAT, Source

#: End-of-charge current as a fraction of the label's amp-hours (common practice).
FULL_AMPS: Final = {"flooded": 0.015, "agm": 0.005, "gel": 0.005, "lead-calcium": 0.01, "lfp": 0.03}
_FULL_SECONDS: Final = 60.0
_FIXED_FULL_SOC: Final = 0.95
#: Beyond this a source in bulk counts as overwhelmed, as a fraction of the label's amp-hours.
_OVERWHELMED: Final = 0.002
#: A charge starts above this, as a fraction of the label's amp-hours.
_CHARGE_STARTS: Final = 0.005
#: Draws below this are no load worth the name, as a fraction of the label's amp-hours.
_NO_LOAD: Final = 0.0005
#: Posts this far from the held set-point do not show the stage, volts per 12 V.
_SHOWS_VOLTS: Final = 0.06
_PROTECTION_SECONDS: Final = 60.0
#: A source that gives less than this share of its rating is not giving anything.
_GIVES_SHARE: Final = 0.001
_ORDER: Final = (EQUALIZE, ABSORPTION, FLOAT, FIXED)


class Truth(NamedTuple):
    """One step as it truly was. `full` is true at the one step where a charge becomes full."""

    seconds: float
    soc: float
    stage: str
    ambiguous: bool
    full: bool
    volts: float
    amps: float
    celsius: float
    load_amps: float
    source_stages: tuple[str, ...]
    source_amps: tuple[float, ...]
    charge_closed: bool
    discharge_closed: bool
    faults: tuple[str, ...]


class Witness:
    """Watches a plant step by step and says what is true."""

    def __init__(self, plant: Plant) -> None:
        self._plant = plant
        self._shows = _SHOWS_VOLTS * plant.scenario.bank.nominal_volts / 12.0
        self._charging = False
        self._full_told = False
        self._low_for = 0.0
        self._stage = "rest"
        self._sides = (True, True)
        self._sides_since = 1e9

    @property
    def _amp_hours(self) -> float:
        """By the label of the batteries that stand there now."""
        return self._plant.bank.model.amp_hours

    @property
    def _full_amps(self) -> float:
        return FULL_AMPS[self._plant.bank.model.chemistry] * self._amp_hours

    def see(self, faults: tuple[str, ...]) -> Truth:
        plant = self._plant
        stage, ambiguous = self._stage_now()
        full = self._full_now(stage)
        self._stage = stage
        charge_closed, discharge_closed = self._sides
        return Truth(
            plant.seconds,
            plant.bank.soc,
            stage,
            ambiguous,
            full,
            plant.posts,
            plant.amps,
            plant.bank.celsius,
            plant.load_amps + plant.hidden_amps,
            tuple([source.stage for source in plant.sources]),
            tuple([source.amps for source in plant.sources]),
            charge_closed,
            discharge_closed,
            faults,
        )

    def _stage_now(self) -> tuple[str, bool]:
        plant = self._plant
        drawing = plant.amps < -_NO_LOAD * self._amp_hours
        protection = plant.protection
        unsure = False
        if protection is not None:
            sides = (protection.charge_closed, protection.discharge_closed)
            self._sides_since = (
                0.0 if sides != self._sides else self._sides_since + plant.scenario.step_seconds
            )
            self._sides = sides
            unsure = self._sides_since < _PROTECTION_SECONDS
            if not protection.charge_closed:
                return ("discharge" if drawing else "rest"), unsure
        on = [source for source in plant.sources if source.on]
        if not on:
            return ("discharge" if drawing else "rest"), unsure
        stage, shows = self._leading(on)
        if stage == BULK and plant.amps < -_OVERWHELMED * self._amp_hours:
            return "discharge", True
        return stage, unsure or not shows

    def _leading(self, on: list[Source]) -> tuple[str, bool]:
        """The stage that counts among sources that are on, and whether it shows at the posts."""
        plant = self._plant
        held = {
            source.stage
            for source in on
            if source.stage != BULK
            and source.amps > _GIVES_SHARE * source.model.rated_amps
            and (source.stage == EQUALIZE or source.amps < source.available * 0.999)
        }
        for stage in _ORDER:
            if stage in held:
                return stage, True
        if any(
            source.stage == BULK and source.amps > _GIVES_SHARE * source.model.rated_amps
            for source in on
        ):
            return BULK, True
        stages = {source.stage for source in on}
        for stage in _ORDER:
            if stage in stages:
                gap = min(
                    abs(source.set_volts(plant.case_celsius) - plant.posts)
                    for source in on
                    if source.stage == stage
                )
                return stage, stage == EQUALIZE or gap < self._shows
        return BULK, False

    def _full_now(self, stage: str) -> bool:
        """Whether this is the step at which the charge under way becomes full."""
        plant = self._plant
        if stage == "rest" or (stage == "discharge" and not any(s.on for s in plant.sources)):
            self._charging = self._full_told = False
            self._low_for = 0.0
            return False
        starts = stage in (BULK, ABSORPTION, FIXED)
        if not self._charging and starts and plant.amps > _CHARGE_STARTS * self._amp_hours:
            self._charging, self._full_told, self._low_for = True, False, 0.0
        if not self._charging or self._full_told:
            return False
        low = stage == ABSORPTION and 0.0 < plant.amps <= self._full_amps
        self._low_for = self._low_for + plant.scenario.step_seconds if low else 0.0
        ended = self._stage == ABSORPTION and stage in (FLOAT, EQUALIZE)
        done = ended or self._low_for >= _FULL_SECONDS
        done = done or (stage == FIXED and plant.bank.soc >= _FIXED_FULL_SOC)
        self._full_told = done
        return done
