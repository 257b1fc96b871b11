"""The frozen descriptions a scenario is made of: what is in the coach, not how it behaves."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class BankModel:
    """A house bank. `amp_hours` is the label's; `capacity` the share of it that is left.

    `resistance`, `acceptance` and `gas` multiply the cell's own figures: 1 is a new bank.
    `spread` is for LFP: how far the first cell is ahead of the last, as a fraction of charge.
    """

    id: str
    chemistry: str
    nominal_volts: int
    amp_hours: float
    soc: float = 0.6
    celsius: float = 20.0
    capacity: float = 1.0
    resistance: float = 1.0
    acceptance: float = 1.0
    gas: float = 1.0
    spread: float = 0.0
    lowest_soc: float | None = None


@dataclass(frozen=True, slots=True)
class Settings:
    """How a source charges: volts of the whole bank at 25 °C.

    Absorption ends when the source's current stays below `end_amps` for `end_seconds`, or after
    `absorption_hours`, whichever comes first; a source with neither never ends it. `float_` None:
    no float stage, absorption is held for ever. `fixed`: one voltage, no stages at all.
    `low_hold` after `low_hold_after_hours` of float, with boosts of `boost_hours` every
    `boost_every_hours` back to absorption.
    """

    absorption: float
    float_: float | None = None
    end_amps: float | None = None
    end_seconds: float = 60.0
    absorption_hours: float | None = None
    compensation_mv: float = 0.0
    compensation_celsius: tuple[float, float] = (0.0, 50.0)
    fixed: bool = False
    low_hold: float | None = None
    low_hold_after_hours: float = 24.0
    boost_every_hours: float | None = None
    boost_hours: float = 1.0
    equalize: float | None = None
    equalize_amps: float = 0.0
    equalize_hours: float = 2.0


@dataclass(frozen=True, slots=True)
class SourceModel:
    """What pushes current in. `connected` are (from, to) hours since the start; None: always.

    `milliohms` is the way to the posts and back; with `sense` the source regulates at the posts,
    without it at its own terminals. `equalize_at` are hours at which somebody asks for it.
    `panel_watts` for solar; `engine` for sources that give only while the engine turns.
    `efficiency` and `power_factor` for what an AC charger takes from its supply.
    """

    id: str
    kind: str
    rated_amps: float
    settings: Settings
    milliohms: float = 2.0
    sense: bool = False
    connected: tuple[tuple[float, float], ...] | None = None
    equalize_at: tuple[float, ...] = ()
    panel_watts: float = 0.0
    efficiency: float = 0.88
    power_factor: float = 0.95


@dataclass(frozen=True, slots=True)
class SupplyModel:
    """The AC pedestal or generator behind the AC chargers: volts without load, and its cable."""

    volts: float = 120.0
    hertz: float = 60.0
    ohms: float = 0.25
    other_watts: float = 150.0


@dataclass(frozen=True, slots=True)
class SecondBankModel:
    """Another bank of the same nominal volts behind a combiner, which closes above `close_volts` of
    the first bank's bus and opens below `open_volts`, per 12 V (common practice: 13.2 to 13.4 V
    and 12.7 to 12.9 V). `milliohms` is the way there and back, the combiner in it.
    """

    bank: BankModel
    milliohms: float = 15.0
    limit_amps: float = 100.0
    close_volts: float = 13.3
    open_volts: float = 12.8


@dataclass(frozen=True, slots=True)
class LoadModel:
    """Something that draws. Watts while on, and a habit of being on (`replay.coach.loads`).

    `hidden` draws do not pass through the shunt.
    """

    name: str
    watts: float
    habit: str = "steady"
    hours: tuple[float, float] = (0.0, 24.0)
    minutes_on: float = 10.0
    minutes_off: float = 20.0
    times_a_day: float = 6.0
    at: tuple[tuple[float, float], ...] = ()
    hidden: bool = False


@dataclass(frozen=True, slots=True)
class ProtectionModel:
    """A battery management system that can open its charge side and its discharge side.

    It acts on the highest and lowest cell (or the mean, where the cells are alike) after
    `delay_seconds`, and closes again past the second figure.
    """

    id: str = "protection"
    high_cell: float = 3.65
    high_cell_close: float = 3.40
    low_cell: float = 2.60
    low_cell_close: float = 3.05
    low_celsius: float = 0.0
    low_celsius_close: float = 3.0
    high_celsius: float = 58.0
    high_celsius_close: float = 50.0
    delay_seconds: float = 4.0


@dataclass(frozen=True, slots=True)
class Weather:
    """Air, sun and clouds. `cloud` is the mean share of sky hidden, 0 to 1."""

    mean_celsius: float = 18.0
    swing_celsius: float = 7.0
    cloud: float = 0.3
    indoor_share: float = 0.6


@dataclass(frozen=True, slots=True)
class SensorModel:
    """One figure of one device: which, of whom, and how well it is seen.

    `noise` is the standard deviation, `step` the resolution; the reading is
    (truth * scale + offset + noise) rounded to the step. `owner` None: the bank's own id.
    """

    quantity: str
    owner: str | None = None
    noise: float = 0.0
    step: float = 0.01
    offset: float = 0.0
    scale: float = 1.0


@dataclass(frozen=True, slots=True)
class DeviceModel:
    """A device that is polled every `period_seconds`, `phase_seconds` after the whole minute."""

    name: str
    sensors: tuple[SensorModel, ...]
    period_seconds: float = 5.0
    phase_seconds: float = 0.0
    words: str = ""
