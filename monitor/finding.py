"""The conversation of `ampwright find`: a person with a meter, and a device nobody has a map of.

The device is swept again and again while the person switches and reads; each meter reading is
compared with what was read around it. `Finding` knows no terminal and no clock of its own: lines
come in, lines go out.
"""

from __future__ import annotations

import asyncio
import contextlib
import re
from collections import deque
from collections.abc import Awaitable, Callable, Mapping
from pathlib import Path
from typing import Final, NamedTuple

from adapters.adapter import LinkError
from adapters.finder.advice import decided, disagreed, next_step, remaining, wanting
from adapters.finder.search import Candidate, Search, Seen
from adapters.finder.sweep import Sweeper, Swept, around
from adapters.finder.views import KINDS
from adapters.finder.writing import description_text
from adapters.reading import QUANTITIES, Quantity

#: Between two sweeps: a slow line is busy anyway, a quick one need not be (our choice).
PAUSE_SECONDS: Final = 0.3
#: After a failure, before the device is asked again.
AGAIN_SECONDS: Final = 1.0
#: A reading needs a sweep no older than this beside it.
OLDEST_SECONDS: Final = 10.0
#: Sweeps kept: a reading is compared with those of the last seconds only.
KEPT: Final = 20
#: Answers shown at once.
SHOWN: Final = 3

CAUTION: Final = (
    "Caution: the meter's probes go near posts that can weld a tool and beside gas that explodes. "
    "Take off metal jewellery, use insulated probes and tools, never bridge two posts, no spark "
    "over a charging battery. Follow local codes; if unsure, ask a licensed electrician. "
    "Ampwright only reads: it never writes a register."
)
HELP: Final = (
    "13.42 V, -8.5 A, 21.5 C, 70 F: a reading of your meter (amps into the bank are positive)",
    "add the word source where you measure at a source: 13.9 V source",
    "show: what is left, with live figures; live: the same every second until Enter",
    "use V 2: take the second answer for the voltage",
    "drop V: forget the readings of the voltage and begin again",
    "write FILE: write the device description; quit: end without writing",
)

_READING: Final = re.compile(r"(-?\d+(?:[.,]\d+)?)\s*°?\s*([VvAaCcFf])\s*(source)?")


class Asked(NamedTuple):
    """A reading as typed: figure and last digit in the kind's unit."""

    kind: str
    source: bool
    figure: float
    digit: float


def parse_reading(line: str) -> Asked | None:
    """A line that is a meter reading, else None."""
    match = _READING.fullmatch(line.strip())
    if match is None:
        return None
    number, unit, source = match.groups()
    number = number.replace(",", ".")
    digit = 10.0 ** -len(number.partition(".")[2])
    figure, unit = float(number), unit.upper()
    if unit == "F":
        figure, digit, unit = (figure - 32.0) / 1.8, digit / 1.8, "C"
    return Asked(unit, bool(source), figure, digit)


