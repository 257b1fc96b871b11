"""What the checks are judged against: the site, the installation as entered, the meters' errors."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from monitor.bank import Bank, Site, Source, compensated
from monitor.commission import drop
from monitor.commission.record import Cable, Charger, Installation, Sizing

#: What a meter is taken to be good for where its sheet was not entered: share of the reading and
#: digits, by unit (common practice: a handheld multimeter, a DC clamp meter, a contact probe).
USUAL_METERS: Final = {
    "V": (0.005, 0.01),
    "mV": (0.01, 0.5),
    "A": (0.025, 0.3),
    "°C": (0.0, 1.5),
    "": (0.02, 0.01),
}
#: A limit of error is taken as a rectangle, whose standard deviation this is (GUM, JCGM 100).
_RECTANGLE: Final = math.sqrt(3.0)


@dataclass(frozen=True, slots=True)
class Setting:
    """One bank of a site, with what was entered of it."""

    site: Site
    bank: Bank
    installation: Installation

    @property
    def twelves(self) -> float:
        """Limits of voltage are told for 12 V; a bank of 24 V has twice as much."""
        return self.bank.nominal_volts / 12.0

    @property
    def sources(self) -> tuple[Source, ...]:
        return tuple(each for each in self.site.sources if each.bank == self.bank.id)

    @property
    def lead(self) -> bool:
        return self.bank.chemistry.lead

    def source(self, source_id: str) -> Source:
        return next(each for each in self.sources if each.id == source_id)

    def charger(self, source_id: str) -> Charger:
        for each in self.installation.chargers:
            if each.id == source_id:
                return each
        return Charger(source_id)

    def cable(self, source_id: str) -> Cable | None:
        return next((each for each in self.installation.cables if each.source == source_id), None)

    def rated_amps(self, source_id: str) -> float | None:
        return self.source(source_id).rated_amps or self.charger(source_id).rated_amps

    def ac_volts(self, source_id: str) -> float:
        """Nominal volts of its supply: as configured, as entered, else those of North America."""
        return self.source(source_id).ac_volts or self.charger(source_id).ac_volts or 120.0

    def ac_hertz(self, source_id: str) -> float:
        """Nominal frequency: as entered, else what goes with its volts (50 Hz with 220 to 240 V in
        most of the world, 60 Hz with 120 V: common knowledge)."""
        given = self.installation.ac_hertz
        return given if given is not None else 50.0 if self.ac_volts(source_id) > 180.0 else 60.0

    def given(self, source_id: str, name: str) -> float | None:
        """A set-point as the charger was set, else as the configuration has it for the bank."""
        for each in self.charger(source_id).set_points:
            if each.name == name and each.set is not None:
                return each.set
        of_bank = self.bank.set_points
        return {
            "absorption": of_bank.absorption,
            "float": of_bank.float_,
            "low hold": of_bank.low_hold,
            "equalize": of_bank.equalize,
            "compensation": of_bank.compensation_mv_per_celsius_per_cell,
            "absorption hours": of_bank.absorption_hours,
        }.get(name)

    def set_point(self, source_id: str, name: str, celsius: float | None) -> float | None:
        """A set-point in volts at the bank's temperature."""
        volts = self.given(source_id, name)
        if volts is None:
            return None
        slope = self.given(source_id, "compensation") or 0.0
        clamp = self.bank.set_points.compensation_celsius
        return compensated(
            volts,
            celsius,
            slope,
            self.bank.cells,
            clamp or self.bank.chemistry.compensation_celsius,
        )

    def expected_drop(self, source_id: str, amps: float, celsius: float) -> Sizing | None:
        """What the source's cable should lose; None where cable or length was not entered."""
        cable = self.cable(source_id)
        if cable is None or cable.one_way_metres is None:
            return None
        found = drop.expected_volts(cable.conductor, cable.one_way_metres, amps, celsius)
        if found is None:
            return None
        return Sizing(
            cable.name, cable.conductor, cable.one_way_metres, amps, celsius, found[0], found[1]
        )

    def meter_sd(self, unit: str, reading: float) -> float:
        """Standard deviation of a reading with the meter that was entered for this unit."""
        share, digits = USUAL_METERS.get(unit, (0.02, 0.0))
        for each in self.installation.instruments:
            if each.unit == unit and each.share is not None:
                share, digits = each.share, each.digits or 0.0
                break
        return (share * abs(reading) + digits) / _RECTANGLE
