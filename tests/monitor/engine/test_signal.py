"""The signal: which readings are believed, and what is made of them."""

from __future__ import annotations

import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.bank import Bank, Source, SourceKind
from monitor.chemistries import CHEMISTRIES
from monitor.engine.bank_inputs import BankInputs
from monitor.engine.signal import GAP_SECONDS, PATIENCE, Signal
from monitor.engine.slopes import Horizon
from monitor.engine.state import dump, restore

BANK = Bank("house", CHEMISTRIES["flooded"], 12, 200.0)
SHORE = Source("shore", "house", SourceKind.AC_CHARGER)


def show(
    signal: Signal,
    seconds: float,
    volts: float | None,
    amps: float | None,
    celsius: float | None = None,
    source_volts: float | None = None,
    source_amps: float | None = None,
) -> bool:
    inputs = BankInputs(len(signal.lead_ohms))
    inputs.seconds = seconds
    inputs.volts = volts
    inputs.amps = amps
    inputs.celsius = celsius
    if inputs.source_volts:
        inputs.source_volts[0] = source_volts
        inputs.source_amps[0] = source_amps
    return signal.update(inputs)


def settled(count: int = 40, volts: float = 13.0, amps: float = 10.0) -> Signal:
    signal = Signal(BANK, (SHORE,))
    for n in range(count):
        # a wobble of one sensor step stands for noise
        assert show(signal, 5.0 * n, volts + 0.01 * (n % 2), amps + 0.1 * (n % 3), 20.0)
    return signal


def memory(signal: Signal) -> str:
    state = dump(signal)
    state.pop("dropped")
    return json.dumps(state, allow_nan=False)


@pytest.mark.parametrize(
    ("seconds", "volts", "amps"),
    [
        (195.0, 13.0, 10.0),
        (100.0, 13.0, 10.0),
        (200.0, math.nan, 10.0),
        (200.0, 13.0, math.nan),
        (200.0, math.inf, 10.0),
        (200.0, 13.0, -math.inf),
        (math.nan, 13.0, 10.0),
        (math.inf, 13.0, 10.0),
        (200.0, 0.0, 10.0),
        (200.0, 60.0, 10.0),
        (200.0, 13.0, 5000.0),
        (200.0, None, 10.0),
        (200.0, 13.0, None),
    ],
)
def test_what_cannot_be_changes_nothing(
    seconds: float, volts: float | None, amps: float | None
) -> None:
    signal = settled()
    before = memory(signal)
    assert not show(signal, seconds, volts, amps)
    assert memory(signal) == before


def test_a_poll_of_another_device_is_no_news_of_the_bank() -> None:
    signal = settled()
    inputs = BankInputs(1)
    inputs.seconds, inputs.volts, inputs.amps = 201.0, 13.0, 10.0
    inputs.volts_age = inputs.amps_age = 1.0
    assert not signal.update(inputs)
    inputs.volts_age = 0.0
    assert signal.update(inputs)


@pytest.mark.parametrize(("volts", "amps"), [(13.0, 454.0), (13.0, -320.0), (10.5, 10.0)])
def test_a_lone_leap_is_not_believed(volts: float, amps: float) -> None:
    signal = settled()
    assert not show(signal, 200.0, volts, amps)
    assert show(signal, 205.0, 13.0, 10.0)
    assert (signal.volts, signal.amps, signal.dropped) == (13.0, 10.0, 1)


def test_a_leap_that_stays_is_believed_at_the_second_reading() -> None:
    signal = settled()
    assert not show(signal, 200.0, 13.0, -140.0)
    assert show(signal, 205.0, 13.0, -140.0)
    assert signal.elapsed == 10.0


def test_a_leap_that_the_volts_answer_is_believed_at_once() -> None:
    signal = settled()
    assert show(signal, 200.0, 11.9, -150.0)
    assert signal.load_step
    assert signal.step_amps == pytest.approx(-160.0, abs=1.0)


def test_nonsense_is_not_waited_out_for_ever() -> None:
    signal = settled()
    taken = [show(signal, 200.0 + 5.0 * n, 13.0, (-1.0) ** n * 300.0) for n in range(PATIENCE + 1)]
    assert taken == [False] * PATIENCE + [True]


def test_a_long_silence_is_said_and_forgets_the_lines() -> None:
    signal = settled()
    assert show(signal, 195.0 + GAP_SECONDS + 1.0, 12.0, -3.0, 21.0)
    assert signal.gap
    assert signal.fast_amps == -3.0
    assert signal.minute.weight == 1.0
    assert show(signal, 400.0, 12.0, -3.0, 21.0)
    assert not signal.gap


