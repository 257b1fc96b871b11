"""A recording through the procedure: the readings and what was said stand in it, in order.

The looks are those that a live feed gave (`look.Looking`). Records of earlier versions were made
otherwise: live at moments of the screen, which nothing can repeat, and replayed every few seconds
and before each word, which `looks` without a name still does.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from adapters.reading import Input
from monitor.commission.look import EXACT, LOOKS, Looking, look_of
from monitor.commission.procedure import Procedure
from monitor.commission.record import Outcome
from monitor.commission.said import said_in
from monitor.engine.engine import Engine

#: Recorded seconds between two looks of an earlier version.
LOOK_SECONDS: Final = 5.0


def replayed(
    inputs: Iterable[Input],
    engine: Engine,
    procedure: Procedure,
    looks: str = LOOKS,
    most: int | None = None,
) -> Iterator[tuple[Outcome, ...]]:
    """Step through everything, or until so many looks and words were taken in at `most`; the
    outcomes that are new, whenever there are some."""
    if looks not in EXACT:
        yield from _as_before(inputs, engine, procedure)
        return
    procedure.looks = looks
    looking = Looking(procedure.setting.bank.id, ac=looks == LOOKS)
    for value in inputs:
        looking.took(value, engine.step(value), engine)
        given = looking.take(most)
        changed = procedure.take(given)
        if changed:
            yield changed
        if most is not None:
            most -= len(given)
            if most <= 0:
                return


def _as_before(
    inputs: Iterable[Input], engine: Engine, procedure: Procedure
) -> Iterator[tuple[Outcome, ...]]:
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
