"""The service as a process: without a screen's libraries, ended cleanly, alive or not."""

from __future__ import annotations

import asyncio
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from io import StringIO
from pathlib import Path

import pytest

from adapters.reading import Input
from adapters.supervise import STUCK_SECONDS
from monitor.config import load_config
from monitor.engine.snapshot import Event, EventKind, Priority
from monitor.history.writing import HistoryWriter
from monitor.live import Live
from monitor.pulse import Pulse, ReaderPulse
from monitor.service.caller import look
from monitor.service.log import Log
from monitor.service.manager import Watchdog, feed_watchdog, tell_manager, watchdog_seconds
from replay.capture import open_capture
from replay.segments import segments
from tests.monitor.recordings import BANK_TOML, small_capture
from tests.monitor.service.showing_feed import short_folder
from tests.wire.bench_process import AMPWRIGHT
from tests.wire.waiting import START_SECONDS, soon, until


@pytest.fixture
def coach(tmp_path: Path) -> Path:
    """A shunt that a recording plays, recorded day by day."""
    played = small_capture(tmp_path, 400)
    config = tmp_path / "coach.toml"
    config.write_text(
        f'[history]\ndirectory = "record"\n{BANK_TOML}'
        f'[devices.shunt]\nadapter = "replay"\ncapture = "{played}"\ndevice = "shunt"\n'
    )
    return config


@pytest.fixture
def places() -> Iterator[Path]:
    with short_folder() as folder:
        yield folder


def environment(folder: Path) -> dict[str, str]:
    kept = {**os.environ, "XDG_RUNTIME_DIR": str(folder), "XDG_STATE_HOME": str(folder)}
    return kept | {"XDG_CONFIG_HOME": str(folder), "NOTIFY_SOCKET": str(folder / "notify")}


def test_it_serves_and_ends_in_no_time_with_the_record_whole(coach: Path, places: Path) -> None:
    """SIGHUP changes nothing; a second one is told; SIGTERM ends it with everything kept."""
    manager = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    manager.bind(str(places / "notify"))
    manager.settimeout(START_SECONDS)
    words = [AMPWRIGHT, "serve", "--config", coach]
    levels = {**environment(places), "INVOCATION_ID": "1", "WATCHDOG_USEC": "600000"}
    with (places / "log").open("wb") as log:
        service = subprocess.Popen(words, env=levels, stderr=log)
    try:
        assert manager.recv(100).startswith(b"READY=1\nSTATUS=")
        path = places / "ampwright" / "socket"
        until(lambda: look(path)[1].links[0].up, START_SECONDS, "the shunt is read")
        assert manager.recv(100) == b"WATCHDOG=1"
        service.send_signal(signal.SIGHUP)
        second = subprocess.run(words, env=environment(places), capture_output=True, text=True)
        assert second.returncode == 2
        assert second.stderr.count("\n") == 1
        assert f"process {service.pid} (serve)" in second.stderr
        now = subprocess.run(
            [AMPWRIGHT, "now", "--config", coach], env=levels, capture_output=True, text=True
        )
        assert now.stdout.splitlines()[1].startswith("house: "), now.stderr
        assert service.poll() is None
        began = time.monotonic()
        service.send_signal(signal.SIGTERM)
        assert service.wait(20) == 0
        took = time.monotonic() - began
    finally:
        service.kill()
        manager.close()
    assert took < 2.0
    assert not path.exists()
    assert (coach.parent / "record" / "bank.state").exists()
    (segment,) = segments(coach.parent / "record")
    assert open_capture(segment.path).header.origin == "measured"
    lines = (places / "log").read_text().splitlines()
    assert lines[0].startswith("<6>ampwright ")
    assert lines[-1] == "<6>ended"


def test_the_service_needs_no_screen_library() -> None:
    modules = "monitor.commands.serve, monitor.service.life, monitor.live, monitor.notify"
    program = f"import sys, {modules}\nprint('textual' in sys.modules, 'rich' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert done.stdout == "False False\n"


@pytest.mark.parametrize("name", ["{folder}/notify", "@ampwright-test-{pid}"])
def test_the_manager_is_told_by_path_or_abstract_address(places: Path, name: str) -> None:
    name = name.format(folder=places, pid=os.getpid())
    manager = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    manager.bind("\0" + name[1:] if name[0] == "@" else name)
    manager.settimeout(10)
    assert tell_manager("READY=1", {"NOTIFY_SOCKET": name})
    assert manager.recv(100) == b"READY=1"
    manager.close()
    assert not tell_manager("READY=1", {"NOTIFY_SOCKET": str(places / "gone")})
    assert not tell_manager("READY=1", {"NOTIFY_SOCKET": "vsock:2:1"})
    assert not tell_manager("READY=1", {})


