"""A recording through the procedure: the readings and what was said stand in it, in order.

Live, a check is judged a moment after what was entered; here a look comes before each word, so
that what was judged then is judged now before the next check begins.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from adapters.reading import Input
from monitor.commission.look import look_of
from monitor.commission.procedure import Procedure
from monitor.commission.record import Outcome
from monitor.commission.said import said_in
from monitor.engine.engine import Engine

#: Recorded seconds between two looks: devices report every few seconds.
LOOK_SECONDS: Final = 5.0


def replayed(
    inputs: Iterable[Input], engine: Engine, procedure: Procedure
) -> Iterator[tuple[Outcome, ...]]:
    """Step through everything; the outcomes that are new, whenever there are some."""
    bank, look_at = procedure.setting.bank.id, float("-inf")
    for value in inputs:
        said = [word for event in engine.step(value) if (word := said_in(event)) is not None]
        changed: list[Outcome] = []
        if said or value.seconds >= look_at:
            look_at = value.seconds + LOOK_SECONDS
            changed += procedure.look(look_of(engine.snapshot(), bank))
        for word in said:
            changed += procedure.hear(word)
        if changed:
            yield tuple(changed)
    procedure.look(look_of(engine.snapshot(), bank))
