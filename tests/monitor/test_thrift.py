"""Little left: slower polls, last words, and a machine that is shut down only where asked."""

from __future__ import annotations

import asyncio
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from adapters.adapter import Values
from adapters.reading import Action, Channel, Command, Quantity, Reading, Tick
from monitor.config import ConfigError, parse_config
from monitor.config_computer import IDLE_ROWS, Computer
from monitor.config_limits import ALL_ROWS
from monitor.config_notify import Notify
from monitor.engine.engine import Engine
from monitor.engine.snapshot import Estimate, EventKind, Measured, Snapshot
from monitor.farewell import farewell
from monitor.live import Live
from monitor.notices import Notice
from monitor.thrift import Thrifty
from monitor.user_command import Outcome
from monitor.words.own_draw import own_draw
from replay.capture import open_capture
from tests.monitor.engine.sites import reading, site
from tests.monitor.test_feed_live import Scripted
from tests.monitor.virtual_time import run_virtual

BANK = """\
[banks.house]
chemistry = "agm"
nominal_volts = 12
amp_hours = 100
lowest_soc = 0.5
"""
DEVICES = """\
[devices.shunt]
adapter = "scripted"
period_seconds = 1
"""


def read(text: str) -> Any:
    return parse_config(BANK + text, "coach.toml")


def looked_at(soc: float, volts: float, amps: float | None, seconds: float = 0.0) -> Snapshot:
    """A snapshot of a bank that stands so."""
    engine = Engine(read("").site)
    engine.step(Tick(0.0, 1e9))
    engine.step(reading(1.0))
    snapshot = engine.snapshot()
    (view,) = snapshot.banks
    view = replace(
        view,
        volts=Measured(volts, 0.0),
        amps=Measured(amps, 0.0),
        charge=replace(view.charge, soc=Estimate(soc, 0.03)),
    )
    return replace(snapshot, seconds=seconds, banks=(view,))


def thrifty(**keys: Any) -> Thrifty:
    config = read("")
    return Thrifty(config.site, Computer(bank="house", **keys))


def test_below_the_lowest_planned_charge_it_polls_slower_and_comes_back_with_a_margin() -> None:
    each = thrifty()
    periods = [
        each.look(looked_at(soc, 12.0, -2.0)).period_seconds
        for soc in (0.55, 0.50, 0.49, 0.51, 0.53, 0.51)
    ]
    assert periods == [0.0, 0.0, 60.0, 60.0, 0.0, 0.0]


def test_an_estimate_that_may_be_anything_changes_nothing() -> None:
    loose = looked_at(0.3, 12.0, -2.0)
    (view,) = loose.banks
    view = replace(view, charge=replace(view.charge, soc=Estimate(0.3, 0.3)))
    each = thrifty(last_soc=0.4)
    for seconds in (0.0, 1000.0, 2000.0):
        told = each.look(replace(loose, seconds=seconds, banks=(view,)))
        assert told.period_seconds == 0.0
        assert not told.last_words


def test_the_last_level_is_believed_after_three_minutes_and_never_under_charge() -> None:
    each = thrifty(last_soc=0.2, last_volts=11.0)
    assert not each.look(looked_at(0.19, 11.5, -2.0, 0.0)).last_words
    assert not each.look(looked_at(0.19, 11.5, -2.0, 170.0)).last_words
    told = each.look(looked_at(0.19, 11.5, -2.0, 180.0))
    assert told.last_words == "house: 19 % charged, last level 20 %"
    # a charger that came back ends the count
    assert not each.look(looked_at(0.19, 12.5, 5.0, 190.0)).last_words
    assert not each.look(looked_at(0.19, 11.5, -2.0, 200.0)).last_words
    low = thrifty(last_volts=11.0)
    assert not low.look(looked_at(0.6, 10.9, -90.0, 0.0)).last_words
    # an inverter's start: over before it is believed
    assert not low.look(looked_at(0.6, 11.9, -5.0, 60.0)).last_words
    assert not low.look(looked_at(0.6, 10.9, None, 120.0)).last_words
    assert "10.90 V, last level 11.00 V" in low.look(looked_at(0.6, 10.9, None, 300.0)).last_words