def test_temperature_leaps_need_a_second_opinion() -> None:
    signal = settled()
    assert show(signal, 200.0, 13.0, 10.0, -38.0)
    assert signal.celsius == 20.0
    assert show(signal, 205.0, 13.0, 10.0, 20.5)
    assert signal.celsius == 20.5
    assert show(signal, 210.0, 13.0, 10.0, 27.0)
    assert show(signal, 215.0, 13.0, 10.0, 27.5)
    assert signal.celsius == 27.5
    # what no bank could do is not believed at all, however often it is said
    for second in range(220, 300, 5):
        assert show(signal, float(second), 13.0, 10.0, 60.0)
    assert signal.celsius == 27.5
    assert show(signal, 300.0, 13.0, 10.0, math.nan)
    assert signal.celsius == 27.5


def test_a_line_is_found_at_any_sampling() -> None:
    line = Horizon(60.0)
    line.clear(13.0, 30.0)
    seconds = 0.0
    for step in (1.0, 7.0, 2.0, 60.0, 5.0, 3.0, 11.0):
        seconds += step
        line.update(step, 13.0 + 1e-4 * seconds, 30.0 - 5e-3 * seconds)
    line.fit()
    assert line.slope_volts == pytest.approx(1e-4, rel=1e-9)
    assert line.slope_amps == pytest.approx(-5e-3, rel=1e-9)
    assert line.ends_amps == pytest.approx(30.0 - 5e-3 * seconds, rel=1e-12)


def test_a_step_that_moves_no_volts_keeps_the_line_of_the_volts() -> None:
    signal = settled(80)
    weight = signal.long.weight
    assert show(signal, 400.0, 13.0, 25.0)
    assert signal.load_step
    assert signal.long.weight > 0.9 * weight
    signal.long.fit()
    assert abs(signal.long.slope_amps) < 0.002
    assert show(signal, 405.0, 12.7, -10.0)
    assert signal.long.weight < 2.0


def test_noise_is_that_of_the_sensor_whatever_loads_do() -> None:
    signal = Signal(BANK, ())
    state = 1
    level = 0.0
    for n in range(600):
        if n % 12 == 0:  # a load switches every minute
            level = -6.0 if level == 0.0 else 0.0
        total = 0.0
        for _ in range(12):  # the sum of twelve even chances is nearly normal
            state = (1103515245 * state + 12345) % 2**31
            total += state / 2**31
        assert show(signal, 5.0 * n, 12.5 + 0.008 * (total - 6.0) + 0.01 * level, level)
    assert signal.noise_volts == pytest.approx(0.008, rel=0.35)
    assert signal.noise_amps == pytest.approx(0.0002 * 200.0)  # the least that is assumed


def test_lead_resistance_is_measured_where_both_ends_are() -> None:
    signal = Signal(BANK, (SHORE,))
    for n in range(300):
        amps = 30.0 - 0.05 * n
        show(signal, 5.0 * n, 14.4, amps - 2.0, 20.0, 14.4 + 0.006 * amps, amps)
    assert signal.lead_ohms[0] == pytest.approx(0.006, rel=0.02)
    assert signal.source_rise == pytest.approx(0.006 * amps, abs=0.005)
    show(signal, 1500.0, 14.4, 10.0)
    assert signal.source_rise is None


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.floats(allow_nan=True, allow_infinity=True),
            st.floats(allow_nan=True, allow_infinity=True) | st.floats(10.0, 15.0),
            st.floats(allow_nan=True, allow_infinity=True) | st.floats(-50.0, 50.0),
            st.none() | st.floats(allow_nan=True, allow_infinity=True) | st.floats(0.0, 40.0),
        ),
        max_size=30,
    )
)
def test_garbage_never_reaches_the_state(
    rows: list[tuple[float, float, float, float | None]],
) -> None:
    signal = Signal(BANK, ())
    seconds = 0.0
    for jump, volts, amps, celsius in rows:
        seconds += 5.0
        show(signal, jump, volts, amps, celsius)
        show(signal, seconds, volts, amps, celsius)
    json.dumps(dump(signal), allow_nan=False)


def test_the_state_is_complete() -> None:
    whole = settled()
    copy = Signal(BANK, (SHORE,))
    restore(copy, json.loads(json.dumps(dump(whole))))
    for n in range(60):
        row = (200.0 + 5.0 * n, 13.0 + 0.02 * (n % 5), 10.0 - 0.3 * n, 20.0 + 0.1 * n)
        assert show(whole, *row) == show(copy, *row)
    assert dump(whole) == dump(copy)
