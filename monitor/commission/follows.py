"""One mistake, one defect: what failed only because something else did.

A row names the check that follows, the one it follows from (of the same target, or of any where
`anywhere`), and what its figures must show for that. An outcome that follows stays failed and is
told as such; it is only not counted as a defect of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final, NamedTuple

from monitor.commission.record import Outcome, Verdict

#: A crimped and bolted lug in order (common practice).
SOUND_LUG_MILLIOHMS: Final = 0.1

Shows = Callable[[Outcome, Outcome], bool]


def figure(outcome: Outcome, name: str) -> float | None:
    return next((each.figure for each in outcome.figures if each.name == name), None)


def _wrong(outcome: Outcome) -> set[str]:
    """Names of the figures outside their limits."""
    limits = {each.name: each for each in outcome.limits}
    found = set()
    for each in outcome.figures:
        limit = limits.get(each.name)
        if limit is None:
            continue
        low = limit.low is not None and each.figure < limit.low
        high = limit.high is not None and each.figure > limit.high
        if low or high:
            found.add(each.name)
    return found


def _always(follower: Outcome, cause: Outcome) -> bool:
    del follower, cause
    return True


def _lugs_explain(drop: Outcome, lugs: Outcome) -> bool:
    """With sound lugs in place of the bad ones the drop would be within its limits."""
    bad = [each for each in lugs.figures if each.name in {limit.name for limit in lugs.limits}]
    excess = sum(max(each.figure - SOUND_LUG_MILLIOHMS, 0.0) for each in bad)
    amps, both = figure(drop, "amps"), figure(drop, "both legs")
    if not amps or not both:
        return False
    for each in drop.figures:
        limit = next((one for one in drop.limits if one.name == each.name), None)
        if limit is None or limit.high is None:
            continue
        less = excess if each.unit == "mohm" else each.figure * excess * amps / both
        if each.figure - less > limit.high:
            return False
    return True


def _same_offset(later: Outcome, earlier: Outcome) -> bool:
    """Both held voltages are off by the same (within 0.08 V per 12 V: twice what each is judged
    to): the charger stands wrong as a whole, once."""
    here, there = figure(later, "held less set-point"), figure(earlier, "held less set-point")
    aim = figure(later, "set-point at the bank's temperature") or 12.0
    return here is not None and there is not None and abs(here - there) < 0.08 * max(aim / 14.0, 1)


def _holds_plain(stage: Outcome, cause: Outcome) -> bool:
    """It holds the voltage of 25 °C: that it does not follow the temperature is all."""
    del cause
    plain = figure(stage, "held less plain set-point")
    limit = next((each for each in stage.limits if each.name == "held less set-point"), None)
    return plain is not None and limit is not None and abs(plain) <= (limit.high or 0.0)


def _within_a_wrong_temperature(stage: Outcome, sensor: Outcome) -> bool:
    """Judged at a temperature that is not the bank's: off by what 15 °C of it would explain, at
    5 mV for each °C and cell of some 2.3 V (no battery is further from its air for long)."""
    del sensor
    off, aim = (
        figure(stage, "held less set-point"),
        figure(stage, "set-point at the bank's temperature"),
    )
    return off is not None and aim is not None and abs(off) <= 15.0 * 0.005 * aim / 2.3


def _only_drop(stage: Outcome, cause: Outcome) -> bool:
    del cause
    return _wrong(stage) == {"charger above posts"}


def _was_held_low(hot: Outcome, absorption: Outcome) -> bool:
    """It gave less because it already held its (wrong) voltage, not because it was hot."""
    volts, held = figure(hot, "volts"), figure(absorption, "held")
    return volts is not None and held is not None and volts > held - 0.006 * held


def _taken_back(draw: Outcome, cause: Outcome) -> bool:
    """Without what that source takes back the rest would be within its limit."""
    all_of_it, back = figure(draw, "standing draw"), figure(cause, "back-feed")
    limit = next((each.high for each in draw.limits if each.name == "standing draw"), None)
    if all_of_it is None or back is None or limit is None:
        return False
    return all_of_it - back <= limit


class Row(NamedTuple):
    follower: str
    cause: str
    shows: Shows = _always
    anywhere: bool = False


ROWS: Final = (
    Row("lead-drop", "lugs", _lugs_explain),
    Row("compensation", "probe"),
    Row("absorption", "probe", _holds_plain),
    Row("absorption", "compensation", _holds_plain),
    Row("float", "probe", _holds_plain),
    Row("float", "compensation", _holds_plain),
    Row("float", "absorption", _same_offset),
    Row("equalize", "absorption", _same_offset),
    Row("equalize", "probe", _holds_plain),
    Row("equalize", "compensation", _holds_plain),
    Row("equalize", "bank-sensor", _within_a_wrong_temperature, anywhere=True),
    Row("absorption", "bank-sensor", _within_a_wrong_temperature, anywhere=True),
    Row("float", "bank-sensor", _within_a_wrong_temperature, anywhere=True),
    Row("absorption", "lead-drop", _only_drop),
    Row("absorption", "lugs", _only_drop),
    Row("taper", "float"),
    Row("output-hot", "output"),
    Row("output-hot", "absorption", _was_held_low),
    Row("sharing", "output", anywhere=True),
    Row("standing-draw", "back-feed", _taken_back, anywhere=True),
    Row("standing-draw", "engine", _taken_back, anywhere=True),
)


def with_follows(outcomes: Sequence[Outcome]) -> tuple[Outcome, ...]:
    """The same outcomes, each failed one with what it follows from."""
    failed = [each for each in outcomes if each.verdict is Verdict.FAIL]
    told = []
    for each in outcomes:
        cause = _cause(each, failed) if each.verdict is Verdict.FAIL else None
        told.append(replace(each, follows=cause.key if cause is not None else ""))
    return tuple(told)


def _cause(follower: Outcome, failed: list[Outcome]) -> Outcome | None:
    for row in ROWS:
        if row.follower != follower.id:
            continue
        for other in failed:
            near = row.anywhere or other.target == follower.target
            if other.id == row.cause and near and row.shows(follower, other):
                return other
    return None