def test_the_computer_is_a_load_like_any_other() -> None:
    seen = read("[computer]\nwatts = 6\n").site.bank("house")
    assert (seen.own_watts, seen.standing_amps) == (6.0, None)
    beside = read("[computer]\nwatts = 6\nthrough_shunt = false\n").site.bank("house")
    assert beside.standing_amps == pytest.approx(0.5)
    # the owner's own figure holds it already
    given = BANK + "standing_amps = 0.8\n[computer]\nwatts = 6\nthrough_shunt = false\n"
    assert parse_config(given, "coach.toml").site.bank("house").standing_amps == 0.8
    # 6 W at 12 V are half an amp: 12 Ah a day, 12 % of 100 Ah
    assert own_draw(seen) == "this computer: 6 W, 0.50 A, 12 Ah a day, 12 % of the bank"
    assert own_draw(read("").site.bank("house")) == ""


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[computer]\nwatts = "6"\n', "coach.toml:7: computer.watts: expected watts above 0"),
        ("[computer]\nlast_soc = 0.6\n", "expected less than the lowest_soc of the bank, 0.5"),
        ("[computer]\nlast_volts = 24\n", "expected 9.6 to 12.72 V for a bank of 12 V, found 24"),
        ("[computer]\nshut_down = true\n", "expected last_soc or last_volts beside it"),
        ('[computer]\nbank = "start"\n', 'expected the name of a bank, found "start"'),
        ('[computer]\nshut_down_command = "halt"\n', "write a list, program first"),
        ("[lay_up]\non = 1\n", "write true or false"),
        ("[lay_up]\npoll_seconds = 5000\n", "expected seconds from 1 to 600"),
    ],
)
def test_a_slip_is_named_with_its_place(text: str, said: str) -> None:
    with pytest.raises(ConfigError) as caught:
        read(text)
    assert said in str(caught.value)


def test_laid_up_only_what_matters_is_judged() -> None:
    assert set(IDLE_ROWS) <= set(ALL_ROWS)
    config = read("[lay_up]\non = true\n[limits.sun-blocked]\noff = false\n")
    assert config.site.bank("house").laid_up
    off = {row.condition for row in config.site.overrides if row.off}
    assert off == set(IDLE_ROWS)
    watch = Thrifty(config.site, config.computer)
    assert not watch.idle
    assert watch.look(looked_at(0.9, 12.7, 0.0)).period_seconds == 60.0
    assert not read("[lay_up]\non = false\n").site.bank("house").laid_up


def test_a_slower_period_that_was_told_is_neither_silence_nor_lost_polls() -> None:
    engine = Engine(site(links=(("shunt", 1.0),)))
    engine.step(Tick(0.0, 1e9))
    for second in range(10):
        engine.step(reading(float(second)))
    told = Command(10.0, "ampwright", Action.POLL_PERIOD, "shunt", "60 laid up")
    events = [*engine.step(told)]
    for minute in range(1, 120):
        for value in (Tick(9.0 + 60.0 * minute + 30.0), reading(9.0 + 60.0 * minute + 60.0)):
            events += engine.step(value)
    assert {event.kind for event in events} == {EventKind.COMMAND}
    (link,) = engine.snapshot().links
    assert link.lost_share < 0.02
    # kept over a restart, and over with the next word
    again = Engine(site(links=(("shunt", 1.0),)), engine.state())
    assert again.told_period("shunt") == 60.0
    again.step(Command(7300.0, "ampwright", Action.POLL_PERIOD, "shunt", "0"))
    assert again.told_period("shunt") is None
    silent = [e for second in range(7300, 7330) for e in again.step(Tick(float(second)))]
    assert any(event.name == "device-silent" for event in silent)


def emptying(seconds: float) -> Values:
    volts = 12.0 if seconds < 300.0 else 10.8
    return (
        (Channel("house", Quantity.BANK_VOLTS), volts),
        (Channel("house", Quantity.BANK_AMPS), -8.0),
    )


