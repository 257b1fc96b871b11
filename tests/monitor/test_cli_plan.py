"""`ampwright plan` and `explain`: from a recording and from devices; one line for a mistake."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.commands.plan import NO_ANSWER, clock, fraction, minutes, watts
from monitor.engine.engine import Engine
from monitor.engine.explain import chain
from monitor.live import Live
from monitor.moments import engine_at
from monitor.played import Played
from monitor.recorded import open_recorded
from monitor.with_doubt import with_doubt
from monitor.words.explained import number
from replay.capture import CaptureWriter, open_capture
from replay.coach.recording import write_capture
from replay.coach.stories import STORIES
from replay.player import Player
from tests.monitor.recordings import BANK_TOML, shipped_path, small_capture
from tests.monitor.test_cli_live import coach  # noqa: F401 # a fixture

Out = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def night(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The shipped recording's hours from its sixth to its tenth: an evening without its day."""
    path = tmp_path_factory.mktemp("night") / "night.capture"
    source = open_capture(shipped_path())
    writer = CaptureWriter(path, source.header)
    inputs = itertools.takewhile(lambda value: value.seconds < 36_000.0, source.inputs())
    for value in inputs:
        if value.seconds == 0.0 or value.seconds >= 21_600.0:
            writer.append(value)
    assert writer.close().lost == 0
    return path


def lines_of(capsys: Out) -> list[str]:
    out, err = capsys.readouterr()
    assert err == ""
    return out.rstrip("\n").splitlines()


