"""Equalize where it is allowed: seen at its set-point, for this temperature, by somebody present.

Only for batteries that may be topped up. Sealed ones and LFP never get it, and for them the row
says so; a charger without such a set-point has nothing to show.
"""

from __future__ import annotations

from typing import Final

from monitor.commission.check import NO, Ask, Check, Result, Watch, asking, judged, not_done
from monitor.commission.checks_charging import ac_chargers, regulated_volts
from monitor.commission.checks_stages import ends_charges, held
from monitor.commission.memory import lasted
from monitor.commission.record import Figure, Limit, Verdict
from monitor.commission.setting import Setting

#: What a held voltage may differ from its compensated set-point, per 12 V (our choice: as for
#: absorption).
_OFF_VOLTS: Final = 0.10
#: Equalize is stopped here (common practice: 46 °C, 115 °F).
_STOP_CELSIUS: Final = 46.0
#: At least this far above absorption it is no absorption any more, per 12 V (chemistry: equalize
#: begins 0.2 V and more above the highest absorption).
_ABOVE_VOLTS: Final = 0.20
#: A charger that equalizes with a small current creeps up to its set-point: too low is judged once
#: it has stood still for so long (our choice; it creeps by 0.05 V an hour and more).
_CREEP_SECONDS: Final = 3600.0
#: Held for so long at something lower, it will not come (our choice: a charger that was told to
#: equalize raises its volts within minutes once the bank is full).
_PATIENCE_SECONDS: Final = 5400.0

#: What is asked, and why nothing is begun where the answer is no.
READY: Final = {
    "water": "the plates are not covered: fill to just over them, charge first, fill up after",
    "vented": "gas cannot get out: open lid and vents first, no flame, no spark",
    "loads": "loads that cannot take the volts are on: switch them off first",
    "full": "the bank is not full: equalize follows a finished charge",
}

_CAUTION: Final = (
    "Flooded cells only, never sealed ones, never LFP. It makes much explosive gas and spits acid: "
    "goggles, gloves, lid and vents open, no flame, no spark. Loads off that cannot take the volts "
    "(lamps, electronics, fridge). Stay there. Stop at 46 °C, or when the current rises."
)


def _needless(setting: Setting, target: str) -> str:
    chemistry = setting.bank.chemistry
    if chemistry.equalize is None:
        return f"{chemistry.words} must never be equalized"
    if setting.given(target, "equalize") is None:
        return f"no equalize set-point was entered for {target}"
    return ""


def _limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    del target
    off = _OFF_VOLTS * setting.twelves
    return (
        Limit("held less set-point", "V", -off, off, "our choice: as for absorption"),
        Limit("highest temperature", "°C", None, _STOP_CELSIUS, "common practice: stop at 46 °C"),
    )


def _equalize(watch: Watch) -> Result | None:
    wrong = [why for name, why in READY.items() if watch.said(name) == NO]
    if wrong:
        return not_done("; ".join(wrong))
    if any(watch.said(name) is None for name in READY):
        return None
    volts, celsius, seconds = regulated_volts(watch), watch.look.celsius, watch.look.seconds
    if volts is None:
        return None
    if celsius is None:
        return not_done("no temperature of the bank: neither its set-point nor its end is known")
    memory = watch.memory
    hottest = memory["hottest"] = max(memory.get("hottest", celsius), celsius)
    hot = Figure("highest temperature", hottest, "°C", 1.0)
    if hottest > _STOP_CELSIUS:
        return judged(watch.limits, (hot,), "stop the charge now")
    aim = watch.setting.set_point(watch.target, "equalize", celsius)
    plain = watch.setting.given(watch.target, "equalize")
    absorption = watch.setting.set_point(watch.target, "absorption", celsius)
    if aim is None or plain is None or absorption is None:
        return not_done(f"absorption and equalize of {watch.target} were not both entered")
    now = held(watch)
    figures = (
        Figure("held", now if now is not None else volts, "V", 0.01 * watch.setting.twelves),
        Figure("set-point at the bank's temperature", aim, "V"),
        Figure("held less set-point", (now or volts) - aim, "V", 0.02 * watch.setting.twelves),
        Figure("held less plain set-point", (now or volts) - plain, "V"),
        hot,
    )
    above = volts > absorption + _ABOVE_VOLTS * watch.setting.twelves
    if above and now is not None and now > absorption + _ABOVE_VOLTS * watch.setting.twelves:
        too_low = now < aim - _OFF_VOLTS * watch.setting.twelves
        if too_low and seconds - memory["held.from"] < _CREEP_SECONDS:
            return None
        return judged(watch.limits, figures)
    if lasted(memory, "low", not above, seconds) >= _PATIENCE_SECONDS:
        return Result(Verdict.FAIL, "told to equalize, it never rose above absorption", figures)
    return None


def _targets(setting: Setting) -> tuple[str, ...]:
    return ac_chargers(setting) or ends_charges(setting)


CHECKS: Final = (
    Check(
        id="equalize",
        group="the charge",
        title="Equalize at its set-point",
        purpose="Too little of it does nothing, too much cooks the plates away.",
        caution=_CAUTION,
        hands="After a finished charge, in daylight, with time: answer each question, then start "
        "the charger's equalize. Look into the cells; stop it by hand once this has passed or gas "
        "comes evenly from all of them, then fill up with distilled water.",
        watches="the volts held for a quarter of an hour, and the bank's temperature",
        shows="volts",
        targets=_targets,
        needless=_needless,
        asks=asking(
            Ask("water", "Are all plates covered, none filled to the brim? yes or no"),
            Ask("vented", "Are lid and vents open, and flames and sparks away? yes or no"),
            Ask("loads", "Are loads off that cannot take the volts? yes or no"),
            Ask("full", "Is the charge before it finished? yes or no"),
        ),
        limits=_limits,
        watch=_equalize,
    ),
)
