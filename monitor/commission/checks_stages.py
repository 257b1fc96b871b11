"""Checks of the charge's own course: absorption, taper, float, compensation. They watch overnight.

A stage is judged by what is measured, not by what the source says of itself: a voltage that stands
still for a quarter of an hour while the source no longer gives all it has is held.
"""

from __future__ import annotations

from typing import Final

from monitor.commission.check import Check, Result, Watch, judged, not_done
from monitor.commission.checks_charging import (
    ac_chargers,
    at_any_time,
    regulated_volts,
    source_amps,
)
from monitor.commission.coming_and_going import (
    FLOAT_BELOW,
    NOTHING_SHARE,
    OFF_SHARE,
    comes_and_goes,
    gone,
    of_this_day,
    rated_of,
    throttled,
)
from monitor.commission.memory import eased, lasted, steady
from monitor.commission.record import Figure, Limit, Verdict
from monitor.commission.setting import Setting

_GROUP: Final = "the charge"

#: A held voltage stays within this for this long, per 12 V (our choice: noise of 5 to 8 mV).
_HELD_BAND: Final = 0.04
_HELD_SECONDS: Final = 900.0
#: LFP is full, and its charge over, within minutes of reaching its voltage; before that its flat
#: curve stands still at full current only, which is no hold (common practice).
_HELD_SECONDS_LFP: Final = 300.0
#: What a held voltage may differ from its compensated set-point, per 12 V (our choice: chargers
#: are set in tenths and good to half of one).
_OFF_VOLTS: Final = 0.10
#: Absorption is judged once the current is below this share of the rating: less drop, a held hold.
_TAPERED_SHARE: Final = 0.60
#: After so long at half its rating or more, the first voltage held is absorption.
_BULK_SECONDS: Final = 300.0
#: Absorption that lasts longer than this never ends (common practice: 10 to 12 hours, else look).
_LONGEST_HOURS: Final = 12.0
_SPARE_HOURS: Final = 0.5
#: Where nothing is held after it: so long may a full bank take until its volts show it, and less
#: than this share of its rating is nothing given (our choice; measured on the simulated cell).
_COMES_DOWN_HOURS: Final = 2.0
_ENDED_SHARE: Final = 0.01


def held(watch: Watch, name: str = "held") -> float | None:
    """The voltage that the source has held for a while; None while it moves or gives its all."""
    volts, amps = regulated_volts(watch), source_amps(watch)
    rated = watch.setting.rated_amps(watch.target)
    if volts is None or amps is None:
        return None
    band = _HELD_BAND * watch.setting.twelves
    now = steady(watch.memory, name, volts, watch.look.seconds, band)
    if rated is not None and amps >= 0.97 * rated:
        return None
    return now.mean if now.seconds >= held_seconds(watch.setting) else None


def held_seconds(setting: Setting) -> float:
    return _HELD_SECONDS if setting.lead else _HELD_SECONDS_LFP


def _absorption_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    off = _OFF_VOLTS * setting.twelves
    source = "our choice: set in tenths of a volt, good to half of one"
    cable = setting.expected_drop(target, 1.0, 60.0)
    lost = 1000.0 * cable.expected_volts if cable is not None else 2.0
    return (
        Limit("held less set-point", "V", -off, off, source),
        Limit(
            "charger above posts",
            "mohm",
            None,
            round(1.3 * lost + 2.0, 1),
            "the cable by its table, joints and the instruments of both ends",
        ),
    )


