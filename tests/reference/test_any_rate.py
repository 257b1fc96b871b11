"""The same table and events, byte for byte, however fast a truth capture is played."""

from __future__ import annotations

import io
import itertools
import json
import math
from pathlib import Path

import pytest

from monitor.engine.engine import Engine
from monitor.playthrough import paced, play_through
from monitor.recorded import Recorded, open_recorded
from tests.monitor.engine.captures import TRUTH
from tests.reference.truth_bank import bank_toml

#: Captures with gaps and glitches, and with a source and a protection that opens; first input and
#: how many: stages change in both parts, and the first holds missing minutes.
PARTS = {"c11": (4000, 2500), "c18": (2400, 2500)}


def opened(name: str, folder: Path) -> Recorded:
    path = next(TRUTH.glob(f"{name}*.csv.gz"))
    about = json.loads(Path(str(path).removesuffix(".csv.gz") + ".json").read_text())
    bank = folder / "bank.toml"
    bank.write_text(bank_toml(about["public"]))
    return open_recorded(path, bank)


def played(recorded: Recorded, part: tuple[int, int], rate: float) -> tuple[str, str, float]:
    """Table, events and how long it took, by a clock that only sleeping moves."""
    now = 0.0

    def sleep(seconds: float) -> None:
        nonlocal now
        now += seconds

    first, count = part
    inputs = itertools.islice(recorded.recording.inputs(), first, first + count)
    table, events = io.StringIO(), io.StringIO()
    play_through(
        paced(inputs, rate, lambda: now, sleep),
        Engine(recorded.site, recorded.state),
        recorded.site.banks[0].id,
        table=table,
        events=events,
    )
    return table.getvalue(), events.getvalue(), now


@pytest.mark.parametrize("name", PARTS)
def test_the_same_bytes_at_any_rate(name: str, tmp_path: Path) -> None:
    recorded = opened(name, tmp_path)
    table, events, took = played(recorded, PARTS[name], math.inf)
    rows = table.splitlines()
    assert took == 0.0
    assert len(rows) > PARTS[name][1] * 0.99
    assert events.count('"kind": "stage"') >= 2
    span = float(rows[-1].split(",")[0]) - float(rows[1].split(",")[0])
    for rate in (1.0, 777.0):
        again, events_again, took = played(recorded, PARTS[name], rate)
        assert again == table
        assert events_again == events
        assert took == pytest.approx(span / rate, rel=1e-6)
