"""A device that is polled once a minute: what stands so long is told as soon as by one a second."""

from __future__ import annotations

from unittest.mock import patch

import pytest

from adapters.reading import Action, Command, Reading
from monitor.engine.engine import Engine
from monitor.engine.forecast import Forecast
from monitor.engine.snapshot import EventKind, Priority
from tests.monitor.engine.sites import reading, site

#: An hour in order, then charged at 90 A (0.45 C of 200 Ah), and far too high.
BEGINS = 3600.0
ENDS = BEGINS + 5400.0


def figures(seconds: float) -> Reading:
    if seconds < BEGINS:
        return reading(seconds, 13.6, 2.0, 25.0)
    return reading(seconds, 15.6, 90.0, 25.0)


def raised(
    period: float, *, told: bool = False, lost: frozenset[int] = frozenset()
) -> dict[str, float]:
    """When each condition was first raised. `told`: it is configured for a poll a second and then
    slowed; `lost` are the polls that brought nothing."""
    engine = Engine(site(links=(("shunt", 1.0 if told else period),)))
    first: dict[str, float] = {}
    with patch.object(Forecast, "update", lambda *_: None):
        if told:
            engine.step(Command(0.0, "thrift", Action.POLL_PERIOD, "shunt", f"{period:g} s"))
        for number in range(int(ENDS / period)):
            if number in lost:
                continue
            for event in engine.step(figures(number * period)):
                if event.kind is EventKind.CONDITION and event.priority is not Priority.NONE:
                    first.setdefault(event.name, event.seconds)
    return first


@pytest.mark.parametrize(
    ("period", "told"), [(60.0, False), (60.0, True), (45.0, False), (150.0, False)]
)
def test_what_stands_is_told_within_one_poll_of_when_a_quick_device_would(
    period: float, told: bool
) -> None:
    quick, seldom = raised(1.0), raised(period, told=told)
    assert {"over-voltage", "charge-current-high"} <= quick.keys()
    late = {name: seldom.get(name, 1e9) - seconds for name, seconds in quick.items()}
    assert {name: by for name, by in late.items() if abs(by) > period} == {}


def test_lost_polls_are_not_counted_as_held() -> None:
    """Of ten polls nine are lost: what lies between was not seen, whatever the period is."""
    lost = frozenset(number for number in range(1000) if number % 10)
    condition = "charge-current-high"
    seen, unseen = raised(60.0)[condition], raised(60.0, lost=lost).get(condition, 1e9)
    assert unseen - seen > 600.0
