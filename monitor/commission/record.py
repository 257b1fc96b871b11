"""What stays of a commissioning: the installation as entered, every check's outcome, the evidence.

Frozen values, all of them, and plain enough to stand in a JSON file (`record_file`) that a report
reads years later. Fields may be added with a default and never change their meaning: so a file of
an older version is read as it was meant. Volts, amps, °C, metres, mm², newton metres and seconds;
fractions 0..1. A figure that nobody gave is None, a word that nobody gave is empty: the report says
"not given", never a usual value.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Verdict(StrEnum):
    """What became of a check. `NOT_APPLICABLE`: the site has nothing for it, and `why` says what;
    `NOT_DONE`: it should have been done and was not, and `why` says why. Neither is a pass."""

    PASS = "pass"
    FAIL = "fail"
    NOT_DONE = "not done"
    NOT_APPLICABLE = "not applicable"


# -- the installation as entered ----------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Battery:
    """One battery as its label reads. `string` counts parallel strings from 1."""

    name: str
    model: str = ""
    serial: str = ""
    date_code: str = ""
    nominal_volts: float | None = None
    amp_hours: float | None = None
    string: int | None = None
    place: str = ""


@dataclass(frozen=True, slots=True)
class SetPoint:
    """A set-point of a charger: `found` when the installer came, `set` when he left; volts of the
    whole bank at 25 °C, or mV per °C and cell, or hours, or amps, as `unit` says."""

    name: str
    unit: str = "V"
    found: float | None = None
    set: float | None = None


@dataclass(frozen=True, slots=True)
class Charger:
    """A source: `id` as in the configuration, `kind` its `SourceKind` in words."""

    id: str
    kind: str = ""
    model: str = ""
    serial: str = ""
    date_code: str = ""
    rated_amps: float | None = None
    ac_volts: float | None = None
    power_factor: float | None = None
    efficiency: float | None = None
    set_points: tuple[SetPoint, ...] = ()


@dataclass(frozen=True, slots=True)
class ProtectionDevice:
    """What opens by itself to save the battery, and at what, in words."""

    name: str
    model: str = ""
    serial: str = ""
    opens_at: str = ""


@dataclass(frozen=True, slots=True)
class Cable:
    """A run of DC cable, both legs alike, to a `source`; "" is the bank's own.

    `conductor` as printed ("2 AWG", "35 mm2"); `one_way_metres` is the way there, not there and
    back. `crimps` says how the lugs are made and by whom they were looked at.
    """

    name: str
    source: str = ""
    conductor: str = ""
    one_way_metres: float | None = None
    insulation_celsius: float | None = None
    crimps: str = ""
    torque_newton_metres: float | None = None


@dataclass(frozen=True, slots=True)
class Breaking:
    """A fuse, breaker or disconnect, for the map. `seen`: present and its rating read."""

    name: str
    kind: str = "fuse"
    amps: float | None = None
    dc_volts: float | None = None
    interrupting_amps: float | None = None
    protects: str = ""
    place: str = ""
    seen: bool | None = None


@dataclass(frozen=True, slots=True)
class Instrument:
    """What was measured with. `calibrated` is a date as it stands on the sticker; `share` and
    `digits` are the meter's own error: so much of the reading and so much besides, in `unit`."""

    name: str
    serial: str = ""
    calibrated: str = ""
    unit: str = ""
    share: float | None = None
    digits: float | None = None


@dataclass(frozen=True, slots=True)
class OwnLimits:
    """What the battery's maker allows, from its sheet: volts and amps of the whole bank, °C.

    Where the sheet is not at hand the figures are the trade's for its chemistry, and `source` says
    so. `discharge_amps` is positive.
    """

    highest_volts: float | None = None
    lowest_volts: float | None = None
    charge_amps: float | None = None
    discharge_amps: float | None = None
    charge_low_celsius: float | None = None
    charge_high_celsius: float | None = None
    source: str = ""


@dataclass(frozen=True, slots=True)
class Installation:
    """Everything a person says of it, as entered. `who` commissions; `owner` gets the report.

    `large_loads` are those that are switched one at a time, `generator` its label, "" for none;
    `split_supply`: AC comes on two legs and a neutral; `ac_hertz` of the supply, where its volts
    do not tell.
    """

    name: str = ""
    who: str = ""
    owner: str = ""
    bank: str = ""
    chemistry: str = ""
    nominal_volts: int | None = None
    amp_hours: float | None = None
    series: int | None = None
    parallel: int | None = None
    layout: str = ""
    ambient_celsius: float | None = None
    batteries: tuple[Battery, ...] = ()
    chargers: tuple[Charger, ...] = ()
    protection: tuple[ProtectionDevice, ...] = ()
    cables: tuple[Cable, ...] = ()
    breaking: tuple[Breaking, ...] = ()
    instruments: tuple[Instrument, ...] = ()
    large_loads: tuple[str, ...] = ()
    generator: str = ""
    split_supply: bool = False
    ac_hertz: float | None = None
    limits: OwnLimits = OwnLimits()
    note: str = ""


