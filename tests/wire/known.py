"""Banks whose every figure is known beforehand, each measured by a device of another kind.

Nothing here is computed: what the devices tell is written in a table, and what the screen must say
of it is written beside it by hand, from what the words mean.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

#: Seconds between two polls; figures are stale three seconds after the last good one.
PERIOD_SECONDS: Final = 0.5

#: Rows of a table, one a second: longer than any test, and it begins again at its end.
_ROWS: Final = 600

MODBUS: Final = f"""\
kind = "modbus"
title = "Shunt with registers"
period_seconds = {PERIOD_SECONDS}

[[registers]]
quantity = "bank_volts"
address = 40
type = "uint16"
scale = 0.01
unit = "V"
absent = 0xFFFF

[[registers]]
quantity = "bank_amps"
address = 41
type = "int32"
word_order = "little"
unit = "mA"
positive = "discharging"
absent = 0x80000000

[[registers]]
quantity = "bank_celsius"
table = "input"
address = 7
type = "int16"
scale = 0.1
unit = "°C"
absent = 0x7FFF
"""

LINES: Final = f"""\
kind = "lines"
title = "Charger that writes its figures"
format = "key-value"
key_separator = "="
end_marker = "."
period_seconds = {PERIOD_SECONDS}

[[fields]]
name = "volts"
quantity = "bank_volts"
unit = "V"
decimals = 2

[[fields]]
name = "milliamps"
quantity = "bank_amps"
unit = "mA"
positive = "charging"
decimals = 0

[[fields]]
name = "fahrenheit"
quantity = "bank_celsius"
unit = "°F"
decimals = 1

[[fields]]
name = "doing"
quantity = "reported_stage"
words = {{ "off" = "off", "full speed" = "bulk", "topping" = "absorption", "keeping" = "float" }}
"""


@dataclass(frozen=True, slots=True)
class KnownBank:
    """A bank, the device that measures it, its figures, and what a screen must say of them.

    `config` is the table of the bank; `amps_large` the current as the large numerals have it.
    """

    bank: str
    wire: str
    config: str
    columns: str
    figures: str
    volts: str
    amps: str
    amps_large: str
    celsius: str
    stage: str

    @property
    def device(self) -> str:
        return f"{self.bank}-meter"

    @property
    def description(self) -> str:
        return LINES if self.wire == "serial-lines" else MODBUS

    def table(self, folder: Path) -> Path:
        """Its figures as a plain table, the same in every row."""
        path = folder / f"{self.bank}.csv"
        rows = "".join(f"{second},{self.figures}\n" for second in range(_ROWS))
        path.write_text(f"t_s,{self.columns}\n{rows}", encoding="utf-8")
        return path


#: Current flows out and no source is there to hide a charger: discharge.
HOUSE: Final = KnownBank(
    bank="house",
    wire="modbus-rtu",
    config="""\
[banks.house]
chemistry = "flooded"
nominal_volts = 12
amp_hours = 220
lowest_soc = 0.5
""",
    columns="v_bank,i_net,temp_c",
    figures="12.37,-8.6,24.0",
    volts="12.37 V",
    amps="-8.6 A",
    amps_large="-8.6",
    celsius="24 °C",
    stage="discharge",
)

#: Held on the float set-point (at 25 °C, so that nothing compensates it) with hardly a current.
WINCH: Final = KnownBank(
    bank="winch",
    wire="modbus-tcp",
    config="""\
[banks.winch]
chemistry = "agm"
nominal_volts = 24
amp_hours = 90

[banks.winch.set_points]
absorption = 28.6
float = 27.1
""",
    columns="v_bank,i_net,temp_c",
    figures="27.10,0.3,25.0",
    volts="27.10 V",
    amps="+0.3 A",
    amps_large="+0.3",
    celsius="25 °C",
    stage="float",
)

#: Held on the absorption set-point, the current far below the charger's rating; it says so too.
#: Lithium compensates nothing.
RADIO: Final = KnownBank(
    bank="radio",
    wire="serial-lines",
    config="""\
[banks.radio]
chemistry = "lfp"
nominal_volts = 12
amp_hours = 100

[banks.radio.set_points]
absorption = 14.20
float = 13.4

[sources.bench]
bank = "radio"
kind = "ac-charger"
rated_amps = 60
""",
    columns="v_bank,i_net,temp_c,reported_stage",
    figures="14.20,13.0,16.0,absorption",
    volts="14.20 V",
    amps="+13 A",
    amps_large="+13",
    celsius="16 °C",
    stage="absorption",
)

BANKS: Final = (HOUSE, WINCH, RADIO)
