"""Ninety days of a coach that nobody restarts: beliefs stay beliefs, errors bounded, memory flat.

The coach is simulated (`replay.coach`), read every half minute; at the end of every day the engine
goes through its state as JSON, as a restart would take it. Slow; one day in the quick suite.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, Final

import pytest

from monitor.config import parse_config
from monitor.engine.engine import Engine
from monitor.engine.gaussian import Gaussian
from replay.coach.config_text import config_text
from replay.coach.scenario import Scenario
from replay.coach.simulate import simulate
from replay.coach.stories import STORIES, shunt, sun_regulator
from tests.monitor.engine.alike import attributes

DAY: Final = 86400.0
PERIOD: Final = 30.0
#: Shore power for a night now and then, hours since the start; the sun on all other days.
SHORE: Final = tuple((at, at + 15.0) for at in range(0, 2200, 190))


@dataclass
class Day:
    """`worst` and `rms` of the error of SOC, `covered` the share within two deviations."""

    number: int
    rms: float
    worst: float
    covered: float
    state: int


def coach(name: str, days: int) -> Scenario:
    story = STORIES[name]
    sources = tuple(
        replace(source, connected=SHORE) if source.connected is not None else source
        for source in story.sources
    )
    return replace(
        story,
        hours=24.0 * days,
        sources=sources,
        faults=(),
        devices=(shunt(story.bank.nominal_volts, PERIOD), sun_regulator("roof-regulator", "roof")),
    )


def lived(name: str, days: int) -> Iterator[tuple[Engine, Day]]:
    """The engine as it stands at the end of each day, restarted there."""
    story = coach(name, days)
    where = parse_config(config_text(story), "coach.toml").site
    engine = Engine(where)
    errors: list[tuple[float, float]] = []
    number = 1
    for inputs, truth in simulate(story):
        for each in inputs:
            engine.step(each)
        glance = engine.glance(where.banks[0].id)
        if glance.soc is not None and inputs:
            assert glance.soc_sd is not None
            errors.append((glance.soc - truth.soc, glance.soc_sd))
        if truth.seconds >= DAY * number - story.step_seconds:
            text = json.dumps(engine.state(), allow_nan=False)
            yield engine, judged(number, errors, len(text))
            engine = Engine(where, json.loads(text))
            errors.clear()
            number += 1


def judged(number: int, errors: list[tuple[float, float]], state: int) -> Day:
    return Day(
        number,
        rms=math.sqrt(sum(error * error for error, _ in errors) / len(errors)),
        worst=max(abs(error) for error, _ in errors),
        covered=sum(abs(error) <= 2.0 * sd for error, sd in errors) / len(errors),
        state=state,
    )


def beliefs(thing: Any, seen: set[int] | None = None) -> Iterator[Gaussian]:
    """Every Gaussian that an engine holds, wherever."""
    seen = set() if seen is None else seen
    if id(thing) in seen or isinstance(thing, int | float | str | None) or callable(thing):
        return
    seen.add(id(thing))
    if isinstance(thing, Gaussian):
        yield thing
        return
    inside = thing.values() if isinstance(thing, dict) else thing
    if not isinstance(thing, dict | list | tuple):
        inside = attributes(thing).values()
    for each in inside:
        yield from beliefs(each, seen)


def assert_positive(belief: Gaussian) -> None:
    """Symmetric, and no direction in which the variance is below nothing (Cholesky)."""
    size, cov = belief.size, belief.cov
    lower = [[0.0] * size for _ in range(size)]
    for i in range(size):
        for j in range(i + 1):
            assert cov[i * size + j] == cov[j * size + i]
            rest = cov[i * size + j] - math.fsum(lower[i][k] * lower[j][k] for k in range(j))
            if i == j:
                assert cov[i * size + i] > 0.0
                assert rest > -1e-9 * cov[i * size + i]
                lower[i][i] = math.sqrt(max(rest, 0.0))
            elif lower[j][j] > 0.0:
                lower[i][j] = rest / lower[j][j]


def assert_sane(engine: Engine) -> None:
    """Every covariance is one, and the stages share one probability."""
    held = list(beliefs(engine))
    assert held
    for belief in held:
        assert_positive(belief)
    view = engine.snapshot().banks[0]
    assert math.fsum(view.stage.probabilities) == pytest.approx(1.0, abs=1e-9)
    assert min(view.stage.probabilities) >= 0.0


def test_a_day_and_a_restart() -> None:
    found = []
    for engine, day in lived("pinewater", 1):
        assert_sane(engine)
        found.append(day)
    (day,) = found
    assert day.rms < 0.1


@pytest.mark.slow
@pytest.mark.parametrize(("name", "days"), [("pinewater", 3), ("pinewater", 90), ("saltmarsh", 90)])
def test_months_without_a_restart(name: str, days: int) -> None:
    found: list[Day] = []
    capacities = []
    for engine, day in lived(name, days):
        found.append(day)
        assert_sane(engine)
        view = engine.snapshot().banks[0]
        assert view.charge.capacity_amp_hours.figure is not None
        capacities.append(view.charge.capacity_amp_hours.figure / view.amp_hours)
    assert len(found) == days
    words = "\n".join(
        f"day {day.number:3}: rms {day.rms:.4f}, worst {day.worst:.4f}, within two sd "
        f"{day.covered:.2f}, state {day.state} bytes, usable {capacity:.2f} of the label"
        for day, capacity in zip(found, capacities, strict=True)
    )
    assert all(capacity == pytest.approx(1.0, abs=0.2) for capacity in capacities), words
    settled = found[2:]
    assert max(day.worst for day in settled) < 0.12, words
    # no worse in the last third than in the first: nothing drifts away
    third = max(1, len(settled) // 3)
    first = sum(day.rms for day in settled[:third]) / third
    last = sum(day.rms for day in settled[-third:]) / third
    assert last < max(1.5 * first, 0.02), words
    assert sum(day.covered for day in settled) / len(settled) > 0.85, words
    assert found[-1].state < 1.05 * found[min(9, days - 1)].state, words
