"""From the wire to the screen, the whole way through: real devices, real links, the real program.

Three known banks are each measured by a device of another kind, served by `ampwright bench` in a
process of its own: registers on a serial line (a pseudo-terminal), registers over TCP, text lines
on a serial line. The right figures must stand on the screen; a device that dies in the middle of a
read must be seen as dead, one that returns as live; and what was recorded meanwhile must replay to
the very events that were seen. `test_wire_to_screen_terminal.py` does the same in a real terminal.
"""

from __future__ import annotations

import itertools
import json
import subprocess
import time
from collections.abc import Callable
from datetime import UTC
from pathlib import Path
from typing import Final

import pytest
from textual.pilot import Pilot

from adapters.reading import Action, Command, LinkState, Reading, Tick
from monitor.config import load_config
from monitor.dashboard.app import Dashboard
from monitor.engine.engine import Engine
from monitor.live import Live
from monitor.playthrough import event_line
from monitor.recorded import open_recorded
from replay.capture import open_capture
from tests.monitor.dashboard.screen_text import press, text
from tests.wire.bench_process import AMPWRIGHT
from tests.wire.coach import Coach
from tests.wire.known import BANKS, HOUSE, RADIO, WINCH, KnownBank
from tests.wire.tmux import has_large
from tests.wire.waiting import BACK_SECONDS, SEEN_SECONDS, START_SECONDS, soon

#: Figures are stale three seconds after the last (three periods, at least 3 s), and time is told
#: at least once a second.
STALE_SECONDS: Final = 3.0

JUMP_SECONDS: Final = 5400.0

#: Pages turned there and back, far more than an account has.
_MOST_PAGES: Final = 60


class Wires:
    """The bytes on every wire, to see when a device is in the middle of a read."""

    def __init__(self) -> None:
        self._seen: dict[str, list[bool]] = {}

    def of(self, device: str) -> Callable[[bool, bytes], None]:
        seen = self._seen.setdefault(device, [])
        return lambda sent, _: seen.append(sent)

    def count(self, device: str) -> int:
        return len(self._seen[device])

    def waits(self, device: str, since: int) -> bool:
        """A request went out since, and nothing has come back."""
        return self.count(device) > since and self._seen[device][-1]


class Watched:
    """The dashboard in this process, on the real devices."""

    def __init__(self, board: Dashboard, pilot: Pilot[int]) -> None:
        self.board, self.pilot = board, pilot

    async def shows(self, seconds: float, *words: str) -> str:
        """The screen, once all these words are on it at the same time."""

        def found() -> str:
            now = text(self.board)
            return now if all(word in now for word in words) else ""

        return await soon(found, seconds, f"the screen shows {words}", lambda: text(self.board))

    async def leafs_to(self, words: str) -> None:
        """The page of a long account on which these words stand."""
        for key in itertools.islice(itertools.cycle("nnnppp"), _MOST_PAGES):
            if words in text(self.board):
                return
            await press(self.pilot, key)
        raise AssertionError(f"{words!r} is on no page\n{text(self.board)}")

    async def turns_to(self, bank: KnownBank) -> None:
        """Another bank in view, by the key for it."""
        for _ in BANKS:
            if await self._in_view() == bank.bank:
                return
            await press(self.pilot, "b")
        raise AssertionError(f"{bank.bank} does not come into view\n{text(self.board)}")

    async def _in_view(self) -> str:
        """The bank named in the top line, once there is one."""

        def named() -> str:
            words = text(self.board).split("\n")[0].replace(",", " ").split()
            return next((bank.bank for bank in BANKS if bank.bank in words), "")

        return await soon(named, START_SECONDS, "a bank is in view", lambda: text(self.board))

    async def shows_live(self, bank: KnownBank, seconds: float = SEEN_SECONDS) -> None:
        await self.turns_to(bank)
        seen = await self.shows(
            seconds, bank.volts, bank.celsius, f"{bank.stage.capitalize()}, ", " % likely"
        )
        assert has_large(seen, bank.amps_large), seen

    async def shows_stale(self, bank: KnownBank, seconds: float = SEEN_SECONDS) -> None:
        """No figure of it looks live, and words say so."""
        await self.turns_to(bank)
        seen = await self.shows(
            seconds, f"Stage not known now; was {bank.stage}.", "No reading", "last "
        )
        for figure in (bank.volts, bank.amps, bank.celsius):
            assert figure not in seen, seen
        assert not has_large(seen, bank.amps_large), seen
        assert has_large(seen, "--"), seen


@pytest.mark.parametrize("bank", BANKS, ids=lambda bank: bank.wire)
async def test_the_figures_on_the_wire_are_on_the_screen(coach: Coach, bank: KnownBank) -> None:
    """One device, one bank, one screen: to the last digit that is shown."""
    live = Live(load_config(coach.of(bank)))
    board = Dashboard(live, zone=UTC)
    async with board.run_test(size=(100, 30)) as pilot:
        watched = Watched(board, pilot)
        await watched.shows_live(bank, START_SECONDS)
        await press(pilot, "w")
        await watched.leafs_to(f"current: {bank.amps}, read just now")
    assert live.failure is None


