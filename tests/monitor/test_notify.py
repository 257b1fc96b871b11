"""Telling a person who is away: when, how often, and what happens while there is no way out."""

from __future__ import annotations

import asyncio
import json
import threading
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from adapters.reading import Command, OwnLink
from monitor import notify as notifying_module
from monitor.cli import main
from monitor.config import parse_config
from monitor.config_notify import Notify
from monitor.engine.snapshot import AlarmState, AlarmView, Event, EventKind, Priority, Snapshot
from monitor.live import Live
from monitor.notices import Notice
from monitor.notify import Notifier, notifying
from monitor.outbox import MOST_WAITING, load_outbox
from monitor.user_command import Outcome

WALL = 1_800_000_000.0
USUAL = Notify(command=("tell",), priority="low", most_per_hour=6)


class FakeFeed:
    """Alarms that a test raises and clears; time is the test's."""

    def __init__(self) -> None:
        self.now = 0.0
        self.alarms: dict[str, AlarmView] = {}
        self.sent: list[Command] = []
        self.links: list[tuple[str, bool, str]] = []
        self.number = 0

    def put(self, key: str, priority: Priority = Priority.HIGH, **changes: Any) -> None:
        """Raise an alarm, or change what is said of it."""
        target, name = key.split(":")
        fresh = AlarmView(
            name,
            target,
            AlarmState.UNACKNOWLEDGED,
            priority,
            f"{name} is so.",
            self.now,
            ("a cause",),
            "Do this.",
            "Mind that.",
            (),
        )
        self.alarms[key] = replace(self.alarms.get(key, fresh), **changes)
        self.number += 1

    def drop(self, key: str) -> None:
        del self.alarms[key]
        self.number += 1

    def events(self, since: int) -> tuple[Event, ...]:
        if self.number <= since:
            return ()
        return (Event(self.number, self.now, EventKind.ALARM, "", "", Priority.LOW, ""),)

    def snapshot(self) -> Snapshot:
        return Snapshot(self.now, 0.0, (), (), (), tuple(self.alarms.values()), self.number)

    def send(self, command: Command) -> None:
        self.sent.append(command)

    def tell_link(self, device: str, up: bool, reason: str) -> None:
        self.links.append((device, up, reason))


class Aboard:
    """A notifier with a feed, a clock and a command that a test may break."""

    def __init__(self, folder: Path, notify: Notify = USUAL, feed: FakeFeed | None = None) -> None:
        self.folder = folder
        self.feed = feed or FakeFeed()
        self.shift = WALL
        self.way_out = True
        self.got: list[tuple[float, Notice, int]] = []
        self.tries = 0
        self.notifier = Notifier(
            self.feed,
            notify,
            folder,
            monotonic=lambda: self.feed.now,
            wall=lambda: self.feed.now + self.shift,
            run=self.run,
        )

    def run(
        self, notify: Notify, notice: Notice, wall: float, left_out: int, give_up: object
    ) -> Outcome:
        del notify, give_up
        self.tries += 1
        if not self.way_out:
            return Outcome(False, "tell ended with status 1", "no route")
        self.got.append((wall - self.shift, notice, left_out))
        return Outcome(True, "", "")

    def live(self, seconds: float, step: float = 1.0) -> None:
        until = self.feed.now + seconds
        while self.feed.now < until:
            self.feed.now += step
            self.notifier.turn()

    @property
    def said(self) -> list[tuple[str, str]]:
        return [(notice.kind.value, notice.alarm) for _, notice, _ in self.got]


@pytest.fixture
def aboard(tmp_path: Path) -> Aboard:
    made = Aboard(tmp_path)
    made.live(31.0)
    return made


def test_nothing_is_told_before_the_devices_were_heard(tmp_path: Path) -> None:
    aboard = Aboard(tmp_path)
    aboard.feed.put("shunt:device-silent")
    aboard.live(20.0)
    aboard.feed.drop("shunt:device-silent")
    aboard.live(60.0)
    assert aboard.said == []


