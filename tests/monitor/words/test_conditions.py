"""Every condition has a name of its own, short enough for the smallest screen."""

from __future__ import annotations

import re

from monitor.config_limits import ALL_ROWS
from monitor.engine import conditions
from monitor.words.conditions import LONGEST, NAMES, condition_name


def test_every_condition_has_a_name_and_no_name_is_left_over() -> None:
    in_tables = [
        *conditions.BANK,
        *conditions.SOURCE,
        *conditions.DEVICE,
        *conditions.SITE,
        *(row for rows in conditions.OWN_LINK.values() for row in rows),
    ]
    assert {row.name for row in in_tables} == set(ALL_ROWS)
    assert set(NAMES) == set(ALL_ROWS)
    assert len(NAMES) > 80


def test_names_are_short_plain_and_all_different() -> None:
    assert len({name.casefold() for name in NAMES.values()}) == len(NAMES)
    for name in NAMES.values():
        assert len(name) <= LONGEST, name
        # A capital first, later only where a term is written so (AC, SOC); no stop, no digits.
        assert re.fullmatch(r"[A-Z][A-Za-z]*(?:[ -](?:[a-z]+|[A-Z]{2,}))*", name), name


def test_what_is_not_known_here_keeps_the_name_it_came_with() -> None:
    assert condition_name("bank-hot") == "Bank too hot to charge"
    assert condition_name("some-later-condition") == "Some later condition"
