"""Write a configuration by asking: `ampwright init`.

Questions are data. Each says what it is for, takes an empty answer where the key may be left out,
and asks again until the answer would be accepted by `monitor.config`: the same readers check both.
The file that comes out is commented, and parsed once more before it is written.
"""

from __future__ import annotations

import json
import os
import shlex
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from adapters.checked_toml import shown
from adapters.installed import installed
from monitor.config import ConfigError, parse_config
from monitor.config_devices import shipped_descriptions
from monitor.config_keys import BANK, SET_POINTS, SITE, SOURCE, Key, Refused, nearest
from monitor.mishaps import Refusal

BANK_NAME: Final = "house"

Ask = Callable[[str], str]
Say = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Question:
    """One key to be asked for. `why` stands above the key in the file."""

    key: str
    reader: Key
    words: str
    why: str
    needed: bool = False


_BANK: Final = (
    Question(
        "chemistry",
        BANK["chemistry"],
        "What kind of batteries? (flooded, gel, agm, lead-calcium, lfp)",
        "The kind of battery decides every voltage. It is printed on the label.",
        needed=True,
    ),
    Question(
        "nominal_volts",
        BANK["nominal_volts"],
        "Nominal volts of the whole bank? (12, 24, 48)",
        "Volts of the whole bank, not of one battery.",
        needed=True,
    ),
    Question(
        "amp_hours",
        BANK["amp_hours"],
        "Amp-hours of the whole bank, at the 20 hour rate?",
        "Batteries in parallel add up, batteries in series do not.",
        needed=True,
    ),
    Question(
        "lowest_soc",
        BANK["lowest_soc"],
        "Lowest state of charge you plan to reach, as a fraction? (0.5 is usual for lead)",
        "Time left is worked out down to here.",
    ),
    Question(
        "standing_amps",
        BANK["standing_amps"],
        "Amps drawn all the time that the shunt does not see?",
        "This computer's own draw, for one, if it is wired past the shunt.",
    ),
)

_SET_POINTS: Final = (
    Question(
        "absorption",
        SET_POINTS["absorption"],
        "Absorption voltage at 25 °C?",
        "As the charger is set; leave out what is not known, it is then learned.",
    ),
    Question("float", SET_POINTS["float"], "Float voltage at 25 °C?", "As the charger is set."),
    Question(
        "compensation_mv_per_celsius_per_cell",
        SET_POINTS["compensation_mv_per_celsius_per_cell"],
        "Temperature compensation in mV per °C and cell? (-4 is common for lead)",
        "Only where the charger has a temperature sensor at the bank.",
    ),
)

_SOURCE: Final = (
    Question(
        "kind",
        SOURCE["kind"],
        "What kind? (ac-charger, solar, alternator, dc-dc, fixed)",
        "What drives it: the grid or a generator, the sun, the engine, another bank.",
    ),
    Question("rated_amps", SOURCE["rated_amps"], "Rated amps?", "From its label."),
)

_SITE: Final = (
    Question("latitude", SITE["latitude"], "Latitude in degrees, for the sun?", "North positive."),
    Question("longitude", SITE["longitude"], "Longitude in degrees?", "East positive."),
)

#: What each kind of device is asked for: option, question, and an example.
_DEVICES: Final[dict[str, tuple[tuple[str, str], ...]]] = {
    "modbus-rtu": (("port", "Serial port? (a path below /dev/serial/by-id stays the same)"),),
    "modbus-tcp": (("host", "Host name or address?"),),
    "serial-lines": (("port", "Serial port? (a path below /dev/serial/by-id stays the same)"),),
    "sunspec": (("host", "Host name or address? (empty: it is on a serial port)"),),
    "rvc": (("channel", "CAN interface? (such as can0)"),),
}

#: What a device is asked for where it has no host.
_WITHOUT_HOST: Final = _DEVICES["serial-lines"]

#: Adapters whose devices say themselves what they have.
_NEED_NO_DESCRIPTION: Final = frozenset({"sunspec", "rvc"})

#: What else stands in the file for such a device, as an example.
_ALSO: Final = {
    "rvc": "dc_instance = 1   # which of those that `ampwright check` hears is this bank",
}

#: The standard leaves the sign of a battery's current open, so it is asked for, once.
_SIGN: Final = (
    "Which way is its battery current when the figure is positive? (charging, discharging; empty: "
    "not known yet, ampwright check shows the figure)"
)

_CAUTION: Final = """\
# Hands near battery posts: a dropped spanner can weld itself to the terminals. Take rings and
# watch off, fuse every cable at the bank, let nothing spark near a battery that has been charging.
# Follow the maker's manual and local codes; where these call for a licensed person, call one."""


