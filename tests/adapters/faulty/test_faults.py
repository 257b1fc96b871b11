"""Every fault of the table: the right value, or none and the reason; never a wrong one, no hang.

All run at once, each with a device and a reader of its own; `make score-links` runs them one by
one with the time limits of real devices, and measures.
"""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from tests.adapters.faulty.endure import Endured, endure
from tests.adapters.faulty.faults import FAULTS
from tests.adapters.faulty.score import replugged
from tests.adapters.faulty.wrong_baud import heard_at


async def test_every_fault_is_endured(tmp_path: Path) -> None:
    results: list[Endured] = await asyncio.gather(
        *(
            endure(fault, tmp_path / str(at), timeout=0.4, period=0.1, idle_seconds=0.0)
            for at, fault in enumerate(FAULTS)
        )
    )
    failed = [f"{each.fault.name} ({each.fault.wire}): {each.failed}, saw {each.seen}"
              for each in results if each.failed]  # fmt: skip
    assert not failed, "\n".join(failed)
    assert len(results) == len(FAULTS)


def test_names_are_unique_on_each_wire() -> None:
    assert len({(fault.name, fault.wire) for fault in FAULTS}) == len(FAULTS)


@pytest.mark.parametrize("baud", [300, 9600, 115200])
def test_at_the_same_rate_every_byte_arrives(baud: int) -> None:
    data = bytes(range(256))
    assert heard_at(data, baud, baud) == data


def test_at_another_rate_hardly_any_does() -> None:
    data = bytes(range(1, 200))
    for sent, heard in ((19200, 9600), (4800, 9600), (9600, 38400)):
        assert data[:20] not in heard_at(data, sent, heard)


@pytest.mark.parametrize("times", [3, pytest.param(50, marks=pytest.mark.slow)])
async def test_replugging_leaves_nothing_behind(times: int, tmp_path: Path) -> None:
    assert await replugged(tmp_path / "again", times)
