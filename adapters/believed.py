"""What of a device's answer is passed on, to whom it belongs, and a memory of what was left out."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from adapters.adapter import DeviceSettings, LinkError, Values, owner_of
from adapters.conversion import Decoded, Measurand
from adapters.reading import Channel

#: Polls in a row without a believable figure before a person is told: one wild figure is a
#: glitch, this many are a wrong description or a broken sensor.
_TELL_AFTER: Final = 3


class Believed:
    """Turns decoded figures into values with owners. `left_out` counts, for each measurand, the
    figures that came and were not believed since the start, with the last reason."""

    def __init__(self, settings: DeviceSettings, measurands: Iterable[Measurand]) -> None:
        """`SettingsError` when the config does not say what a figure belongs to."""
        self._channels = {
            m: Channel(owner_of(settings, m.quantity, m.cell), m.quantity) for m in measurands
        }
        self.left_out: dict[Measurand, tuple[int, str]] = {}
        self._in_a_row: dict[Measurand, int] = {}

    def values(self, decoded: Decoded) -> Values:
        """The values of one poll; `LinkError` when figures came and none can be true."""
        for measurand in decoded.figures:
            self._in_a_row.pop(measurand, None)
        for measurand, reason in decoded.left_out.items():
            count, _ = self.left_out.get(measurand, (0, ""))
            self.left_out[measurand] = count + 1, reason
            self._in_a_row[measurand] = self._in_a_row.get(measurand, 0) + 1
        if decoded.left_out and not decoded.figures:
            raise LinkError("no figure can be believed: " + "; ".join(decoded.left_out.values()))
        return tuple((self._channels[m], figure) for m, figure in decoded.figures.items())

    @property
    def remark(self) -> str:
        """The figures left out for several polls in a row, in words that do not change with
        every poll; empty when there are none."""
        names = [str(m) for m, count in self._in_a_row.items() if count >= _TELL_AFTER]
        return f"not believed, out of range again and again: {', '.join(names)}" if names else ""
