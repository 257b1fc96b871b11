"""How long a row may wait before it goes to disk: by what is at stake.

Each commit wears the card by about 16 KB whatever it carries (measured on ext4), so the interval
is the wear setting. While much flows, ten seconds are worth having; while the bank rests, a minute
tells the same. An alarm, another stage, a link that fails and a person's command wait for nobody.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from monitor.bank import Bank
from monitor.engine.snapshot import EventKind, Glance, Stage

#: Seconds, by what the source does (engineering measurements: 58 GB a year at 10 s, 22 at 60 s).
BUSY_SECONDS: Final = 10.0
QUIET_SECONDS: Final = 60.0
COMMIT_SECONDS: Final[dict[Stage | None, float]] = {
    None: BUSY_SECONDS,
    Stage.REST: QUIET_SECONDS,
    Stage.DISCHARGE: QUIET_SECONDS,
    Stage.BULK: BUSY_SECONDS,
    Stage.ABSORPTION: BUSY_SECONDS,
    Stage.FLOAT: QUIET_SECONDS,
    Stage.EQUALIZE: BUSY_SECONDS,
    Stage.FIXED: QUIET_SECONDS,
}
#: Beyond this share of the capacity in amps it is hard, whatever the stage: the 20 h rate is what
#: the label means (battery standards), twice that is a heavy load or a charge (our choice).
HARD_SHARE: Final = 0.1

#: What must be on disk at once.
AT_ONCE: Final = frozenset(
    {EventKind.ALARM, EventKind.STAGE, EventKind.COMMAND, EventKind.LINK, EventKind.CLOCK}
)


def commit_seconds(banks: Iterable[tuple[Bank, Glance]]) -> float:
    """The shortest that any bank asks for; busy where there is no bank to ask."""
    return min((_of(bank, glance) for bank, glance in banks), default=BUSY_SECONDS)


def _of(bank: Bank, glance: Glance) -> float:
    if glance.amps is not None and abs(glance.amps) > HARD_SHARE * bank.amp_hours:
        return BUSY_SECONDS
    return COMMIT_SECONDS[glance.stage]