def test_a_live_feed_says_its_last_words_and_ends_by_itself(tmp_path: Path) -> None:
    config = read(f"{DEVICES}[computer]\nwatts = 5\nlast_volts = 11.0\n")
    made: list[Live] = []

    async def main() -> None:
        loop = asyncio.get_running_loop()
        live = Live(
            config,
            capture_path=tmp_path / "end.capture",
            adapters=[Scripted("shunt", 1.0, emptying)],
            monotonic=loop.time,
            wall=lambda: 1.7e9 + loop.time(),
        )
        made.append(live)
        await asyncio.wait_for(live.acquire(), 3600.0)

    run_virtual(main())
    (live,) = made
    assert live.last_words == "house: 10.80 V, last level 11.00 V"
    assert live.closing is not None
    assert live.closing.trouble is None
    inputs = list(open_capture(tmp_path / "end.capture").inputs())
    last = [value for value in inputs if isinstance(value, Command)][-1]
    assert last.note == "last words: house: 10.80 V, last level 11.00 V"
    readings = [value for value in inputs if isinstance(value, Reading)]
    assert 480.0 <= readings[-1].seconds - readings[0].seconds <= 500.0


def test_laid_up_devices_are_polled_slower_and_the_capture_says_so(tmp_path: Path) -> None:
    config = read(f"{DEVICES}[lay_up]\non = true\npoll_seconds = 60\n")

    async def main() -> None:
        loop = asyncio.get_running_loop()
        live = Live(
            config,
            capture_path=tmp_path / "season.capture",
            adapters=[Scripted("shunt", 1.0, lambda _: emptying(0.0))],
            monotonic=loop.time,
            wall=lambda: 1.7e9 + loop.time(),
        )
        acquiring = asyncio.create_task(live.acquire())
        await asyncio.sleep(3600.0)
        acquiring.cancel()
        await asyncio.gather(acquiring, return_exceptions=True)
        assert not [a for a in live.snapshot().alarms if a.target == "shunt"]

    run_virtual(main())
    inputs = list(open_capture(tmp_path / "season.capture").inputs())
    told = [v for v in inputs if isinstance(v, Command)]
    assert [(v.action, v.target, v.note) for v in told] == [
        (Action.POLL_PERIOD, "shunt", "60 laid up")
    ]
    assert 60 <= sum(isinstance(value, Reading) for value in inputs) <= 75


def told_by(config: Any, done: bool = True) -> tuple[list[str], list[Notice], list[Any]]:
    said: list[str] = []
    notices: list[Notice] = []
    halted: list[Any] = []

    def tell(_: Notify, notice: Notice, wall: float) -> Outcome:
        assert wall == 1.7e9
        notices.append(notice)
        return Outcome(done, "" if done else "no way out", "")

    def halt(command: tuple[str, ...]) -> Outcome:
        halted.append(command)
        return Outcome(done, "" if done else "not allowed", "")

    farewell("house: 9 %", config, said.append, wall=lambda: 1.7e9, tell=tell, shut_down=halt)
    return said, notices, halted


def test_last_words_go_out_and_nothing_is_shut_down_unasked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    said, notices, halted = told_by(read('[notify]\ncommand = ["tell"]\n'))
    whole = "Last words: house: 9 %; watching ends. Charge the bank, then start it again."
    assert said == [whole]
    assert [(n.kind.value, n.words, n.priority) for n in notices] == [("last", whole, "high")]
    assert halted == []
    assert "last: sent" in (tmp_path / "ampwright" / "notify" / "command.log").read_text()


def test_the_machine_is_shut_down_where_asked_even_if_nobody_could_be_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    text = '[computer]\nlast_soc = 0.1\nshut_down = true\n[notify]\ncommand = ["tell"]\n'
    said, _, halted = told_by(read(text), done=False)
    assert halted == [("systemctl", "poweroff")]
    assert said[1:] == [
        "the last message did not get through: no way out",
        "[computer] shut_down_command: not allowed; shut it down by hand",
    ]
    assert "this computer shuts down" in said[0]
    _, notices, _ = told_by(read("[computer]\nlast_soc = 0.1\n"))
    assert notices == []  # nobody to tell: no command
