"""`ampwright init`: a configuration from answers, wrong ones asked for again."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.config import parse_config

ANSWERS = [
    "floded",
    "flooded",
    "12",
    "200 Ah",
    "200",
    "50",
    "0.5",
    "",
    "28.8",
    "13.5",
    "",
    "14.4",
    "13,5",
    "-4",
    "house",
    "shore",
    "ac-charger",
    "40",
    "roof",
    "solar",
    "",
    "",
    "modbus",
    "modbus-rtu",
    "/dev/serial/by-id/some-shunt",
    "shunt.toml",
    "44.1",
    "-110.6",
    "maybe",
    "yes",
    "record",
]


def answered(answers: list[str], path: Path, monkeypatch: pytest.MonkeyPatch) -> int:
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(answers) + "\n"))
    return main(["init", str(path)])


def test_answers_become_a_commented_configuration(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "coach.toml"
    assert answered(ANSWERS, path, monkeypatch) == 0
    out = capsys.readouterr().out
    for told in ('"flooded"?', "without quotes or unit", "0.5 for 50 %", "12.0 to 17.4 V", "rtu"):
        assert told in out
    text = path.read_text()
    config = parse_config(text, str(path), {"shunt.toml": ""})
    (bank,) = config.site.banks
    assert (bank.chemistry.name, bank.nominal_volts, bank.amp_hours) == ("flooded", 12, 200.0)
    assert (bank.lowest_soc, bank.standing_amps) == (0.5, None)
    assert (bank.set_points.absorption, bank.set_points.float_) == (14.4, 13.5)
    assert [(source.id, source.rated_amps) for source in config.site.sources] == [
        ("shore", 40.0),
        ("roof", None),
    ]
    assert config.devices[0].settings.options == {"port": "/dev/serial/by-id/some-shunt"}
    assert (config.site.latitude, config.site.longitude) == (44.1, -110.6)
    comments = [line for line in text.splitlines() if line.startswith("#")]
    assert len(comments) > 15
    assert "# standing_amps = ..." in text
    assert config.history.directory == tmp_path / "record"
    assert "these answers" not in out
    assert "  absorption: expected 12.0 to 17.4 V for 6 cells" in out


def test_the_least_that_can_be_answered(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "coach.toml"
    assert answered(["", "lfp", "24", "280", *[""] * 11], path, monkeypatch) == 0
    config = parse_config(path.read_text(), "coach.toml")
    assert config.site.banks[0].set_points.absorption is None
    assert config.devices == ()
    assert config.history.directory == Path("history"), "kept unless it is not wanted"


def test_nothing_is_written_over_nor_half_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "coach.toml"
    assert answered(["flooded", "12"], path, monkeypatch) == 2
    assert not path.exists()
    assert "nothing was written" in capsys.readouterr().err
    path.write_text("mine")
    assert answered(ANSWERS, path, monkeypatch) == 2
    assert path.read_text() == "mine"


LEAST = ["lfp", "24", "280", *[""] * 7]


def test_no_record_where_none_is_wanted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "coach.toml"
    assert answered([*LEAST, "", "", "no"], path, monkeypatch) == 0
    assert parse_config(path.read_text(), "coach.toml").history.directory is None
    assert "# [history]" in path.read_text()


@pytest.mark.parametrize(
    ("place", "kept"),
    [
        (["44.1", "", "-110.6"], (44.1, -110.6)),
        (["", "-110.6", "44.1"], (44.1, -110.6)),
        (["44.1", "", ""], (None, None)),
    ],
)
def test_half_a_place_is_asked_about(
    place: list[str],
    kept: tuple[float | None, float | None],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    path = tmp_path / "coach.toml"
    assert answered([*LEAST, *place, "no"], path, monkeypatch) == 0
    site = parse_config(path.read_text(), "coach.toml").site
    assert (site.latitude, site.longitude) == kept
    assert "the sun needs both" in capsys.readouterr().out


def test_a_place_that_is_not_there_is_told_before_the_first_question(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "not there" / "coach.toml"
    assert answered(ANSWERS, path, monkeypatch) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert f"mkdir -p '{path.parent}'" in err


def test_lead_alone_is_no_kind_of_battery(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "coach.toml"
    assert answered(["lead-acid", *LEAST, "", "", "no"], path, monkeypatch) == 0
    assert "say which: flooded, gel, agm or lead-calcium" in capsys.readouterr().out


def test_questions_keep_their_words_whole_on_a_phone() -> None:
    from monitor.commands.init import folded
    from monitor.setup import _BANK

    for question in _BANK:
        lines = folded(question.words, 40)
        assert max(map(len, lines)) < 40
        assert " ".join(lines) == question.words
    assert folded("  expected one of a, b, found c; known are a and b", 40) == [
        "  expected one of a, b, found c; known",
        "  are a and b",
    ]
    assert folded("as it is " * 20, 0) == [("as it is " * 20).rstrip()]