@pytest.fixture(scope="module")
def silent(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A coach whose shunt falls silent after an hour."""
    path = tmp_path_factory.mktemp("silent") / "silent.capture"
    scenario = replace(STORIES["pinewater"], hours=3.0).with_fault("device_silent", 1.0)
    write_capture(scenario, path)
    return path


def test_no_question_is_answered_while_the_shunt_is_silent(silent: Path, capsys: Out) -> None:
    for asked in (
        ["load", "1200", "30"],
        ["generator", "--to", "90%", "--amps", "40"],
        ["dawn"],
        ["sun"],
    ):
        assert main(["plan", *asked, "--capture", str(silent), "--at", "2:30:00"]) == NO_ANSWER
        said = " ".join(line.strip() for line in lines_of(capsys))
        assert "no answer to" in said
        assert "charge not known now, shunt is silent, last 1 h 29 min ago" in said
        assert "yes" not in said
        assert "Now" not in said
    with pytest.raises(SystemExit):
        main(["plan", "load", "--help"])
    assert "1 without one" in capsys.readouterr().out


def test_an_explanation_tells_a_silent_shunt_s_bank_as_past(silent: Path, capsys: Out) -> None:
    assert main(["explain", str(silent), "--at", "2:30:00"]) == 0
    said = "\n".join(lines_of(capsys))
    assert "not known now; was " in said
    assert "likely, since" not in said.split("Sources")[0]
    assert "time to full: --, charge not known now" in said
    assert " ".join(said.split()).count("; as of then: charge not known now") == 3


def test_dawn_from_a_recording(night: Path, capsys: Out) -> None:
    assert main(["plan", "dawn", "--capture", str(night)]) == 0
    lines = lines_of(capsys)
    assert lines[0].startswith("at 10:00:00 of the recording, ") or "of the recording" in lines[0]
    assert lines[1].startswith("house: ")
    assert " % at dawn (" in lines[1]
    assert "between" in lines[1]
    assert "the loads draw" in lines[2]
    assert "the sun's height" in " ".join(lines)
    assert len(lines) <= 9
    assert all(len(line) <= 80 for line in lines)


def test_dawn_at_another_time(night: Path, capsys: Out) -> None:
    words = ["plan", "dawn", "--capture", str(night), "--at", "9h"]
    assert main([*words, "--in", "4h"]) == 0
    assert "in 4 h the loads draw" in " ".join(lines_of(capsys))
    assert main([*words, "--dawn", "06:30"]) == 0
    assert " at 06:30" in lines_of(capsys)[1]
    assert main([*words, "--dawn", "06:30", "--in", "4h"]) == 2


def test_a_generator_from_a_recording(night: Path, capsys: Out) -> None:
    words = ["plan", "generator", "--capture", str(night), "--at", "9h"]
    assert main([*words, "--to", "99.5%", "--quiet", "22:00"]) in (0, NO_ANSWER)
    text = " ".join(lines_of(capsys))
    assert "exhaust kills" in text or "no generator is needed" in text
    assert main([*words, "--to", "0.2"]) == 0
    assert "no generator is needed for 20 %" in " ".join(lines_of(capsys))
    assert main([*words, "--to", "1.0", "--amps", "1"]) == NO_ANSWER
    assert "the loads take" in " ".join(lines_of(capsys))


def test_a_load_from_a_recording(night: Path, capsys: Out) -> None:
    words = ["plan", "load", "--capture", str(night)]
    assert main([*words[:2], "1.2kW", "10", *words[2:]]) == 0
    lines = lines_of(capsys)
    assert "1200 W for 10 min" in lines[1]
    assert "cable and fuse" in lines[-1]
    assert main([*words[:2], "9kW", "2h", *words[2:]]) == 0
    assert lines_of(capsys)[1] == "house: no, 9000 W for 2 h is too much"
    assert main([*words[:2], "100", "5", *words[2:], "--cut-off", "12.7"]) == NO_ANSWER


def test_the_sun_is_not_known_after_one_evening(night: Path, capsys: Out) -> None:
    assert main(["plan", "sun", "--capture", str(night)]) == NO_ANSWER
    text = " ".join(" ".join(lines_of(capsys)).split())
    assert "not known yet: needs 2 more days of sun" in text


def test_plans_ask_the_devices_too(
    coach: Path,  # noqa: F811
    tmp_path: Path,
    capsys: Out,
) -> None:
    state = tmp_path / "bank.state"
    live = ["--config", str(coach), "--state", str(state)]
    assert main(["plan", "load", "500", "10", *live]) == 0
    assert lines_of(capsys)[0].startswith("house: ")
    assert state.exists()
    assert main(["plan", "sun", *live]) == NO_ANSWER
    assert "no source of the kind solar" in " ".join(lines_of(capsys))


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["plan"], "QUESTION"),
        (["plan", "dusk"], "dusk"),
        (["plan", "generator"], "--to"),
        (["plan", "generator", "--to", "90"], "0.9 or 90%"),
        (["plan", "generator", "--to", "0"], "0.9 or 90%"),
        (["plan", "generator", "--to", "110%"], "0.9 or 90%"),
        (["plan", "generator", "--to", ".9", "--amps", "-3"], "--amps"),
        (["plan", "generator", "--to", ".9", "--quiet", "25:00"], "22:00"),
        (["plan", "load", "lots", "30"], "1.2kW"),
        (["plan", "load", "1200", "2d"], "minutes such as 30"),
        (["plan", "load", "1200", "0"], "minutes such as 30"),
        (["plan", "load", "1200", "nan"], "minutes such as 30"),
        (["explain"], "CAPTURE-OR-CSV"),
    ],
)
def test_a_mistake_in_the_words_is_one_line(words: list[str], says: str, capsys: Out) -> None:
    with pytest.raises(SystemExit) as ended:
        main(words)
    assert ended.value.code == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert says in error


def test_what_does_not_go_together_is_one_line(
    night: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Out
) -> None:
    capture, away = ["--capture", str(night)], str(tmp_path / "none.capture")
    for words, says in (
        (["plan", "dawn", "--at", "5"], "--capture FILE"),
        (["plan", "dawn", *capture, "--config", "x.toml"], "leave out --config"),
        (["plan", "dawn", *capture, "--at", "99:00:00"], "within the recording"),
        (["plan", "dawn", *capture, "--at", "soon"], "HH:MM:SS"),
        (["plan", "dawn", *capture, "--of", "winch"], "expected a bank (house)"),
        (["plan", "dawn", "--capture", away], "none.capture"),
        (["plan", "generator", "--to", ".9", *capture, "--source", "b"], "shore, roof"),
        (["explain", str(night), "--of", "winch"], "expected a bank (house)"),
        (["explain", away], "none.capture"),
        (["explain", str(night), "--at", "2020-01-01"], "within the recording"),
    ):
        assert main(words) == 2
        error = capsys.readouterr().err
        assert error.count("\n") == 1
        assert says in error
    bank = tmp_path / "bank.toml"
    bank.write_text(BANK_TOML)
    table = tmp_path / "x.csv"
    table.write_text("t_s,v_bank,i_net\n" + "".join(f"{5 * n},12.5,-4\n" for n in range(200)))
    plain = ["--capture", str(table), "--bank", str(bank)]
    assert main(["plan", "generator", "--to", ".9", *plain]) == 2
    assert "how many amps" in capsys.readouterr().err
    assert (
        main(["plan", "generator", "--to", ".9", *plain, "--amps", "20", "--quiet", "22:00"]) == 2
    )
    assert "time of day is not known" in capsys.readouterr().err
    assert main(["plan", "dawn", *plain]) == NO_ANSWER
    assert "time of day is not known" in " ".join(lines_of(capsys))
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "nowhere"))
    assert main(["plan", "dawn"]) == 2
    assert "ampwright init" in capsys.readouterr().err


def test_units_that_people_write() -> None:
    assert [fraction(text) for text in ("0.9", "90%", "90 %", "1")] == [0.9, 0.9, 0.9, 1.0]
    assert [watts(text) for text in ("1200", "1200W", "1.2kW", "1.2kw")] == [1200.0] * 4
    assert [minutes(text) for text in ("30", "30m", "0.5h", "1800s")] == [1800.0] * 4
    assert clock("6:05") == (6, 5)


# Explain.


def test_explain_tells_the_chain_of_that_moment(night: Path, capsys: Out) -> None:
    assert main(["explain", str(night), "--at", "08:30:00"]) == 0
    lines = lines_of(capsys)
    text = "\n".join(lines)
    assert all(len(line) <= 100 for line in lines)
    recorded = open_recorded(night)
    engine = engine_at(recorded, recorded.recording.start + 8.5 * 3600.0)
    snapshot = engine.snapshot()
    (bank,) = snapshot.banks
    soc, sd = bank.charge.soc.figure, bank.charge.soc.sd
    assert soc is not None
    assert sd is not None
    assert f"fraction of charge: {with_doubt(soc, 2.0 * sd)[0]}, give or take" in text
    assert bank.volts.figure is not None
    assert f"house bank voltage: {number(bank.volts.figure, 'V')} V" in text
    assert bank.stage.stage.value in text
    for heading in ("Stage", "State of charge", "Devices", "The cleaned signal", "Conditions"):
        assert heading in lines


def test_explain_takes_a_table_with_its_bank(tmp_path: Path, capsys: Out) -> None:
    table, bank = tmp_path / "x.csv", tmp_path / "bank.toml"
    table.write_text("time,U,I\n" + "".join(f"{5 * n},12.5,-4\n" for n in range(200)))
    bank.write_text(BANK_TOML)
    words = ["explain", str(table), "--bank", str(bank), "--columns", "t_s=time,v_bank=U,i_net=I"]
    assert main([*words, "--at", "500"]) == 0
    assert lines_of(capsys)[0] == "at 00:08:20 of the recording"
    assert main([*words, "--at", "20:40"]) == 2
    assert "does not know the wall clock" in capsys.readouterr().err


def test_feeds_explain_what_they_show(tmp_path: Path) -> None:
    recorded = open_recorded(small_capture(tmp_path, 300))
    now = 0.0
    feed = Played(Player(recorded.recording, 1e9), recorded.site, clock=lambda: now)
    while feed.turn():
        pass
    now = 1.0
    while feed.turn():
        pass
    assert feed.finished
    twin = Engine(recorded.site)
    for value in recorded.recording.inputs():
        twin.step(value)
    assert feed.explain("house") == chain(twin, "house")
    config = recorded.config
    live = Live(config, adapters=[])
    assert [part.name for part in live.explain("house")] == ["said"]
    assert live.ask(lambda engine: engine.banks[0].bank.id) == "house"
