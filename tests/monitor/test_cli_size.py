"""`ampwright size`: in words, narrow and wide, for machines; one line for each mistake."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.words.sheets import Sheet, in_short

BANK = ["--chemistry", "agm", "--volts", "12", "--amp-hours", "400"]
CASES = {
    "cable": ["--amps", "60", "--one-way", "18ft", *BANK, "--timer", "2h"],
    "inverter": ["--watts", "2kW", "--one-way", "6ft", *BANK],
    "ac": ["--amps", "60", "--dc-volts", "14.4"],
    "charger": [
        *BANK, "--amps", "60", "--second", "20", "--second-set-point", "14.2", "--hours", "8",
    ],
    "alternator": [*BANK, "--nameplate", "120A"],
    "set-points": ["--chemistry", "agm", "--at", "95F"],
    "ventilation": [*BANK, "--overcharge", "20Ah"],
    "bank": [
        "--daily", "1.5kWh", "--chemistry", "agm", "--volts", "12", "--at", "5C",
        "--battery", "6V225Ah",
    ],
}  # fmt: skip


@pytest.mark.parametrize("what", CASES)
@pytest.mark.parametrize("columns", [40, 80])
def test_every_sheet_fits_its_paper_and_says_who_decides(
    what: str, columns: int, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["size", what, *CASES[what], "--columns", str(columns)]) == 0
    shown = capsys.readouterr().out
    lines = shown.splitlines()
    assert max(len(line) for line in lines) <= columns
    words = " ".join(shown.split())
    assert "Assumed:" in shown
    assert "Caution:" in shown
    assert "measure it" in words
    assert "local codes" in words
    assert "licensed" in words


@pytest.mark.parametrize("what", CASES)
def test_the_machine_form_has_the_same(what: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["size", what, *CASES[what], "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["answered"] is True
    assert answer["headline"]
    assert answer["assumptions"]
    assert answer["cautions"]
    assert "local codes" in answer["defers_to"]


def words_of(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    main(["size", *arguments])
    return " ".join(capsys.readouterr().out.split())


def test_feet_and_metres_are_one_length(capsys: pytest.CaptureFixture[str]) -> None:
    answers = []
    for length in ("18ft", "5.4864m", "216in", "548.64 cm"):
        main(["size", "cable", "--amps", "60", "--one-way", length, "--volts", "12", "--json"])
        options = json.loads(capsys.readouterr().out)["options"]
        answers.append([(each["conductor"], each["drop_volts"]) for each in options])
    assert all(answer == answers[0] for answer in answers)


def test_fahrenheit_is_celsius(capsys: pytest.CaptureFixture[str]) -> None:
    warm = words_of(capsys, "set-points", "--chemistry", "agm", "--at", "95F")
    assert warm == words_of(capsys, "set-points", "--chemistry", "agm", "--at", "35C")
    assert "14.16" in warm


def test_a_cable_in_hand_is_judged(capsys: pytest.CaptureFixture[str]) -> None:
    """6 AWG: 36 ft x 0.491 ohm/kFT at 75 °C, less 8.5 % at 49 °C, x 60 A = 0.97 V (by hand)."""
    run = ["cable", "--amps", "60", "--one-way", "18ft", "--volts", "12"]
    assert "drops 8.08 %, over 1.5 %" in words_of(capsys, *run, "--cable", "6AWG")
    assert "asked: 95mm2 will do" in words_of(capsys, *run, "--cable", "95mm2")


def test_nothing_will_do(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["size", "cable", "--amps", "900", "--one-way", "20m", "--volts", "12"]
    assert main(arguments) == 1
    assert "Nothing in the tables" in capsys.readouterr().out


def test_a_configuration_gives_the_bank_its_set_points_and_the_source(
    tmp_path, capsys: pytest.CaptureFixture[str]
) -> None:
    config = tmp_path / "coach.toml"
    config.write_text(
        '[banks.house]\nchemistry = "flooded"\nnominal_volts = 24\namp_hours = 440\n'
        "[banks.house.set_points]\nabsorption = 29.2\nabsorption_hours = 3\n"
        '[sources.shore]\nbank = "house"\nkind = "ac-charger"\nrated_amps = 50\n'
    )
    told = ["--config", str(config)]
    cable = words_of(capsys, "cable", *told, "--source", "shore", "--one-way", "5m")
    assert "50 A" in cable
    assert "bank house as in coach.toml" in cable
    assert "timer of 3 h" in cable
    points = words_of(capsys, "set-points", *told)
    assert "absorption 29.20" in points
    assert "absorption: as configured" in points
    other = words_of(capsys, "set-points", *told, "--chemistry", "agm")
    assert "absorption 28.80" in other


def test_a_source_too_small_is_said_to_be(capsys: pytest.CaptureFixture[str]) -> None:
    tiny = ["cable", "--amps", "1", "--one-way", "5m", *BANK]
    assert "do not bring this bank to its voltage" in words_of(capsys, *tiny)
    taken = words_of(capsys, "charger", *BANK, "--amps", "8", "--loads", "8")
    assert "! The loads take all" in taken


def test_the_answer_again_where_it_scrolled_away() -> None:
    sheet = Sheet("Cable", "2/0 AWG, fused at 80 A.", warnings=("Too warm.",))
    assert in_short(sheet, 40) == "In short: 2/0 AWG, fused at 80 A.\n! Too warm.\n"


def test_lithium_wants_no_air(capsys: pytest.CaptureFixture[str]) -> None:
    lithium = ["--chemistry", "lfp", "--volts", "12", "--amp-hours", "300"]
    assert "no gas" in words_of(capsys, "ventilation", *lithium)


def test_warnings_stand_at_the_top(capsys: pytest.CaptureFixture[str]) -> None:
    lithium = ["--chemistry", "lfp", "--volts", "12", "--amp-hours", "100"]
    frost = words_of(capsys, "charger", *lithium, "--at", "-5C", "--amps", "80")
    assert "! Do not charge this chemistry at -5 °C" in frost
    assert "! 80 A is more than the 50 A" in frost


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["cable", "--amps", "60", "--one-way", "18", "--volts", "12"], "ONE WAY such as 18ft"),
        (["cable", "--amps", "60", "--one-way", "31m", "--volts", "12"], "to 30m; found '31m'"),
        (["cable", "--amps", "60", "--one-way", "5m"], "--volts: expected 12, 24 or 48"),
        (["cable", "--one-way", "5m", "--volts", "12"], "--amps: expected"),
        (["cable", "--amps", "6O", "--one-way", "5m", "--volts", "12"], "found '6O'"),
        (["cable", "--amps", "nan", "--one-way", "5m", "--volts", "12"], "found 'nan'"),
        (["cable", "--amps", "1e9", "--one-way", "5m", "--volts", "12"], "found '1e9'"),
        (["cable", "--amps", "6", "--one-way", "5m", "--volts", "36"], "12, 24 or 48"),
        (["cable", "--amps", "6", "--one-way", "5m", "--volts", "12", "--cable", "5/0"], "5/0"),
        (
            ["cable", "--amps", "6", "--one-way", "5m", "--volts", "12", "--insulation", "100C"],
            "one of 60C, 75C",
        ),
        (["set-points", "--chemistry", "agm", "--at", "35"], "with its unit"),
        (["set-points", "--chemistry", "agm", "--at", "400F"], "-40C to 90C"),
        (["set-points"], "--chemistry: expected one"),
        (["charger", "--volts", "12"], "found no --chemistry, --amp-hours"),
        (["charger", "--bank", "house"], "--bank: expected --config"),
        (["bank", "--daily", "2", "--chemistry", "agm", "--volts", "12"], "120Ah or 1.5kWh"),
        (
            ["bank", "--daily", "2Ah", "--chemistry", "agm", "--volts", "12", "--lowest", "100%"],
            "--lowest: expected less",
        ),
        (["ac", "--amps", "60", "--dc-volts", "14.4", "--power-factor", "70"], "found '70'"),
        (["charger", *BANK, "--second", "20"], "--second: expected --amps"),
        (["charger", *BANK, "--second-set-point", "14"], "--second-set-point: expected --second"),
        (["charger", *BANK, "--set-point", "12.0"], "--set-point: expected 12.8 to 15.5 V"),
        (["charger", *BANK, "--set-point", "29"], "--set-point: expected 12.8 to 15.5 V"),
        (["set-points", "--chemistry", "lead-acid"], "say which: flooded, gel, agm"),
        (
            ["charger", *BANK, "--amps", "9", "--second", "9", "--second-set-point", "28.8V"],
            "--second-set-point: expected 12.8 to 15.5 V",
        ),
        (
            ["inverter", "--watts", "1kW", "--one-way", "1m", *BANK, "--lowest", "5.5V"],
            "--lowest: expected volts near 10.5",
        ),
        (["nonsense"], "invalid choice: 'nonsense'"),
        ([], "WHAT"),
    ],
)
def test_a_mistake_is_one_line(
    arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    try:
        status = main(["size", *arguments])
    except SystemExit as left:
        status = left.code if isinstance(left.code, int) else -1
    caught = capsys.readouterr()
    assert status == 2
    assert caught.out == ""
    assert caught.err.count("\n") == 1
    assert said in caught.err


def test_the_readme_shows_what_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    """Each line of its examples, in order; `...` stands for lines left out."""
    text = (Path(__file__).parents[2] / "README.md").read_text()
    blocks = [block for block in text.split("```\n") if block.startswith("$ ampwright size")]
    assert len(blocks) == 2
    for block in blocks:
        command, *wanted = block.splitlines()
        assert main([*command.split()[2:], "--columns", "80"]) == 0
        printed = iter(capsys.readouterr().out.splitlines())
        for line in wanted:
            assert line == "..." or line in printed, line