def test_an_alarm_is_told_once_and_its_end_once(aboard: Aboard) -> None:
    aboard.feed.put("house:bank-hot")
    aboard.live(600.0)
    aboard.feed.put("house:bank-hot", state=AlarmState.ACKNOWLEDGED)
    aboard.live(7200.0, 10.0)
    aboard.feed.drop("house:bank-hot")
    aboard.live(60.0)
    assert aboard.said == [("alarm", "house:bank-hot"), ("over", "house:bank-hot")]
    seconds, notice, _ = aboard.got[0]
    assert seconds == 32.0
    assert notice.words == "HIGH alarm, house: bank-hot is so. First: Do this."
    assert aboard.got[1][1].words == "Over, house: bank-hot is so."


def test_returned_and_then_acknowledged_is_over_once(aboard: Aboard) -> None:
    aboard.feed.put("house:bank-hot")
    aboard.live(5.0)
    aboard.feed.put("house:bank-hot", state=AlarmState.RETURNED)
    aboard.live(5.0)
    aboard.feed.drop("house:bank-hot")
    aboard.live(60.0)
    assert [kind for kind, _ in aboard.said] == ["alarm", "over"]


def test_a_high_alarm_nobody_acknowledges_is_told_again_and_others_are_not(aboard: Aboard) -> None:
    aboard.feed.put("house:bank-hot")
    aboard.feed.put("house:bank-warm", Priority.LOW)
    aboard.live(4000.0)
    assert aboard.said == [
        ("alarm", "house:bank-hot"),
        ("alarm", "house:bank-warm"),
        ("again", "house:bank-hot"),
        ("again", "house:bank-hot"),
    ]
    assert [seconds for seconds, notice, _ in aboard.got if notice.kind == "again"] == [
        1832.0,
        3632.0,
    ]
    aboard.feed.put("house:bank-hot", state=AlarmState.ACKNOWLEDGED)
    aboard.live(4000.0)
    assert len(aboard.said) == 4


def test_what_is_set_aside_or_of_too_low_priority_is_not_told(tmp_path: Path) -> None:
    aboard = Aboard(tmp_path, replace(USUAL, priority="medium"))
    aboard.live(31.0)
    aboard.feed.put("house:bank-warm", Priority.LOW)
    for number, state in enumerate(
        (AlarmState.SHELVED, AlarmState.SUPPRESSED, AlarmState.OUT_OF_SERVICE)
    ):
        aboard.feed.put(f"house:row-{number}", state=state)
    aboard.live(100.0)
    assert aboard.said == []
    aboard.feed.put("house:row-0", state=AlarmState.UNACKNOWLEDGED)
    aboard.live(5.0)
    aboard.feed.put("house:row-0", state=AlarmState.SHELVED)
    aboard.live(5.0)
    assert aboard.said == [("alarm", "house:row-0")]


def test_what_chatters_says_so(aboard: Aboard) -> None:
    """The engine holds it until it has stayed away for a while: here it is one alarm."""
    aboard.feed.put("house:bank-hot", chattering=True)
    aboard.live(60.0)
    assert len(aboard.got) == 1
    assert "It comes and goes" in aboard.got[0][1].words


