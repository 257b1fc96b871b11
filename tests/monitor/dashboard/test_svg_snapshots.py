"""Colours, reverse and bold are as they were when somebody last looked at the pictures."""

from __future__ import annotations

import pytest

from tests.monitor.dashboard.svg_snapshots import SHOTS, Shot, drawn, kept

AGAIN = "if it is meant: python -m tests.monitor.dashboard.svg_snapshots, and look at what it drew"


@pytest.mark.parametrize("shot", SHOTS, ids=lambda shot: str(shot.name))
def test_a_screen_in_colour_is_as_it_was(shot: Shot) -> None:
    assert drawn(shot) == kept(shot).read_text(encoding="utf-8"), AGAIN