class Finding:
    """One conversation. `sweeper` explores and sweeps, `reopen` opens a link that is gone."""

    def __init__(
        self,
        sweeper: Sweeper,
        say: Callable[[str], None],
        clock: Callable[[], float],
        *,
        device_id: int,
        reopen: Callable[[], Awaitable[None]],
        sleep: Callable[[float], Awaitable[object]] = asyncio.sleep,
    ) -> None:
        self._sweeper, self._say, self._clock = sweeper, say, clock
        self._device_id, self._reopen, self._sleep = device_id, reopen, sleep
        self._sweeps: deque[Swept] = deque(maxlen=KEPT)
        self._fresh = asyncio.Condition()
        self._trouble = ""
        self.searches: dict[Quantity, Search] = {}
        self._chosen: dict[Quantity, Candidate] = {}
        self.written: Path | None = None

    async def converse(self, ask: Callable[[str], Awaitable[str | None]]) -> None:
        """Explore, then answer lines until `quit`, the end of input, or a description is written.

        LinkError where the device never answered.
        """
        self._say(CAUTION)
        self._say("Looking for registers that can be read ...")
        first = await self._sweeper.explore()
        if not first.image:
            raise LinkError(
                "the device answers, but none of these registers exists; try other --registers"
            )
        blocks = self._sweeper.readable or ()
        took = first.ended - first.began
        self._say(f"{len(first.image)} registers in {len(blocks)} blocks, found in {took:.1f} s.")
        self._say("Type what your meter shows, such as 13.42 V. Other words: help")
        self._say(f"First: {next_step(Search(KINDS['V']))}.")
        sweeping = asyncio.create_task(self._keep_sweeping())
        try:
            while self.written is None:
                line = await ask("> ")
                if line is None or line.strip().lower() in ("quit", "q", "exit"):
                    break
                await self._answer(line.strip(), ask)
        finally:
            sweeping.cancel()
            await asyncio.gather(sweeping, return_exceptions=True)

    async def _keep_sweeping(self) -> None:
        while True:
            try:
                swept = await self._sweeper.sweep()
            except LinkError as error:
                if not self._trouble:
                    self._say(f"no answer: {error}; trying again")
                self._trouble = str(error)
                await self._sleep(AGAIN_SECONDS)
                with contextlib.suppress(LinkError):
                    await self._reopen()
                continue
            if self._trouble:
                self._trouble = ""
                self._say("the device answers again")
            async with self._fresh:
                self._sweeps.append(swept)
                self._fresh.notify_all()
            await self._sleep(PAUSE_SECONDS)

    # Lines.

    async def _answer(self, line: str, ask: Callable[[str], Awaitable[str | None]]) -> None:
        asked = parse_reading(line)
        if asked is not None:
            await self._take(asked)
            return
        word, _, rest = line.partition(" ")
        match word.lower():
            case "":
                return
            case "show":
                self._show()
            case "live":
                await self._live(ask)
            case "use":
                self._use(rest)
            case "drop":
                self._drop(rest)
            case "write":
                self._write(rest.strip())
            case "help":
                for text in HELP:
                    self._say(text)
            case _:
                self._say(
                    f'expected a reading such as 13.42 V, or a word; found "{line}": see help'
                )

    async def _take(self, asked: Asked) -> None:
        """A meter reading: wait for the sweep after it, then compare."""
        kind = KINDS[asked.kind]
        quantity = kind.source if asked.source else kind.bank
        bounds = QUANTITIES[quantity]
        if not bounds.low <= asked.figure <= bounds.high:
            possible = f"{bounds.low:g} to {bounds.high:g} {bounds.unit}"
            self._say(f"not taken: expected {possible}, found {asked.figure:g}")
            return
        entered = self._clock()
        swept = await self._sweep_after(entered)
        if swept is None:
            self._say(f"not taken: {self._trouble or 'the device does not answer in time'}")
            return
        search = self.searches.setdefault(quantity, Search(kind))
        taken = search.read(Seen(asked.figure, asked.digit, around(tuple(self._sweeps), entered)))
        if not taken:
            self._say(disagreed(search))
            if not search.seen:
                del self.searches[quantity]
            return
        self._chosen.pop(quantity, None)
        self._say(remaining(search))
        self._list(quantity, search)
        want = wanting(search)
        if want:
            self._say(f"Not sure yet: {want}.")
        if decided(search) is not None:
            self._say(f"That is the {kind.name}. Read another quantity, or: write FILE")
        else:
            self._say(f"Next: {next_step(search)}.")

    async def _sweep_after(self, entered: float) -> Swept | None:
        def there() -> bool:
            return bool(self._sweeps) and self._sweeps[-1].began > entered

        try:
            async with asyncio.timeout(OLDEST_SECONDS), self._fresh:
                await self._fresh.wait_for(there)
        except TimeoutError:
            return None
        return self._sweeps[-1]

    def _show(self) -> None:
        if not self.searches:
            self._say("nothing was read yet; type what your meter shows, such as 13.42 V")
        for quantity, search in self.searches.items():
            self._list(quantity, search)

    async def _live(self, ask: Callable[[str], Awaitable[str | None]]) -> None:
        """Everything that is left, every second, until Enter."""
        waiting = asyncio.ensure_future(ask("Enter ends. "))
        while not waiting.done():
            self._show()
            await asyncio.wait({waiting}, timeout=1.0)

    def _list(self, quantity: Quantity, search: Search) -> None:
        answers = search.answers()
        for number, candidate in enumerate(answers[:SHOWN], start=1):
            mark = "*" if self._chosen.get(quantity) == candidate else " "
            self._say(f"{mark}{number}. {self._in_words(candidate, search)}")
        if len(answers) > SHOWN:
            self._say(f"  and {len(answers) - SHOWN} more")

    def _in_words(self, candidate: Candidate, search: Search) -> str:
        """`holding 110, uint16, raw x 0.01 V: now 13.41 V`."""
        view, formula = candidate.view, candidate.formula
        order = ", low word first" if view.words_little else ""
        scale = "" if formula.scale == 1.0 else f" x {formula.scale:.6g}"
        offset = f" {formula.offset:+g}" if formula.offset else ""
        turned = ", turned" if candidate.sign < 0 else ""
        image = self._sweeps[-1].image if self._sweeps else {}
        now = candidate.figure(image, search.kind)
        unit = search.kind.unit
        live = f"now {now:.3f} {unit}" if now is not None else "not there now"
        place = f"{view.table} {view.address}, {view.kind}{order}"
        return f"{place}, raw{scale}{offset} {formula.unit}{turned}: {live}"

    def _use(self, rest: str) -> None:
        found = self._named(rest)
        number = re.search(r"(\d+)\s*$", rest)
        if found is None or number is None:
            self._say('expected such as "use V 2": a unit that was read, and a number of the list')
            return
        quantity, search = found
        answers = search.answers()
        place = int(number.group(1))
        if not 1 <= place <= len(answers):
            self._say(f"expected a number from 1 to {len(answers)}, found {place}")
            return
        self._chosen[quantity] = answers[place - 1]
        self._list(quantity, search)

    def _drop(self, rest: str) -> None:
        found = self._named(rest)
        if found is None:
            self._say('expected such as "drop V": a unit that was read')
            return
        quantity, search = found
        del self.searches[quantity]
        self._chosen.pop(quantity, None)
        self._say(f"The {search.kind.name} begins again. First: {next_step(Search(search.kind))}.")

    def _named(self, rest: str) -> tuple[Quantity, Search] | None:
        match = re.match(r"\s*([VvAaCc])\b(\s*source)?", rest)
        if match is None:
            return None
        kind = KINDS[match.group(1).upper()]
        quantity = kind.source if match.group(2) else kind.bank
        search = self.searches.get(quantity)
        return None if search is None else (quantity, search)

    # The description.

    def _write(self, name: str) -> None:
        answers, open_ones = self._answers()
        if open_ones:
            self._say(f"not written: {'; '.join(open_ones)}")
        elif not answers:
            self._say("not written: nothing was found yet; type what your meter shows")
        elif not name:
            self._say("expected a file name, such as: write shunt.toml")
        else:
            self._write_to(Path(name).expanduser(), answers)

    def _answers(self) -> tuple[dict[Quantity, Candidate], list[str]]:
        """What is decided or chosen, and what stands in the way."""
        answers: dict[Quantity, Candidate] = {}
        open_ones: list[str] = []
        for quantity, search in self.searches.items():
            candidate = self._chosen.get(quantity) or decided(search)
            if candidate is not None:
                answers[quantity] = candidate
                continue
            letter = "C" if search.kind.unit == "°C" else search.kind.unit
            why = wanting(search) or "more than one answer is left"
            open_ones.append(f"{search.kind.name}: {why} (or choose: use {letter} 1)")
        return answers, open_ones

    def _write_to(self, path: Path, answers: Mapping[Quantity, Candidate]) -> None:
        remarks = {quantity: self._remark(quantity) for quantity in answers}
        text = description_text(answers, path.stem, self._device_id, remarks)
        try:
            with path.open("x", encoding="utf-8") as file:
                file.write(text)
        except FileExistsError:
            self._say(f"not written: {path} is there already; choose another name")
            return
        except OSError as error:
            self._say(f"not written: {path}: {error.strerror or error}; choose another place")
            return
        self.written = path
        self._say(f'written: {path}. Name it in the configuration: description = "{path.name}"')

    def _remark(self, quantity: Quantity) -> str:
        search = self.searches[quantity]
        unit = search.kind.unit
        meter = ", ".join(f"{seen.figure:.4g}" for seen in search.seen)
        chosen = "" if decided(search) is not None else "\nchosen by hand among several answers"
        return f"agreed with the meter at {meter} {unit}{chosen}"
