"""Bytes for parsers: sound samples damaged in the ways that wires damage, and plain noise."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from random import Random

#: Longest piece fed at once; ports hand over a kilobyte at most.
MOST = 4096
#: What parsers stumble over: separators, signs, ends, edges of numbers.
TOKENS = (
    b"\r\n", b"\n", b"\0", b'"', b"{", b"}", b"[", b"]", b",", b":", b"=", b"*", b"$", b"-", b".",
    b"nan", b"inf", b"1e999", b"-0", b"\xff\xff", b"\x80\x00", b"\x7f\xff", b"null", b"true",
    "°".encode(), b"\xc3", b"9" * 30, b"0x", b"'''", b"SunS", b"\xff\xff\xff\xff",
)  # fmt: skip


def pieces(samples: Sequence[bytes], seed: int) -> Iterator[bytes]:
    """Without end; the same for the same seed."""
    random = Random(seed)
    while True:
        if random.random() < 0.1 or not samples:
            yield random.randbytes(random.randrange(1, 300))
            continue
        data = bytearray(random.choice(samples))
        for _ in range(random.choice((0, 1, 1, 2, 4, 16))):
            _damage(data, random, samples)
        yield bytes(data[:MOST])


def _damage(data: bytearray, random: Random, samples: Sequence[bytes]) -> None:
    at = random.randrange(len(data) + 1)
    match random.randrange(7):
        case 0 if data:
            data[at % len(data)] ^= 1 << random.randrange(8)
        case 1 if data:
            data[at % len(data)] = random.randrange(256)
        case 2:
            data[at:at] = random.choice(TOKENS)
        case 3:
            del data[at : at + random.randrange(1, 9)]
        case 4:
            data[at:at] = data[max(0, at - random.randrange(1, 40)) : at]
        case 5:
            other = random.choice(samples)
            data[at:] = other[random.randrange(len(other) + 1) :]
        case _:
            data[at:at] = random.randbytes(random.randrange(1, 5))
