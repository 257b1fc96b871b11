"""What comes out of the engine: `Snapshot` when somebody looks, `Event` when something happened.

Frozen and complete: a screen needs nothing else, and every figure can be asked *why*. A figure
that is unknown is None with its reason in words; nothing is invented to fill a place.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum, StrEnum
from typing import Final, NamedTuple


class Stage(StrEnum):
    """What the source is doing to the bank."""

    REST = "rest"
    DISCHARGE = "discharge"
    BULK = "bulk"
    ABSORPTION = "absorption"
    FLOAT = "float"
    EQUALIZE = "equalize"
    FIXED = "fixed"


class Priority(IntEnum):
    """Alarm priority (ISA-18.2 wording); NONE is for events that are no alarm."""

    NONE = 0
    LOW = 1
    MEDIUM = 2
    HIGH = 3


class Measured(NamedTuple):
    """A figure a device gave: None where it never did or is too old, with the reason in words,
    which tells the age of the last one."""

    figure: float | None
    age_seconds: float | None
    reason: str = ""


class Estimate(NamedTuple):
    """A figure worked out, with its standard deviation; both None where nothing can be said."""

    figure: float | None
    sd: float | None
    reason: str = ""


NOT_MEASURED: Final = Estimate(None, None, "not measured")


class Interval(NamedTuple):
    """Seconds from now, in the middle and at both ends; None with `reason` where no answer."""

    seconds: float | None
    low: float | None
    high: float | None
    reason: str = ""


class Fact(NamedTuple):
    """One piece of evidence: the rule's name, what was seen in words, and its figures."""

    rule: str
    words: str
    figures: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class StageView:
    """The stage now. `probabilities` in the order of `Stage`; `since_seconds` monotonic."""

    stage: Stage
    probability: float
    probabilities: tuple[float, ...]
    since_seconds: float
    evidence: tuple[Fact, ...]


class Learned(NamedTuple):
    """A figure learned of this bank or its installation, with the date when it was last news.

    `seconds` monotonic, None while it is no more than what was assumed at first; `wall_offset` as
    it was known then.
    """

    name: str
    words: str
    unit: str
    figure: float
    sd: float
    seconds: float | None
    wall_offset: float | None


@dataclass(frozen=True, slots=True)
class SetPointView:
    """Set-points of the whole bank at its present temperature; None where unknown."""

    absorption: Estimate
    float_: Estimate
    equalize: Estimate
    celsius: float | None


@dataclass(frozen=True, slots=True)
class ChargeView:
    """How full the bank is: `soc` in fractions of its present usable capacity, which is
    `capacity_amp_hours`; `stored_amp_hours` is what is in it, the product of the two."""

    soc: Estimate
    capacity_amp_hours: Estimate
    stored_amp_hours: Estimate
    sensor_offset_amps: Estimate
    milliohms: Estimate
    last_full_seconds: float | None
    evidence: tuple[Fact, ...]


@dataclass(frozen=True, slots=True)
class ForecastView:
    """Time to full and time left, each with its interval, or the reason for no answer."""

    to_full: Interval
    left: Interval
    assumptions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SupplyView:
    """The AC that a source is fed with, as its device tells it; None what it does not tell, or
    told too long ago. `other_leg_volts` where a supply has two legs."""

    volts: float | None = None
    other_leg_volts: float | None = None
    amps: float | None = None
    hertz: float | None = None
    power_factor: float | None = None


@dataclass(frozen=True, slots=True)
class SourceView:
    """One source; `share` is its amps as a fraction of its rating, where both are known.

    `lead_milliohms` of what lies between the source and the posts. `supply` is its AC side, None
    where no device tells of one. `contrary` says both stages
    where what it says of itself is not what it is seen to do; None where they agree.
    """

    id: str
    bank: str
    kind: str
    rated_amps: float | None
    volts: Measured
    amps: Measured
    share: float | None
    reported_stage: str | None
    stage: StageView | None
    lead_milliohms: Estimate = NOT_MEASURED
    contrary: Fact | None = None
    supply: SupplyView | None = None


@dataclass(frozen=True, slots=True)
class BankView:
    id: str
    chemistry: str
    nominal_volts: int
    amp_hours: float
    lowest_soc: float | None
    volts: Measured
    amps: Measured
    celsius: Measured
    load_amps: Measured
    set_points: SetPointView
    stage: StageView
    charge: ChargeView
    forecast: ForecastView
    warnings: tuple[Fact, ...]
    learned: tuple[Learned, ...] = ()


@dataclass(frozen=True, slots=True)
class LinkView:
    """A device's link. `age_seconds` since its last reading, None before the first.

    `period_seconds` is how often it speaks, as learned; `lost_share` the share of its polls that
    brought nothing, over ten minutes or so.
    """

    device: str
    up: bool
    reason: str
    age_seconds: float | None
    since_seconds: float
    period_seconds: float | None = None
    lost_share: float = 0.0


class AlarmState(StrEnum):
    """The states of IEC 62682 / ISA-18.2."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned to normal unacknowledged"
    LATCHED_UNACKNOWLEDGED = "latched unacknowledged"
    LATCHED_ACKNOWLEDGED = "latched acknowledged"
    SHELVED = "shelved"
    SUPPRESSED = "suppressed by design"
    OUT_OF_SERVICE = "out of service"


class Handled(NamedTuple):
    """What a person last did about an alarm: when (monotonic), who, what, and the note left."""

    seconds: float
    who: str
    action: str
    note: str


@dataclass(frozen=True, slots=True)
class AlarmView:
    """An alarm that is not normal. `target` is the bank, source or device it is about.

    `explained_by` is the alarm ("house:shunt-reversed") of which this one only follows; `first_up`
    is true of the first of several; `chattering` of one that was raised again and again. `handled`
    is what a person last did about it. `shelved_until` is when a timed shelving ends; None where
    it is not shelved, or until the condition clears.
    """

    name: str
    target: str
    state: AlarmState
    priority: Priority
    words: str
    since_seconds: float
    causes: tuple[str, ...]
    first: str
    caution: str
    evidence: tuple[Fact, ...]
    explained_by: str = ""
    first_up: bool = False
    chattering: bool = False
    handled: Handled | None = None
    shelved_until: float | None = None


@dataclass(frozen=True, slots=True)
class Snapshot:
    """Everything there is to see, at monotonic `seconds`; wall time = seconds + wall_offset.

    `alarms` come worst first; `last_event` is the number of the newest event.
    """

    seconds: float
    wall_offset: float | None
    banks: tuple[BankView, ...]
    sources: tuple[SourceView, ...]
    links: tuple[LinkView, ...]
    alarms: tuple[AlarmView, ...]
    last_event: int


class EventKind(StrEnum):
    STAGE = "stage"
    CONDITION = "condition"
    ALARM = "alarm"
    LINK = "link"
    CLOCK = "clock"
    COMMAND = "command"
    LEARNED = "learned"


@dataclass(frozen=True, slots=True)
class Event:
    """Something happened. Numbered from 1 without gaps, so that a listener knows what it missed."""

    number: int
    seconds: float
    kind: EventKind
    name: str
    target: str
    priority: Priority
    words: str
    evidence: tuple[Fact, ...] = ()


class Glance(NamedTuple):
    """The few figures of one bank that are cheap at every step: for tables and trends."""

    seconds: float
    volts: float | None
    amps: float | None
    celsius: float | None
    stage: Stage | None
    soc: float | None
    soc_sd: float | None
    to_full: float | None
    to_full_low: float | None
    to_full_high: float | None
