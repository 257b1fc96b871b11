"""Hypothesis strategies for everything a capture can hold, and small ready-made recordings."""

from __future__ import annotations

from hypothesis import strategies as st

from adapters.adapter import Frame
from adapters.reading import (
    Action,
    Channel,
    Command,
    Input,
    LinkState,
    Quantity,
    Reading,
    Tick,
)

VOLTS = Channel("house", Quantity.BANK_VOLTS)
AMPS = Channel("house", Quantity.BANK_AMPS)

finite = st.floats(allow_nan=False, allow_infinity=False)
seconds = st.floats(min_value=-1e9, max_value=1e9)
texts = st.text(max_size=12)  # any character at all, lone surrogates left out by Hypothesis

readings = st.builds(
    Reading,
    seconds,
    texts,
    st.lists(
        st.tuples(
            st.builds(Channel, texts, st.sampled_from(Quantity)),
            finite | st.just(float("inf")) | texts,
        ),
        max_size=5,
    ).map(tuple),
)
links = st.builds(LinkState, seconds, texts, st.booleans(), texts)
ticks = st.builds(Tick, seconds, st.none() | finite)
commands = st.builds(Command, seconds, texts, st.sampled_from(Action), texts, texts)
inputs = readings | links | ticks | commands
frames = st.builds(Frame, seconds, texts, st.booleans(), st.binary(max_size=40))


def reading(at: float, volts: float, device: str = "shunt") -> Reading:
    return Reading(at, device, ((VOLTS, volts), (AMPS, -0.1 * volts)))


def evening(count: int = 200) -> list[Input]:
    """A little of everything, in order: readings, ticks, a silence, a person's command."""
    values: list[Input] = [Tick(0.0, 1.7e9)]
    for number in range(count):
        at = 1.0 + number * 1.1
        values.append(reading(at, 12.0 + number / 997))
        if number % 7 == 0:
            values.append(Tick(at + 0.3))
        if number % 50 == 20:
            values.append(LinkState(at + 0.5, "shunt", False, "no answer in 5 s"))
            values.append(LinkState(at + 0.9, "shunt", True, ""))
        if number % 60 == 30:
            values.append(Command(at + 0.6, "Ada", Action.NOTE, "house", "terminals greased"))
    return values
