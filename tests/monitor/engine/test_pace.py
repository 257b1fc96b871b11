"""The pace of a taper: what was seen of the fall corrects what the circuit says is left."""

from __future__ import annotations

import math

import pytest

from monitor.chemistries import CHEMISTRIES
from monitor.engine.cell import Circuit
from monitor.engine.pace import MOST, Pace

LABEL = 200.0
VOLTS = 2.40


def held(
    rate_of_fall: float, *, soc: float = 0.93, hours: float = 1.0, label: float = LABEL
) -> tuple[Circuit, Pace, float, float]:
    """A bank whose current is the circuit's, and falls so many times as fast; the pace it has."""
    circuit = Circuit(CHEMISTRIES["flooded"])
    pace, step = Pace(), 10.0
    first = circuit.held(soc, 0.07, VOLTS, 25.0)
    amps = 0.0
    for _ in range(round(hours * 3600.0 / step)):
        now = circuit.held(soc, 0.07, VOLTS, 25.0)
        amps = label * first * (now / first) ** rate_of_fall
        pace.note(step, amps, amps, VOLTS, 0.07)
        gas = circuit.gas(VOLTS, 25.0)
        soc += (amps / label - gas) / (1.0 + circuit.share(soc)) * step / 3600.0
    return circuit, pace, soc, amps


@pytest.mark.parametrize("rate", [0.6, 1.0, 1.6])
def test_a_fall_that_was_seen_is_carried_on(rate: float) -> None:
    """Nearly all of the fall behind: the pace is the fall's; nothing behind: it is one."""
    circuit, pace, soc, amps = held(rate)
    near = pace.look(circuit, soc, 25.0, 0.0, 0.99 * amps, LABEL, LABEL)
    assert near == pytest.approx(rate, rel=0.12)
    far = pace.look(circuit, soc, 25.0, 0.0, 0.02 * amps, LABEL, LABEL)
    assert abs(math.log(far)) < 0.3 * abs(math.log(near)) + 0.01


def test_a_moment_tells_nothing() -> None:
    circuit, pace, soc, amps = held(2.0, hours=0.05)
    assert pace.look(circuit, soc, 25.0, 0.0, 0.5 * amps, LABEL, LABEL) == 1.0
    pace.clear()
    assert pace.look(circuit, soc, 25.0, 0.0, 0.5 * amps, LABEL, LABEL) == 1.0


def test_a_pace_has_limits() -> None:
    circuit, pace, soc, amps = held(12.0)
    assert 1.0 <= pace.look(circuit, soc, 25.0, 0.0, 0.99 * amps, LABEL, LABEL) <= MOST


def test_a_sensor_s_noise_is_no_fall() -> None:
    """A current of the size of the sensor's error says nothing of how fast it falls."""
    circuit, pace, soc, amps = held(1.6, soc=0.995)
    loud = pace.look(circuit, soc, 25.0, 0.0, 0.99 * amps, 400.0 * LABEL, LABEL)
    assert loud == pytest.approx(1.0, abs=0.05)
