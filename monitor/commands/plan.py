"""`ampwright plan`: the evening's questions, asked of the devices or of a moment of a capture."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

from monitor.commands.attaching import add_socket, refuse_own, service_for
from monitor.commands.options import add_config, add_keeping, config_of, seconds
from monitor.mishaps import Refusal

if TYPE_CHECKING:
    from monitor.bank import Site
    from monitor.engine.outlook import Outlook
    from monitor.engine.snapshot import Estimate

_CLOCK: Final = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")

#: Exit status where the question has no answer; the reason is in the line.
NO_ANSWER: Final = 1
_STATUS: Final = (
    "Exit status 0 with an answer, 1 without one (as while the bank is not read), 2 for a mistake "
    "of yours."
)


class _Known(NamedTuple):
    """What there is to plan from, and a line on when that was."""

    bank: str
    site: Site
    view: Outlook | None
    now: float
    wall_offset: float | None
    heading: str


# What people write.


def fraction(text: str) -> float:
    """A fraction as an option: 0.9 or 90%."""
    number = text.removesuffix("%").strip()
    value = _number(number) / (100.0 if text.endswith("%") else 1.0)
    if not 0.0 < value <= 1.0:
        raise argparse.ArgumentTypeError(f"expected a fraction such as 0.9 or 90%; found {text!r}")
    return value


def watts(text: str) -> float:
    """Watts as an option: 1200, 1200W, 1.2kW."""
    low = text.lower()
    factor = 1000.0 if low.endswith("kw") else 1.0
    value = _number(low.removesuffix("kw").removesuffix("w")) * factor
    if not 0.0 < value < 1e6:
        raise argparse.ArgumentTypeError(f"expected watts such as 1200 or 1.2kW; found {text!r}")
    return value


def minutes(text: str) -> float:
    """A duration whose bare figure is minutes (30, 30m, 2h, 90s), in seconds."""
    factor = {"s": 1.0, "m": 60.0, "h": 3600.0}.get(text[-1:], 0.0)
    value = _number(text[:-1] if factor else text) * (factor or 60.0)
    if not 0.0 < value <= 86400.0:
        raise argparse.ArgumentTypeError(
            f"expected minutes such as 30, or 2h, no more than 24h; found {text!r}"
        )
    return value


def _positive(what: str, unit: str, most: float) -> Callable[[str], float]:
    """A figure above 0 with its unit left out or not, for argparse."""

    def parse(text: str) -> float:
        value = _number(text.removesuffix(unit))
        if not 0.0 < value < most:
            raise argparse.ArgumentTypeError(
                f"expected {what} above 0 and below {most:g}; found {text!r}"
            )
        return value

    return parse


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return -1.0


def clock(text: str) -> tuple[int, int]:
    """An hour of the clock on the wall: 22:00."""
    found = _CLOCK.fullmatch(text)
    if found is None:
        raise argparse.ArgumentTypeError(f"expected a time such as 22:00; found {text!r}")
    return int(found[1]), int(found[2])


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.epilog = _STATUS
    questions = parser.add_subparsers(dest="question", metavar="QUESTION", required=True)
    dawn = questions.add_parser("dawn", help="how full at dawn, with the usual night's load")
    dawn.add_argument("--dawn", type=clock, metavar="HH:MM", help="ask for this time instead")
    dawn.add_argument("--in", dest="within", type=seconds, metavar="TIME", help="or in 9h from now")
    generator = questions.add_parser("generator", help="how long must a generator run")
    generator.add_argument(
        "--to", type=fraction, required=True, metavar="SOC", help="state of charge: 0.9 or 90%%"
    )
    generator.add_argument(
        "--amps", type=_positive("amps", "A", 1000.0), help="what its charger gives"
    )
    generator.add_argument("--source", metavar="NAME", help="or the source whose rating counts")
    generator.add_argument("--quiet", type=clock, metavar="HH:MM", help="when quiet hours begin")
    generator.add_argument(
        "--share", type=fraction, metavar="PART", help="pays while it gives this part (0.5)"
    )
    load = questions.add_parser("load", help="can the inverter carry WATTS for MINUTES")
    load.add_argument("watts", type=watts, metavar="WATTS")
    load.add_argument("seconds", type=minutes, metavar="MINUTES")
    load.add_argument(
        "--cut-off",
        type=_positive("volts", "V", 64.0),
        metavar="VOLTS",
        help="at which the inverter stops (10.5 V of 12 V)",
    )
    load.add_argument("--efficiency", type=fraction, metavar="PART", help="of the inverter (0.88)")
    load.add_argument(
        "--leads",
        type=_positive("milliohm", "mohm", 100.0),
        metavar="MILLIOHM",
        help="to the inverter and back (1)",
    )
    sun = questions.add_parser("sun", help="will tomorrow's sun fill the bank")
    for question in (dawn, generator, load, sun):
        question.epilog = _STATUS
        _add_from(question)


def _add_from(parser: argparse.ArgumentParser) -> None:
    """Where the figures come from."""
    add_config(parser)
    add_keeping(parser)
    parser.add_argument(
        "--wait", type=seconds, default=10.0, metavar="TIME", help="the longest wait for devices"
    )
    parser.add_argument(
        "--capture", type=Path, metavar="FILE", help="ask a recording instead of the devices"
    )
    parser.add_argument(
        "--at", metavar="TIME", help="its moment: 5400, 90m, 33:05:00, 20:40, a date and time, end"
    )
    parser.add_argument("--bank", type=Path, metavar="FILE", help="TOML of the recording's bank")
    parser.add_argument("--of", metavar="NAME", help="the bank, where there are several")
    add_socket(parser)


def run(arguments: argparse.Namespace) -> int:
    known = _known(arguments)
    lines, answered = _QUESTIONS[arguments.question](arguments, known)
    if known.heading:
        print(known.heading)
    for line in lines:
        print(line)
    return 0 if answered else NO_ANSWER


# Where the figures come from.


def _known(arguments: argparse.Namespace) -> _Known:
    if arguments.capture is None:
        if arguments.at is not None or arguments.bank is not None:
            raise Refusal("--at and --bank belong to a recording; name it with --capture FILE")
        return _live(arguments)
    if arguments.config is not None or arguments.state is not None:
        raise Refusal("--capture brings its own bank and state; leave out --config and --state")
    return _recorded(arguments)


def _asked(path: Path, arguments: argparse.Namespace) -> _Known:
    """From the service that reads the devices."""
    from monitor.service.caller import call, foresee

    site = call(path).site
    bank = bank_named(arguments.of, site)
    _, snapshot, view = foresee(path, bank)
    return _Known(bank, site, view, snapshot.seconds, snapshot.wall_offset, "")


def _live(arguments: argparse.Namespace) -> _Known:
    from monitor.commands.now import everybody_answered, look_from
    from monitor.commands.screens import ended_well, run_until_told
    from monitor.engine.outlook import outlook_of
    from monitor.live import Live

    path = service_for(arguments)
    if path is not None:
        refuse_own(arguments, path, "state")
        return _asked(path, arguments)
    config = config_of(arguments.config)
    bank = bank_named(arguments.of, config.site)
    live = Live(config, state_path=arguments.state, look_from=look_from(config, arguments.state))
    run_until_told(lambda: everybody_answered(live), live, arguments.wait)
    ended_well(live)
    snapshot = live.snapshot()
    view = live.ask(lambda engine: outlook_of(engine, bank))
    return _Known(bank, config.site, view, snapshot.seconds, snapshot.wall_offset, "")


def _recorded(arguments: argparse.Namespace) -> _Known:
    from monitor.engine.outlook import outlook_of
    from monitor.moments import engine_at, moment, moment_words, span_of
    from monitor.recorded import open_recorded

    recorded = open_recorded(arguments.capture, arguments.bank)
    bank = bank_named(arguments.of, recorded.site)
    span = span_of(recorded.recording)
    at = moment(arguments.at or "end", span)
    engine = engine_at(recorded, at)
    view = outlook_of(engine, bank)
    offset = engine.site_watch.wall_offset
    now = at if view is None else view.seconds
    return _Known(bank, recorded.site, view, now, offset, moment_words(at, span))


def bank_named(asked: str | None, site: Site) -> str:
    """The bank that is meant: the one named, else the first."""
    names = [bank.id for bank in site.banks]
    if asked is not None and asked not in names:
        raise Refusal(f'--of: expected a bank ({", ".join(names)}), found "{asked}"')
    return asked or names[0]


# The questions.


def _dawn(arguments: argparse.Namespace, known: _Known) -> tuple[list[str], bool]:
    from monitor.engine.plan import Moment, dawn
    from monitor.words.figures import Clock
    from monitor.words.plans import dawn_lines

    at = None
    if arguments.dawn is not None and arguments.within is not None:
        raise Refusal("--dawn and --in say the same thing twice; give one of them")
    if arguments.within is not None:
        at = Moment(known.now + arguments.within, "the time asked for", asked=True)
    elif arguments.dawn is not None:
        wait = _until(arguments.dawn, known, "--dawn")
        at = Moment(known.now + wait, "the time asked for", asked=True)
    answer = dawn(known.view, _zone_seconds(known), at)
    lines = dawn_lines(
        known.bank,
        answer,
        _soc(known),
        known.site.bank(known.bank).lowest_soc,
        known.now,
        Clock(known.wall_offset),
    )
    return lines, answer.soc is not None


def _generator(arguments: argparse.Namespace, known: _Known) -> tuple[list[str], bool]:
    from monitor.engine.plan_generator import PAYING_SHARE, generator
    from monitor.words.figures import Clock
    from monitor.words.plans import generator_lines

    source, amps = _charger(arguments, known)
    quiet = None if arguments.quiet is None else _until(arguments.quiet, known, "--quiet")
    answer = generator(
        known.view,
        arguments.to,
        amps,
        source=source,
        quiet_seconds=quiet,
        paying_share=arguments.share or PAYING_SHARE,
    )
    lines = generator_lines(known.bank, answer, known.now, Clock(known.wall_offset))
    return lines, answer.seconds is not None


def _charger(arguments: argparse.Namespace, known: _Known) -> tuple[str | None, float]:
    """The charger behind the generator, and what it gives."""
    from monitor.engine.plan_generator import source_for

    own = [source for source in known.site.sources if source.bank == known.bank]
    if arguments.source is not None:
        names = ", ".join(source.id for source in own) or "none is configured"
        found = next((source for source in own if source.id == arguments.source), None)
        if found is None:
            raise Refusal(f'--source: expected a source ({names}), found "{arguments.source}"')
        if arguments.amps is None and found.rated_amps is None:
            raise Refusal(f"--source: {found.id} has no rated_amps; say it with --amps")
        return found.id, arguments.amps or found.rated_amps or 0.0
    found, reason = source_for(tuple(own))
    if arguments.amps is not None:
        return (None if found is None else found.id), arguments.amps
    if found is None or found.rated_amps is None:
        raise Refusal(f"--amps: {reason}")
    return found.id, found.rated_amps


def _load(arguments: argparse.Namespace, known: _Known) -> tuple[list[str], bool]:
    from monitor.engine.plan_load import USUAL, load
    from monitor.words.plans import load_lines

    inverter = USUAL
    if arguments.cut_off is not None:
        inverter = inverter._replace(cut_off_volts=arguments.cut_off)
    if arguments.efficiency is not None:
        inverter = inverter._replace(efficiency=arguments.efficiency)
    if arguments.leads is not None:
        inverter = inverter._replace(lead_ohms=1e-3 * arguments.leads)
    answer = load(known.view, arguments.watts, arguments.seconds, inverter)
    return load_lines(known.bank, answer), answer.possible is not None


def _sun(arguments: argparse.Namespace, known: _Known) -> tuple[list[str], bool]:
    from monitor.engine.plan import sun
    from monitor.words.figures import Clock
    from monitor.words.plans import sun_lines

    del arguments
    answer = sun(known.view, _zone_seconds(known))
    clock_of = Clock(known.wall_offset)
    lines = sun_lines(known.bank, answer, _soc(known), known.now, clock_of)
    return lines, answer.fills is not None


_QUESTIONS = {"dawn": _dawn, "generator": _generator, "load": _load, "sun": _sun}


def _soc(known: _Known) -> Estimate:
    from monitor.engine.plan import NO_READING
    from monitor.engine.snapshot import Estimate

    return Estimate(None, None, NO_READING) if known.view is None else known.view.soc


# The clock on the wall.


def _zone_seconds(known: _Known) -> float | None:
    """Seconds by which this machine's clock is east of Greenwich."""
    if known.wall_offset is None:
        return None
    there = datetime.fromtimestamp(known.now + known.wall_offset).astimezone()
    offset = there.utcoffset()
    return None if offset is None else offset.total_seconds()


def _until(time: tuple[int, int], known: _Known, option: str) -> float:
    """Seconds until the clock on the wall next shows a time."""
    if known.wall_offset is None:
        raise Refusal(f"{option}: the time of day is not known here; use a recording that knows it")
    now = datetime.fromtimestamp(known.now + known.wall_offset)
    then = now.replace(hour=time[0], minute=time[1], second=0, microsecond=0)
    if then <= now:
        then += timedelta(days=1)
    return (then - now).total_seconds()
