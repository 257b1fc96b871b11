"""Everything of a device that can be read, read again and again; nothing is ever written.

The first sweep finds out which addresses exist: a block that the device refuses (exception 2) is
halved until its parts answer or are single registers. Later sweeps read only what answered.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final, NamedTuple, Protocol

from adapters.adapter import LinkError
from adapters.modbus_link import Refused
from adapters.registers import Block, Image

#: First blocks: half of what one read may hold, so that a refusal costs little.
FIRST_BLOCK: Final = 64
#: A block that brings no answer at all is not halved below this: each try costs a whole time-out.
LEAST_SILENT: Final = 16
#: Blocks in a row without an answer before anything answered: then it is not there at all.
MOST_SILENT: Final = 3
#: The exception that says that a whole function is unknown (Modbus V1.1b3, 7).
UNKNOWN_FUNCTION: Final = 1


class Reader(Protocol):
    """The part of `adapters.modbus_link.ModbusLink` that is needed: it can only read."""

    async def read(self, block: Block) -> list[int]: ...


class Swept(NamedTuple):
    """One pass over a device, begun and ended at these seconds of the caller's clock."""

    began: float
    ended: float
    image: Image


#: A person reads the meter, then types: what was read up to so many seconds before counts too.
WINDOW_SECONDS: Final = 3.0


def around(sweeps: Sequence[Swept], entered: float) -> tuple[Image, ...]:
    """What was read around a meter reading entered at that moment: the sweeps of the seconds
    before it, at least the newest, and the first one begun after it."""
    before = [each for each in sweeps if each.began <= entered]
    near = [each for each in before if entered - each.ended <= WINDOW_SECONDS] or before[-1:]
    after = [each for each in sweeps if each.began > entered][:1]
    return tuple(each.image for each in (*near, *after))


class Sweeper:
    """Sweeps one device. `told` is called with a line whenever there is something to say."""

    def __init__(
        self,
        reader: Reader,
        blocks: Sequence[Block],
        clock: Callable[[], float],
        told: Callable[[str], None] = lambda _: None,
    ) -> None:
        self._reader = reader
        self._blocks = _cut(blocks)
        self._clock = clock
        self._told = told
        self._silent = 0
        self._answered = False
        #: What answered in the first sweep; None before it.
        self.readable: tuple[Block, ...] | None = None

    async def explore(self) -> Swept:
        """The first sweep; LinkError where the device does not answer at all."""
        began = self._clock()
        image: dict[tuple[str, int], int] = {}
        readable: list[Block] = []
        unknown: set[str] = set()
        for block in self._blocks:
            if block.table not in unknown:
                await self._explore(block, image, readable, unknown)
        self.readable = _joined(readable)
        return Swept(began, self._clock(), image)

    async def sweep(self) -> Swept:
        """Everything that answered, once more; LinkError where it does not now."""
        began = self._clock()
        image: dict[tuple[str, int], int] = {}
        for block in self.readable or ():
            try:
                _put(image, block, await self._reader.read(block))
            except Refused:
                continue  # it may not be there at the moment; its candidates are gone then
        return Swept(began, self._clock(), image)

    async def _explore(
        self,
        block: Block,
        image: dict[tuple[str, int], int],
        readable: list[Block],
        unknown: set[str],
    ) -> None:
        try:
            words = await self._reader.read(block)
        except Refused as refusal:
            self._answered = True
            if refusal.code == UNKNOWN_FUNCTION:
                unknown.add(block.table)
                self._told(f"the device has no {block.table} registers")
                return
            await self._halve(block, 1, image, readable, unknown)
            return
        except LinkError:
            if not self._answered:
                self._silent += 1
                if self._silent >= MOST_SILENT:
                    raise
                return
            await self._halve(block, LEAST_SILENT, image, readable, unknown)
            return
        self._answered = True
        _put(image, block, words)
        readable.append(block)

    async def _halve(
        self,
        block: Block,
        least: int,
        image: dict[tuple[str, int], int],
        readable: list[Block],
        unknown: set[str],
    ) -> None:
        half = block.count // 2
        if half < least:
            return
        for part in (
            Block(block.table, block.address, half),
            Block(block.table, block.address + half, block.count - half),
        ):
            await self._explore(part, image, readable, unknown)


def _put(image: dict[tuple[str, int], int], block: Block, words: Sequence[int]) -> None:
    for index, word in enumerate(words):
        image[block.table, block.address + index] = word


def _cut(blocks: Sequence[Block]) -> list[Block]:
    """The blocks in pieces of `FIRST_BLOCK`."""
    return [
        Block(block.table, at, min(FIRST_BLOCK, block.end - at))
        for block in blocks
        for at in range(block.address, block.end, FIRST_BLOCK)
    ]


def _joined(blocks: Sequence[Block]) -> tuple[Block, ...]:
    """Neighbours as one block, no longer than the longest that answered: few reads a sweep."""
    longest = max((block.count for block in blocks), default=1)
    joined: list[Block] = []
    for block in blocks:
        last = joined[-1] if joined else None
        follows = last is not None and (last.table, last.end) == (block.table, block.address)
        if last is not None and follows and last.count + block.count <= longest:
            joined[-1] = Block(last.table, last.address, last.count + block.count)
            continue
        joined.append(block)
    return tuple(joined)
