"""What the points of SunSpec models mean here: a table, and the roles that choose from it.

A *part* is what one set of figures belongs to: a model, one of its repeating groups (a DC port, an
MPPT module), or the DC side of an inverter. Its name is what a config writes:

    802        the model; 802.2 the second one with this id
    714/1      the first port of model 714
    103/dc     the DC side of an inverter

A part plays a *role*, usually the one its model is for; the config may say otherwise:

    bank       it measures at the bank
    output     what a source pushes into the bank
    input      what a source takes in: panels, alternator, another bank
    ac         the AC side of a source: what feeds a charger
    unused     nothing of it is used
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum
from typing import Final, NamedTuple

from adapters.reading import Quantity
from adapters.units import AS_IS, UNITS, Unit

BANK: Final = "bank"
OUTPUT: Final = "output"
INPUT: Final = "input"
AC: Final = "ac"
UNUSED: Final = "unused"
ROLES: Final = (BANK, OUTPUT, INPUT, AC, UNUSED)


class Sign(Enum):
    """How the sign of a point runs against ours (into the bank, drawn by a charger)."""

    SAME = "same"
    TURNED = "turned"
    SIZE = "size"  # only its size is certain
    ASK = "ask"  # the model files do not say; the config must


class Several(Enum):
    """What to do where several parts of one model tell the same quantity."""

    NONE = "none"  # none is used: which one is meant must be said
    HIGHEST = "highest"
    LOWEST = "lowest"
    EACH = "each"  # one figure for each group: the cells of a module


class Meaning(NamedTuple):
    """A point that is read, and what it is. Rows that come first are preferred.

    `side` is the part of the model: "" for the model itself, "group" for one of its groups, "dc"
    for the DC side of an inverter. `least` is the smallest size that can be true, in the
    point's own unit.
    """

    models: tuple[int, ...]
    side: str
    role: str
    point: str
    quantity: Quantity
    unit: Unit = AS_IS
    sign: Sign = Sign.SAME
    several: Several = Several.NONE
    codes: Mapping[int, str] = {}
    least: float = 0.0


_Q = Quantity
_PERCENT: Final = UNITS[""]["%"]
_ASK, _SIZE, _TURNED = Sign.ASK, Sign.SIZE, Sign.TURNED
_HIGH, _LOW, _EACH = Several.HIGHEST, Several.LOWEST, Several.EACH

_INVERTERS: Final = (101, 102, 103, 111, 112, 113)

#: The standard has no charging stages: what is off, at rest or broken is passed on, and a code
#: that names a power point or a port that is on says nothing of the stage ("unknown").
_STATES: Final = {1: "off", 2: "off", 7: "fault", 8: "off"}  # St, Stat, DCSt
_STATES_FROM_0: Final = {0: "off", 1: "off", 6: "fault", 7: "off"}  # InvSt of model 701
_PORT_STATES: Final = {0: "off", 3: "fault"}  # DCSta of model 714

#: A power factor in percent below 2 is one told as a fraction, against the model files.
_LEAST_PERCENT: Final = 2.0

#: Signs: that active power is positive for what is generated is said by the files for 701 only;
#: for the other inverters from memory. That an output or input current has a direction is taken
#: from its role, so only its size is used where a port may count either way.
MEANINGS: Final = (
    Meaning((802,), "", BANK, "V", _Q.BANK_VOLTS),
    Meaning((802,), "", BANK, "A", _Q.BANK_AMPS, sign=_ASK),
    Meaning((802,), "", BANK, "SoC", _Q.BANK_SOC, _PERCENT),
    Meaning((802,), "", BANK, "CellVMax", _Q.HIGHEST_CELL_VOLTS, several=_HIGH),
    Meaning((802,), "", BANK, "CellVMin", _Q.LOWEST_CELL_VOLTS, several=_LOW),
    Meaning((714,), "group", BANK, "DCV", _Q.BANK_VOLTS),
    Meaning((714,), "group", BANK, "DCA", _Q.BANK_AMPS, sign=_ASK),
    Meaning((803,), "", BANK, "StrVAvg", _Q.BANK_VOLTS),
    Meaning((803,), "", BANK, "ModTmpAvg", _Q.BANK_CELSIUS),
    Meaning((803,), "", BANK, "ModTmpMax", _Q.HIGHEST_CELL_CELSIUS, several=_HIGH),
    Meaning((803,), "", BANK, "ModTmpMin", _Q.LOWEST_CELL_CELSIUS, several=_LOW),
    Meaning((804,), "", BANK, "V", _Q.BANK_VOLTS),
    Meaning((804,), "", BANK, "A", _Q.BANK_AMPS, sign=_ASK),
    Meaning((804,), "", BANK, "SoC", _Q.BANK_SOC, _PERCENT),
    Meaning((804,), "", BANK, "CellVMax", _Q.HIGHEST_CELL_VOLTS, several=_HIGH),
    Meaning((804,), "", BANK, "CellVMin", _Q.LOWEST_CELL_VOLTS, several=_LOW),
    Meaning((804,), "", BANK, "ModTmpAvg", _Q.BANK_CELSIUS),
    Meaning((804,), "", BANK, "ModTmpMax", _Q.HIGHEST_CELL_CELSIUS, several=_HIGH),
    Meaning((804,), "", BANK, "ModTmpMin", _Q.LOWEST_CELL_CELSIUS, several=_LOW),
    Meaning((805,), "", BANK, "CellVMax", _Q.HIGHEST_CELL_VOLTS, several=_HIGH),
    Meaning((805,), "", BANK, "CellVMin", _Q.LOWEST_CELL_VOLTS, several=_LOW),
    Meaning((805,), "", BANK, "CellTmpAvg", _Q.BANK_CELSIUS),
    Meaning((805,), "", BANK, "CellTmpMax", _Q.HIGHEST_CELL_CELSIUS, several=_HIGH),
    Meaning((805,), "", BANK, "CellTmpMin", _Q.LOWEST_CELL_CELSIUS, several=_LOW),
    Meaning((805,), "", BANK, "CellV", _Q.CELL_VOLTS, several=_EACH),
    Meaning((805,), "", BANK, "CellTmp", _Q.CELL_CELSIUS, several=_EACH),
    Meaning((713,), "", BANK, "SoC", _Q.BANK_SOC, _PERCENT),
    Meaning((124,), "", BANK, "InBatV", _Q.BANK_VOLTS),
    Meaning((124,), "", BANK, "ChaState", _Q.BANK_SOC, _PERCENT),
    Meaning((160,), "group", BANK, "DCV", _Q.BANK_VOLTS),
    Meaning((404,), "", BANK, "DCV", _Q.BANK_VOLTS),
    Meaning((404,), "", BANK, "DCA", _Q.BANK_AMPS, sign=_ASK),
    Meaning(_INVERTERS, "dc", BANK, "DCV", _Q.BANK_VOLTS),
    #
    Meaning((501, 502), "", OUTPUT, "OutV", _Q.SOURCE_VOLTS),
    Meaning((501, 502), "", OUTPUT, "OutA", _Q.SOURCE_AMPS),
    Meaning((501, 502), "", OUTPUT, "InV", _Q.INPUT_VOLTS),
    Meaning((501, 502), "", OUTPUT, "InA", _Q.INPUT_AMPS),
    Meaning((501, 502), "", OUTPUT, "Tmp", _Q.SOURCE_CELSIUS),
    Meaning((501, 502), "", OUTPUT, "Stat", _Q.REPORTED_STAGE, codes=_STATES),
    Meaning((714,), "group", OUTPUT, "DCV", _Q.SOURCE_VOLTS),
    Meaning((714,), "group", OUTPUT, "DCA", _Q.SOURCE_AMPS, sign=_SIZE),
    Meaning((714,), "group", OUTPUT, "Tmp", _Q.SOURCE_CELSIUS),
    Meaning((714,), "group", OUTPUT, "DCSta", _Q.REPORTED_STAGE, codes=_PORT_STATES),
    Meaning((160,), "group", OUTPUT, "DCV", _Q.SOURCE_VOLTS),
    Meaning((160,), "group", OUTPUT, "DCA", _Q.SOURCE_AMPS),
    Meaning((160,), "group", OUTPUT, "Tmp", _Q.SOURCE_CELSIUS),
    Meaning((160,), "group", OUTPUT, "DCSt", _Q.REPORTED_STAGE, codes=_STATES),
    Meaning((404,), "", OUTPUT, "DCV", _Q.SOURCE_VOLTS),
    Meaning((404,), "", OUTPUT, "DCA", _Q.SOURCE_AMPS),
    Meaning((404,), "", OUTPUT, "Tmp", _Q.SOURCE_CELSIUS),
    Meaning(_INVERTERS, "dc", OUTPUT, "DCV", _Q.SOURCE_VOLTS),
    Meaning(_INVERTERS, "dc", OUTPUT, "DCA", _Q.SOURCE_AMPS, sign=_SIZE),
    #
    Meaning((160,), "group", INPUT, "DCV", _Q.INPUT_VOLTS),
    Meaning((160,), "group", INPUT, "DCA", _Q.INPUT_AMPS),
    Meaning((160,), "group", INPUT, "Tmp", _Q.SOURCE_CELSIUS),
    Meaning((160,), "group", INPUT, "DCSt", _Q.REPORTED_STAGE, codes=_STATES),
    Meaning((714,), "group", INPUT, "DCV", _Q.INPUT_VOLTS),
    Meaning((714,), "group", INPUT, "DCA", _Q.INPUT_AMPS, sign=_SIZE),
    Meaning((404,), "", INPUT, "DCV", _Q.INPUT_VOLTS),
    Meaning((404,), "", INPUT, "DCA", _Q.INPUT_AMPS),
    Meaning(_INVERTERS, "dc", INPUT, "DCV", _Q.INPUT_VOLTS),
    Meaning(_INVERTERS, "dc", INPUT, "DCA", _Q.INPUT_AMPS, sign=_SIZE),
    #
    Meaning((701,), "", AC, "LNV", _Q.AC_VOLTS),
    Meaning((701,), "", AC, "VL1", _Q.AC_VOLTS),
    Meaning((701,), "", AC, "A", _Q.AC_AMPS, sign=_SIZE),
    Meaning((701,), "", AC, "W", _Q.AC_WATTS, sign=_TURNED),
    Meaning((701,), "", AC, "Hz", _Q.AC_HERTZ),
    Meaning((701,), "", AC, "PF", _Q.AC_POWER_FACTOR, sign=_SIZE),
    Meaning((701,), "", AC, "TmpCab", _Q.SOURCE_CELSIUS),
    Meaning((701,), "", AC, "TmpSnk", _Q.SOURCE_CELSIUS),
    Meaning((701,), "", AC, "InvSt", _Q.REPORTED_STAGE, codes=_STATES_FROM_0),
    Meaning(_INVERTERS, "", AC, "PhVphA", _Q.AC_VOLTS),
    Meaning(_INVERTERS, "", AC, "A", _Q.AC_AMPS, sign=_SIZE),
    Meaning(_INVERTERS, "", AC, "W", _Q.AC_WATTS, sign=_TURNED),
    Meaning(_INVERTERS, "", AC, "Hz", _Q.AC_HERTZ),
    Meaning(
        _INVERTERS, "", AC, "PF", _Q.AC_POWER_FACTOR, _PERCENT, _SIZE, least=_LEAST_PERCENT
    ),
    Meaning(_INVERTERS, "", AC, "TmpCab", _Q.SOURCE_CELSIUS),
    Meaning(_INVERTERS, "", AC, "TmpSnk", _Q.SOURCE_CELSIUS),
    Meaning(_INVERTERS, "", AC, "St", _Q.REPORTED_STAGE, codes=_STATES),
)  # fmt: skip

#: The role of a part that the config says nothing of, by model and side.
USUAL_ROLE: Final[Mapping[tuple[int, str], str]] = {
    **{(model, ""): BANK for model in (124, 713, 802, 803, 804, 805)},
    **{(model, ""): OUTPUT for model in (501, 502)},
    (160, "group"): INPUT,
    (404, ""): INPUT,
    # Whether this is what feeds a charger or what an inverter makes of the bank, no model says...
    **{(model, ""): UNUSED for model in (701, *_INVERTERS)},
    # ... nor whether this is the bank or the panels, and which way the current runs.
    **{(model, "dc"): UNUSED for model in _INVERTERS},
}

#: The role of a port of model 714 by its PrtTyp; the other types say neither place nor direction.
PORT_ROLE: Final[Mapping[int, str]] = {0: INPUT, 1: BANK}

#: Models with parts at all; of the others only the name is told.
USED_MODELS: Final = frozenset(model for meaning in MEANINGS for model in meaning.models)

#: The point that counts up once a second while the battery behind the model is alive.
HEARTBEAT: Final[Mapping[int, str]] = {802: "Hb"}
