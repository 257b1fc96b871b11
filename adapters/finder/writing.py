"""The answer as a device description, checked by reading it back."""

from __future__ import annotations

from collections.abc import Mapping

from adapters.description import load_text
from adapters.finder.search import Candidate
from adapters.reading import Quantity
from adapters.registers import TYPES

#: Quantities whose sign a description tells in words.
_CURRENTS = frozenset({Quantity.BANK_AMPS, Quantity.SOURCE_AMPS})


def description_text(
    found: Mapping[Quantity, Candidate], title: str, device_id: int, remarks: Mapping[Quantity, str]
) -> str:
    """A description of these registers; `remarks` go beside each as a comment.

    It is loaded once to be sure that it can be: a mistake here is ours.
    """
    lines = [
        "# Device description, found by comparing registers with a meter.",
        "# Check it again with `ampwright check` beside a meter before you trust it.",
        "",
        'kind = "modbus"',
        f"title = {_quoted(title)}",
        f"device_id = {device_id}",
        "bridge = 0               # this device's map is not known: nothing else is read along",
    ]
    for quantity, candidate in found.items():
        lines += ["", *_register(quantity, candidate, remarks.get(quantity, ""))]
    text = "\n".join(lines) + "\n"
    load_text(text, title)
    return text


def _register(quantity: Quantity, candidate: Candidate, remark: str) -> list[str]:
    view, formula = candidate.view, candidate.formula
    lines = [f"# {line}" for line in remark.splitlines()]
    lines += [
        "[[registers]]",
        f'quantity = "{quantity.value}"',
        f'table = "{view.table}"',
        f"address = {view.address}",
        f'type = "{view.kind}"',
    ]
    if TYPES[view.kind].registers > 1:
        lines.append(f'word_order = "{"little" if view.words_little else "big"}"')
    if formula.scale != 1.0:
        lines.append(f"scale = {formula.scale!r}")
    if formula.offset:
        lines.append(f"offset = {formula.offset!r}")
    lines.append(f'unit = "{formula.unit}"')
    if quantity in _CURRENTS:
        lines.append(f'positive = "{"charging" if candidate.sign > 0 else "discharging"}"')
    return lines


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
