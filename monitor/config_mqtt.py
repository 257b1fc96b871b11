"""The table [mqtt] of the configuration: where the service publishes what it sees; off by default.

[mqtt]
host = "broker.local"        # the only key that is needed
port = 1883                  # 8883 with tls
tls = false                  # true: checked against the machine's own certificates
name = "coach"               # begins every topic
username = "coach"
password_file = "/etc/ampwright/broker.password"   # its first line; or AMPWRIGHT_MQTT_PASSWORD
every_seconds = 60           # how often the state is told when nothing happens

A password never stands in the configuration: captures carry that text with them.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from monitor.config_keys import Key, Problems, Refused, number, read_table, text, truth, whole

PASSWORD_VARIABLE: Final = "AMPWRIGHT_MQTT_PASSWORD"
#: Ports of the protocol (IANA).
PLAIN_PORT, TLS_PORT = 1883, 8883


@dataclass(frozen=True, slots=True)
class Mqtt:
    """Where to publish. An empty `host` publishes nowhere. The pace is our choice: a screen far
    away is at most a minute behind, and a day of it is some 2 MB."""

    host: str = ""
    port: int = PLAIN_PORT
    tls: bool = False
    name: str = "coach"
    username: str | None = None
    password_file: Path | None = None
    every_seconds: float = 60.0


def _topic(value: object) -> str:
    if not isinstance(value, str) or not value or any(sign in value for sign in "#+$\0"):
        raise Refused("write words and / between quotes: # + and $ mean something to a broker")
    return value.strip("/")


MQTT: Final[Mapping[str, Key]] = {
    "host": text("the name or address of a broker"),
    "port": whole("a port, 1 to 65535", 1, 65535),
    "tls": Key("true or false", truth),
    "name": Key("the beginning of every topic", _topic),
    "username": text("a user of the broker"),
    "password_file": text("the name of a file"),
    "every_seconds": number("seconds from 1 to 3600", 1.0, 3600.0, "it is in seconds"),
}


def read_mqtt(given: Mapping[str, object], problems: Problems, beside: Path) -> Mqtt:
    """The table as it is meant; what is wrong with it becomes a problem."""
    before = len(problems.found)
    values = read_table(given, MQTT, ("mqtt",), problems)
    if given and "host" not in given:
        problems.add(("mqtt",), "the host of a broker", "none", 'add host = "broker.local"')
    if len(problems.found) > before:
        return Mqtt()
    if "password_file" in values:
        values["password_file"] = beside / Path(values["password_file"]).expanduser()
    values.setdefault("port", TLS_PORT if values.get("tls") else PLAIN_PORT)
    return Mqtt(**values)


def password_of(mqtt: Mqtt, environ: Mapping[str, str] = os.environ) -> str | None:
    """The password, from its file or the environment; ValueError in one line, without it."""
    if mqtt.password_file is None:
        return environ.get(PASSWORD_VARIABLE)
    path = mqtt.password_file
    try:
        mode = path.stat().st_mode
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        why = getattr(error, "strerror", None) or "not text"
        raise ValueError(f"{path}: the password cannot be read: {why}") from None
    if mode & stat.S_IROTH:
        raise ValueError(f"{path}: everybody can read this password; try: chmod o-r {path}")
    if not lines or not lines[0]:
        raise ValueError(f"{path}: expected a password in its first line, found none")
    return lines[0]
