"""Checks of protection, of alarms raised on purpose, and of what is drawn unasked."""

from __future__ import annotations

from typing import Final

from monitor.commission.check import Ask, Check, Result, Watch, asking, judged, not_done
from monitor.commission.checks_sources import may_stand
from monitor.commission.memory import lasted, steady
from monitor.commission.record import Figure, Limit, Verdict
from monitor.commission.setting import Setting

_GUARDS: Final = "protection and alarms"

_ALARM_SECONDS: Final = 2700.0
_DRAW_SECONDS: Final = 300.0
_OPEN_AMPS: Final = 0.5


# -- protection and alarms ----------------------------------------------------------------------


def _guards(setting: Setting) -> tuple[str, ...]:
    return tuple(each.name for each in setting.installation.protection) or ("",)


def _no_guard(setting: Setting, target: str) -> str:
    if target:
        return ""
    if setting.lead:
        return "lead-acid without protection of its own"
    return ""


def _guard(watch: Watch) -> Result | None:
    if not watch.target:
        return not_done("no protection was entered; LFP must have one")
    opened, closed, amps = watch.said("opened"), watch.said("closed"), watch.amps
    if amps is not None:
        flowing = abs(amps) >= 2.0
        watch.memory["flowed"] = max(watch.memory.get("flowed", 0.0), float(flowing))
        stopped = lasted(watch.memory, "stopped", abs(amps) < _OPEN_AMPS, watch.look.seconds)
        if watch.memory["flowed"] and stopped >= 3.0:
            watch.memory["seen"] = 1.0
    if opened == "no":
        return Result(Verdict.FAIL, "it did not open")
    if closed == "no":
        return Result(Verdict.FAIL, "it did not close again")
    if opened is None or closed is None:
        return None
    if not watch.memory.get("seen"):
        return Result(Verdict.FAIL, "said to have opened, but the shunt's current never stopped")
    return Result(Verdict.PASS, "opened, the current stopped, closed again")


#: Safe ways to raise an alarm: what to do, and the alarms that it may raise.
_WAYS: Final[dict[str, tuple[str, tuple[str, ...]]]] = {
    "link": (
        "Pull the data plug of the shunt for some minutes, then plug it in again.",
        ("device-silent", "figure-missing", "polls-lost"),
    ),
    "temperature": (
        "Pull the plug of the tool's temperature sensor for twenty minutes, then plug it in again.",
        ("temperature-missing", "figure-missing", "readings-implausible", "temperature-leapt"),
    ),
}


def _ways(setting: Setting) -> tuple[str, ...]:
    del setting
    return tuple(_WAYS)


def _alarm(watch: Watch) -> Result | None:
    names = _WAYS[watch.target][1]
    up = [alarm for alarm in watch.look.alarms if alarm.split(":", 1)[1] in names]
    memory, seconds = watch.memory, watch.look.seconds
    since = seconds - memory.setdefault("since", seconds)
    if "began" not in memory:
        memory["began"] = 1.0
        memory["already"] = float(bool(up))
    if memory["already"]:
        return not_done(f"{', '.join(up)} was up before: clear it first")
    if up and "raised" not in memory:
        memory["raised"] = since
    if "raised" in memory and not up:
        figures = (
            Figure("raised after", memory["raised"], "s"),
            Figure("cleared after", since, "s"),
        )
        return Result(Verdict.PASS, "raised and cleared again", figures)
    if since < _ALARM_SECONDS:
        return None
    if up:
        return Result(Verdict.FAIL, f"{', '.join(up)} was raised and did not clear")
    return Result(Verdict.FAIL, "no alarm came")


def _draw_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    del target
    source = "our choice: takes at least a fortnight for half of the bank"
    return (Limit("standing draw", "A", None, may_stand(setting), source),)


def _draw(watch: Watch) -> Result | None:
    if watch.amps is None or not watch.done:
        return None
    still = steady(watch.memory, "amps", watch.amps, watch.look.seconds, 0.5)
    if still.seconds < _DRAW_SECONDS:
        return None
    return judged(watch.limits, (Figure("standing draw", -still.mean, "A", max(still.sd, 0.03)),))


CHECKS: Final = (
    Check(
        id="protection",
        group=_GUARDS,
        title="Protection opens and closes again",
        purpose="What must save the battery does so.",
        caution="Only in the way its maker describes (a test key, a command, its disconnect). "
        "Never by heat, frost, a short or by driving cells to their limits.",
        hands="A load or charge of some amps on. Open it, look, close it again.",
        watches="that the current stops",
        shows="amps",
        targets=_guards,
        needless=_no_guard,
        asks=asking(
            Ask("opened", "Did it open? yes or no"),
            Ask("closed", "Did it close again? yes or no"),
        ),
        watch=_guard,
    ),
    Check(
        id="alarm",
        group=_GUARDS,
        title="An alarm raised on purpose",
        purpose="Whoever lives there sees that the tool speaks up, and what that looks like.",
        caution="Data plugs only; no power or battery terminal is opened for this.",
        hands="link: " + _WAYS["link"][0] + " temperature: " + _WAYS["temperature"][0],
        watches="that the alarm comes, and clears",
        shows="alarms",
        targets=_ways,
        watch=_alarm,
    ),
    Check(
        id="standing-draw",
        group=_GUARDS,
        title="What is drawn with everything off",
        purpose="What nobody sees empties a bank in weeks.",
        hands="Sources off; everything off as the owner would leave it. Say done, then wait five "
        "minutes.",
        watches="bank current for five minutes in which it stands still",
        shows="amps",
        limits=_draw_limits,
        watch=_draw,
        until_done=True,
    ),
)
