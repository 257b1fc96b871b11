"""What may enter the engine: one small frozen value for each kind of input.

Everything the engine ever learns of the world arrives as one of four values, and a capture can
store every one of them; nothing else decides anything:

* `Reading`: one poll of one device;
* `LinkState`: a device went silent or came back;
* `Tick`: a second passed without a reading, or the wall clock changed;
* `Command`: a person did something.

`seconds` is monotonic time in all of them. Wall time is only ever an offset, itself recorded as an
input, so that setting a clock never rewrites a record. Positive current flows **into** the bank.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final, NamedTuple


class Scope(StrEnum):
    """What kind of thing a quantity belongs to; it decides whose id the owner of a channel is."""

    BANK = "bank"
    SOURCE = "source"
    AC = "ac"
    CELL = "cell"


class Quantity(StrEnum):
    """Everything a device may report, by its trade name with its unit. Properties: `QUANTITIES`."""

    BANK_VOLTS = "bank_volts"
    BANK_AMPS = "bank_amps"
    BANK_CELSIUS = "bank_celsius"
    BANK_SOC = "bank_soc"
    LOWER_HALF_VOLTS = "lower_half_volts"
    UPPER_HALF_VOLTS = "upper_half_volts"
    LOAD_AMPS = "load_amps"
    AMBIENT_CELSIUS = "ambient_celsius"
    CHARGE_PERMITTED = "charge_permitted"
    DISCHARGE_PERMITTED = "discharge_permitted"

    SOURCE_VOLTS = "source_volts"
    SOURCE_AMPS = "source_amps"
    SOURCE_CELSIUS = "source_celsius"
    REPORTED_STAGE = "reported_stage"
    INPUT_VOLTS = "input_volts"
    INPUT_AMPS = "input_amps"

    AC_VOLTS = "ac_volts"
    AC_OTHER_LEG_VOLTS = "ac_other_leg_volts"
    AC_AMPS = "ac_amps"
    AC_WATTS = "ac_watts"
    AC_HERTZ = "ac_hertz"
    AC_POWER_FACTOR = "ac_power_factor"

    CELL_VOLTS = "cell_volts"
    CELL_CELSIUS = "cell_celsius"
    HIGHEST_CELL_VOLTS = "highest_cell_volts"
    LOWEST_CELL_VOLTS = "lowest_cell_volts"
    HIGHEST_CELL_CELSIUS = "highest_cell_celsius"
    LOWEST_CELL_CELSIUS = "lowest_cell_celsius"


@dataclass(frozen=True, slots=True)
class Properties:
    """What is true of a quantity wherever it appears.

    `unit` is the SI or trade unit in text ("V", "A", "°C", "" for fractions, "text" for words).
    `low` and `high` bound what a working sensor on any house bank could give: a figure outside is
    a glitch or a wrong scale, never a fact about the bank (limits from common practice). Where
    nothing flows the low bound is a little below zero: no sensor reads an exact nothing.
    """

    unit: str
    scope: Scope
    low: float
    high: float
    words: str


QUANTITIES: Final[dict[Quantity, Properties]] = {
    Quantity.BANK_VOLTS: Properties("V", Scope.BANK, 2.0, 80.0, "bank voltage"),
    Quantity.BANK_AMPS: Properties("A", Scope.BANK, -2000.0, 2000.0, "bank current"),
    Quantity.BANK_CELSIUS: Properties("°C", Scope.BANK, -39.0, 90.0, "bank temperature"),
    Quantity.BANK_SOC: Properties("", Scope.BANK, 0.0, 1.0, "state of charge told by a device"),
    Quantity.LOWER_HALF_VOLTS: Properties("V", Scope.BANK, 1.0, 40.0, "lower half-bank voltage"),
    Quantity.UPPER_HALF_VOLTS: Properties("V", Scope.BANK, 1.0, 40.0, "upper half-bank voltage"),
    Quantity.LOAD_AMPS: Properties("A", Scope.BANK, -5.0, 2000.0, "load current"),
    Quantity.AMBIENT_CELSIUS: Properties("°C", Scope.BANK, -60.0, 90.0, "air temperature"),
    Quantity.CHARGE_PERMITTED: Properties("", Scope.BANK, 0.0, 1.0, "charge side closed"),
    Quantity.DISCHARGE_PERMITTED: Properties("", Scope.BANK, 0.0, 1.0, "discharge side closed"),
    Quantity.SOURCE_VOLTS: Properties("V", Scope.SOURCE, -1.0, 80.0, "source voltage"),
    Quantity.SOURCE_AMPS: Properties("A", Scope.SOURCE, -50.0, 1000.0, "source current"),
    Quantity.SOURCE_CELSIUS: Properties("°C", Scope.SOURCE, -39.0, 150.0, "source temperature"),
    Quantity.REPORTED_STAGE: Properties("text", Scope.SOURCE, 0.0, 0.0, "reported stage"),
    Quantity.INPUT_VOLTS: Properties("V", Scope.SOURCE, -1.0, 600.0, "source input voltage"),
    Quantity.INPUT_AMPS: Properties("A", Scope.SOURCE, -5.0, 500.0, "source input current"),
    Quantity.AC_VOLTS: Properties("V", Scope.AC, -1.0, 300.0, "AC voltage"),
    Quantity.AC_OTHER_LEG_VOLTS: Properties(
        "V", Scope.AC, -1.0, 300.0, "AC voltage of the other leg of a split supply"
    ),
    Quantity.AC_AMPS: Properties("A", Scope.AC, -1.0, 200.0, "AC current"),
    Quantity.AC_WATTS: Properties("W", Scope.AC, -50000.0, 50000.0, "AC power"),
    Quantity.AC_HERTZ: Properties("Hz", Scope.AC, 0.0, 100.0, "AC frequency"),
    Quantity.AC_POWER_FACTOR: Properties("", Scope.AC, -1.0, 1.0, "power factor"),
    Quantity.CELL_VOLTS: Properties("V", Scope.CELL, 0.5, 5.0, "cell voltage"),
    Quantity.CELL_CELSIUS: Properties("°C", Scope.CELL, -39.0, 90.0, "cell temperature"),
    Quantity.HIGHEST_CELL_VOLTS: Properties("V", Scope.BANK, 0.5, 5.0, "highest cell voltage"),
    Quantity.LOWEST_CELL_VOLTS: Properties("V", Scope.BANK, 0.5, 5.0, "lowest cell voltage"),
    Quantity.HIGHEST_CELL_CELSIUS: Properties("°C", Scope.BANK, -39.0, 90.0, "warmest cell"),
    Quantity.LOWEST_CELL_CELSIUS: Properties("°C", Scope.BANK, -39.0, 90.0, "coldest cell"),
}

#: What a device may report as its own stage; device descriptions map a device's codes to these.
REPORTABLE_STAGES: Final = frozenset(
    {"off", "rest", "bulk", "absorption", "float", "equalize", "fixed", "fault", "unknown"}
)


class Channel(NamedTuple):
    """One figure of one thing. `owner` is an opaque id bound by the config: a bank or a source,
    or for scope `cell` the bank's id, `#` and the cell's number ("house#3")."""

    owner: str
    quantity: Quantity


@dataclass(frozen=True, slots=True)
class Reading:
    """One poll of one device. A figure the device does not have is left out, never zero."""

    seconds: float
    device: str
    values: tuple[tuple[Channel, float | str], ...]


@dataclass(frozen=True, slots=True)
class LinkState:
    """A device went silent (`up` false, with the reason in words) or came back."""

    seconds: float
    device: str
    up: bool
    reason: str


@dataclass(frozen=True, slots=True)
class Tick:
    """A second without a reading, or news of the wall clock.

    `wall_offset` is Unix time minus monotonic seconds; None where nothing is known to have changed.
    """

    seconds: float
    wall_offset: float | None = None


class OwnLink(StrEnum):
    """Links of the tool itself, told as a `LinkState` like those of devices: no device may take
    their names. Down means: rows cannot be recorded; the disk is nearly full; the sign of life
    that somebody waits for was not delivered. The reason carries the words."""

    RECORDER = "recorder"
    DISK = "disk"
    HEARTBEAT = "heartbeat"


class Action(StrEnum):
    """What a person can tell the engine. The target is an alarm, a bank, a source or a device."""

    ACKNOWLEDGE = "acknowledge"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    OUT_OF_SERVICE = "out-of-service"
    IN_SERVICE = "in-service"
    RESET = "reset"
    REPLACE_BANK = "replace-bank"
    METER_READING = "meter-reading"
    POLL_PERIOD = "poll-period"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Command:
    """A person acknowledged, shelved, measured with a meter, replaced a battery...

    `note` is free text; where the action needs a figure it comes first (shelve: seconds,
    meter-reading: volts or amps with the quantity as target's suffix "house:bank_volts";
    poll-period: the seconds between two polls of the device from now on, 0 for its usual).
    """

    seconds: float
    who: str
    action: Action
    target: str
    note: str = ""


Input = Reading | LinkState | Tick | Command
