"""Text without a screen: what is told, what is not told twice, and the exit status."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from datetime import UTC

import pytest

from monitor.cli import main
from monitor.engine.snapshot import (
    AlarmState,
    Estimate,
    Fact,
    Interval,
    LinkView,
    Measured,
    Priority,
    Snapshot,
)
from monitor.plain import NOW_COLUMNS, NOW_LINES, Teller, now_text, plain_lines, severity
from tests.monitor.dashboard.fake_feed import (
    HOT,
    HOUSE,
    LINKS,
    LOW,
    NORMAL,
    WINCH,
    discharging,
    silent,
)

ONE = replace(NORMAL, banks=(HOUSE,))
LONG = "the sun gave too little yesterday and the forecast has seen only one evening so far"


def with_soc(fraction: float) -> Snapshot:
    house = replace(HOUSE, charge=replace(HOUSE.charge, soc=Estimate(fraction, 0.014)))
    return replace(ONE, banks=(house,))


def no_answer(reason: str) -> Snapshot:
    forecast = replace(HOUSE.forecast, to_full=Interval(None, None, None, reason))
    return replace(ONE, banks=(replace(HOUSE, forecast=forecast),))


CASES = {
    "one bank": ONE,
    "two banks": NORMAL,
    "nine banks": replace(NORMAL, banks=tuple(replace(WINCH, id=f"bank{n}") for n in range(9))),
    "no bank": replace(NORMAL, banks=()),
    "alarms": replace(ONE, alarms=(HOT, LOW)),
    "silent": silent(ONE, 190.0, "no answer at the port, which somebody may have unplugged"),
    "discharging": discharging(ONE),
    "no answer": no_answer(LONG),
    "no clock": replace(ONE, wall_offset=None),
    "odd words": replace(ONE, banks=(replace(HOUSE, id="Küche-und-Schlafzimmer-zusammen" * 3),)),
}


@pytest.mark.parametrize("snapshot", CASES.values(), ids=CASES.keys())
def test_one_look_fits_a_telephone(snapshot: Snapshot) -> None:
    text = now_text(snapshot, UTC)
    lines = text.splitlines()
    assert 1 <= len(lines) <= NOW_LINES == 8
    assert max(map(len, lines)) <= NOW_COLUMNS == 40
    assert len(text.encode()) < 1000
    assert text.endswith("\n")


def test_one_look_in_full() -> None:
    assert now_text(ONE, UTC) == (
        "no alarm\n"
        "house: absorption, 94 % likely\n"
        "  since 11:20 (1 h 12 min)\n"
        "87 % charged, give or take 3\n"
        "full in 2 h 40 min, about 15:10\n"
        "  2 h to 3 h 30 min\n"
        "+18 A into the bank, 28.72 V, 18 °C\n"
        "shore 21 A, 53 % of 40 A; roof 2.8 A...\n"
    )


def test_one_look_at_silence_shows_no_old_figure() -> None:
    text = now_text(silent(ONE, 190.0, "no answer"), UTC)
    assert "shunt: no answer, since 12:28 (3 min)" in text
    assert "was absorption" in text
    for old in ("28.72", "+18", "94 %", "full in"):
        assert old not in text


def test_one_look_tells_each_bank_of_several() -> None:
    text = now_text(NORMAL, UTC)
    assert "house: 87 % absorption, +18 A" in text
    assert "winch: 100 % float" in text


@pytest.mark.parametrize(
    ("snapshot", "status"),
    [
        (NORMAL, 0),
        (replace(NORMAL, alarms=(LOW,)), 10),
        (replace(NORMAL, alarms=(replace(LOW, priority=Priority.MEDIUM), LOW)), 11),
        (replace(NORMAL, alarms=(HOT, LOW)), 12),
        (replace(NORMAL, alarms=(replace(HOT, state=AlarmState.ACKNOWLEDGED),)), 12),
        (replace(NORMAL, alarms=(replace(HOT, state=AlarmState.LATCHED_UNACKNOWLEDGED),)), 12),
        (replace(NORMAL, alarms=(replace(HOT, state=AlarmState.RETURNED),)), 10),
        (replace(NORMAL, alarms=(replace(HOT, state=AlarmState.SHELVED),)), 0),
        (replace(NORMAL, alarms=(replace(HOT, state=AlarmState.OUT_OF_SERVICE),)), 0),
        (silent(NORMAL, 60.0, "gone"), 10),
        (replace(NORMAL, banks=()), 10),
    ],
)
def test_exit_status_by_severity(snapshot: Snapshot, status: int) -> None:
    assert severity(snapshot) == status


def test_the_first_lines_tell_everything() -> None:
    lines = plain_lines(None, ONE, UTC)
    assert lines == [
        "12:32 no alarm",
        "12:32 house: absorption, 94 % likely. Held 28.72 V for 12 min while current fell 31 to "
        "18 A; compensated absorption set-point 28.8 V.",
        "12:32 house: 87 % charged, give or take 3; full in 2 h 40 min, about 15:10; "
        "+18 A into the bank, 28.72 V, 18 °C",
    ]


def test_nothing_changed_nothing_said() -> None:
    house = replace(HOUSE, volts=Measured(28.9, 1.0), amps=Measured(14.0, 1.0))
    later = replace(NORMAL, seconds=NORMAL.seconds + 600, banks=(house, WINCH))
    assert plain_lines(NORMAL, later, UTC) == []


def test_a_stage_change_says_why() -> None:
    (line,) = plain_lines(ONE, discharging(ONE), UTC)
    assert line == (
        "12:32 house: discharge, 71 % likely, or rest 29 %. 6 A drawn and no source gives."
    )


def test_charge_is_told_by_the_whole_point_and_does_not_chatter() -> None:
    teller = Teller(UTC)
    teller.lines(with_soc(0.8649))
    said = [teller.lines(with_soc(soc)) for soc in (0.8651, 0.8649, 0.8652, 0.8648)]
    assert said == [[], [], [], []]
    (line,) = teller.lines(with_soc(0.8752))
    assert "88 % charged, give or take 3" in line
    assert teller.lines(with_soc(0.8701)) == []


def test_charge_that_is_hardly_known_is_told_in_its_own_coarse_steps() -> None:
    def doubtful(fraction: float) -> Snapshot:
        house = replace(HOUSE, charge=replace(HOUSE.charge, soc=Estimate(fraction, 0.15)))
        return replace(ONE, banks=(house,))

    teller = Teller(UTC)
    teller.lines(doubtful(0.25))
    assert [teller.lines(doubtful(soc)) for soc in (0.27, 0.29)] == [[], []]
    (line,) = teller.lines(doubtful(0.305))
    assert "30 % charged, give or take 30" in line


def test_alarms_come_are_seen_and_go() -> None:
    teller = Teller(UTC)
    teller.lines(ONE)
    (came,) = teller.lines(replace(ONE, alarms=(HOT,)))
    assert came == (
        "12:32 alarm HIGH !!! house: bank above 50 °C and still charging (new). "
        "First: stop charging: open the charger's AC supply"
    )
    assert teller.lines(replace(ONE, alarms=(HOT,))) == []
    (seen,) = teller.lines(replace(ONE, alarms=(replace(HOT, state=AlarmState.ACKNOWLEDGED),)))
    assert seen.endswith("(seen)")
    (over,) = teller.lines(ONE)
    assert over == "12:32 alarm over, house: bank above 50 °C and still charging"


def test_a_device_falls_silent_and_answers_again() -> None:
    teller = Teller(UTC)
    teller.lines(ONE)
    gone = teller.lines(silent(ONE, 30.0, "no answer"))
    assert gone == [
        "12:32 shunt: no answer",
        "12:32 house: no voltage: shunt is silent, last 30 s ago",
        "12:32 house: no current: shunt is silent, last 30 s ago",
    ]
    assert teller.lines(silent(ONE, 31.0, "no answer")) == []
    assert teller.lines(ONE) == [
        "12:32 shunt: answers again",
        "12:32 house: voltage is read again",
        "12:32 house: current is read again",
        "12:32 house: 87 % charged, give or take 3; full in 2 h 40 min, about 15:10; +18 A into "
        "the bank, 28.72 V, 18 °C",
    ]


def test_what_is_wrong_with_a_device_that_answers_is_one_line() -> None:
    teller = Teller(UTC)
    teller.lines(ONE)
    partly = replace(ONE, links=(replace(LINKS[0], reason="refuses register 9"), *LINKS[1:]))
    assert teller.lines(partly) == [f"12:32 {LINKS[0].device}: refuses register 9"]
    assert teller.lines(partly) == []
    assert teller.lines(ONE) == []


def test_a_device_that_was_never_there_is_told_at_once() -> None:
    down = LinkView("shunt", False, "no such port", None, 0.0)
    assert "12:32 shunt: no such port" in plain_lines(
        None, replace(ONE, links=(down, *LINKS[1:])), UTC
    )


def test_a_note_is_told_once() -> None:
    house = replace(HOUSE, warnings=(Fact("set-point", "the source holds 0.4 V less than set"),))
    noted = replace(ONE, banks=(house,))
    assert plain_lines(ONE, noted, UTC) == [
        "12:32 house: note: the source holds 0.4 V less than set"
    ]
    assert plain_lines(noted, noted, UTC) == []


def test_without_a_clock_lines_still_have_a_time() -> None:
    assert plain_lines(None, replace(ONE, wall_offset=None), UTC)[0] == "100000 s no alarm"


def test_plain_text_needs_no_screen_library() -> None:
    """A pipe on a small board must not pay for the screen."""
    code = "import sys, monitor.plain; sys.exit('textual' in sys.modules or 'rich' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_a_silent_device_is_told_once_and_then_at_one_ten_and_sixty_minutes() -> None:
    """Not at every look: an age that grows is no news."""
    teller, told = Teller(UTC), []
    teller.lines(ONE)
    ages = [*range(9, 60), *range(60, 7200, 30)]
    for age in ages:
        quiet = silent(replace(ONE, seconds=ONE.seconds + age), float(age), "no answer")
        house = quiet.banks[0]
        reason = house.volts.reason
        facts = tuple(
            Fact("stale", f"bank {what}: {reason}; stage and charge are as of then")
            for what in ("voltage", "current")
        )
        cold = Fact("no-temperature", f"bank temperature: {reason}; set-points are those of 25 °C")
        quiet = replace(quiet, banks=(replace(house, warnings=(*facts, cold)),))
        told.append(teller.lines(quiet))
    assert [len(lines) for lines in told[1:]].count(1) == 3
    assert sum(map(len, told)) == len(told[0]) + 3
    assert len(told[0]) <= 5
    later = [line for lines in told[1:] for line in lines]
    assert [line.split(": ", 1)[1] for line in later] == [
        f"still no reading: shunt is silent, last {age} ago" for age in ("1 min", "10 min", "1 h")
    ]
    back = teller.lines(ONE)
    assert any("voltage is read again" in line for line in back)
    assert any("87 % charged" in line for line in back)


def test_one_look_keeps_the_age_of_a_silence_within_forty_columns() -> None:
    for reason in ("no answer", "no answer at the port, which somebody may have unplugged"):
        lines = now_text(silent(ONE, 7200.0, reason), UTC).splitlines()
        assert max(map(len, lines)) <= NOW_COLUMNS
        assert len(lines) <= NOW_LINES
        told = " ".join(line.strip() for line in lines)
        assert "(2 h)" in told or ", 2 h" in told
        assert "no reading: shunt is silent, last 2 h ago" in told
        assert "charge was 87 % ±3" in told


def test_the_help_of_now_tells_its_exit_status(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["now", "--help"])
    told = " ".join(capsys.readouterr().out.split())
    assert "Exit status 0: normal; 10, 11, 12" in told