async def test_a_register_that_the_device_refuses_is_named_and_the_rest_is_read(
    coach: Coach,
) -> None:
    """The description asks for more than the device has: one line says which, and where to look."""
    config = coach.of(WINCH)
    more = '[[registers]]\nquantity = "bank_soc"\naddress = 60\ntype = "uint16"\nunit = "%"\n'
    (coach.folder / "more.toml").write_text(f"{WINCH.description}\n{more}", encoding="utf-8")
    config.write_text(config.read_text().replace(f"{WINCH.device}.toml", "more.toml"))
    live = Live(load_config(config))
    board = Dashboard(live, zone=UTC)
    async with board.run_test(size=(100, 30)) as pilot:
        watched = Watched(board, pilot)
        await watched.shows_live(WINCH, START_SECONDS)
        await watched.shows(SEEN_SECONDS, "winch-meter: the device refuses", "60")
        await press(pilot, "w")
        pages = ""
        for _ in range(6):
            pages += " ".join(text(board).split())
            await press(pilot, "n")
        assert "last reading just now" in pages
        assert "correct the address in more.toml" in pages


async def test_dead_in_mid_read_stale_back_again_and_the_record_of_it(
    coach: Coach, tmp_path: Path
) -> None:
    """Two devices die while their answer is awaited and come back; the third goes on untouched.

    Meanwhile a person says "seen" to the alarm, and the wall clock is moved. The recording of it
    all replays to the events that the live feed gave, byte for byte, at any rate.
    """
    config, wires, jump = load_config(coach.config), Wires(), [0.0]
    capture = tmp_path / "run.capture"
    live = Live(
        config,
        capture_path=capture,
        adapters=[device.build(wires.of(device.settings.name)) for device in config.devices],
        wall=lambda: time.time() + jump[0],
    )
    board = Dashboard(live, zone=UTC, who="tester")
    async with board.run_test(size=(80, 24)) as pilot:
        watched = Watched(board, pilot)
        for bank in BANKS:
            await watched.shows_live(bank, START_SECONDS)
        for bank in (HOUSE, WINCH):
            since = wires.count(bank.device)
            coach.device(bank).freeze()
            await soon(
                lambda device=bank.device, since=since: wires.waits(device, since),
                SEEN_SECONDS,
                f"{bank.device} is asked and does not answer",
            )
            coach.device(bank).kill()
        for bank in (HOUSE, WINCH):
            await watched.shows_stale(bank)
        await watched.shows_live(RADIO)
        await press(pilot, "a")
        await watched.shows(SEEN_SECONDS, "A device does not answer", "(new)")
        await press(pilot, "k")
        await watched.shows(SEEN_SECONDS, "(seen)")
        jump[0] = JUMP_SECONDS
        await press(pilot, "x")
        for bank in (HOUSE, WINCH):
            coach.device(bank).start()
        for bank in BANKS:
            await watched.shows_live(bank, BACK_SECONDS)
        await press(pilot, "q")
    assert board.return_code == 0
    assert live.failure is None
    assert live.closing is not None
    assert live.closing.lost == 0

    told = "".join(map(event_line, live.events(0)))
    for rate in ("max", "20"):
        assert replayed_events(capture, rate, tmp_path) == told
    holds_what_happened(capture, told)
    stale_in_time(capture)


def replayed_events(capture: Path, rate: str, folder: Path) -> str:
    """What `ampwright replay` says happened in a capture."""
    out = folder / f"events-{rate}.jsonl"
    done = subprocess.run(
        [AMPWRIGHT, "replay", capture, "--rate", rate, "--events", out],
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert (done.returncode, done.stderr) == (0, "")
    return out.read_text(encoding="utf-8")


def holds_what_happened(capture: Path, told: str) -> None:
    """The recording has the links' ups and downs, the key that was pressed and the moved clock;
    none of it is missing from the events either."""
    inputs = list(open_capture(capture).inputs())
    ups: dict[str, list[bool]] = {bank.device: [] for bank in BANKS}
    for value in inputs:
        if isinstance(value, LinkState) and ups[value.device][-1:] != [value.up]:
            ups[value.device].append(value.up)
    assert ups == {
        HOUSE.device: [True, False, True],
        WINCH.device: [True, False, True],
        RADIO.device: [True],
    }
    (command,) = (value for value in inputs if isinstance(value, Command))
    assert (command.who, command.action) == ("tester", Action.ACKNOWLEDGE)
    assert command.target in {f"{bank.device}:device-silent" for bank in (HOUSE, WINCH)}
    offsets = [value.wall_offset for value in inputs if isinstance(value, Tick)]
    moved = [offset for offset in offsets if offset is not None]
    assert moved[-1] - moved[0] == pytest.approx(JUMP_SECONDS, abs=5.0)
    events = [json.loads(line) for line in told.splitlines()]
    kinds = {(event["kind"], event["target"]) for event in events}
    assert {("link", HOUSE.device), ("link", WINCH.device)} <= kinds
    assert any(event["name"] == "device-silent" for event in events)
    assert any(event["name"] == "clock-jumped" for event in events)
    assert any(event["kind"] == "command" for event in events)
    assert {bank.stage for bank in BANKS} <= {e["name"] for e in events if e["kind"] == "stage"}


def stale_in_time(capture: Path) -> None:
    """At every input of the recording: no figure older than its limit was shown as one.

    Checked on the recording, for then a busy machine delays nothing.
    """
    recorded = open_recorded(capture)
    engine = Engine(recorded.site, recorded.state)
    last: dict[str, float] = {}
    stale = 0
    for value in recorded.recording.inputs():
        engine.step(value)
        if isinstance(value, Reading):
            last |= {channel.owner: value.seconds for channel, _ in value.values}
        for bank in engine.snapshot().banks:
            age = value.seconds - last.get(bank.id, value.seconds)
            if age > STALE_SECONDS:
                stale += 1
                assert (bank.volts.figure, bank.amps.figure, bank.celsius.figure) == (None,) * 3
                assert bank.volts.reason
    assert stale > 0, "nothing was ever stale: the check would prove nothing"
