"""A state that is not what it should be: refused in one line when it is taken up."""

from __future__ import annotations

import json
from typing import Any

import pytest

from monitor.engine.engine import Engine
from monitor.engine.whose_state import StateError
from tests.monitor.engine.sites import SHORE_AMPS, SHORE_VOLTS, reading, site

#: What another program could have left in place of a figure.
WRONG: tuple[Any, ...] = (None, "x", True, [], {}, float("inf"), float("nan"))


@pytest.fixture(scope="module")
def kept() -> str:
    engine = Engine(site(sources=("shore",)))
    for second in range(0, 600, 5):
        own = ((SHORE_VOLTS, 13.3), (SHORE_AMPS, 30.0))
        engine.step(reading(float(second), 13.2, 25.0, more=own))
    return json.dumps(engine.state())


def with_change(kept: str, path: str, value: Any) -> dict[str, Any]:
    state: Any = json.loads(kept)
    inner = state
    keys = [int(key) if key.isdigit() else key for key in path.split("/")]
    for key in keys[:-1]:
        inner = inner[key]
    assert inner[keys[-1]] is not None
    inner[keys[-1]] = value
    return state  # type: ignore[no-any-return]


@pytest.mark.parametrize("value", WRONG, ids=repr)
@pytest.mark.parametrize(
    "path",
    [
        "memory/banks/0/signal/noise_volts",
        "memory/banks/0/signal/minute/slope_volts",
        "memory/banks/0/stage/probabilities/3",
        "memory/banks/0/stage/set_points/absorption/mean",
        "memory/banks/0/sources/0/lead/belief/mean/0",
        "memory/banks/0/watch/hold/low_amps",
    ],
)
def test_another_kind_of_value_is_refused(kept: str, path: str, value: Any) -> None:
    with pytest.raises(StateError, match=r"^engine state is damaged [^\n]*: start anew$"):
        Engine(site(sources=("shore",)), with_change(kept, path, value))


def test_a_list_of_another_length_is_refused(kept: str) -> None:
    path = "memory/banks/0/stage/probabilities"
    for value in ([], [1.0], [0.1] * 8):
        with pytest.raises(StateError, match="engine state is damaged"):
            Engine(site(sources=("shore",)), with_change(kept, path, value))


def test_a_branch_that_is_missing_is_refused(kept: str) -> None:
    for name in ("seconds", "alignment", "journal", "banks", "device_memory"):
        state = json.loads(kept)
        del state["memory"][name]
        with pytest.raises(StateError, match=r"^engine state is damaged .*: start anew$"):
            Engine(site(sources=("shore",)), state)
    for memory in (None, [], "x", 3.0):
        with pytest.raises(StateError, match=r"^engine state is damaged"):
            Engine(site(sources=("shore",)), {**json.loads(kept), "memory": memory})


def test_an_untouched_state_is_taken_up(kept: str) -> None:
    engine = Engine(site(sources=("shore",)), json.loads(kept))
    assert json.dumps(engine.state()) == kept
