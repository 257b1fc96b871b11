"""Every screen at every size is as it was when somebody last read it, sign by sign."""

from __future__ import annotations

import itertools
import re

import pytest

from tests.monitor.dashboard.layouts import GOLDEN, every_layout, golden
from tests.monitor.dashboard.screen_text import SIZES, sized

AGAIN = "if it is meant: python -m tests.monitor.dashboard.layouts, and read what it wrote"


@pytest.mark.parametrize(
    "size",
    [each if each == (40, 15) else pytest.param(each, marks=pytest.mark.slow) for each in SIZES],
    ids=sized,
)
async def test_screens_look_as_they_did(size: tuple[int, int]) -> None:
    for name, shown in (await every_layout(size)).items():
        assert golden(name, size).exists(), f"{name}: {AGAIN}"
        assert shown == golden(name, size).read_text(encoding="utf-8"), f"{name}: {AGAIN}"


def test_each_is_kept_at_every_size_and_fits_it() -> None:
    """No row too wide, none too many, the bottom line is one of keys, and no figure ends a row
    without its unit where the next row begins with one."""
    names = {path.name.rpartition("_")[0] for path in GOLDEN.glob("*.txt")}
    assert len(names) > 20
    for name in names:
        for columns, rows in SIZES:
            lines = golden(name, (columns, rows)).read_text(encoding="utf-8").splitlines()
            where = f"{name} at {columns}x{rows}"
            assert len(lines) == rows, where
            assert max(map(len, lines)) <= columns, where
            assert name == "ask" or re.match(r" (q quit|x back|y )", lines[-1]), where
            for above, below in itertools.pairwise(lines):
                torn = re.search(r"\d$", above) and re.match(r" +(%|(V|A|W|Ah|°C|°F|mΩ)\b)", below)
                assert not torn, f"{where}: {above!r} {below!r}"
