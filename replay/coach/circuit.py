"""One moment of the wiring: what every source, the loads and the bank agree on.

Everything hangs on the posts. The bank gives a monotone current at each inner voltage (`Branch`),
each source a monotone current at each voltage of the posts (`Feed`: holds its volts behind a
resistance, within 0 and its limit), loads draw what they draw. One unknown, found by Newton's
method kept inside a bracket.
"""

from __future__ import annotations

from math import exp
from typing import Final, NamedTuple


class Branch(NamedTuple):
    """The bank for one step, in volts and siemens of the whole bank.

    Current at inner volts v: `(v - volts) * (charge or discharge) + storage * (v - before)`, plus
    `gas * (exp(slope * (v - volts)) - 1)` above `volts`. Posts: v + `offset` + `ohms` * current.
    """

    volts: float
    charge: float
    discharge: float
    storage: float
    before: float
    gas: float
    slope: float
    offset: float
    ohms: float


class Feed(NamedTuple):
    """A source for one step: it holds `volts` behind 1 / `siemens`, from 0 to `limit` amps."""

    volts: float
    siemens: float
    limit: float


class Balance(NamedTuple):
    """What came out: inner volts, volts at the posts, amps into the bank, main and gas part."""

    inner: float
    posts: float
    amps: float
    main: float
    gas: float


_AMPS_CLOSE: Final = 1e-4
_VOLTS_CLOSE: Final = 1e-8


def feed_amps(feed: Feed, posts: float) -> float:
    """What a source gives at these volts."""
    amps = (feed.volts - posts) * feed.siemens
    if amps <= 0.0:
        return 0.0
    return feed.limit if amps > feed.limit else amps


def balance(branch: Branch, feeds: list[Feed], load_amps: float, start: float) -> Balance:
    """Solve one moment. `start` is a guess of the inner volts (the last answer)."""
    volts, charge, discharge, storage, before, gas, slope, offset, ohms = branch
    low, high = -1e3, 1e3
    inner = start
    main = side = amps = 0.0
    posts = inner
    for _ in range(80):
        over = inner - volts
        if over > 0.0:
            grown = exp(slope * over) if slope * over < 60.0 else exp(60.0)
            side = gas * (grown - 1.0)
            main = over * charge
            steep = charge + storage + gas * slope * grown
        else:
            side = 0.0
            main = over * discharge
            steep = discharge + storage
        amps = main + side + storage * (inner - before)
        posts = inner + offset + ohms * amps
        excess = amps + load_amps
        spread = 1.0 + ohms * steep
        lean = steep
        for feed_volts, siemens, limit in feeds:
            given = (feed_volts - posts) * siemens
            if given > limit:
                excess -= limit
            elif given > 0.0:
                excess -= given
                lean += siemens * spread
        if -_AMPS_CLOSE < excess < _AMPS_CLOSE:
            break
        if excess > 0.0:
            high = inner
        else:
            low = inner
        if high - low < _VOLTS_CLOSE:
            break
        step = inner - excess / lean
        inner = step if low < step < high else 0.5 * (low + high)
    return Balance(inner, posts, amps, main, side)