#: Parsed, uncommented, by a test.
_LIMITS_EXAMPLE: Final = """
# Ratings, if you know them: what goes beyond them is told.
# In [banks.house]:    fuse_amps = 250, cable_amps = 200, inverter_cut_off_volts = 10.5
# In [sources.NAME]:   fuse_amps = 60, cable_amps = 70, ac_volts = 120, ac_expected = true
#
# What counts as abnormal can be changed, a table for each condition by its name. A limit carries
# its unit; delays are in seconds; priority is low, medium or high; off = true: not judged at all.
# [limits.bank-hot]
# limit_celsius = 48
# on_delay_seconds = 120
# [banks.house.limits.not-full-for-days]
# off = true"""


def write_config(path: Path, ask: Ask, say: Say) -> None:
    """Ask, and write the file. Refuses to write over one that exists."""
    _check_place(path)
    say("An empty answer leaves a question out; Ctrl-C leaves everything as it was.")
    text = "\n".join(_sections(ask, say)) + "\n"
    parse_config(text, str(path), find=_later)
    with path.open("x", encoding="utf-8") as file:
        file.write(text)
    say(f"Wrote {path}. Try the devices with: ampwright check --config {path}")


def _check_place(path: Path) -> None:
    """Whether the file can be written at all: before the first question, not after the last."""
    if path.exists() or path.is_symlink():
        raise Refusal(f"{path}: exists already and is never written over; name another or move it")
    folder = path.absolute().parent
    if not folder.is_dir():
        raise Refusal(
            f"{path}: expected a directory {folder} to write it into, found none; make it first: "
            f"mkdir -p {shlex.quote(str(folder))}"
        )
    if not os.access(folder, os.W_OK):
        raise Refusal(f"{path}: {folder} may not be written to; choose another place")


def _later(name: str) -> str:
    """A description need not lie there yet while the file is written."""
    del name
    return ""


def _sections(ask: Ask, say: Say) -> Iterator[str]:
    yield "# Ampwright configuration. Positive current flows into the bank; lines with # are notes."
    yield _CAUTION
    yield f"\n[banks.{BANK_NAME}]"
    bank = _answers(_BANK, ask, say)
    yield from _lines(_BANK, bank)
    volts = _set_points(bank, ask, say)
    if volts:
        yield "\n[banks.house.set_points]"
        yield from _lines(_SET_POINTS, volts)
    sources: list[str] = []
    while name := _name(f"Name of {'a' if not sources else 'another'} charging source?", ask, say):
        sources.append(name)
        yield f'\n[sources.{name}]\nbank = "house"'
        yield from _lines(_SOURCE, _answers(_SOURCE, ask, say))
    yield from _device(ask, say)
    site = _site(ask, say)
    if site:
        yield "\n[site]"
        yield from _lines(_SITE, site)
    yield from _history(ask, say)
    yield _LIMITS_EXAMPLE


def _set_points(bank: dict[str, Any], ask: Ask, say: Say) -> dict[str, Any]:
    """Set-points that go together with the bank: asked again where the file would refuse them."""
    while True:
        answers = _answers(_SET_POINTS, ask, say)
        lines = ["[banks.house]", *_lines(_BANK, bank)]
        lines += ["[banks.house.set_points]", *_lines(_SET_POINTS, answers)]
        try:
            parse_config("\n".join(lines), "these answers")
        except ConfigError as error:
            for problem in error.problems:
                say(f"  {_of_a_question(problem)}")
            say("  the set-points are asked again")
            continue
        return answers


def _of_a_question(problem: str) -> str:
    """A problem of a file that nobody has, as one of what was asked: by the question's own key."""
    where, _, words = problem.partition(": ")[2].partition(": ")
    return f"{where.rpartition('.')[2]}: {words}"


def _site(ask: Ask, say: Say) -> dict[str, Any]:
    """Both figures of the place, or neither: one alone is of no use, and is asked about."""
    site = _answers(_SITE, ask, say)
    missing = tuple(question for question in _SITE if question.key not in site)
    if len(missing) != 1:
        return site
    say(f"  the sun needs both: the {missing[0].key} too (empty: neither is written)")
    site.update(_answers(missing, ask, say))
    return site if len(site) == len(_SITE) else {}


def _history(ask: Ask, say: Say) -> Iterator[str]:
    """The record of months: kept, unless that is not wanted."""
    wanted = _chosen(
        "Keep a record of months, to see days, charge cycles and the bank's age? (yes, no",
        ("yes", "no"),
        ask,
        say,
        empty="; empty: yes)",
    )
    directory = "history"
    if wanted != "no":
        words = "In which directory? (empty: history, beside the configuration)"
        directory = _asked(ask, words) or directory
    yield "\n# The record of months; left out: none is kept."
    lines = ("[history]", f"directory = {_toml(directory)}   # not absolute: beside this file")
    yield from (line if wanted != "no" else f"# {line}" for line in lines)


