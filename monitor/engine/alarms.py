"""What a person is told about a condition: the alarm states of IEC 62682 / ISA-18.2 as a table.

A condition (`condition.py`) is a fact about the bank; an alarm is what a person is told of it and
has done about it. `MOVES` is the whole state machine: (state, trigger) to next state; a pair that
it does not name changes nothing. `Alarm` adds the memory that the states need: delays that run,
the deadband on the return side, a latch, the end of a shelving.

Sources: states and moves as in ISA-18.2 (secondary copies), the latched pair and the terms for
shelving, suppression by design and out of service as in OPC 10000-9, which is designed to it.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Any, ClassVar, Final, Generic, TypeVar

from monitor.engine import chatter
from monitor.engine.condition import Condition, Figures
from monitor.engine.snapshot import AlarmState, AlarmView, Fact, Handled

W = TypeVar("W")


class Trigger(StrEnum):
    """What can move an alarm."""

    RAISE = "raise"
    CLEAR = "clear"
    ACKNOWLEDGE = "acknowledge"
    RESET = "reset"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    SUPPRESS = "suppress"
    UNSUPPRESS = "unsuppress"
    REMOVE = "remove from service"
    RESTORE = "return to service"


_S = AlarmState
_T = Trigger

#: Where an alarm goes when a person or the design sets it aside, from any state not yet aside.
_ASIDE: Final = {
    _T.SHELVE: _S.SHELVED,
    _T.SUPPRESS: _S.SUPPRESSED,
    _T.REMOVE: _S.OUT_OF_SERVICE,
}

#: The moves of an alarm whose condition does not latch.
MOVES: Final[dict[tuple[AlarmState, Trigger], AlarmState]] = {
    (_S.NORMAL, _T.RAISE): _S.UNACKNOWLEDGED,
    (_S.UNACKNOWLEDGED, _T.CLEAR): _S.RETURNED,
    (_S.UNACKNOWLEDGED, _T.ACKNOWLEDGE): _S.ACKNOWLEDGED,
    (_S.ACKNOWLEDGED, _T.CLEAR): _S.NORMAL,
    (_S.RETURNED, _T.RAISE): _S.UNACKNOWLEDGED,
    (_S.RETURNED, _T.ACKNOWLEDGE): _S.NORMAL,
    (_S.LATCHED_UNACKNOWLEDGED, _T.RAISE): _S.UNACKNOWLEDGED,
    (_S.LATCHED_UNACKNOWLEDGED, _T.ACKNOWLEDGE): _S.LATCHED_ACKNOWLEDGED,
    (_S.LATCHED_UNACKNOWLEDGED, _T.RESET): _S.RETURNED,
    (_S.LATCHED_ACKNOWLEDGED, _T.RAISE): _S.UNACKNOWLEDGED,
    (_S.LATCHED_ACKNOWLEDGED, _T.RESET): _S.NORMAL,
    # Set aside by a person: what stands behind it shows again when it comes back.
    (_S.SHELVED, _T.UNSHELVE): _S.NORMAL,
    (_S.SHELVED, _T.REMOVE): _S.OUT_OF_SERVICE,
    (_S.SUPPRESSED, _T.UNSUPPRESS): _S.NORMAL,
    (_S.SUPPRESSED, _T.SHELVE): _S.SHELVED,
    (_S.SUPPRESSED, _T.REMOVE): _S.OUT_OF_SERVICE,
    (_S.OUT_OF_SERVICE, _T.RESTORE): _S.NORMAL,
    **{
        (state, trigger): aside
        for state in (
            _S.NORMAL,
            _S.UNACKNOWLEDGED,
            _S.ACKNOWLEDGED,
            _S.RETURNED,
            _S.LATCHED_UNACKNOWLEDGED,
            _S.LATCHED_ACKNOWLEDGED,
        )
        for trigger, aside in _ASIDE.items()
    },
}

#: The same where the condition latches: it stays when the condition clears, until reset.
LATCHING_MOVES: Final[dict[tuple[AlarmState, Trigger], AlarmState]] = {
    **MOVES,
    (_S.UNACKNOWLEDGED, _T.CLEAR): _S.LATCHED_UNACKNOWLEDGED,
    (_S.ACKNOWLEDGED, _T.CLEAR): _S.LATCHED_ACKNOWLEDGED,
}

ASIDE: Final = frozenset(_ASIDE.values())

#: Shelving without a time ends when the condition clears (OPC 10000-9: one-shot shelving).
UNTIL_CLEAR: Final = -1.0


class Alarm(Generic[W]):
    """One condition of one target, and where it stands with the people who were told.

    `present` is the condition after its delays; `latched` remembers that it was present since the
    last reset; `suppressed` is what the design asks, also while something else has precedence.
    Out of service goes before shelved, shelved before suppressed.
    """

    KEPT: ClassVar[tuple[str, ...]] = (
        "state",
        "since",
        "present",
        "latched",
        "suppressed",
        "pending",
        "shelved_until",
        "figure",
        "limit",
        "detail",
        "added",
        "silent",
        "explained_by",
        "explained_until",
        "first_up",
        "followed",
        "raised",
        "chattering",
        "handled",
    )
    __slots__ = (*KEPT, "below", "condition", "figure_of", "limit_of", "target")

    def __init__(self, condition: Condition[W], target: str) -> None:
        self.condition = condition
        self.target = target
        self.figure_of = condition.figure
        self.limit_of = condition.limit
        self.below = condition.below
        self.state = str(AlarmState.NORMAL)
        self.since = 0.0
        self.present = False
        self.latched = False
        self.suppressed = False
        self.pending = 0.0
        self.shelved_until: float | None = None
        self.figure = 0.0
        self.limit = 0.0
        self.detail: list[list[Any]] = []
        self.added = ""
        #: Why the design suppresses it: its devices are silent, or another alarm explains it.
        self.silent = False
        self.explained_by = ""
        #: Once its cause is gone: when it is raised after all, if it then still stands.
        self.explained_until: float | None = None
        #: The first of its group, and how many came after it.
        self.first_up = False
        self.followed = 0
        #: When it was last raised to people, the latest few; whether that was told as chatter.
        self.raised: list[float] = []
        self.chattering = False
        #: Seconds, who, what and the note of what a person last did; empty where nobody did.
        self.handled: list[Any] = []

    @property
    def key(self) -> str:
        """What a person names it by: "house:over-voltage"."""
        return f"{self.target}:{self.condition.name}"

    def judge(self, watch: W, elapsed: float) -> Trigger | None:
        """Compare now, `elapsed` judged seconds after the last time; what the condition did.

        While present, the figure must come back by the deadband; either way it must stay for the
        delay. A figure of None stops the clock of the delays and changes nothing.
        """
        condition = self.condition
        figure = condition.figure(watch)
        if figure is None:
            return None
        limit = condition.limit(watch)
        present = self.present
        if condition.below:
            beyond = figure < (limit + condition.deadband if present else limit)
        else:
            beyond = figure > (limit - condition.deadband if present else limit)
        if beyond is present:
            if self.pending:
                self.pending = 0.0
            if present:
                self._note(watch, figure, limit)
            return None
        self.pending += elapsed
        if self.pending < (self._off_delay if present else condition.on_delay):
            return None
        self.pending = 0.0
        self.present = beyond
        if not beyond:
            return Trigger.CLEAR
        self.latched = condition.latched
        self._note(watch, figure, limit)
        return Trigger.RAISE

    @property
    def _off_delay(self) -> float:
        """Longer while it chatters: it then stands instead of calling again and again."""
        usual = self.condition.off_delay
        return max(usual, chatter.HOLD_SECONDS) if self.chattering else usual

    def _note(self, watch: W, figure: float, limit: float) -> None:
        """Keep the newest evidence that the condition is there."""
        self.figure = figure
        self.limit = limit
        detail = self.condition.detail
        if detail is not None:
            self.detail = [[name, value] for name, value in detail(watch)]
        adds = self.condition.adds
        if adds is not None:
            self.added = adds(watch)

    def pull(self, trigger: Trigger, seconds: float) -> bool:
        """Apply a trigger; True where the state moved."""
        before = self.state
        self._move(trigger, seconds)
        if trigger is Trigger.RESET and not self.present:
            self.latched = False
        if before in ASIDE and self.state not in ASIDE:
            self._show_again(seconds)
        if self.state != before:
            self.since = seconds
            return True
        return False

    def _move(self, trigger: Trigger, seconds: float) -> None:
        if trigger is Trigger.SUPPRESS:
            self.suppressed = True
        elif trigger is Trigger.UNSUPPRESS:
            self.suppressed = False
        moves = LATCHING_MOVES if self.condition.latched else MOVES
        state = AlarmState(self.state)
        self.state = str(moves.get((state, trigger), state))
        one_shot = self.shelved_until == UNTIL_CLEAR
        if trigger is Trigger.CLEAR and state is AlarmState.SHELVED and one_shot:
            self._move(Trigger.UNSHELVE, seconds)
        if self.state != AlarmState.SHELVED:
            self.shelved_until = None

    def _show_again(self, seconds: float) -> None:
        """Back from being set aside: show what stands behind it."""
        if self.suppressed:
            self._move(Trigger.SUPPRESS, seconds)
        elif self.present:
            self._move(Trigger.RAISE, seconds)
        elif self.latched:
            self._move(Trigger.RAISE, seconds)
            self._move(Trigger.CLEAR, seconds)

    def shelve_for(self, seconds: float, for_seconds: float | None) -> None:
        """Say how long it stays shelved; with None, until its condition clears."""
        if self.state == AlarmState.SHELVED:
            self.shelved_until = UNTIL_CLEAR if for_seconds is None else seconds + for_seconds

    def shelving_over(self, seconds: float) -> bool:
        """True where a timed shelving has run out."""
        until = self.shelved_until
        return until is not None and until != UNTIL_CLEAR and seconds >= until

    def note_raised(self, seconds: float) -> str:
        """Note that people were told of it; words where it is now chattering, told once."""
        self.raised = chatter.raised_lately(self.raised, seconds)
        chattering = chatter.chatters(self.raised, seconds)
        fresh = chattering and not self.chattering
        # A lull that is long enough ends a chatter: the next one is told again.
        self.chattering = chattering or (self.chattering and len(self.raised) > 1)
        return chatter.words(self.raised) if fresh else ""

    def note_handled(self, seconds: float, who: str, action: str, note: str) -> None:
        """Remember who did what about it, until it is normal again."""
        self.handled = [seconds, who, action, note]

    @property
    def stands_behind(self) -> bool:
        """True where the condition is there or a latch holds it, whatever its state shows."""
        return self.present or self.latched

    @property
    def asks(self) -> bool:
        """True where it stands before people: neither normal nor set aside."""
        return self.state != AlarmState.NORMAL and self.state not in ASIDE

    @property
    def listed(self) -> bool:
        """True where a person should see it: suppressed only counts if something stands behind."""
        if self.state == AlarmState.SUPPRESSED:
            return self.stands_behind
        return self.state != AlarmState.NORMAL

    @property
    def facts(self) -> tuple[Fact, ...]:
        """What was last seen of the condition while it was there."""
        figures: Figures = tuple((name, value) for name, value in self.detail)
        return (self.condition.evidence(self.figure, self.limit, figures, self.added),)

    def view(self, now: float) -> AlarmView:
        condition = self.condition
        until = self.shelved_until
        return AlarmView(
            name=condition.name,
            target=self.target,
            state=AlarmState(self.state),
            priority=condition.priority,
            words=condition.words,
            since_seconds=self.since,
            causes=condition.causes,
            first=condition.first,
            caution=condition.caution,
            evidence=self.facts,
            explained_by=self.explained_by,
            first_up=self.first_up and self.followed > 0,
            chattering=self.chattering and (self.present or chatter.chatters(self.raised, now)),
            handled=Handled(*self.handled) if self.handled else None,
            shelved_until=None if until == UNTIL_CLEAR else until,
        )
