"""Can the inverter carry so many watts for so long without falling below its cut-off?

Volts under a load are rest volts less what the bank's resistance takes at once (measured by load
steps, else the circuit's) and what the acid takes within the hour (`sag`, which grows with the
logarithm of a high rate), less what the leads to the inverter take. At high rates a lead bank gives
less than its capacity: the charge still to be had is counted by Peukert's law in the rated-hour
form, and where it comes to its end the volts fall off a knee to the volts that count as empty.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

from monitor.engine.by_hour import HOUR_SECONDS
from monitor.engine.cell import POLARISATION_HOURS
from monitor.engine.outlook import Outlook
from monitor.engine.plan import Verdict, load_words, unplanned
from monitor.engine.snapshot import Estimate, Stage
from monitor.engine.ways import WIDTH, Error, Likely, Point, likely, point_of

#: Inverters give up at about this, volts per 12 V (common practice: 10.5 V).
CUT_OFF_VOLTS: Final = 10.5
#: An inverter passes on about this much (common practice: 85 to 92 % at a good part of its rating).
EFFICIENCY: Final = 0.88
#: The way to the inverter and back with its fuse (common practice: 1 to 2 m of 50 to 70 mm2).
LEAD_OHMS: Final = 0.001
RATED_HOURS: Final = 20.0
#: Capacity by temperature over that at 25 °C. Lead: one over a published fit to the factors of IEEE
#: 485, x = °C / 100. LFP: as a battery model of a national laboratory has it (handbook), °C, share.
LEAD_FACTOR: Final = (1.405, -2.4941, 4.1916, -2.8117)
LEAD_CELSIUS: Final = (-10.0, 50.0)
LITHIUM_SHARE: Final = (
    (-20.0, 0.745),
    (-10.0, 0.843),
    (0.0, 0.916),
    (10.0, 0.959),
    (25.0, 1.0),
    (45.0, 1.03),
)
#: No single load is looked at for longer.
MOST_HOURS: Final = 24.0
STEPS: Final = 60
LONGEST_STEP: Final = 0.05
#: Beyond this rate volts fall with its logarithm (kinetics; from memory of makers' curves).
LINEAR_RATE: Final = 0.1
#: Lead counts as empty at this under a load, volts per cell (common practice: 10.5 V of 12); its
#: knee is about so wide, as a fraction of charge (from memory of makers' discharge curves).
EMPTY_VOLTS: Final = 1.75
KNEE: Final = 0.06
#: What the drop at a rate that was never seen may be off by, and volts that the rest table errs by.
DROP_SHARE: Final = 0.15
VOLTS_PER_CELL: Final = 0.010


@dataclass(frozen=True, slots=True)
class LoadAnswer:
    """Whether `watts` for `seconds` are possible. None with `reason`.

    `lowest_volts` at the inverter, `amps` into it at the end, `possible_seconds` until the cut-off
    is reached (no more than `MOST_HOURS`), `soc` afterwards; `cable_amps` at the cut-off, the most
    that its cable and fuse ever carry for this load.
    """

    possible: Verdict | None
    watts: float
    seconds: float
    cut_off_volts: float
    lowest_volts: Likely | None
    amps: Likely | None
    possible_seconds: Likely | None
    soc: Likely | None
    cable_amps: float
    assumptions: tuple[str, ...]
    reason: str = ""


class Inverter(NamedTuple):
    """`cut_off_volts` at its own terminals; None: the usual of the bank's nominal volts."""

    cut_off_volts: float | None = None
    efficiency: float = EFFICIENCY
    lead_ohms: float = LEAD_OHMS


#: An inverter of which nobody said anything.
USUAL: Final = Inverter()


class _Drain(NamedTuple):
    """`volts`, `amps` and `soc` at the end. A collapse is far below all else, so that an interval
    about it reaches further up than can be: a load only pulls down what stands at the posts.
    `most_volts` are the highest on the way, `stands_volts` those of the bank at rest."""

    volts: float
    amps: float
    soc: float
    lasts_hours: float
    most_volts: float
    stands_volts: float


