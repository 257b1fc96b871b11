"""What the fields of RV-C messages mean here: a table, and the config keys that choose from it.

A config says which instance is its bank's or its source's:

    dc_instance        measured at the bank (1 is the main house bank; from memory)
    charger_instance   a charger: what it reports and gives, and its AC side
    solar_instance     a solar controller, likewise
    inverter_instance  an inverter that is all the load of the bank there is to measure
    ats_instance       a transfer switch: the AC that feeds the source
"""

from __future__ import annotations

from typing import Final, NamedTuple

from adapters.conversion import Conversion, Measurand
from adapters.reading import Quantity
from adapters.rvc.table import ATS, CHARGE_STATES, CHARGER, DC_SOURCE, INVERTER, SOLAR
from adapters.units import AS_IS, UNITS, Unit

#: The key of the config that gives the instance, by what it is an instance of.
INSTANCE_KEYS: Final = {
    DC_SOURCE: "dc_instance",
    CHARGER: "charger_instance",
    SOLAR: "solar_instance",
    INVERTER: "inverter_instance",
    ATS: "ats_instance",
}


class Meaning(NamedTuple):
    """A field that is read. Of rows with one quantity those that come first are preferred.

    `held` figures change slowly and are told again until they are old; the others are told once,
    when they come, so that an old figure never looks like a new one. `ask`: the sign is not
    known and the config must tell. `doubtful`: it may be what the charger aims for and not what
    it measures (from memory); used only where the config says that it is measured.
    """

    dgn: int
    field: str
    quantity: Quantity
    unit: Unit = AS_IS
    held: bool = False
    line: int = 0
    ask: bool = False
    doubtful: bool = False

    def conversion(self, turned: bool) -> Conversion:
        codes = CHARGE_STATES if self.quantity is Quantity.REPORTED_STAGE else {}
        return Conversion(
            Measurand(self.quantity), unit=self.unit, turned=turned and self.ask, codes=codes
        )


_Q = Quantity
_PERCENT: Final = UNITS[""]["%"]

MEANINGS: Final = (
    Meaning(0x1FEC8, "volts", _Q.BANK_VOLTS),  # 1 mV, against 50 mV of the next
    Meaning(0x1FFFD, "volts", _Q.BANK_VOLTS),
    Meaning(0x1FFFD, "amps", _Q.BANK_AMPS, ask=True),
    Meaning(0x1FFFC, "temperature", _Q.BANK_CELSIUS, held=True),
    Meaning(0x1FFFC, "state_of_charge", _Q.BANK_SOC, _PERCENT, held=True),
    Meaning(0x1FFC7, "charge_state", _Q.REPORTED_STAGE, held=True),
    Meaning(0x1FEA3, "volts", _Q.SOURCE_VOLTS),
    Meaning(0x1FEA3, "amps", _Q.SOURCE_AMPS),
    Meaning(0x1FEA3, "temperature", _Q.SOURCE_CELSIUS, held=True),
    Meaning(0x1FFC7, "charge_volts", _Q.SOURCE_VOLTS, doubtful=True),
    Meaning(0x1FFC7, "charge_amps", _Q.SOURCE_AMPS, doubtful=True),
    Meaning(0x1FEB3, "charge_state", _Q.REPORTED_STAGE, held=True),
    Meaning(0x1FEB3, "charge_volts", _Q.SOURCE_VOLTS, doubtful=True),
    Meaning(0x1FEB3, "charge_amps", _Q.SOURCE_AMPS, doubtful=True),
    Meaning(0x1FEE8, "amps", _Q.LOAD_AMPS),
    Meaning(0x1FFCA, "volts", _Q.AC_VOLTS, held=True),
    Meaning(0x1FFCA, "volts", _Q.AC_OTHER_LEG_VOLTS, held=True, line=1),
    Meaning(0x1FFCA, "amps", _Q.AC_AMPS, held=True),
    Meaning(0x1FFCA, "hertz", _Q.AC_HERTZ, held=True),
    Meaning(0x1FFAD, "volts", _Q.AC_VOLTS, held=True),
    Meaning(0x1FFAD, "volts", _Q.AC_OTHER_LEG_VOLTS, held=True, line=1),
    Meaning(0x1FFAD, "amps", _Q.AC_AMPS, held=True),
    Meaning(0x1FFAD, "hertz", _Q.AC_HERTZ, held=True),
)
