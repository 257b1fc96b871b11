"""The evening's questions on one screen: what is asked, and the answers as sections."""

from __future__ import annotations

import re
from typing import Final, NamedTuple

from monitor.engine.outlook import Outlook
from monitor.engine.plan import NO_READING, DawnAnswer, SunAnswer, dawn, sun
from monitor.engine.plan_generator import GeneratorAnswer, generator, source_for
from monitor.engine.plan_load import USUAL, LoadAnswer, load
from monitor.engine.snapshot import Estimate
from monitor.words.figures import Clock
from monitor.words.plans import (
    Told,
    assumed,
    dawn_told,
    generator_told,
    load_told,
    sun_told,
)
from monitor.words.texts import Section

HEADING: Final = "Tonight"
THINKING: Final = "Working it out ..."
NOT_HERE: Final = "This feed cannot be asked; use ampwright plan on the machine that watches."
DAWN: Final = "Will it last the night?"
GENERATOR: Final = "How long must a generator run?"
LOAD: Final = "Can I run this load?"
SUN: Final = "Will the coming day's sun fill it?"
ASK_LOAD: Final = "Which load, with Enter:"
ASK_LOAD_EXAMPLE: Final = "1200 W 30 min"
ASK_GENERATOR: Final = "Generator to, quiet from, with Enter:"
ASK_GENERATOR_EXAMPLE: Final = "90% 22:00"
ASSUMPTIONS: Final = "What was assumed"
NO_WATTS: Final = "expected watts and minutes, as in 1200 W 30 min"
NO_GOAL: Final = "expected a charge and an hour, as in 90% 22:00"


def not_understood(expected: str, found: str) -> str:
    return f'{expected}; found "{found}"'


class Asked(NamedTuple):
    """What a person may change: a load and for how long; a charge, and when quiet hours begin.

    At first: a kettle or a small heater; most of a charge, since the last tenth of one pays least;
    quiet from ten in the evening (all common practice).
    """

    watts: float = 1200.0
    seconds: float = 1800.0
    to_soc: float = 0.9
    quiet: tuple[int, int] = (22, 0)


class Answers(NamedTuple):
    """All four, from one outlook; `soc` is now."""

    soc: Estimate
    lowest: float | None
    dawn: DawnAnswer
    generator: GeneratorAnswer | None
    no_generator: str
    load: LoadAnswer
    sun: SunAnswer


_LOAD: Final = re.compile(
    r"(\d+(?:\.\d+)?)\s*(k?)w?(?:\s+(?:for\s+)?(\d+(?:\.\d+)?)\s*(h|m|min)?)?"
)
_GOAL: Final = re.compile(r"(\d+)\s*%(?:\s+([01]?\d|2[0-3]):([0-5]\d))?")


#: No inverter of a coach gives a tenth of it, watts; nothing is looked at for longer, seconds.
_MOST_WATTS: Final = 100_000.0
_MOST_SECONDS: Final = 86400.0


def load_asked(text: str, before: Asked) -> Asked | str:
    """`1200 W 30 min`, `1.2 kW 2h`, `800 W` for as long as before; else what is wrong with it."""
    found = _LOAD.fullmatch(text.strip().lower())
    if found is None:
        return not_understood(NO_WATTS, text)
    watts = float(found[1]) * (1000.0 if found[2] else 1.0)
    seconds = before.seconds
    if found[3] is not None:
        seconds = float(found[3]) * (3600.0 if found[4] == "h" else 60.0)
    wrong = (
        (watts <= 0.0, "expected more than 0 W"),
        (watts > _MOST_WATTS, f"expected at most {_MOST_WATTS:.0f} W"),
        (seconds <= 0.0, "expected more than 0 min"),
        (seconds > _MOST_SECONDS, "expected at most 24 h"),
    )
    expected = next((words for is_wrong, words in wrong if is_wrong), "")
    if expected:
        return not_understood(expected, text)
    return before._replace(watts=watts, seconds=seconds)


def goal_asked(text: str, before: Asked) -> Asked | str:
    """`90%` or `90% 22:00`; else what is wrong with it."""
    found = _GOAL.fullmatch(text.strip())
    if found is None:
        return not_understood(NO_GOAL, text)
    if not 0 < int(found[1]) <= 100:
        return not_understood("expected more than 0 % and at most 100 %", text)
    quiet = before.quiet if found[2] is None else (int(found[2]), int(found[3]))
    return before._replace(to_soc=int(found[1]) / 100.0, quiet=quiet)


def answers(view: Outlook | None, asked: Asked, clock: Clock) -> Answers:
    """Work everything out; a tenth of a second or so, so not between two frames."""
    soc = Estimate(None, None, NO_READING) if view is None else view.soc
    zone = quiet = None
    if view is not None:
        zone, quiet = _zone_seconds(view.seconds, clock), _until(view.seconds, asked.quiet, clock)
    source, reason = source_for(view.sources) if view is not None else (None, NO_READING)
    running = None
    if source is not None and source.rated_amps is not None:
        running = generator(
            view, asked.to_soc, source.rated_amps, source=source.id, quiet_seconds=quiet
        )
    return Answers(
        soc,
        None if view is None else view.bank.lowest_soc,
        dawn(view, zone),
        running,
        reason,
        load(view, asked.watts, asked.seconds, USUAL),
        sun(view, zone),
    )


def _zone_seconds(now: float, clock: Clock) -> float | None:
    """Seconds by which the clock on the wall is east of Greenwich."""
    moment = clock.time(now)
    offset = None if moment is None else moment.astimezone(moment.tzinfo).utcoffset()
    return None if offset is None else offset.total_seconds()


def _until(now: float, hour: tuple[int, int], clock: Clock) -> float | None:
    """Seconds until the clock on the wall next shows an hour."""
    moment = clock.time(now)
    if moment is None:
        return None
    gone = moment.hour * 3600.0 + moment.minute * 60.0 + moment.second
    return (hour[0] * 3600.0 + hour[1] * 60.0 - gone) % 86400.0


def tonight_sections(bank: str, found: Answers, now: float, clock: Clock) -> list[Section]:
    """Answers first; what they take for granted comes once, at the end."""
    told = (
        (DAWN, dawn_told(bank, found.dawn, found.soc, found.lowest, now, clock)),
        (GENERATOR, _generator(bank, found, now, clock)),
        (LOAD, load_told(bank, found.load)),
        (SUN, sun_told(bank, found.sun, found.soc, now, clock)),
    )
    sections = [
        Section(heading, (*(_bare(line, bank) for line in each.lines), *_caution(each)))
        for heading, each in told
    ]
    lines = [f"{heading} {assumed(each.assumptions)}" for heading, each in told if each.assumptions]
    return [*sections, Section(ASSUMPTIONS, tuple(lines))] if lines else sections


def _generator(bank: str, found: Answers, now: float, clock: Clock) -> Told:
    if found.generator is None:
        return Told([f"{bank}: {found.no_generator}"], ())
    return generator_told(bank, found.generator, now, clock)


def _bare(line: str, bank: str) -> str:
    """Without the bank's name, which the heading has."""
    bare = line.removeprefix(f"{bank}: ")
    return bare[:1].upper() + bare[1:]


def _caution(told: Told) -> list[str]:
    return [told.caution] if told.caution else []
