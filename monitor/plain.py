"""Text without a screen: a line per change, and a short answer to "how is it now?".

`Teller` turns snapshots into lines, each a whole sentence with its time and its bank, for screen
readers and pipes. `now_text` is one look: at most 8 lines of 40 columns, under 1 kB. `severity` is
the exit status that goes with it. Nothing here needs a terminal.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import tzinfo
from typing import Final

from monitor.engine.as_of import missing
from monitor.engine.snapshot import AlarmView, BankView, Fact, Measured, Priority, Snapshot
from monitor.words import sentences as say
from monitor.words.alarm_line import alarm_lines
from monitor.words.alarm_states import standing, state_word, unseen, worst
from monitor.words.figures import Clock, give_or_take, signed_amps, temperature, volts
from monitor.words.fitting import cut, first_fitting, fitted
from monitor.words.sources import source_short

#: Exit status by the worst that is the matter; 1 and 2 stay free for failures and usage errors.
SEVERITY: Final[dict[Priority, int]] = {
    Priority.NONE: 0,
    Priority.LOW: 10,
    Priority.MEDIUM: 11,
    Priority.HIGH: 12,
}

NOW_LINES: Final = 8
NOW_COLUMNS: Final = 40

#: State of charge is told again once it has moved by a whole step of what is shown, so that a
#: figure on the edge between two does not chatter.
_POINT: Final = 0.01


def severity(snapshot: Snapshot) -> int:
    """0 normal, 10 low, 11 medium, 12 high.

    An alarm that is over but was not yet seen counts as low. A silent device, or a bank that
    nothing is read of, is at least low: unknown is not normal.
    """
    priority = worst(snapshot.alarms)
    if standing(snapshot.alarms):
        priority = max(priority, Priority.LOW)
    unknown = any(not link.up for link in snapshot.links) or any(map(_lost, snapshot.banks))
    if unknown or not snapshot.banks:
        priority = max(priority, Priority.LOW)
    return SEVERITY[priority]


def _lost(bank: BankView) -> bool:
    """It is not read now; a bank of which one figure is measured at all is lost with that one."""
    return say.blind(bank) or (say.past(bank) and not say.unheard(bank))


# One look.


def now_text(snapshot: Snapshot, zone: tzinfo | None = None) -> str:
    """How it is now, in at most 8 lines of at most 40 columns."""
    clock = Clock(snapshot.wall_offset, zone)
    top = alarm_lines(snapshot, NOW_COLUMNS)
    down = [
        first_fitting(NOW_COLUMNS, *say.link_forms(link, snapshot.seconds, clock))
        for link in snapshot.links
        if not link.up
    ]
    lines = [*top, *down[:1]]
    if len(snapshot.banks) == 1:
        lines += _one_bank(snapshot, snapshot.banks[0], clock)
    else:
        room = NOW_LINES - len(lines)
        lines += _several_banks(snapshot, room, clock)
    return "\n".join(cut(line, NOW_COLUMNS) for line in lines[:NOW_LINES]) + "\n"


def _one_bank(snapshot: Snapshot, bank: BankView, clock: Clock) -> list[str]:
    reply = say.wanted(bank)[0]
    lines = [f"{bank.id}: {say.stage_words(bank)}"]
    if not say.past(bank):
        lines.append(f"  {say.since(bank.stage.since_seconds, snapshot.seconds, clock)}")
    charged = say.charged(bank)
    lines.append(first_fitting(NOW_COLUMNS, charged, f"charge {say.brief_charged(bank)}", charged))
    wait = say.waiting_time(bank, snapshot.seconds, clock)
    if reply.between and not say.past(bank):
        lines += [wait, f"  {reply.between}"]
    else:
        # The reason for no answer may need the line that the interval leaves free.
        lines += fitted(wait, NOW_COLUMNS, 2).split("\n")
    # Why nothing is read ends in its age.
    rows = 2 if say.blind(bank) else 1
    lines += fitted(say.electric(bank), NOW_COLUMNS, rows).split("\n")
    sources = [source_short(source) for source in snapshot.sources if source.bank == bank.id]
    return [*lines, "; ".join(sources)] if sources else lines


def _several_banks(snapshot: Snapshot, room: int, clock: Clock) -> Iterator[str]:
    """Every bank gets as many lines as there is room for, the most telling first."""
    banks = snapshot.banks
    each = max(room // max(len(banks), 1), 1)
    shown = banks if len(banks) <= room else banks[: room - 1]
    for bank in shown:
        soc = give_or_take(bank.charge.soc)
        charge = soc.figure if soc else "--"
        short = f"{bank.id}: {charge} {bank.stage.stage.value}, {signed_amps(bank.amps.figure)}"
        told = [
            f"{bank.id}: {say.past_words(bank)}" if say.past(bank) else short,
            f"  {say.waiting_time(bank, snapshot.seconds, clock)}",
            f"  {volts(bank.volts.figure)}, {temperature(bank.celsius.figure, False)}",
        ]
        yield from told[:each]
    if len(shown) < len(banks):
        yield f"and {len(banks) - len(shown)} more banks"


# A line per change.


@dataclass(slots=True)
class _Told:
    """What was last said of one bank."""

    stage: str = ""
    soc: float | None = None
    has_soc: bool = False
    missing: tuple[str, ...] = ()
    #: What the notes were about.
    notes: tuple[tuple[str, str], ...] = ()
    past: bool = False
    #: Reminders of a silence that were given.
    reminded: int = 0


#: What stays unread is told again after so long: ten times as long each time or so (our choice: an
#: hour is the longest that anybody should have to wonder).
REMINDERS: Final = (60.0, 600.0, 3600.0)


class Teller:
    """Gives lines for what changed since the snapshot before; everything at the first."""

    def __init__(self, zone: tzinfo | None = None) -> None:
        self._zone = zone
        self._banks: dict[str, _Told] = {}
        self._alarms: dict[tuple[str, str], AlarmView] = {}
        self._links: dict[str, tuple[bool, str]] = {}
        self._first = True
        self._clock = Clock(None, zone)

    def turned(self, gone: str, seconds: float) -> str:
        """The line when the service that is attached to goes, with its reason, or is back; at the
        moment of the last word of it, or of the first."""
        return f"{_moment(self._clock, seconds)} {say.turned(gone)}"

    def lines(self, snapshot: Snapshot) -> list[str]:
        """One line for each change, alarms first; an empty list where nothing changed."""
        clock = Clock(snapshot.wall_offset, self._zone)
        told = [
            *self._alarm_lines(snapshot),
            *self._link_lines(snapshot),
            *(line for bank in snapshot.banks for line in self._bank_lines(bank, snapshot, clock)),
        ]
        if self._first and not standing(snapshot.alarms):
            told.insert(0, say.NO_ALARM)
        self._first = False
        moment, self._clock = _moment(clock, snapshot.seconds), clock
        return [f"{moment} {line}" for line in told]

    def _alarm_lines(self, snapshot: Snapshot) -> Iterator[str]:
        now = {(alarm.target, alarm.name): alarm for alarm in snapshot.alarms}
        for key, alarm in now.items():
            before = self._alarms.get(key)
            if before is None or before.state is not alarm.state:
                yield _alarm_words(alarm, new=before is None)
        for key, alarm in self._alarms.items():
            if key not in now:
                yield f"alarm over, {alarm.target}: {say.unstopped(alarm.words)}"
        self._alarms = now

    def _link_lines(self, snapshot: Snapshot) -> Iterator[str]:
        for link in snapshot.links:
            heard = link.age_seconds is not None
            state = (link.up, "" if link.up and not heard else link.reason)
            before = self._links.get(link.device)
            self._links[link.device] = state
            if state == before or (before is None and state == (True, "")):
                continue
            if link.up and before is not None and not before[0]:
                yield f"{link.device}: answers again"
            if not link.up or state[1]:
                yield f"{link.device}: {link.reason or 'silent'}"

    def _bank_lines(self, bank: BankView, snapshot: Snapshot, clock: Clock) -> Iterator[str]:
        told = self._banks.setdefault(bank.id, _Told())
        if not say.past(bank) and bank.stage.stage != told.stage:
            told.stage = bank.stage.stage
            yield f"{bank.id}: {say.stage_words(bank)}. {say.why(bank.stage)}"
        yield from _missing_lines(bank, told)
        known_again = told.past and not say.past(bank)
        told.past = say.past(bank)
        if known_again or _soc_moved(bank, told):
            told.soc, told.has_soc = bank.charge.soc.figure, True
            wait = say.waiting_time(bank, snapshot.seconds, clock)
            yield f"{bank.id}: {say.charged(bank)}; {wait}; {say.electric(bank)}"
        yield from _reminder(bank, told)
        notes = {_about(fact): fact.words for fact in bank.warnings}
        # That a figure is missing was told with its reason.
        yield from (
            f"{bank.id}: note: {words}"
            for about, words in notes.items()
            if about not in told.notes and about[0] != "stale"
        )
        told.notes = tuple(notes)


def _about(fact: Fact) -> tuple[str, str]:
    """What a note is about; what follows may hold an age, which grows and is no news."""
    return fact.rule, fact.words.partition(":")[0]


def _reminder(bank: BankView, told: _Told) -> Iterator[str]:
    """Once in a while, that a bank is still not read."""
    gone = missing(bank.volts, bank.amps)
    age = None if gone is None else gone.age_seconds
    if age is None:
        told.reminded = 0
        return
    due = sum(age >= after for after in REMINDERS)
    if due > told.reminded and told.has_soc:
        yield f"{bank.id}: still {say.past_words(bank)}"
    told.reminded = due


def _moment(clock: Clock, seconds: float) -> str:
    return clock.at(seconds, seconds) or f"{seconds:.0f} s"


def _alarm_words(alarm: AlarmView, new: bool) -> str:
    """An alarm that came, or that somebody or something moved on."""
    lead = f"alarm {say.PRIORITY_WORD[alarm.priority]} {say.PRIORITY_MARK[alarm.priority]}"
    text = f"{lead} {alarm.target}: {say.unstopped(alarm.words)} ({state_word(alarm)})"
    if alarm.explained_by:
        text += f"; follows from {alarm.explained_by}"
    if new and alarm.first and unseen(alarm):
        text += f". First: {alarm.first}"
    return text


_WATCHED: Final[tuple[tuple[str, Callable[[BankView], Measured]], ...]] = (
    ("voltage", lambda bank: bank.volts),
    ("current", lambda bank: bank.amps),
    ("temperature", lambda bank: bank.celsius),
)


def _missing_lines(bank: BankView, told: _Told) -> Iterator[str]:
    """Figures that went missing, with the reason, and figures that came back."""
    now = {what: get(bank) for what, get in _WATCHED}
    missing = tuple(what for what, measured in now.items() if measured.figure is None)
    for what in missing:
        if what not in told.missing:
            yield f"{bank.id}: {say.absent(what, now[what])}"
    for what in told.missing:
        if what not in missing:
            yield f"{bank.id}: {what} is read again"
    told.missing = missing


def _soc_moved(bank: BankView, told: _Told) -> bool:
    now, before = bank.charge.soc.figure, told.soc
    if say.past(bank) and told.has_soc:
        return False
    if not told.has_soc or now is None or before is None:
        return not told.has_soc or now is not before
    said = give_or_take(bank.charge.soc)
    return abs(now - before) >= _POINT * (said.step if said else 1)


def plain_lines(
    previous: Snapshot | None, snapshot: Snapshot, zone: tzinfo | None = None
) -> list[str]:
    """The lines between two snapshots; with `previous` None, everything there is to say.

    For a stream use one `Teller`: it also remembers what it last said.
    """
    teller = Teller(zone)
    if previous is not None:
        teller.lines(previous)
    return teller.lines(snapshot)
