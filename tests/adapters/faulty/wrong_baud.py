"""What a receiver makes of bytes sent at another rate: the line bit by bit, 8N1 both sides."""

from __future__ import annotations


def heard_at(data: bytes, sent_baud: float, heard_baud: float) -> bytes:
    """The bytes that a receiver at `heard_baud` takes from a line that talks at `sent_baud`.

    The receiver waits for the fall of a start bit, then samples the middle of each of its own
    bits; a byte whose stop bit is low is a framing error, which common drivers pass on as it came.
    """
    line = [1] * 4
    for byte in data:
        line += [0, *((byte >> bit) & 1 for bit in range(8)), 1]
    line += [1] * 12
    step = sent_baud / heard_baud
    heard = bytearray()
    at = 0.0
    while at < len(line):
        if line[int(at)]:
            at = int(at) + 1.0  # idle: the next edge can only be at a bit of the sender's
            continue
        middles = [at + (bit + 1.5) * step for bit in range(8)]
        if middles[-1] >= len(line):
            break
        heard.append(sum(line[int(middle)] << bit for bit, middle in enumerate(middles)))
        at += 9.5 * step
        while at < len(line) and not line[int(at)]:
            at += step  # a stop bit that is low: wait until the line rises
    return bytes(heard)