def _absorption(watch: Watch) -> Result | None:
    volts, amps = held(watch), source_amps(watch)
    rated = rated_of(watch)
    regulates = amps is not None and throttled(watch, amps)
    gives = amps is not None and amps >= 0.5 * rated
    if lasted(watch.memory, "gives", gives, watch.look.seconds) >= _BULK_SECONDS:
        watch.memory["bulk"] = 1.0
    given = 0.0 if amps is None else _mean_amps(watch, amps)
    if volts is None or amps is None or amps > _TAPERED_SHARE * rated:
        return None
    if min(given, amps) < 1.5 * OFF_SHARE * rated:
        return None  # nothing flows: perhaps rest, perhaps off
    if comes_and_goes(watch) and not regulates:
        return None  # sun or speed may be what limits it
    aim = watch.setting.set_point(watch.target, "absorption", watch.look.celsius)
    plain = watch.setting.given(watch.target, "absorption")
    if aim is None or plain is None:
        return not_done(f"absorption of {watch.target} was not entered")
    if not watch.memory.get("bulk"):
        return None  # switched on with a full bank: this may be float
    if volts < aim - 1.2 * watch.setting.twelves:
        return None
    figures = [
        Figure("held", volts, "V", 0.01 * watch.setting.twelves),
        Figure("set-point at the bank's temperature", aim, "V"),
        Figure("held less set-point", volts - aim, "V", 0.02 * watch.setting.twelves),
        Figure("held less plain set-point", volts - plain, "V"),
    ]
    posts = watch.look.volts
    own = watch.look.source(watch.target).volts
    if posts is not None and own is not None and amps >= 5.0:
        lost = 1000.0 * (eased(watch.memory, "own", own, watch.look.seconds, 30.0) - posts) / amps
        figures.append(Figure("posts", posts, "V", 0.01))
        figures.append(Figure("charger above posts", lost, "mohm", 20.0 / amps))
    return judged(watch.limits, tuple(figures))._replace(
        facts=((f"absorption {watch.target}", volts),)
    )


def _longest(setting: Setting, target: str) -> float:
    """Hours after which absorption should long be over."""
    hours = setting.given(target, "absorption hours")
    return _LONGEST_HOURS if hours is None else min(hours + _SPARE_HOURS, _LONGEST_HOURS)


def _taper_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    del target
    ends = setting.bank.end_of_charge_amps
    return (
        Limit(
            "amps at the end of absorption",
            "A",
            None,
            round(max(1.5 * ends, 0.05 * setting.bank.amp_hours), 2),
            "common practice: 2 to 5 % of the 20 h capacity, or the end-of-charge current entered",
        ),
    )


def _taper(watch: Watch) -> Result | None:
    """From the absorption that was judged: how far the current fell before the voltage did."""
    was = watch.facts.get(f"absorption {watch.target}")
    volts, amps = regulated_volts(watch), source_amps(watch)
    if was is None or volts is None or amps is None:
        return None
    memory, seconds = watch.memory, watch.look.seconds
    if comes_and_goes(watch) or _no_float(watch.setting, watch.target):
        return _taper_seen_later(watch, was, volts, amps)
    memory.setdefault("first", amps)
    hours = (seconds - memory.setdefault("from", seconds)) / 3600.0
    if volts >= was - 0.10 * watch.setting.twelves:
        eased(memory, "amps", amps, seconds, 60.0)
        if hours < _longest(watch.setting, watch.target):
            return None
        last = memory["amps"]
        figures = (Figure("amps at the end of absorption", last, "A", 0.2),)
        return judged(watch.limits, figures, f"still held after {hours:.1f} h")
    last = memory.get("amps", amps)
    return judged(
        watch.limits,
        (
            Figure("amps when judged first", memory["first"], "A", 0.2),
            Figure("amps at the end of absorption", last, "A", 0.2),
            Figure("hours from first to end", hours, "h"),
        ),
    )


