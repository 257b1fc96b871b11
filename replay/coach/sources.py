"""What pushes current in, and the stage each source is really in.

A source holds a set voltage up to what it can give, and steps through its stages by its own rules:
bulk until the set-point is reached, absorption until the current has fallen or time is up, float,
perhaps a low hold, perhaps equalize when somebody asks. Its stage is the truth the engine has to
find. Kinds differ in what limits their current (a table at the end).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from replay.coach.circuit import Feed
from replay.coach.models import SourceModel

#: A regulator's own droop, ohms at 12 V 50 A: its output is stiff but not infinitely so.
_DROOP_OHMS: Final = 0.0004
#: Within this of the set-point a source counts as there (about a comparator's hysteresis).
_REACHED_VOLTS_PER_12: Final = 0.02
#: Out of float again when the posts stay this far below it for this long (common practice).
_RETURN_VOLTS_PER_12: Final = 0.8
_RETURN_SECONDS: Final = 60.0
#: Out of absorption again when the source cannot hold it for this long (common practice).
_LOST_VOLTS_PER_12: Final = 0.15
_LOST_SECONDS: Final = 120.0
#: Panels and wiring: share of the panel's rated power that arrives (common practice).
_PANEL_SHARE: Final = 0.80
#: Below this share of its rating a solar source sleeps.
_ASLEEP_SHARE: Final = 0.004

OFF: Final = "off"
BULK: Final = "bulk"
ABSORPTION: Final = "absorption"
FLOAT: Final = "float"
EQUALIZE: Final = "equalize"
FIXED: Final = "fixed"


class Source:
    """One source as it is now. Faults turn its knobs (the attributes without underscore)."""

    def __init__(self, model: SourceModel, nominal_volts: int, cells: int) -> None:
        self.model = model
        self.settings = model.settings
        self.id = model.id
        self.stage = OFF
        self.amps = 0.0
        self.volts = 0.0
        self.available = 0.0
        self.celsius = 25.0
        # knobs
        self.milliohms = model.milliohms
        self.limit = model.rated_amps
        self.trim_volts = 0.0
        self.compensation_mv = model.settings.compensation_mv
        self.never_ends = False
        self.stops_when_full = False
        self.dead = False
        self.claims: str | None = None
        #: Drawn from the bank while it gives nothing, and how warm it stands idle (1: as at full).
        self.leak_amps = 0.0
        self.idle_heat = 0.0
        self._twelves = nominal_volts / 12.0
        self._cells = cells
        self._held = 0.0
        self._low_amps = 0.0
        self._lost = 0.0
        self._float_for = 0.0
        self._boosting = 0.0
        self._equalized = 0.0
        self._asked = list(model.equalize_at)
        self._siemens = 1.0 / _DROOP_OHMS
        self._heat = 0.0
        self._stopped = False
        self._aim = 0.0

    @property
    def on(self) -> bool:
        return self.stage != OFF

    @property
    def reported_stage(self) -> str:
        """What the source says of itself; a fault can make it say something else."""
        return self.claims if self.claims is not None and self.on else self.stage

    @property
    def input_watts(self) -> float:
        """What an AC charger takes from its supply."""
        if self.model.kind not in ("ac-charger", "fixed"):
            return 0.0
        return self.amps * self.volts / self.model.efficiency

    def set_volts(self, celsius: float) -> float:
        """The compensated set-point of the stage the source is in."""
        settings = self.settings
        stage = self.stage
        volts = settings.absorption
        if stage == FLOAT and settings.float_ is not None:
            low = settings.low_hold if self._in_low_hold() else None
            volts = settings.float_ if low is None else low
        elif stage == EQUALIZE and settings.equalize is not None:
            volts = settings.equalize
        low_end, high_end = settings.compensation_celsius
        clamped = min(max(celsius, low_end), high_end)
        moved = self.compensation_mv * 1e-3 * self._cells * (clamped - 25.0)
        return volts + moved + self.trim_volts

    def _in_low_hold(self) -> bool:
        settings = self.settings
        if settings.low_hold is None or self._boosting > 0.0:
            return False
        return self._float_for >= settings.low_hold_after_hours * 3600.0

    def feed(self, available: float, celsius: float) -> Feed:
        """The source as the wiring sees it during the next step."""
        self.available = available
        asleep = available <= _ASLEEP_SHARE * self.model.rated_amps
        if asleep:
            self._stopped = False
        if self.dead or self._stopped or asleep:
            self.stage = OFF
        elif self.stage == OFF:
            self._wake()
        if self.stage == OFF:
            return Feed(0.0, 0.0, 0.0)
        limit = available
        if self.stage == EQUALIZE:
            limit = min(limit, self.settings.equalize_amps)
        # With sense leads the posts are held and the leads only raise the source's own volts.
        ohms = _DROOP_OHMS if self.model.sense else _DROOP_OHMS + self.milliohms * 1e-3
        self._siemens = 1.0 / ohms
        self._aim = self.set_volts(celsius)
        return Feed(self._aim, self._siemens, limit)

    def _wake(self) -> None:
        self.stage = FIXED if self.settings.fixed else BULK
        self._held = self._low_amps = self._lost = self._float_for = self._boosting = 0.0

    def advance(
        self, amps: float, posts: float, celsius: float, seconds: float, step_seconds: float
    ) -> None:
        """Take the step's current and move to the next stage where the rules say so."""
        self.amps = amps
        if self.stage == OFF:
            self.volts = 0.0 if self.model.kind == "solar" else posts
        else:
            self.volts = posts + amps * self.milliohms * 1e-3
        heat = max(amps / self.model.rated_amps, self.idle_heat)
        self._heat += (heat - self._heat) * step_seconds / 1200.0
        self.celsius = celsius + 35.0 * self._heat  # converters run 30 to 40 °C over air at rating
        rule = _RULES.get(self.stage)
        if rule is not None:
            rule(self, posts, step_seconds)
            if self._asked and seconds >= self._asked[0] * 3600.0 and self.stage != BULK:
                self._asked.pop(0)
                self.equalize_now()

    def equalize_now(self) -> None:
        """Somebody pressed the button, or the electronics did."""
        if self.stage in (ABSORPTION, FLOAT) and self.settings.equalize is not None:
            self.stage, self._equalized = EQUALIZE, 0.0

    def _regulated(self, posts: float) -> float:
        """The voltage the source itself looks at."""
        return posts if self.model.sense else self.volts

    def _bulk(self, posts: float, step: float) -> None:
        del step
        near = _REACHED_VOLTS_PER_12 * self._twelves
        if self._regulated(posts) >= self._aim - near:
            self.stage, self._low_amps = ABSORPTION, 0.0
            self._lost = 0.0

    def _absorption(self, posts: float, step: float) -> None:
        settings = self.settings
        self._held += step
        short = self._aim - self._regulated(posts)
        self._lost = self._lost + step if short > _LOST_VOLTS_PER_12 * self._twelves else 0.0
        if self._lost >= _LOST_SECONDS:
            self.stage = BULK
            return
        holding = short < 3.0 * _REACHED_VOLTS_PER_12 * self._twelves
        small = settings.end_amps is not None and self.amps <= settings.end_amps and holding
        self._low_amps = self._low_amps + step if small else 0.0
        timed = settings.absorption_hours
        done = self._low_amps >= settings.end_seconds and small
        done = done or (timed is not None and self._held >= timed * 3600.0)
        if self._boosting > 0.0:
            self._boosting -= step
            done = self._boosting <= 0.0
        if not done or self.never_ends or settings.float_ is None:
            return
        self._stopped = self.stops_when_full
        self.stage, self._held, self._lost = FLOAT, 0.0, 0.0

    def _float(self, posts: float, step: float) -> None:
        settings = self.settings
        self._float_for += step
        short = self._aim - self._regulated(posts)
        self._lost = self._lost + step if short > _RETURN_VOLTS_PER_12 * self._twelves else 0.0
        if self._lost >= _RETURN_SECONDS:
            self._wake()
            return
        every = settings.boost_every_hours
        if every is not None and self._in_low_hold():
            since = self._float_for - settings.low_hold_after_hours * 3600.0
            if since >= every * 3600.0:
                self.stage, self._boosting = ABSORPTION, settings.boost_hours * 3600.0
                self._float_for -= every * 3600.0

    def _equalize(self, posts: float, step: float) -> None:
        del posts
        self._equalized += step
        if self._equalized >= self.settings.equalize_hours * 3600.0 and not self.never_ends:
            self.stage = FLOAT if self.settings.float_ is not None else ABSORPTION
            self._float_for = self._held = self._lost = 0.0


_RULES: Final[dict[str, Callable[[Source, float, float], None]]] = {
    BULK: Source._bulk,
    ABSORPTION: Source._absorption,
    FLOAT: Source._float,
    EQUALIZE: Source._equalize,
}


def panel_amps(watts: float, irradiance: float, volts: float) -> float:
    """What the panels can put into a bank at these volts: the power, whatever the voltage."""
    return watts * _PANEL_SHARE * irradiance / 1000.0 / max(volts, 1.0)


def within(spells: tuple[tuple[float, float], ...] | None, hours: float) -> bool:
    """Whether a source is connected at this hour of the run."""
    return spells is None or any(start <= hours < end for start, end in spells)
