"""What a cable should lose, by its conductor as people print it; the figures are `sizing`'s."""

from __future__ import annotations

from monitor.sizing.cable import expected_drop
from monitor.sizing.conductors import conductor


def expected_volts(
    text: str, one_way_metres: float, amps: float, celsius: float
) -> tuple[float, str] | None:
    """Volts lost on both legs, and the source of the figure; None for an unknown conductor.

    `35 mm2`, 3 m one way, 50 A, 20 °C: 0.166 V.
    """
    try:
        found = conductor(text)
    except KeyError:
        return None
    source = "IEC 60228 class 5, its maximum" if found.metric else "NEC Chapter 9 Table 8"
    return expected_drop(found, one_way_metres, amps, celsius).volts, source
