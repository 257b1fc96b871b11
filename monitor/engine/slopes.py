"""Straight lines through the last minutes, by recursive least squares with forgetting.

One `Horizon` fits volts and amps against time together, at irregular sampling, in about thirty
multiplications a reading. Old readings fade as exp(-age / span). The sums run relative to the
newest reading, so they stay small for ever.
"""

from __future__ import annotations

from typing import ClassVar


class Horizon:
    """Lines of volts and of amps over about `span` seconds.

    After `fit`: `slope_*` units a second, `ends_*` the line's value
    now, `spread` the variance factor of a slope (times the variance of one reading gives the
    variance of the slope), `weight` how many readings count.
    """

    KEPT: ClassVar[tuple[str, ...]] = (
        "_elapsed",
        "_fade",
        "_s1",
        "_s2",
        "_v0",
        "_v1",
        "_w",
        "_w0",
        "_w1",
        "ends_amps",
        "ends_volts",
        "origin_amps",
        "origin_volts",
        "slope_amps",
        "slope_volts",
        "spread",
    )
    __slots__ = (*KEPT, "span")

    #: Spread of a slope that nothing is known of yet, 1/s^2.
    UNKNOWN = 1e6

    def __init__(self, span: float) -> None:
        self.span = span
        self._elapsed = 0.0
        self._fade = 1.0
        self.clear(0.0, 0.0)

    def clear(self, volts: float, amps: float) -> None:
        """Forget everything; figures given are the origin that sums are kept relative to."""
        self._w = 0.0
        self._s1 = 0.0
        self._s2 = 0.0
        self._v0 = 0.0
        self._v1 = 0.0
        self._w0 = 0.0
        self._w1 = 0.0
        self.origin_volts = volts
        self.origin_amps = amps
        self.ends_volts = volts
        self.ends_amps = amps
        self.slope_volts = 0.0
        self.slope_amps = 0.0
        self.spread = self.UNKNOWN

    def step(self, amps: float) -> None:
        """The amps jumped, the volts did not: lift what came before, and the line goes on."""
        self.origin_amps += amps

    @property
    def weight(self) -> float:
        return self._w

    def update(self, seconds: float, volts: float, amps: float) -> None:
        """Take a reading `seconds` after the last one. `fit` gives the lines when they are asked
        for: most readings only add to the sums."""
        if seconds != self._elapsed:  # devices speak evenly, so one fade mostly does for all
            self._elapsed = seconds
            # exp(-x) to third order in its reciprocal: exact enough, the same on every machine
            x = seconds / self.span
            self._fade = 1.0 / (1.0 + x * (1.0 + x * (0.5 + x * 0.16666666666666666)))
        fade = self._fade
        w = self._w
        s1 = self._s1
        v0 = self._v0
        w0 = self._w0
        self._s2 = fade * (self._s2 + seconds * (seconds * w - 2.0 * s1))
        self._s1 = fade * (s1 - seconds * w)
        self._v1 = fade * (self._v1 - seconds * v0)
        self._w1 = fade * (self._w1 - seconds * w0)
        self._w = fade * w + 1.0
        self._v0 = fade * v0 + (volts - self.origin_volts)
        self._w0 = fade * w0 + (amps - self.origin_amps)

    def fit(self) -> None:
        """Work out the lines as of the last reading."""
        w = self._w
        s1 = self._s1
        v0 = self._v0
        w0 = self._w0
        det = w * self._s2 - s1 * s1
        if det > 1e-9 * w * w:
            inverse = 1.0 / det
            slope = (w * self._v1 - s1 * v0) * inverse
            self.slope_volts = slope
            self.ends_volts = self.origin_volts + (v0 - slope * s1) / w
            slope = (w * self._w1 - s1 * w0) * inverse
            self.slope_amps = slope
            self.ends_amps = self.origin_amps + (w0 - slope * s1) / w
            self.spread = w * inverse
        else:
            self.ends_volts = self.origin_volts + v0 / w
            self.ends_amps = self.origin_amps + w0 / w