# -- what was found -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Limit:
    """Between what a figure must lie; None: no limit on that side. `words` is how it is told."""

    name: str
    unit: str
    low: float | None = None
    high: float | None = None
    source: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure as measured. `uncertainty` is a standard deviation with the meter's error in it;
    None where the figure was read off or counted."""

    name: str
    figure: float
    unit: str
    uncertainty: float | None = None


@dataclass(frozen=True, slots=True)
class Attempt:
    """One go at a check. `seconds` is the feed's time, `wall` Unix time, None where unknown."""

    verdict: Verdict
    why: str = ""
    figures: tuple[Figure, ...] = ()
    seconds: float | None = None
    wall: float | None = None
    who: str = ""


@dataclass(frozen=True, slots=True)
class Evidence:
    """Where in which recording something can be seen again: `digest` is the file's SHA-256."""

    capture: str = ""
    digest: str = ""
    from_seconds: float | None = None
    to_seconds: float | None = None


@dataclass(frozen=True, slots=True)
class Span:
    """One run of the program and the recording made beside it: the first `taken` looks and words of
    it are in the record (below nought: not known). `looks` and `software` say how and by what,
    `installation` is the SHA-256 of what was entered, as it stood then."""

    capture: str = ""
    digest: str = ""
    taken: int = -1
    looks: str = ""
    software: str = ""
    installation: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One check. `group` for a heading, `attempts` from first to last, the last of them counts.

    `target` is the source, load or device it is about, "" for the bank. `follows` is the outcome
    ("id" or "id@target") of which a failed one is only the consequence; "" where it stands for
    itself.
    """

    id: str
    title: str
    group: str = ""
    target: str = ""
    purpose: str = ""
    limits: tuple[Limit, ...] = ()
    verdict: Verdict = Verdict.NOT_DONE
    why: str = ""
    figures: tuple[Figure, ...] = ()
    note: str = ""
    seconds: float | None = None
    wall: float | None = None
    who: str = ""
    attempts: tuple[Attempt, ...] = ()
    evidence: Evidence = Evidence()
    follows: str = ""

    @property
    def key(self) -> str:
        return f"{self.id}@{self.target}" if self.target else self.id


@dataclass(frozen=True, slots=True)
class Extreme:
    """The lowest and highest seen of a figure, when (feed seconds), and what is allowed."""

    quantity: str
    unit: str
    lowest: float
    lowest_seconds: float
    highest: float
    highest_seconds: float
    low_limit: float | None = None
    high_limit: float | None = None
    source: str = ""


@dataclass(frozen=True, slots=True)
class Coverage:
    """How much of the time was seen: `seen_seconds` of all, and the longest gap between."""

    from_seconds: float
    to_seconds: float
    seen_seconds: float
    longest_gap_seconds: float

    @property
    def share(self) -> float:
        whole = self.to_seconds - self.from_seconds
        return self.seen_seconds / whole if whole > 0.0 else 0.0


@dataclass(frozen=True, slots=True)
class Clock:
    """Whether the wall clock could be trusted; `jumps` of it, and why in words."""

    trusted: bool
    jumps: int = 0
    words: str = ""


@dataclass(frozen=True, slots=True)
class Sizing:
    """What a measured drop was compared with: the cable as it should be, both legs together."""

    cable: str
    conductor: str
    one_way_metres: float
    amps: float
    celsius: float
    expected_volts: float
    source: str = ""


@dataclass(frozen=True, slots=True)
class CommissionRecord:
    """Everything, as one file. `began` and `changed` are Unix time, None where unknown.

    `next_service` is the day agreed on, as in 2027-05-01, "" where none was. `looks` says how looks
    were taken (`look.LOOKS`), "" at moments that nothing can repeat.
    `recordings` are the runs that it was made in, in their order, the last one last; `evidence` is
    of the last. `progress` is the procedure's own, opaque to whoever reads the record.
    """

    software: str = ""
    installation: Installation = Installation()
    outcomes: tuple[Outcome, ...] = ()
    extremes: tuple[Extreme, ...] = ()
    coverage: Coverage | None = None
    clock: Clock | None = None
    sizing: tuple[Sizing, ...] = ()
    evidence: Evidence = Evidence()
    began: float | None = None
    changed: float | None = None
    next_service: str = ""
    looks: str = ""
    recordings: tuple[Span, ...] = ()
    progress: str = ""

    @property
    def failed(self) -> tuple[Outcome, ...]:
        return tuple(each for each in self.outcomes if each.verdict is Verdict.FAIL)

    @property
    def defects(self) -> tuple[Outcome, ...]:
        """What failed and does not only follow from something else that did."""
        return tuple(each for each in self.failed if not each.follows)

    @property
    def open(self) -> tuple[Outcome, ...]:
        """What should have been done and was not."""
        return tuple(each for each in self.outcomes if each.verdict is Verdict.NOT_DONE)
