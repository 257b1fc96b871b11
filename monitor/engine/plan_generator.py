"""How long must a generator run, from when on does it stop paying, and is there time for it?

The charger behind the generator gives its amps until the absorption voltage is reached; from then
on the bank takes what it accepts, less and less, while the generator burns nearly as much. It stops
paying where what the charger gives falls under a share of what it could.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from monitor.bank import Source, SourceKind
from monitor.engine.by_hour import HOUR_SECONDS
from monitor.engine.charge_run import HORIZON_HOURS, Course, Goal
from monitor.engine.outlook import Outlook
from monitor.engine.plan import MODEL_SOC, load_words, unplanned
from monitor.engine.snapshot import Estimate
from monitor.engine.ways import Error, Likely, Point, course, likely, net_rate

#: A generator pays while its charger gives at least this share of what it could (ours).
PAYING_SHARE: Final = 0.5
#: Loads are taken over this long for how they may differ from the usual (ours: one evening).
EVENING_HOURS: Final = 6.0
#: What the circuit errs by in a time: a share of it, and hours at least (ours, as time to full).
MODEL_SHARE: Final = 0.08
LEAST_HOURS: Final = 0.02
#: Milliohm to the posts and back where nothing was seen (engine: 2 to 15 are common), and how far
#: off, as a share of what was seen: a source with sense leads is not held back by them.
LEAD_MILLIOHMS: Final = Estimate(3.0, 2.0)
SENSE_SHARE: Final = 0.5
#: Kinds that a person can run at will, the likeliest behind a generator first.
AT_WILL: Final = (
    SourceKind.AC_CHARGER,
    SourceKind.UNKNOWN,
    SourceKind.DC_DC,
    SourceKind.ALTERNATOR,
)


@dataclass(frozen=True, slots=True)
class Quiet:
    """Before quiet hours: `soc` at their beginning if started now; the engine's time by which to
    start, None where even now is too late."""

    seconds: float
    soc: Likely
    start_by: float | None


@dataclass(frozen=True, slots=True)
class GeneratorAnswer:
    """Seconds to run for `to_soc`; None with `reason`.

    `pays_seconds` after which it no longer pays, at `pays_soc`; None where it pays to the end.
    `ends_soc`: where the source would end its charge first, short of what was asked.
    """

    seconds: Likely | None
    to_soc: float
    amps: float
    load_amps: float
    soc: Estimate
    pays_seconds: Likely | None
    pays_soc: float | None
    paying_share: float
    ends_soc: float | None
    quiet: Quiet | None
    assumptions: tuple[str, ...]
    reason: str = ""


def source_for(sources: tuple[Source, ...]) -> tuple[Source | None, str]:
    """The source that a generator would feed, by kind and rating; None with the reason."""
    for kind in AT_WILL:
        rated = [s for s in sources if s.kind is kind and s.rated_amps is not None]
        if rated:
            best = max(rated, key=lambda source: source.rated_amps or 0.0)
            return best, ""
    return None, "no source that a generator can feed has rated_amps; say how many amps it gives"


def generator(
    view: Outlook | None,
    to_soc: float,
    amps: float,
    *,
    source: str | None = None,
    quiet_seconds: float | None = None,
    paying_share: float = PAYING_SHARE,
) -> GeneratorAnswer:
    """Run a charger of `amps` from now on until `to_soc`; `quiet_seconds` until quiet hours.

    `source` is the id of that charger where it is one of the site's: its leads may be known.
    """
    if view is None or view.unread:
        reason = unplanned(view)
        return _none(to_soc, amps, Estimate(None, None, reason), paying_share, (), reason)
    words = _assumptions(view, amps)
    leads = _leads(view, source)
    start, end = view.seconds, view.seconds + EVENING_HOURS * HOUR_SECONDS
    taken = view.load_between(start, start + HOUR_SECONDS)
    volts = view.bank.cells * (view.held_volts.figure or 0.0)
    load_amps = (view.bank.standing_amps or 0.0) + (taken.figure / volts if taken else 0.0)
    if load_amps >= amps:
        reason = f"the loads take {load_amps:.0f} A, the source gives {amps:.0f} A"
        return _none(to_soc, amps, view.soc, paying_share, words, reason)

    def rate_of(point: Point) -> Callable[[float], float]:
        loads = net_rate(view, point, start, end, sunny=False)
        return lambda hours: amps / point.amp_hours + loads(hours)

    def ask(plain: Point) -> tuple[float, ...]:
        point = _through_leads(view, plain, leads, load_amps)
        rate = rate_of(point)
        there = course(view, point, rate, _goal(view, point, to_soc))
        least = (paying_share * amps - load_amps) / point.amp_hours
        pays = course(view, point, rate, Goal(least)) if least > 0.0 else None
        return (
            _hours_to(view, point, rate, there, to_soc),
            min(there.soc, to_soc) if point.soc < to_soc else there.soc,
            HORIZON_HOURS if pays is None or pays.hours is None else pays.hours,
            there.soc if pays is None else pays.soc,
        )

    time = Error(MODEL_SHARE, LEAST_HOURS)
    hours, there_soc, pays, pays_soc = likely(view, ask, time, Error(), time)
    soc_after = None
    if quiet_seconds is not None:
        spell = quiet_seconds / HOUR_SECONDS

        def ask_quiet(plain: Point) -> tuple[float, ...]:
            point = _through_leads(view, plain, leads, load_amps)
            return (course(view, point, rate_of(point), _goal(view, point, to_soc), spell).soc,)

        (soc_after,) = likely(view, ask_quiet, Error(floor=MODEL_SOC))
    quiet = _quiet(view, quiet_seconds, soc_after, hours)
    if hours.figure >= HORIZON_HOURS:
        reason = f"not within {HORIZON_HOURS:.0f} h: {100.0 * there_soc.figure:.0f} % by then"
        return _none(to_soc, amps, view.soc, paying_share, words, reason)
    short = there_soc.figure < to_soc - 0.5 * MODEL_SOC and hours.figure > 0.0
    falls_first = pays.figure < hours.figure
    return GeneratorAnswer(
        seconds=hours.within(0.0, HORIZON_HOURS).scaled(HOUR_SECONDS),
        to_soc=to_soc,
        amps=amps,
        load_amps=load_amps,
        soc=view.soc,
        pays_seconds=pays.within(0.0, HORIZON_HOURS).scaled(HOUR_SECONDS) if falls_first else None,
        pays_soc=pays_soc.figure if falls_first else None,
        paying_share=paying_share,
        ends_soc=there_soc.figure if short else None,
        quiet=quiet,
        assumptions=words,
    )


def _goal(view: Outlook, point: Point, to_soc: float) -> Goal:
    """Charged so far, or full by the end-of-charge current: a source gives no more after that."""
    return Goal(view.end_amps / point.amp_hours, None, to_soc)


def _hours_to(
    view: Outlook, point: Point, rate: Callable[[float], float], there: Course, to_soc: float
) -> float:
    """Hours to the goal, less what the last step went beyond it."""
    if there.hours is None:
        return HORIZON_HOURS
    circuit = point.circuit
    held = circuit.held(
        there.soc, circuit.traits.polarisation, point.held_volts, view.working_celsius
    )
    stored = min(rate(there.hours), held) / (1.0 + circuit.share(there.soc))
    beyond = max(0.0, there.soc - to_soc) / stored if stored > 0.0 else 0.0
    return max(0.0, there.hours - beyond)


def _quiet(
    view: Outlook, seconds: float | None, soc: Likely | None, needed: Likely
) -> Quiet | None:
    if seconds is None or soc is None:
        return None
    spare = seconds - needed.high * HOUR_SECONDS
    start_by = view.seconds + spare if spare >= 0.0 else None
    return Quiet(view.seconds + seconds, soc.within(0.0, 1.0), start_by)


def _leads(view: Outlook, source: str | None) -> Estimate:
    for own, estimate in zip(view.sources, view.leads, strict=True):
        if own.id == source and estimate.figure is not None and estimate.sd is not None:
            figure = max(0.0, estimate.figure)
            return Estimate(figure, math.hypot(estimate.sd, SENSE_SHARE * figure))
    return LEAD_MILLIOHMS


def _through_leads(view: Outlook, point: Point, leads: Estimate, load_amps: float) -> Point:
    """The bank as a source sees it that holds its own terminals, its leads in series."""
    figure, sd = leads.figure or 0.0, leads.sd or 0.0
    ohms = max(0.0, figure + point.lead * sd) * 1e-3
    circuit = copy.copy(point.circuit)
    circuit.ohmic += ohms * point.amp_hours / view.bank.cells
    held = point.held_volts - ohms * load_amps / view.bank.cells
    return point._replace(circuit=circuit, held_volts=held)


def _assumptions(view: Outlook, amps: float) -> tuple[str, ...]:
    volts = (view.held_volts.figure or 0.0) * view.bank.cells
    how = "as configured or seen" if view.held_seen else "usual for its chemistry, none was seen"
    warmth = (
        "at 25 °C, the bank's temperature is not known"
        if view.celsius is None
        else f"at {view.celsius:.0f} °C"
    )
    return (
        f"{amps:.0f} A from now on, alone, up to {volts:.2f} V at the posts, {how}, {warmth}",
        load_words(view) if view.load or view.recent_watts is not None else "no loads were seen",
    )


def _none(
    to_soc: float,
    amps: float,
    soc: Estimate,
    share: float,
    words: tuple[str, ...],
    reason: str,
) -> GeneratorAnswer:
    return GeneratorAnswer(
        None, to_soc, amps, 0.0, soc, None, None, share, None, None, words, reason
    )