def warm_share(lead: bool, celsius: float) -> float:
    """What can be had of the capacity at a temperature, over that at 25 °C."""
    if lead:
        low, high = LEAD_CELSIUS
        x = min(max(celsius, low), high) / 100.0
        a, b, c, d = LEAD_FACTOR
        return 1.0 / (a + x * (b + x * (c + x * d)))
    below = LITHIUM_SHARE[0]
    if celsius <= below[0]:
        return below[1]
    for above in LITHIUM_SHARE[1:]:
        if celsius <= above[0]:
            part = (celsius - below[0]) / (above[0] - below[0])
            return below[1] + part * (above[1] - below[1])
        below = above
    return below[1]


def load(
    view: Outlook | None, watts: float, seconds: float, inverter: Inverter = USUAL
) -> LoadAnswer:
    """Draw `watts` from the inverter for `seconds`, beside the usual loads, no source helping."""
    if view is None or view.unread:
        reason = unplanned(view)
        return LoadAnswer(None, watts, seconds, 0.0, None, None, None, None, 0.0, (), reason)
    cut_off = inverter.cut_off_volts
    if cut_off is None:
        cut_off = CUT_OFF_VOLTS * view.bank.nominal_volts / 12.0
    hours = seconds / HOUR_SECONDS
    lowest_rest = view.bank.cells * point_of(view).circuit.curve.at(1.0)
    words = _assumptions(view, inverter, cut_off)
    if cut_off >= lowest_rest:
        reason = f"a cut-off of {cut_off:.2f} V lies above the rest voltage of a full bank"
        return LoadAnswer(None, watts, seconds, cut_off, None, None, None, None, 0.0, words, reason)

    def ask(point: Point) -> tuple[float, ...]:
        return _drain(view, point, watts, hours, cut_off, inverter)

    cells = view.bank.cells
    erring = Error(floor=VOLTS_PER_CELL * cells)
    volts, amps, soc, lasts, most, stands = likely(
        view, ask, erring, Error(), Error(), Error(), erring, erring
    )
    rest = cells * point_of(view).circuit.curve.at(soc.figure)
    drop = WIDTH * DROP_SHARE * max(0.0, rest - volts.figure)
    volts = Likely(
        volts.figure,
        volts.figure - math.hypot(volts.figure - volts.low, drop),
        volts.figure + math.hypot(volts.high - volts.figure, drop),
    ).within(0.0, min(most.high, stands.high))
    verdict = Verdict.DOUBTFUL
    if volts.low >= cut_off and lasts.low >= hours:
        verdict = Verdict.YES
    elif volts.high < cut_off or lasts.high < hours:
        verdict = Verdict.NO
    return LoadAnswer(
        verdict,
        watts,
        seconds,
        cut_off,
        volts,
        amps.within(0.0, 1e6),
        lasts.within(0.0, MOST_HOURS).scaled(HOUR_SECONDS),
        soc.within(0.0, 1.0),
        watts / inverter.efficiency / cut_off,
        words,
    )


def _drain(
    view: Outlook, point: Point, watts: float, hours: float, cut_off: float, inverter: Inverter
) -> _Drain:
    """The load drawn for `hours`, and how long it could be drawn before the cut-off."""
    state = _State(view, point, inverter)
    step = min(hours / STEPS, LONGEST_STEP)
    drawn = watts / inverter.efficiency
    amps = state.amps(drawn)
    stands, most = state.at_rest(), -math.inf
    at_end: tuple[float, float, float] | None = None
    lasts: float | None = None
    gone = 0.0
    while True:
        volts = state.volts(amps)
        if lasts is None and volts < cut_off:
            lasts = gone
        if at_end is None:
            most = max(most, volts)
            if gone >= hours - 1e-9:
                at_end = volts, amps, state.soc
        if at_end is not None and (lasts is not None or gone >= MOST_HOURS):
            return _Drain(*at_end, MOST_HOURS if lasts is None else lasts, most, stands)
        if at_end is not None:
            step = LONGEST_STEP
        state.advance(amps, step)
        amps = state.amps(drawn)
        gone += step


