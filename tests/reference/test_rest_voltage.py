"""Rest voltage against the BCI table and against Bode's electrode potentials.

Sources: BCI table of state of charge, specific gravity and volts (secondary copies); the rule
volts per cell = specific gravity + 0.845 (DOE-HDBK-1084-95); Bode's potentials as PyBaMM carries
them, frozen with `remake_bode.py`; bands of a published AGM table (common practice).
"""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import pytest

from monitor.bank import rest_soc
from monitor.chemistries import CHEMISTRIES

FROZEN = json.loads((Path(__file__).parent / "frozen" / "bode_rest_volts.json").read_text())
#: Fraction of charge, specific gravity, volts of six cells at rest (BCI, flooded, 26.7 °C).
BCI = (
    (1.00, 1.265, 12.65),
    (0.75, 1.225, 12.45),
    (0.50, 1.190, 12.24),
    (0.25, 1.155, 12.06),
    (0.00, 1.120, 11.89),
)


def volts_at(chemistry: str, soc: float) -> float:
    """Volts of six cells at a fraction of charge, from the curve the engine starts with."""
    curve = CHEMISTRIES[chemistry].rest_volts
    for (low, low_volts), (high, high_volts) in itertools.pairwise(curve):
        if soc <= high:
            return 6 * (low_volts + (soc - low) / (high - low) * (high_volts - low_volts))
    raise AssertionError(soc)


@pytest.mark.parametrize(("soc", "gravity", "volts"), BCI)
def test_flooded_rest_voltage_is_the_bci_row(soc: float, gravity: float, volts: float) -> None:
    assert volts_at("flooded", soc) == pytest.approx(volts, abs=0.005)
    assert rest_soc(CHEMISTRIES["flooded"], volts / 6) == pytest.approx(soc, abs=0.005)
    # The handbook's straight line lies within 0.1 V of the table at every gravity.
    assert volts_at("flooded", soc) == pytest.approx(6 * (gravity + 0.845), abs=0.11)


@pytest.mark.parametrize("row", FROZEN["rows"], ids=lambda row: str(row["specific_gravity"]))
def test_flooded_rest_voltage_is_what_bode_measured(row: dict[str, float]) -> None:
    soc = next(soc for soc, gravity, _ in BCI if gravity == row["specific_gravity"])
    assert volts_at("flooded", soc) == pytest.approx(row["volts"], abs=0.025)


@pytest.mark.parametrize(
    ("low_soc", "high_soc", "low_volts", "high_volts"),
    [(0.75, 1.0, 12.6, 13.2), (0.5, 0.75, 12.3, 12.6), (0.25, 0.5, 12.0, 12.3)],
)
def test_agm_rest_voltage_lies_in_its_published_bands(
    low_soc: float, high_soc: float, low_volts: float, high_volts: float
) -> None:
    """A published AGM table, common practice: 100 % is 12.8 to 13.2 V."""
    for soc in (low_soc, (low_soc + high_soc) / 2, high_soc):
        assert low_volts - 0.005 <= volts_at("agm", soc) <= high_volts + 0.005
    assert 12.8 <= volts_at("agm", 1.0) <= 13.2


def test_lfp_voltage_says_little_between_the_knees() -> None:
    """Three published curves differ by up to 80 mV at mid-charge; 20 to 90 % spans about 0.11 V
    of a cell, so voltage alone must not give a state of charge there."""
    curve = dict(CHEMISTRIES["lfp"].rest_volts)
    assert curve[0.9] - curve[0.2] < 0.13
    published = ((3.299, "simses 26650 file"), (3.266, "PyBaMM Prada2013"), (3.221, "Zephyr"))
    for volts, source in published:
        assert abs(curve[0.5] - volts) < 0.08, source