def test_no_way_out_waits_on_disk_and_goes_out_later_with_the_original_time(
    aboard: Aboard,
) -> None:
    aboard.way_out = False
    aboard.feed.put("house:bank-warm", Priority.LOW)
    aboard.live(100.0)
    aboard.feed.put("house:bank-hot")
    aboard.live(3 * 3600.0, 10.0)
    assert aboard.got == []
    # Tried at 30 s, then twice as long each time, up to a quarter of an hour.
    assert 15 <= aboard.tries <= 18
    (note,) = aboard.feed.sent
    assert note.note.startswith("a message did not get through: tell ended with status 1; see ")
    log = (aboard.folder / "command.log").read_text()
    assert "no route" in log

    again = Aboard(aboard.folder, feed=aboard.feed)  # a restart
    again.live(31.0)
    again.live(10.0)
    assert [notice.alarm for _, notice, _ in again.got][:2] == ["house:bank-hot", "house:bank-warm"]
    _, notice, _ = again.got[0]
    assert notice.time == WALL + 131.0
    message = notice.message(WALL + again.got[0][0])
    assert message["time"] == "2027-01-15T08:02:11+00:00"
    assert message["late_seconds"] > 3 * 3600.0
    assert "(at 2027-01-15T08:02:11+00:00)" in notice.environment(WALL + 9999.0)["AMPWRIGHT_WORDS"]
    again.live(1000.0, 10.0)
    assert len(again.got) == 2, "told once, though the program was restarted in between"


def test_it_says_when_messages_get_through_again(aboard: Aboard) -> None:
    aboard.way_out = False
    aboard.feed.put("house:bank-hot")
    aboard.live(10.0)
    aboard.way_out = True
    aboard.live(60.0)
    assert [command.note.partition(":")[0] for command in aboard.feed.sent] == [
        "a message did not get through",
        "messages get through again",
    ]


