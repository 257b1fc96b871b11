"""Feed ten million bytes to every parser: `make fuzz`.

Prints a row a parser; exits with 1 where anything but an error made for people came out, memory
grew, or twice the bytes took far more than twice the time.
"""

from __future__ import annotations

import gc
import os
import sys
import time
from typing import NamedTuple

from tests.adapters.fuzz.feeding import pieces
from tests.adapters.fuzz.parsers import Parser, parsers

WANTED = 10_000_000
#: Growth of the process that is still none: allocators keep some of what they had.
FLAT_BYTES = 4_000_000
#: A line ten times as long may take this many times as long, not a hundred times.
LINEAR = 30.0


class Fed(NamedTuple):
    """`grown_bytes` from a fifth of the way to the end; `longest_seconds` of one piece."""

    name: str
    fed_bytes: int
    pieces: int
    seconds: float
    longest_seconds: float
    grown_bytes: int
    failed: str


def feed(parser: Parser, wanted: int, seed: int = 1) -> Fed:
    """Feed so many bytes; what came out that should not have."""
    take = parser.make()
    fed = count = 0
    longest, failed, resident = 0.0, "", 0
    began = time.perf_counter()
    for piece in pieces(parser.samples, seed):
        if fed >= wanted:
            break
        before = time.perf_counter()
        try:
            take(piece)
        except Exception as fault:
            failed = f"{type(fault).__name__}: {fault} on {piece[:80]!r}"
            break
        longest = max(longest, time.perf_counter() - before)
        fed += len(piece)
        count += 1
        if not resident and fed >= wanted / 5:
            resident = _resident()
    grown = _resident() - resident if resident else 0
    if not failed and grown > FLAT_BYTES:
        failed = f"memory grew by {grown / 1e6:.1f} MB"
    seconds = time.perf_counter() - began
    return Fed(parser.name, fed, count, seconds, longest, grown, failed)


def slower_when_longer(parser: Parser) -> float:
    """How many times as long a run without any end takes when it is ten times as long."""

    def seconds(length: int) -> float:
        take = parser.make()
        data = (parser.samples[0].rstrip(b"\r\n") or b"x") * (length // len(parser.samples[0]) + 1)
        before = time.perf_counter()
        take(data[:length])
        return time.perf_counter() - before

    seconds(20_000)
    return min(seconds(200_000) for _ in range(3)) / max(
        min(seconds(20_000) for _ in range(3)), 1e-6
    )


def _resident() -> int:
    gc.collect()
    with open("/proc/self/statm", encoding="ascii") as file:
        return int(file.read().split()[1]) * os.sysconf("SC_PAGE_SIZE")


def main(wanted: int = WANTED) -> int:
    print("| parser | bytes | pieces | s | longest piece ms | grown MB | ten times as long | |")
    print("|---|---|---|---|---|---|---|---|")
    good = True
    for parser in parsers():
        result = feed(parser, wanted)
        times = slower_when_longer(parser)
        failed = result.failed or ("not linear" if times > LINEAR else "")
        good = good and not failed
        print(
            f"| {result.name} | {result.fed_bytes:,} | {result.pieces:,} | {result.seconds:.1f} "
            f"| {1000 * result.longest_seconds:.0f} | {result.grown_bytes / 1e6:.1f} "
            f"| {times:.0f} times | {failed} |",
            flush=True,
        )
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else WANTED))
