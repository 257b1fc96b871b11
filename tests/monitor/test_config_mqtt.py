"""The table [mqtt]: off by default, mistakes in one line, and a password that is nowhere shown."""

from __future__ import annotations

from pathlib import Path

import pytest

from monitor.config import ConfigError, parse_config
from monitor.config_mqtt import Mqtt, password_of
from tests.monitor.recordings import BANK_TOML


def mqtt(text: str) -> Mqtt:
    return parse_config(f"{BANK_TOML}[mqtt]\n{text}\n", "/coach/coach.toml").mqtt


def test_it_is_off_by_default() -> None:
    assert parse_config(BANK_TOML, "coach.toml").mqtt.host == ""


def test_a_table() -> None:
    assert mqtt('host = "b"') == Mqtt("b")
    assert mqtt('host = "b"\ntls = true').port == 8883
    found = mqtt('host = "b"\nname = "/home/coach/"\npassword_file = "pass"\nport = 99')
    assert (found.name, found.port) == ("home/coach", 99)
    assert found.password_file == Path("/coach/pass")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("port = 1883", "the host of a broker"),
        ('host = "b"\nport = 0', "a port"),
        ('host = "b"\nname = "coach/#"', "mean something to a broker"),
        ('host = "b"\nevery_seconds = 0', "seconds from 1"),
    ],
)
def test_mistakes_are_one_line(text: str, words: str) -> None:
    with pytest.raises(ConfigError, match=words) as caught:
        mqtt(text)
    assert str(caught.value).startswith("/coach/coach.toml:")


def test_a_password_in_the_configuration_is_refused_and_not_repeated() -> None:
    with pytest.raises(ConfigError) as caught:
        mqtt('host = "b"\npassword = "sesame-94"')
    assert "password" in str(caught.value)
    assert "sesame-94" not in "".join(caught.value.problems)


def test_where_a_password_comes_from(tmp_path: Path) -> None:
    file = tmp_path / "pass"
    file.write_text("sesame\nmore\n")
    file.chmod(0o640)
    assert password_of(Mqtt("b", password_file=file), {"AMPWRIGHT_MQTT_PASSWORD": "x"}) == "sesame"
    assert password_of(Mqtt("b"), {"AMPWRIGHT_MQTT_PASSWORD": "x"}) == "x"
    assert password_of(Mqtt("b"), {}) is None
    file.chmod(0o644)
    with pytest.raises(ValueError, match="everybody can read this password") as caught:
        password_of(Mqtt("b", password_file=file))
    assert "sesame" not in str(caught.value)
    file.write_text("\n")
    file.chmod(0o600)
    with pytest.raises(ValueError, match="found none"):
        password_of(Mqtt("b", password_file=file))
    with pytest.raises(ValueError, match="cannot be read"):
        password_of(Mqtt("b", password_file=tmp_path / "none"))