def test_no_more_than_so_many_an_hour_and_high_ones_half_as_many_again(aboard: Aboard) -> None:
    for number in range(20):
        aboard.feed.put(f"house:low-{number}", Priority.LOW)
    aboard.live(1000.0)
    assert len(aboard.got) == 6
    for number in range(20):
        aboard.feed.put(f"house:high-{number}", state=AlarmState.UNACKNOWLEDGED)
    aboard.live(1000.0)
    assert len(aboard.got) == 9
    assert all(notice.priority == "high" for _, notice, _ in aboard.got[6:])
    aboard.live(20 * 3600.0, 30.0)
    hours = [int(seconds // 3600.0) for seconds, _, _ in aboard.got]
    assert max(map(hours.count, hours)) <= 10
    alarms = {notice.alarm for _, notice, _ in aboard.got if notice.kind == "alarm"}
    assert len(alarms) == 40, "held back, not lost"


def test_the_queue_has_an_end_and_says_what_was_left_out(aboard: Aboard) -> None:
    aboard.way_out = False
    aboard.feed.put("house:bank-hot", state=AlarmState.ACKNOWLEDGED)
    aboard.feed.put("house:bank-hot", state=AlarmState.UNACKNOWLEDGED)
    for number in range(MOST_WAITING + 50):
        aboard.feed.put(f"house:low-{number}", Priority.LOW)
    aboard.live(60.0)
    waiting = load_outbox(aboard.folder / "waiting.json").waiting
    assert len(waiting) == MOST_WAITING
    assert any(notice.alarm == "house:bank-hot" for notice in waiting)
    aboard.way_out = True
    aboard.live(100.0)
    assert aboard.got[0][1].alarm == "house:bank-hot"
    assert aboard.got[0][2] == 51
    assert aboard.got[1][2] == 0


def test_a_clock_set_by_hand_makes_nothing_due_or_late(aboard: Aboard) -> None:
    aboard.feed.put("house:bank-hot")
    aboard.live(60.0)
    aboard.shift += 86400.0
    aboard.live(60.0)
    assert [kind for kind, _ in aboard.said] == ["alarm"]


def test_a_sign_of_life_on_time_and_its_failure_is_the_tools_own_alarm(tmp_path: Path) -> None:
    aboard = Aboard(tmp_path, replace(USUAL, heartbeat_seconds=3600.0))
    aboard.live(2 * 3600.0 + 60.0)
    assert [kind for kind, _ in aboard.said] == ["heartbeat"] * 3
    assert aboard.got[0][1].words == "Watching; no alarm."
    assert aboard.feed.links == []
    aboard.way_out = False
    aboard.live(3 * 3600.0, 10.0)
    assert aboard.feed.links == [(OwnLink.HEARTBEAT, False, "tell ended with status 1")]
    aboard.way_out = True
    aboard.live(1000.0)
    assert aboard.feed.links[1:] == [(OwnLink.HEARTBEAT, True, "")]
    assert [kind for kind, _ in aboard.said] == ["heartbeat"] * 4, "a late one says nothing"


def test_a_broken_file_is_set_aside_and_telling_goes_on(tmp_path: Path) -> None:
    path = tmp_path / "waiting.json"
    for text in ("{", "[]", '{"version": 1}', '{"version": 99}', "\0"):
        path.write_text(text)
        assert load_outbox(path).waiting == []
        assert (tmp_path / "waiting.json.aside").read_text() == text


def test_a_disk_that_refuses_is_said_once(tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("")
    aboard = Aboard(blocked / "below")
    aboard.live(31.0)
    for number in range(3):
        aboard.feed.put(f"house:row-{number}")
        aboard.live(5.0)
    assert len(aboard.got) == 3
    assert [c.note.partition(":")[0] for c in aboard.feed.sent] == ["waiting messages are not kept"]


# The real thing.

CONFIG = """\
[banks.house]
chemistry = "agm"
nominal_volts = 12
amp_hours = 200
[devices.gone]
adapter = "modbus-tcp"
host = "127.0.0.1"
port = 1
description = "modbus-template.toml"
[sources.shore]
kind = "ac-charger"
bank = "house"
[notify]
command = ["{command}"]
"""


def teller(folder: Path, body: str) -> Path:
    command = folder / "tell.sh"
    command.write_text(f"#!/bin/sh\n{body}\n")
    command.chmod(0o755)
    return command


def test_from_a_device_that_is_gone_to_the_users_own_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(notifying_module, "SETTLING_SECONDS", 0.2)
    monkeypatch.setattr(notifying_module, "LOOK_SECONDS", 0.05)
    out = tmp_path / "got.json"
    command = teller(tmp_path, f'cat > "{out}.new"; mv "{out}.new" "{out}"')
    config = parse_config(CONFIG.format(command=command), "coach.toml", TEMPLATES)
    live = Live(config)
    here = threading.get_ident()

    async def watch() -> None:
        await live.start()
        async with asyncio.timeout(20.0):
            while not out.exists():
                await asyncio.sleep(0.02)
        await live.stop()

    with notifying(live, config.notify, tmp_path / "state"):
        asyncio.run(watch())
    assert here == threading.get_ident()
    message = json.loads(out.read_text())
    assert message["kind"] == "alarm"
    assert message["alarm"] == "gone:device-silent"
    assert message["priority"] == "medium"
    assert message["first"]
    assert "sent" in (tmp_path / "state" / "command.log").read_text()


def template() -> str:
    from importlib import resources

    return (resources.files("adapters") / "descriptions" / "modbus-template.toml").read_text()


TEMPLATES = {"modbus-template.toml": template()}


def test_notify_test_sends_now_and_says_how_it_went(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    path = tmp_path / "coach.toml"
    command = teller(tmp_path, 'echo "to ann: $AMPWRIGHT_WORDS"')
    path.write_text(CONFIG.format(command=command))
    words = ["notify", "--config", str(path)]
    assert main([*words, "--test"]) == 0
    out = capsys.readouterr().out
    assert "to ann: This is a test" in out
    assert out.endswith("tell.sh: sent\n")

    teller(tmp_path, "exit 3")
    assert main([*words, "--test"]) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert "tell.sh ended with status 3; its output is in" in error

    assert main(words) == 0
    out = capsys.readouterr().out
    assert "waiting: 0" in out
    assert "command.log" in out

    path.write_text(CONFIG.partition("[notify]")[0])
    assert main([*words, "--test"]) == 2
    assert 'add [notify] and command = ["program"]' in capsys.readouterr().err