def _answers(questions: tuple[Question, ...], ask: Ask, say: Say) -> dict[str, Any]:
    found = {}
    for question in questions:
        answer = _answer(question, ask, say)
        if answer is not None:
            found[question.key] = answer
    return found


def _answer(question: Question, ask: Ask, say: Say) -> Any:
    """The answer as it will stand in the file, None where the question was left out."""
    while True:
        words = _asked(ask, question.words)
        if not words:
            if not question.needed:
                return None
            say(f"  this one is needed: {question.reader.expected}")
            continue
        value = _literal(words)
        try:
            question.reader.read(value)
        except Refused as refused:
            advice = f"; {refused}" if str(refused) else ""
            say(f"  expected {question.reader.expected}, found {shown(value)}{advice}")
            continue
        return value


def _device(ask: Ask, say: Say) -> Iterator[str]:
    """One device, or a commented example where there is none yet."""
    known = tuple(installed())
    say(f"Adapters: {', '.join(known)}. Device descriptions: {', '.join(shipped_descriptions())}")
    adapter = _chosen("Adapter of the shunt or controller?", known, ask, say)
    if not adapter:
        yield _DEVICE_EXAMPLE
        return
    yield f'\n[devices.shunt]\nadapter = "{adapter}"\nbank = "house"'
    if adapter in _NEED_NO_DESCRIPTION:
        yield from _place(adapter, ask)
        if adapter in _ALSO:
            yield _ALSO[adapter]
        sign = _chosen(_SIGN, ("charging", "discharging"), ask, say, empty="")
        yield "# Which way its battery current runs when the figure is positive; never guessed."
        yield f"positive = {_toml(sign)}" if sign else '# positive = "charging"'
        return
    for option, words in _DEVICES.get(adapter, ()):
        answer = _asked(ask, words)
        yield f"{option} = {_toml(answer)}" if answer else f"# {option} = ..."
    description = _asked(ask, "File name of its description?")
    yield f"description = {_toml(description)}" if description else "# description = ..."


def _place(adapter: str, ask: Ask) -> Iterator[str]:
    """Where the device is: its host, else its serial port; or its CAN interface."""
    asked = _DEVICES[adapter]
    with_host = asked[0][0] == "host"
    for questions in (asked, _WITHOUT_HOST) if with_host else (asked,):
        for option, words in questions:
            answer = _asked(ask, words)
            if answer:
                yield f"{option} = {_toml(answer)}"
                return
    yield (
        '# host = "..."   # or port = "/dev/serial/by-id/..."'
        if with_host
        else f'{asked[0][0]} = "can0"'
    )


_DEVICE_EXAMPLE: Final = """
# No device yet. One looks like this:
# [devices.shunt]
# adapter = "modbus-rtu"
# port = "/dev/serial/by-id/..."
# description = "shunt.toml"   # where the device keeps its numbers; beside this file
# bank = "house\""""


def _lines(questions: tuple[Question, ...], answers: dict[str, Any]) -> Iterator[str]:
    for question in questions:
        if question.key in answers:
            yield f"# {question.why}"
            yield f"{question.key} = {_toml(answers[question.key])}"
        else:
            yield f"# {question.key} = ...   # {question.why}"


def _name(words: str, ask: Ask, say: Say) -> str:
    """A name that can be an id; empty where there is no more."""
    while True:
        name = _asked(ask, words + " (empty: none)")
        if name != BANK_NAME and all(c.isascii() and (c.isalnum() or c in "-_") for c in name):
            return name
        say("  use letters, digits, - and _, and another name than the bank's")


def _chosen(
    words: str, known: tuple[str, ...], ask: Ask, say: Say, empty: str = " (empty: none yet)"
) -> str:
    while True:
        answer = _asked(ask, words + empty)
        if not answer or answer in known:
            return answer
        say(
            f"  expected one of {', '.join(known)}, found {shown(answer)}; {nearest(answer, known)}"
        )


def _asked(ask: Ask, words: str) -> str:
    try:
        return ask(words + " ").strip()
    except EOFError:
        raise Refusal("the answers ended before the last question; nothing was written") from None


def _literal(words: str) -> object:
    """An answer as TOML would have it: a number where it is one, else text."""
    for kind in (int, float):
        try:
            return kind(words.replace(",", "."))
        except ValueError:
            continue
    return words


def _toml(value: object) -> str:
    """A value as TOML; JSON's strings are TOML's basic strings."""
    return json.dumps(value, ensure_ascii=False)
