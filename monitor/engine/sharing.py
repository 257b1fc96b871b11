"""Two sources on one bank: does one idle while the other is at its limit?

Sources of equal set-points share a bulk charge by their ratings, and take turns in absorption and
float by millivolts: there an idle one says nothing. But a source at its limit cannot hold its
voltage, so whatever is set as high must help it. One that does not is set lower, or is not
connected as it seems.
"""

from __future__ import annotations

from typing import ClassVar, Final

from monitor.bank import SourceKind
from monitor.engine.minute import Minute

#: At its limit above this share of its rating; idle below the second (our choice: alternators and
#: hot chargers give four fifths of what they are rated for).
LIMIT_SHARE: Final = 0.85
IDLE_SHARE: Final = 0.15
#: An idle source counts only while it is seen to be able: it gave a fair share within this time.
ABLE_SECONDS: Final = 6.0 * 3600.0
ABLE_SHARE: Final = 0.3
#: Of what was added up so much is taken off while both share.
FORGETS: Final = 1.0
LONG_AGO: Final = -1e9


class Sharing:
    """`minutes` for which one idled while another was at its limit; `idle` and `busy` which."""

    KEPT: ClassVar[tuple[str, ...]] = ("minutes", "idle", "busy", "_able")
    __slots__ = KEPT

    def __init__(self) -> None:
        self.minutes = 0.0
        self.idle = ""
        self.busy = ""
        #: When each source last gave a fair share.
        self._able: dict[str, float] = {}

    def look(self, minute: Minute) -> None:
        if len(minute.sources) < 2:
            return
        idle = busy = ""
        for source in minute.sources:
            rated, amps = source.rated_amps, source.amps
            if rated is None or amps is None or source.kind is SourceKind.SOLAR:
                continue
            if amps > ABLE_SHARE * rated:
                self._able[source.id] = minute.seconds
            able = minute.seconds - self._able.get(source.id, LONG_AGO) < ABLE_SECONDS
            if amps > LIMIT_SHARE * rated:
                busy = source.id
            elif amps < IDLE_SHARE * rated and able and not source.says_off:
                idle = source.id
        if idle and busy:
            self.idle, self.busy = idle, busy
            self.minutes += minute.elapsed / 60.0
        elif busy:  # only a source at its limit tells that the others help
            self.minutes = max(0.0, self.minutes - FORGETS * minute.elapsed / 60.0)
