"""An RV-C bus in words, for those who set it up: which instances speak, and what they say."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from adapters.rvc.frames import OUTPUT, Message
from adapters.rvc.heard import Kept
from adapters.rvc.table import EXPERIMENTAL, INSTANCE, LINE, PRIORITY, SIDE, Absent


def described(kept: Iterable[Kept], instances: dict[str, int]) -> tuple[str, ...]:
    """One line that says how far this may be trusted, and one for each message heard."""
    return (EXPERIMENTAL, *(_line(one.message, instances) for one in kept))


def name_of(message: Message) -> str:
    """`DC source 1`."""
    return f"{message.layout.thing} {message.instance}"


def _line(message: Message, instances: dict[str, int]) -> str:
    used = instances.get(message.layout.thing) == message.instance
    figures = ", ".join(_figures(message)) or "no figure"
    place = f"{name_of(message)}, address {message.source}, {message.layout.name}"
    rank = f", priority {message.rank:g}" if message.rank else ""
    leg = f", leg {message.line % OUTPUT + 1}" if LINE in message.fields else ""
    return f"{place}{leg}{rank}{'' if used else ', not asked for'}: {figures}"


def _figures(message: Message) -> Iterator[str]:
    for field in message.layout.fields:
        if field.name in (INSTANCE, PRIORITY, LINE, SIDE):
            continue
        figure = message.fields[field.name]
        words = field.name.replace("_", " ")
        if isinstance(figure, Absent):
            if figure is not Absent.NO_DATA:
                yield f"{words}: {figure.value}"
        else:
            yield f"{words} {figure:.7g} {field.kind.unit}".rstrip()