class _State:
    """A bank under the load, step by step."""

    def __init__(self, view: Outlook, point: Point, inverter: Inverter) -> None:
        self.point = point
        self.cells = view.bank.cells
        self.curve = point.circuit.curve
        self.knee = view.bank.chemistry.lead
        self.soc = point.soc
        #: Charge that can still be had at this rate and temperature: falls faster than `soc`.
        share = warm_share(view.bank.chemistry.lead, view.working_celsius)
        self.at_rate = max(0.0, point.soc - max(0.0, 1.0 - share))
        self.polarisation = point.polarisation
        span = view.bank.chemistry.peukert
        # the chemistry's range is taken as two deviations each way
        self.peukert = span.typical + 0.25 * point.hard * (span.high - span.low)
        self.other_watts = view.load_at(view.seconds)
        self.unseen = (view.bank.standing_amps or 0.0) + point.offset_amps
        by_circuit = point.circuit.ohmic * self.cells / point.amp_hours
        self.ohms = point.ohms if point.ohms is not None else by_circuit
        self.lead_ohms = inverter.lead_ohms

    def at_rest(self) -> float:
        """Without any load; what discharge has pulled down may yet come up."""
        return self.cells * (self.curve.at(self.soc) + max(0.0, self.polarisation))

    def _rest(self) -> float:
        return self.cells * (self.curve.at(self.soc) + self.polarisation)

    def _others(self) -> float:
        return self.other_watts / max(self._rest(), 1.0)

    def amps(self, watts: float) -> float:
        """What the inverter takes; where the bank cannot give it, what it can at the very most.

        watts = (rest - amps * ohms) * amps at the inverter.
        """
        rest = self._rest() - self.ohms * self._others()
        ohms = self.ohms + self.lead_ohms
        square = rest * rest - 4.0 * ohms * watts
        if square <= 0.0:
            return 0.5 * rest / ohms
        return 0.5 * (rest - math.sqrt(square)) / ohms

    def volts(self, amps: float) -> float:
        """At the inverter; nothing once no charge is to be had at this rate any more."""
        if self.at_rate <= 0.0:
            return 0.0
        posts = self._rest() - self.ohms * (amps + self._others())
        if self.knee:
            above = max(0.0, posts - self.cells * EMPTY_VOLTS)
            posts -= above * math.exp(-self.at_rate / KNEE)
        return posts - self.lead_ohms * amps

    def advance(self, amps: float, hours: float) -> None:
        rate = (amps + self._others() + self.unseen) / self.point.amp_hours
        self.soc = max(0.0, self.soc - rate * hours)
        faster = max(1.0, rate * RATED_HOURS) ** (self.peukert - 1.0)
        self.at_rate = max(0.0, self.at_rate - rate * faster * hours)
        level = -self.point.sag * LINEAR_RATE * math.asinh(rate / LINEAR_RATE)
        keep = math.exp(-hours / POLARISATION_HOURS)
        self.polarisation = level + (self.polarisation - level) * keep


def _assumptions(view: Outlook, inverter: Inverter, cut_off: float) -> tuple[str, ...]:
    usual = "" if inverter.cut_off_volts is not None else "a usual "
    ohms: Estimate = view.ohms
    if ohms.figure is not None:
        seen = f"the bank's {1000.0 * ohms.figure:.1f} mΩ as seen at load steps"
    else:
        seen = "a usual resistance: no load step was seen yet"
    charging = view.stage not in (Stage.REST, Stage.DISCHARGE)
    helps = "; what charges now does not help" if charging else ""
    others = load_words(view) if view.load is not None or view.recent_watts is not None else ""
    return (
        f"{usual}cut-off of {cut_off:.2f} V, efficiency {100.0 * inverter.efficiency:.0f} %, "
        f"leads {1000.0 * inverter.lead_ohms:.1f} mΩ",
        f"{seen}{helps}",
        *((f"beside it {others}",) if others else ()),
    )
