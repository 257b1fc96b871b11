"""The extremes of the cells are told in an order that can be, and of one another."""

from __future__ import annotations

from adapters.reading import Quantity
from monitor.engine.said import Said
from monitor.words.bank import part_lines


def said(highest: float, lowest: float) -> tuple[Said, ...]:
    return (
        Said("bms", "house", None, Quantity.HIGHEST_CELL_VOLTS, highest, 1.0),
        Said("bms", "house", None, Quantity.LOWEST_CELL_VOLTS, lowest, 1.0),
    )


def test_a_highest_cell_below_the_lowest_is_told_as_alike() -> None:
    assert part_lines(said(3.298, 3.299), "house", fahrenheit=False) == [
        "highest and lowest cell: alike, 3.298 to 3.299 V"
    ]


def test_cells_apart_are_told_one_by_one() -> None:
    assert part_lines(said(3.312, 3.299), "house", fahrenheit=False) == [
        "highest cell: 3.312 V",
        "lowest cell: 3.299 V",
    ]
