"""The procedure as a talk in plain text: lines in, lines out, nothing of where they come from.

One check at a time is put forward. What the person types is an answer to the question that stands,
or one of a few words; both go into the feed and come back as what was said.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

from monitor.commission.check import Ask
from monitor.commission.entry import EntryError, value_of_entry
from monitor.commission.item import Item, Phase
from monitor.commission.procedure import Procedure
from monitor.commission.record import Outcome, Verdict
from monitor.words import commission as words

Say = Callable[[str, str, str], None]

QUIT: Final = "quit"


class Dialogue:
    """`say` sends a word of the person into the feed."""

    def __init__(self, procedure: Procedure, say: Say) -> None:
        self._procedure = procedure
        self._say = say
        self._shown: Item | None = None
        self._put_off: set[str] = set()
        self._asked: str = ""
        self._sent: dict[str, set[str]] = {}
        self._awaited = ""
        self.ended = False

    def opening(self) -> Iterator[str]:
        yield words.INTRODUCTION
        yield words.HOW
        for item in self._procedure.waiting:
            yield f"completes itself: {words.name_of(item)} [{item.key}]"

    def news(self, changed: tuple[Outcome, ...]) -> Iterator[str]:
        """To be asked after every look: outcomes, then what to do next."""
        yield from self.outcomes(changed)
        for outcome in changed:
            if outcome.verdict is Verdict.FAIL and self._is_shown(outcome.key):
                yield "    put right what is wrong, then: go " + outcome.key
            if self._is_shown(outcome.key):
                self._shown, self._asked = None, ""
        yield from self._go_on()

    def outcomes(self, changed: tuple[Outcome, ...]) -> Iterator[str]:
        """What came out, with what it follows from."""
        known = {each.key: each for each in self._procedure.outcomes()} if changed else {}
        for outcome in changed:
            yield words.outcome_line(known.get(outcome.key, outcome))
            if outcome.figures:
                yield f"    {words.figures_line(outcome)}"

    def _is_shown(self, key: str) -> bool:
        return self._shown is not None and self._shown.key == key

    def _go_on(self) -> Iterator[str]:
        if self._shown is None:
            item = self._procedure.current or self._next()
            if item is None:
                return
            self._shown = item
            yield from words.introduce(item)
            if item.phase is not Phase.RUNNING:
                yield "begin, or: skip WHY, later"
        item = self._shown
        if item.phase is Phase.RUNNING:
            self._awaited = ""
            ask = self._ask(item)
            line = words.question(ask) if ask is not None else words.what_next(item)
            if line != self._asked:
                self._asked = line
                yield line

    def _next(self) -> Item | None:
        for item in self._procedure.items:
            free = item.phase is Phase.IDLE and not item.check.alone and not item.needless
            if free and item.key not in self._put_off:
                return item
        return None

    def _ask(self, item: Item) -> Ask | None:
        sent = self._sent.get(item.key, set())
        return next((each for each in item.open_asks if each.name not in sent), None)

    @property
    def idle(self) -> bool:
        """Nothing for hands to do any more."""
        return self._shown is None and self._procedure.current is None and self._next() is None

    def hear(self, line: str) -> Iterator[str]:
        """A line that the person typed."""
        text = " ".join(line.split())
        word, _, rest = text.partition(" ")
        handler = _HANDLERS.get(word.lower())
        if handler is not None:
            yield from handler(self, rest)
        elif text or self._waits_for_begin():
            yield from self._answer(text)

    def _waits_for_begin(self) -> bool:
        return self._shown is not None and self._shown.phase is not Phase.RUNNING

    def _answer(self, text: str) -> Iterator[str]:
        item = self._shown
        if item is None:
            yield f"expected one of: {words.HOW}"
            return
        if item.phase is not Phase.RUNNING:
            if not text:
                yield from self._begin("")
            else:
                yield f"expected begin, skip WHY or later, found {text!r}"
            return
        ask = self._ask(item)
        if ask is None:
            yield f"nothing is asked now; {words.what_next(item)}"
            return
        if not text or (ask.optional and text == "-"):
            return
        try:
            value_of_entry(ask, text)
        except EntryError as error:
            yield str(error)
            return
        self._sent.setdefault(item.key, set()).add(ask.name)
        self._say(item.key, "enter", f"{ask.name} = {text}")

    def _begin(self, rest: str) -> Iterator[str]:
        if self._shown is None:
            yield "nothing to begin; name it: go CHECK"
            return
        del rest
        self._sent[self._shown.key] = set()
        self._asked = ""
        self._say(self._shown.key, "begin", "")

    def _done(self, rest: str) -> Iterator[str]:
        del rest
        if self._shown is not None:
            self._say(self._shown.key, "done", "")
        yield "taken: hands are finished"

    def _skip(self, rest: str) -> Iterator[str]:
        if self._shown is None or not rest:
            yield "expected skip and the reason, such as: skip no clamp meter here"
            return
        self._say(self._shown.key, "skip", rest)

    def _note(self, rest: str) -> Iterator[str]:
        if self._shown is None or not rest:
            yield "expected note and its words"
            return
        self._say(self._shown.key, "note", rest)
        yield "noted"

    def _later(self, rest: str) -> Iterator[str]:
        del rest
        if self._shown is not None:
            self._put_off.add(self._shown.key)
            if self._shown.phase is Phase.RUNNING:
                self._say(self._shown.key, "stop", "")
            self._shown = None
        yield from self._go_on()

    def _go(self, rest: str) -> Iterator[str]:
        item = self._procedure.item(rest)
        if item is None or item.needless:
            why = item.needless if item is not None else "no such check; see list"
            yield f"{rest}: {why}"
            return
        self._put_off.discard(item.key)
        self._shown, self._asked = item, ""
        yield from words.introduce(item)
        yield from self._begin("")

    def _list(self, rest: str) -> Iterator[str]:
        del rest
        yield from (words.outcome_line(each) for each in self._procedure.outcomes())

    def _left(self, rest: str) -> Iterator[str]:
        del rest
        for each in self._procedure.outcomes():
            if each.verdict is Verdict.NOT_DONE:
                yield words.outcome_line(each)

    def _quit(self, rest: str) -> Iterator[str]:
        del rest
        self.ended = True
        yield "kept; go on with the same command"


_HANDLERS: Final[dict[str, Callable[[Dialogue, str], Iterator[str]]]] = {
    "begin": Dialogue._begin,
    "again": Dialogue._begin,
    "done": Dialogue._done,
    "skip": Dialogue._skip,
    "note": Dialogue._note,
    "later": Dialogue._later,
    "go": Dialogue._go,
    "list": Dialogue._list,
    "left": Dialogue._left,
    QUIT: Dialogue._quit,
}
