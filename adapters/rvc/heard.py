"""What was heard on the bus, and which of it is believed now.

Several nodes may speak for one instance. Of those that give a figure and are not silent, the one
with the highest priority of its own is believed, of equal ones that with the lower address (as on
the bus itself). A node that falls silent drops out when its message is old, and the next takes
over.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final, NamedTuple

from adapters.conversion import Decoded, Doubt, Measurand
from adapters.rvc.frames import Message
from adapters.rvc.meanings import MEANINGS, Meaning
from adapters.rvc.table import LAYOUTS, Absent

#: Different messages kept: many times what a coach has, and little memory on a bus gone mad.
_MOST_KEPT: Final = 512

#: What tells messages apart: DGN, instance, line, source address.
Key = tuple[int, int, int, int]


class Kept(NamedTuple):
    """A message and when it came."""

    message: Message
    seconds: float


class Choices(NamedTuple):
    """What the config says: the instance of each thing, the sign of the bank's current ("" where it
    does not say), whether charger status figures are measured, and by how much the bus is slow."""

    instances: Mapping[str, int]
    positive: str
    measured: bool
    patience: float


class Heard:
    """The last message of every node. Times are passed in and never run back."""

    def __init__(self, choices: Choices) -> None:
        self._choices = choices
        self._kept: dict[Key, Kept] = {}
        self._told: dict[Measurand, float] = {}
        self._known: dict[Measurand, str] = {}
        self._missing: dict[Measurand, str] = {}
        turned = choices.positive == "discharging"
        self._rows = tuple(
            (meaning, meaning.conversion(turned)) for meaning in MEANINGS if self._used(meaning)
        )
        self.measurands = tuple({conversion.measurand: None for _, conversion in self._rows})

    def _used(self, meaning: Meaning) -> bool:
        wanted = LAYOUTS[meaning.dgn].thing in self._choices.instances
        signed = bool(self._choices.positive) or not meaning.ask
        return wanted and signed and (self._choices.measured or not meaning.doubtful)

    def take(self, message: Message, seconds: float) -> bool:
        """Keep a message; true where the config asks for its instance."""
        key = (message.layout.dgn, message.instance, message.line, message.source)
        if key in self._kept or len(self._kept) < _MOST_KEPT:
            self._kept[key] = Kept(message, seconds)
        return self._choices.instances.get(message.layout.thing) == message.instance

    def kept(self) -> Iterator[Kept]:
        """Everything heard, in the order of the table."""
        for key in sorted(self._kept, key=lambda key: (-key[0], key)):
            yield self._kept[key]

    def things_heard(self) -> set[str]:
        """Those of the configured things of which something was heard."""
        instances = self._choices.instances
        return {
            kept.message.layout.thing
            for kept in self._kept.values()
            if instances.get(kept.message.layout.thing) == kept.message.instance
        }

    def figures(self, now: float) -> Decoded:
        """What is believed now; figures that are not held only if newer than the last told."""
        decoded = Decoded()
        for measurand in self.measurands:
            found = self._best(measurand, now)
            if found is None:
                self._note_missing(measurand)
                continue
            meaning, kept = found
            self._known[measurand] = meaning.field
            self._missing.pop(measurand, None)
            if not meaning.held and kept.seconds <= self._told.get(measurand, -1.0):
                continue
            self._told[measurand] = kept.seconds
            self._convert(measurand, meaning, kept, decoded)
        return decoded

    def _convert(
        self, measurand: Measurand, meaning: Meaning, kept: Kept, decoded: Decoded
    ) -> None:
        conversion = next(c for m, c in self._rows if m == meaning)
        figure = kept.message.fields[meaning.field]
        assert not isinstance(figure, Absent)  # _best takes figures alone
        try:
            decoded.figures[measurand] = (
                conversion.fact_of_code(str(int(figure)))
                if conversion.is_text
                else conversion.fact_of_number(figure)
            )
        except Doubt as doubt:
            decoded.left_out[measurand] = f"{measurand}: {doubt}"

    def _best(self, measurand: Measurand, now: float) -> tuple[Meaning, Kept] | None:
        """The row and message to believe: own priority first, then the order of the rows."""
        best: tuple[tuple[float, int, int], Meaning, Kept] | None = None
        for order, (meaning, conversion) in enumerate(self._rows):
            if conversion.measurand != measurand:
                continue
            for kept in self._of(meaning):
                if isinstance(kept.message.fields[meaning.field], Absent) or self._old(kept, now):
                    continue
                rank = (-kept.message.rank, order, kept.message.source)
                if best is None or rank < best[0]:
                    best = rank, meaning, kept
        return None if best is None else (best[1], best[2])

    def _of(self, meaning: Meaning) -> Iterator[Kept]:
        instance = self._choices.instances[LAYOUTS[meaning.dgn].thing]
        for (dgn, its_instance, line, _), kept in self._kept.items():
            if (dgn, its_instance, line) == (meaning.dgn, instance, meaning.line):
                yield kept

    def _old(self, kept: Kept, now: float) -> bool:
        return now - kept.seconds > kept.message.layout.stale_seconds * self._choices.patience

    def _note_missing(self, measurand: Measurand) -> None:
        """Only what once came can go missing; the reason is that of its last message."""
        if measurand not in self._known or measurand in self._missing:
            return
        last: Kept | None = None
        field = ""
        for meaning, conversion in self._rows:
            if conversion.measurand != measurand:
                continue
            for kept in self._of(meaning):
                if last is None or kept.seconds > last.seconds:
                    last, field = kept, meaning.field
        if last is None:
            return
        layout, figure = last.message.layout, last.message.fields[field]
        self._missing[measurand] = (
            f"{measurand} is missing: {layout.name} says {figure.value}"
            if isinstance(figure, Absent)
            else f"{measurand} is missing: no {layout.name} for more than "
            f"{layout.stale_seconds * self._choices.patience:g} s"
        )

    @property
    def missing(self) -> str:
        """What came before and no longer does, with the reason; empty where nothing is."""
        return "; ".join(self._missing.values())
