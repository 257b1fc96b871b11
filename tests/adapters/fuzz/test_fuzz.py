"""A quick part of the fuzzing: the same feeding, fewer bytes than `make fuzz`."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.adapters.fuzz.parsers import Parser, parsers
from tests.adapters.fuzz.run import feed

PARSERS = parsers()


@pytest.mark.parametrize("parser", PARSERS, ids=lambda parser: parser.name)
def test_damaged_samples_raise_nothing(parser: Parser) -> None:
    result = feed(parser, 20_000, seed=7)
    assert not result.failed
    assert result.fed_bytes >= 20_000


@pytest.mark.parametrize("parser", PARSERS, ids=lambda parser: parser.name)
def test_any_bytes_raise_nothing(parser: Parser) -> None:
    take = parser.make()

    @settings(max_examples=20, deadline=None)
    @given(st.lists(st.binary(max_size=200), max_size=4))
    def fed(several: list[bytes]) -> None:
        for data in several:
            take(data)

    fed()
    assert not feed(parser, 500, seed=3).failed  # and it goes on as before