def _taper_seen_later(watch: Watch, was: float, volts: float, amps: float) -> Result | None:
    """Sun and engine end absorption early on some days, and where no float is held nothing pulls
    the volts down: it counts once a float, or its rightful absence, was seen after it."""
    memory, seconds = watch.memory, watch.look.seconds
    if volts >= was - 0.10 * watch.setting.twelves:
        memory.setdefault("first", amps)
        if amps >= NOTHING_SHARE * rated_of(watch):
            eased(memory, "amps", amps, seconds, 60.0)
    elif comes_and_goes(watch) and gone(watch, amps):
        memory.clear()
    if "first" not in memory or f"charged {watch.target}" not in watch.facts:
        return None
    figures = (
        Figure("amps when judged first", memory["first"], "A", 0.2),
        Figure("amps at the end of absorption", memory.get("amps", memory["first"]), "A", 0.2),
    )
    return judged(watch.limits, figures)


def _no_float(setting: Setting, target: str) -> bool:
    return setting.given(target, "float") is None and not setting.bank.chemistry.needs_float


def _float_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    if _no_float(setting, target):
        return ()
    off = _OFF_VOLTS * setting.twelves
    return (
        Limit("held less set-point", "V", -off, off, "our choice: as for absorption"),
        Limit(
            "hours until float",
            "h",
            None,
            _longest(setting, target),
            "the timer as entered and half an hour; else 12 h (common practice)",
        ),
    )


def _was_full(watch: Watch) -> bool:
    """Its current had fallen as far as it must before absorption ended; else dusk may have."""
    most = _taper_limits(watch.setting, watch.target)[0].high
    return most is not None and watch.memory.get("last", most + 1.0) <= most


def _mean_amps(watch: Watch, amps: float) -> float:
    """Over five minutes: what a device tells wavers by a tenth, also where nothing is given."""
    return eased(watch.memory, "given", amps, watch.look.seconds, 300.0)


def _ended(watch: Watch, below: float, amps: float, hours: float) -> Result | None:
    """Where no float is wanted: nothing is given any more, and the volts are not held but come
    down, however slowly a full LFP bank that nobody draws from does."""
    fell = below > 1.5 * _HELD_BAND * watch.setting.twelves
    nothing = amps < _ENDED_SHARE * rated_of(watch)
    if lasted(watch.memory, "ended", nothing and fell, watch.look.seconds) >= _HELD_SECONDS:
        if comes_and_goes(watch) and not _was_full(watch):
            return None
        return Result(Verdict.PASS, "charging ended and nothing is held, rightly")
    if fell or hours <= _longest(watch.setting, watch.target) + _COMES_DOWN_HOURS:
        return None
    figures = (Figure("hours until float", hours, "h"),)
    return Result(
        Verdict.FAIL, f"absorption still held after {hours:.1f} h: it never ends", figures
    )


def _float(watch: Watch) -> Result | None:
    was = watch.facts.get(f"absorption {watch.target}")
    volts, amps = regulated_volts(watch), source_amps(watch)
    if was is None or volts is None or amps is None:
        return None
    memory, seconds = watch.memory, watch.look.seconds
    if comes_and_goes(watch) and not of_this_day(watch, was, volts, amps):
        return None
    charged = ((f"charged {watch.target}", 1.0),)
    hours = (seconds - memory.setdefault("from", seconds)) / 3600.0
    if _no_float(watch.setting, watch.target):
        result = _ended(watch, was - volts, _mean_amps(watch, amps), hours)
        return None if result is None else result._replace(facts=charged)
    low = volts < was - FLOAT_BELOW * watch.setting.twelves
    if lasted(memory, "low", low, seconds) and "after" not in memory:
        memory["after"] = hours
    if not low:
        memory.pop("after", None)
        if hours <= _longest(watch.setting, watch.target):
            return None
        figures = (Figure("hours until float", hours, "h"),)
        why = f"absorption still held after {hours:.1f} h: float never came"
        return Result(Verdict.FAIL, why, figures, facts=charged)
    now = held(watch)
    off = lasted(memory, "off", amps < OFF_SHARE * rated_of(watch), seconds)
    aim = watch.setting.set_point(watch.target, "float", watch.look.celsius)
    if off >= 12.0 * _HELD_SECONDS:
        why = "the source switched off after absorption: no float is held"
        return Result(Verdict.FAIL, why, facts=charged)
    if now is None or off:
        return None
    plain = watch.setting.given(watch.target, "float")
    if aim is None or plain is None:
        return not_done(f"float of {watch.target} was not entered", (Figure("held", now, "V"),))
    return judged(
        watch.limits,
        (
            Figure("held", now, "V", 0.01 * watch.setting.twelves),
            Figure("set-point at the bank's temperature", aim, "V"),
            Figure("held less set-point", now - aim, "V", 0.02 * watch.setting.twelves),
            Figure("held less plain set-point", now - plain, "V"),
            Figure("hours until float", memory.get("after", hours), "h"),
        ),
    )._replace(facts=charged)