def test_how_often_the_manager_wants_to_hear() -> None:
    assert watchdog_seconds({}) is None
    assert watchdog_seconds({"WATCHDOG_USEC": "30000000"}) == 30.0
    assert watchdog_seconds({"WATCHDOG_USEC": "30000000", "WATCHDOG_PID": "1"}) is None
    assert watchdog_seconds({"WATCHDOG_USEC": "soon"}) is None


def pulse(taken: int, *ages: float) -> Pulse:
    readers = (ReaderPulse(f"meter{number}", age, 1.0) for number, age in enumerate(ages))
    return Pulse(taken, tuple(readers))


def test_what_counts_as_alive() -> None:
    now = [pulse(1, 0.1, 0.1)]
    watchdog = Watchdog(lambda: now[0])
    assert watchdog.alive() == ""
    assert "nothing was recorded" in watchdog.alive()
    now[0] = pulse(2, 0.1, STUCK_SECONDS)
    assert watchdog.alive() == "", "an adapter may take so long to give a poll up"
    now[0] = pulse(3, 0.1, 3 * STUCK_SECONDS)
    assert "meter1 is stuck" in watchdog.alive()


async def test_a_writer_that_is_stuck_is_not_fed(places: Path) -> None:
    """The recorder waits for a disk that never returns: nothing goes through any more."""
    manager = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    manager.bind(str(places / "notify"))
    manager.setblocking(False)
    taken, stuck, said = [0], threading.Event(), []

    def look() -> Pulse:
        if not stuck.is_set():
            taken[0] += 1
        return pulse(taken[0], 0.1)

    feeding = asyncio.create_task(
        feed_watchdog(Watchdog(look), 0.03, said.append, {"NOTIFY_SOCKET": str(places / "notify")})
    )
    loop = asyncio.get_running_loop()
    async with asyncio.timeout(20):
        for _ in range(3):
            assert await loop.sock_recv(manager, 100) == b"WATCHDOG=1"
        stuck.set()
        while not said:
            await asyncio.sleep(0)
    while True:  # what was on its way
        try:
            manager.recv(100)
        except BlockingIOError:
            break
    with pytest.raises(TimeoutError):
        async with asyncio.timeout(0.3):  # ten times as long as it took before
            await loop.sock_recv(manager, 100)
    feeding.cancel()
    await asyncio.gather(feeding, return_exceptions=True)
    manager.close()
    assert said == ["the watchdog is not fed: nothing was recorded since the last look"]


def test_the_log_is_a_line_an_event_with_its_level() -> None:
    out = StringIO()
    log = Log(True, out)
    for priority in Priority:
        log.event(Event(1, 5.0, EventKind.ALARM, "bank-hot", "house", priority, "a\nb"))
    log.event(Event(2, 6.0, EventKind.LINK, "", "shunt", Priority.HIGH, "silent"))
    lines = out.getvalue().splitlines()
    assert [line[:3] for line in lines] == ["<6>", "<5>", "<4>", "<2>", "<6>"]
    assert lines[3].endswith("house: bank-hot: a b")
    plain = StringIO()
    Log(False, plain).say("ready")
    assert plain.getvalue().endswith(" ready\n")
    assert plain.getvalue()[:2] == "20"


async def test_a_live_feed_whose_disk_never_returns_has_no_pulse(
    coach: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The real thing: the recorder's thread waits in a write, and the watchdog sees it."""
    blocked, let_go = threading.Event(), threading.Event()
    live = Live(load_config(coach), history_path=coach.parent / "record")
    append = HistoryWriter.append

    def stuck(self: HistoryWriter, value: Input) -> None:
        if blocked.is_set():
            let_go.wait(60)
        append(self, value)

    monkeypatch.setattr(HistoryWriter, "append", stuck)
    await live.start()
    try:
        watchdog = Watchdog(live.pulse)
        await soon(lambda: live.pulse().taken > 3, START_SECONDS, "readings come")
        assert watchdog.alive() == ""
        await soon(lambda: watchdog.alive() == "", START_SECONDS, "it goes on")
        blocked.set()
        count = live.pulse().taken
        await soon(lambda: watchdog.alive() != "", 10, "it stands still")
        assert live.pulse().taken - count <= 1
    finally:
        let_go.set()
        await live.stop()
