"""A check as a row of a table: what for, what to do, what is watched, within what, and how judged.

`watch` is a small pure function. It is given everything it may know as a `Watch` and says the
result once there is one; what it must remember between two looks it keeps in `Watch.memory`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final, NamedTuple

from monitor.commission.look import Look
from monitor.commission.memory import Memory
from monitor.commission.record import Figure, Limit, Sizing, Verdict
from monitor.commission.setting import Setting
from monitor.with_doubt import with_doubt

YES: Final = "yes"
NO: Final = "no"


class Ask(NamedTuple):
    """Something a person is asked. A figure in `unit` within `low`..`high`; without a unit of
    measure, `yes` or `no`. `optional`: the check is judged without it too; `or_no`: there may be
    no such figure. `date`: a day to come, or in how many months. `told_as`: its name in
    `SupplyView`, where the source's device may tell it; what it tells need not be typed."""

    name: str
    words: str
    unit: str = ""
    low: float = 0.0
    high: float = 0.0
    optional: bool = False
    or_no: bool = False
    date: bool = False
    told_as: str = ""

    @property
    def is_figure(self) -> bool:
        return self.high > self.low


class Result(NamedTuple):
    """`facts` are what other checks may count on from now on."""

    verdict: Verdict
    why: str = ""
    figures: tuple[Figure, ...] = ()
    sizing: Sizing | None = None
    facts: tuple[tuple[str, float], ...] = ()


@dataclass(slots=True)
class Watch:
    """All that a check may know. `entries` are what was asked and answered; `done` that the person
    says the hands are finished; `facts` are what other checks found ("reversed", ...). `wall` is
    Unix time at the look, None where no clock is known."""

    setting: Setting
    target: str
    look: Look
    memory: Memory
    entries: Mapping[str, float | str]
    done: bool
    limits: tuple[Limit, ...]
    facts: Mapping[str, float]
    wall: float | None = None

    def figure(self, name: str) -> float | None:
        value = self.entries.get(name)
        return value if isinstance(value, float) else None

    def said(self, name: str) -> str | None:
        value = self.entries.get(name)
        return value if isinstance(value, str) else None

    @property
    def amps(self) -> float | None:
        """Bank current; turned round once the shunt was found reversed, so that one mistake is
        not found a dozen times."""
        amps = self.look.amps
        return None if amps is None else amps * self.facts.get("sign", 1.0)

    def limit(self, name: str) -> Limit:
        return next(each for each in self.limits if each.name == name)


Detector = Callable[[Watch], Result | None]


def _bank(setting: Setting) -> tuple[str, ...]:
    del setting
    return ("",)


def _always(setting: Setting, target: str) -> str:
    del setting, target
    return ""


def _nothing_asked(setting: Setting, target: str) -> tuple[Ask, ...]:
    del setting, target
    return ()


def _no_limits(setting: Setting, target: str) -> tuple[Limit, ...]:
    del setting, target
    return ()


@dataclass(frozen=True, slots=True)
class Check:
    """A row. `needless` gives the reason why a target has no use for it, "" where it has.

    `alone`: it watches from the start without anybody beginning it (charging overnight).
    `at_once`: it only looks at what was entered, once in each run of the program.
    `until_done`: nothing is judged before the person says that the hands are finished;
    `done_if_told`: so where devices tell what would be asked.
    `fed_by` gives the source whose AC side is asked for, where it is.
    `shows` is the live figure to put up large: volts, amps, celsius, source_amps, source_volts.
    """

    id: str
    group: str
    title: str
    purpose: str
    hands: str
    watches: str
    watch: Detector
    caution: str = ""
    shows: str = ""
    alone: bool = False
    until_done: bool = False
    done_if_told: bool = False
    at_once: bool = False
    targets: Callable[[Setting], tuple[str, ...]] = _bank
    needless: Callable[[Setting, str], str] = _always
    asks: Callable[[Setting, str], tuple[Ask, ...]] = _nothing_asked
    limits: Callable[[Setting, str], tuple[Limit, ...]] = _no_limits
    fed_by: Callable[[Setting, str], str] | None = None


def asking(*asks: Ask) -> Callable[[Setting, str], tuple[Ask, ...]]:
    return lambda _, __: asks


def within(*limits: Limit) -> Callable[[Setting, str], tuple[Limit, ...]]:
    return lambda _, __: limits


def judged(limits: tuple[Limit, ...], figures: tuple[Figure, ...], why: str = "") -> Result:
    """Pass where every figure lies within the limit of its name, else fail and say which.

    A figure nearer to its limit than its own uncertainty is told as such: it is judged as it is.
    """
    by_name = {each.name: each for each in limits}
    wrong: list[str] = []
    close: list[str] = []
    for each in figures:
        limit = by_name.get(each.name)
        if limit is None:
            continue
        if not inside(limit, each.figure):
            wrong.append(f"{each.name} {told(each)}, expected {range_words(limit)}")
        elif each.uncertainty is not None and _near(limit, each):
            close.append(f"{each.name} nearer to its limit than it can be told")
    if wrong:
        return Result(Verdict.FAIL, "; ".join(wrong) + (f"; {why}" if why else ""), figures)
    return Result(Verdict.PASS, "; ".join(filter(None, (why, *close))), figures)


def inside(limit: Limit, figure: float) -> bool:
    low, high = limit.low, limit.high
    return (low is None or figure >= low) and (high is None or figure <= high)


def _near(limit: Limit, figure: Figure) -> bool:
    ends = [end for end in (limit.low, limit.high) if end is not None]
    return any(abs(figure.figure - end) < (figure.uncertainty or 0.0) for end in ends)


#: Units as people write them, where a record keeps them in plain letters.
_WRITTEN: Final = {"mohm": "mΩ"}


def written(unit: str) -> str:
    """A unit as it is printed."""
    return _WRITTEN.get(unit, unit)


def range_words(limit: Limit) -> str:
    unit = f" {written(limit.unit)}" if limit.unit else ""
    low, high = limit.low, limit.high
    if low is not None and high is not None:
        return f"{low:.4g} to {high:.4g}{unit}"
    if low is not None:
        return f"at least {low:.4g}{unit}"
    return f"at most {high:.4g}{unit}" if high is not None else "anything"


def told(figure: Figure) -> str:
    unit = f" {written(figure.unit)}" if figure.unit else ""
    if not figure.uncertainty:
        return f"{figure.figure:.4g}{unit}"
    shown, doubt = with_doubt(figure.figure, figure.uncertainty)
    return f"{shown} ±{doubt}{unit}"


def not_done(why: str, figures: tuple[Figure, ...] = ()) -> Result:
    return Result(Verdict.NOT_DONE, why, figures)