# -- equalize -----------------------------------------------------------------------------------


def _may_not(setting: Setting, target: str) -> str:
    del target
    if setting.bank.chemistry.equalize is None:
        return ""
    return f"{setting.bank.chemistry.words} may be equalized: see there"


def _highest_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    chemistry, cells = setting.bank.chemistry, setting.bank.cells
    slope = abs(setting.given(target, "compensation") or 0.0) * 1e-3 * cells * 25.0
    high = chemistry.absorption.high * cells + slope + 0.1 * setting.twelves
    source = f"the chemistry's highest absorption, compensated to 0 °C ({chemistry.words})"
    return (Limit("highest volts of a charge", "V", None, high, source),)


def _never_equalized(watch: Watch) -> Result | None:
    volts = watch.look.volts
    if volts is None:
        return None
    best = watch.memory["best"] = max(watch.memory.get("best", 0.0), volts)
    limit = watch.limits[0]
    figures = (Figure(limit.name, best, "V", 0.01),)
    if limit.high is not None and best > limit.high:
        return judged(watch.limits, figures)
    ended = watch.facts.get(f"charged {watch.target}") is not None
    return judged(watch.limits, figures) if ended else None


def ends_charges(setting: Setting) -> tuple[str, ...]:
    """Sources whose own course is judged: every one that has stages of its own and is there all
    night; where there is none, those that come and go, the sun where there is nothing else."""
    return ac_chargers(setting) or at_any_time(setting)


CHECKS: Final = (
    Check(
        id="absorption",
        group=_GROUP,
        title="Absorption at its compensated set-point",
        purpose="Too low never fills the bank, too high gasses it away.",
        caution="Ventilate; no flame. Above 50 °C, or a current that rises: stop the charge.",
        hands="Nothing: leave it charging.",
        watches="the voltage held at charger and posts, once the current has fallen",
        shows="volts",
        targets=ends_charges,
        limits=_absorption_limits,
        watch=_absorption,
        alone=True,
    ),
    Check(
        id="taper",
        group=_GROUP,
        title="Taper until the end of absorption",
        purpose="Absorption that ends while much still flows leaves the bank short every day.",
        hands="Nothing: leave it charging. Loads off makes it clearer.",
        watches="the source's amps until the voltage falls",
        shows="source_amps",
        targets=ends_charges,
        limits=_taper_limits,
        watch=_taper,
        alone=True,
    ),
    Check(
        id="float",
        group=_GROUP,
        title="Float, or its rightful absence",
        purpose="Absorption without end dries a battery out; a missing float lets it run down.",
        hands="Nothing: leave it on overnight; where no float is set, with a light on.",
        watches="the voltage held after absorption, and when it came",
        shows="volts",
        targets=ends_charges,
        limits=_float_limits,
        watch=_float,
        alone=True,
    ),
    Check(
        id="never-equalized",
        group=_GROUP,
        title="Never equalized",
        purpose="What this chemistry must not be given is not given.",
        hands="Nothing.",
        watches="the highest volts until a float is seen",
        shows="volts",
        targets=ends_charges,
        needless=_may_not,
        limits=_highest_limits,
        watch=_never_equalized,
        alone=True,
    ),
)
