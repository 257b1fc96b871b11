"""A whole commissioning over Modbus TCP: `python -m tests.monitor.commission.on_the_wire`.

A simulated run is made first, by an installer who lingers after each check. Three bench devices
serve its readings (shunt, both chargers), the live feed polls them as it polls any device, and the
installer's words go into the feed at the moments at which he said them. Everything runs faster than
life, clocks included: `rate` recorded seconds a second.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import itertools
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from adapters.description import load_text
from adapters.reading import Command, Input
from monitor.commission.procedure import Procedure
from monitor.commission.record import Outcome, Verdict
from monitor.commission.session import Session, evidence_of
from monitor.commission.setting import Setting
from monitor.config import load_config
from monitor.live import Live
from replay.bench.figures import Chosen
from replay.bench.serve import BenchSettings, Place, serve
from replay.capture import Capture, open_capture
from tests.monitor.commission.coach import CONFIG, DEFECTS, INSTALLATION, SCENARIO
from tests.monitor.commission.runs import commission, write_capture

#: What cannot be shown on a bench: a plug that is pulled there leaves the last figures standing.
NOT_ON_A_BENCH: Final = frozenset({"alarm@link", "alarm@temperature"})
_LINGER_SECONDS: Final = 120.0
_POLL_SECONDS: Final = 0.05

_SHUNT: Final = """\
kind = "modbus"
title = "a shunt of these tests"
period_seconds = {poll}
[[registers]]
quantity = "bank_volts"
address = 10
type = "uint16"
scale = 0.01
unit = "V"
[[registers]]
quantity = "bank_amps"
address = 11
type = "int32"
unit = "mA"
positive = "charging"
[[registers]]
quantity = "bank_celsius"
address = 13
type = "int16"
scale = 0.1
unit = "°C"
absent = 0x7FFF
"""
_CHARGER: Final = """\
kind = "modbus"
title = "a charger of these tests"
period_seconds = {poll}
[[registers]]
quantity = "source_volts"
address = 20
type = "uint16"
scale = 0.01
unit = "V"
[[registers]]
quantity = "source_amps"
address = 21
type = "int32"
unit = "mA"
"""


class Scanned:
    """The recording for one bench. A bench looks through all of it before it begins, which would
    hold up the others' clocks by minutes of recorded time: its first pass is cut short."""

    def __init__(self, recording: Capture) -> None:
        self._recording = recording
        self._passes = 0
        #: When its player began, by the steady clock.
        self.began = 0.0
        self.header = recording.header
        self.title, self.start, self.end = recording.title, recording.start, recording.end

    def inputs(self) -> Iterator[Input]:
        self._passes += 1
        self.began = time.monotonic()
        every = self._recording.inputs()
        return itertools.islice(every, 100) if self._passes == 1 else every


async def run(defect: str | None, seed: int, rate: float, folder: Path) -> tuple[Outcome, ...]:
    """The outcomes of one commissioning on the wire."""
    made = commission(seed, defect, keep=True, linger=_LINGER_SECONDS, soc=0.35)
    recording = open_capture(write_capture(made, folder / "made.capture"))
    shunt, charger = (text.format(poll=_POLL_SECONDS) for text in (_SHUNT, _CHARGER))
    (folder / "shunt.toml").write_text(shunt, encoding="utf-8")
    (folder / "charger.toml").write_text(charger, encoding="utf-8")
    devices = (
        ("shunt", shunt, "shunt.toml", 'bank = "house"'),
        ("shore-charger", charger, "charger.toml", 'bank = "house"\nsource = "shore"'),
        ("engine-charger", charger, "charger.toml", 'bank = "house"\nsource = "engine"'),
    )
    places: dict[str, Place] = {}
    recordings = {name: Scanned(recording) for name, *_ in devices}
    serving = []
    for name, text, _, _ in devices:
        settings = BenchSettings(
            recordings[name], load_text(text, name), chosen=Chosen(device=name), rate=rate
        )
        serving.append(
            asyncio.create_task(serve(settings, lambda p, n=name: places.update({n: p})))
        )
    while len(places) < len(devices):
        await asyncio.sleep(0.02)
    began = recordings["shunt"].began
    config = CONFIG
    for name, _, file, owner in devices:
        options = places[name].options
        config += f'[devices.{name}]\nadapter = "modbus-tcp"\ndescription = "{file}"\n{owner}\n'
        config += f'host = "{options["host"]}"\nport = {options["port"]}\n\n'
    path = folder / "coach.toml"
    path.write_text(config, encoding="utf-8")
    live = Live(
        load_config(path),
        capture_path=folder / "wire.capture",
        refresh_seconds=_POLL_SECONDS,
        monotonic=lambda: time.monotonic() * rate,
        wall=lambda: SCENARIO.start_unix + (time.monotonic() - began) * rate,
    )
    procedure = Procedure(Setting(live.site, live.site.banks[0], INSTALLATION))
    session = Session(live, procedure, folder / "record.json")
    words = [each for each in recording.inputs() if isinstance(each, Command)]
    await live.start()
    speaking = asyncio.create_task(_speak(live, words, began, rate))
    try:
        async for snapshot in live.snapshots():
            session.take(snapshot)
            if speaking.done() and (time.monotonic() - began) * rate > recording.end:
                break
    finally:
        for task in (speaking, *serving):
            task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await asyncio.gather(speaking, *serving, return_exceptions=True)
        await live.stop()
    session.evidence = evidence_of(folder / "wire.capture")
    session.save()
    return procedure.outcomes()


async def _speak(live: Live, words: list[Command], began: float, rate: float) -> None:
    """Each word at its moment, given over as soon as its figures may have come through."""
    for word in words:
        await asyncio.sleep(
            max(word.seconds / rate + 2.0 * _POLL_SECONDS + began - time.monotonic(), 0)
        )
        if word.target.split("/", 1)[1] not in NOT_ON_A_BENCH:
            live.send(word)


def main() -> int:
    parser = argparse.ArgumentParser(description="A commissioning over the wire.")
    parser.add_argument("--rate", type=float, default=110.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--defect", choices=sorted(DEFECTS))
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        outcomes = asyncio.run(run(given.defect, given.seed, given.rate, Path(folder)))
    named = [each.key for each in outcomes if each.verdict is Verdict.FAIL and not each.follows]
    left = [
        f"{each.key} ({each.why})"
        for each in outcomes
        if each.verdict is Verdict.NOT_DONE and each.key not in NOT_ON_A_BENCH
    ]
    for each in outcomes:
        if each.verdict in (Verdict.FAIL, Verdict.NOT_DONE):
            print(f"    {each.verdict} {each.key}: {each.why}")
    print(f"named: {', '.join(named) or 'none'}; not done: {', '.join(left) or 'none'}")
    expected = [DEFECTS[given.defect][1]] if given.defect else []
    return 0 if named == expected and not left else 1


if __name__ == "__main__":
    sys.exit(main())
