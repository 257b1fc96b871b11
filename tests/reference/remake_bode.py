"""Remake the frozen rest voltages of lead-acid from Bode's electrode potentials in PyBaMM.

    python -m tests.reference.remake_bode [OUTDIR]

Needs pybamm (version in requirements.txt). PyBaMM's parameter set Sulzer2019 carries the two
electrode potentials of Bode (1977) as functions of the acid's molality. For each specific gravity
of the BCI table: mass fraction of acid from a table of densities at 25 °C, molality, six cells.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import pybamm
from pybamm.input.parameters.lead_acid import Sulzer2019

#: Grams per millilitre at 25 °C by mass per cent of sulfuric acid (CRC Handbook, from memory).
DENSITY = (
    (15, 1.0994),
    (20, 1.1365),
    (25, 1.1750),
    (30, 1.2150),
    (35, 1.2563),
    (40, 1.2991),
)
WATER_DENSITY = 0.9966  # at the BCI table's 26.7 °C: specific gravity is relative to water
ACID_MOLAR_GRAMS = 98.079
GRAVITIES = (1.265, 1.225, 1.190, 1.155, 1.120)


def molality(gravity: float) -> float:
    """Moles of acid in a kilogram of water."""
    share = np.interp(
        gravity * WATER_DENSITY, [g for _, g in DENSITY], [p / 100 for p, _ in DENSITY]
    )
    return float(1000 * share / (ACID_MOLAR_GRAMS * (1 - share)))


def cell_volts(gravity: float) -> float:
    m = pybamm.Scalar(molality(gravity))
    positive = Sulzer2019.lead_dioxide_ocp_Bode1977(m)
    negative = Sulzer2019.lead_ocp_Bode1977(m)
    return float((positive - negative).evaluate())


def main() -> None:
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "frozen"
    rows = [{"specific_gravity": g, "volts": round(6 * cell_volts(g), 4)} for g in GRAVITIES]
    record = {
        "what": "rest voltage of six lead-acid cells at 25 °C from Bode's electrode potentials",
        "source": "Bode 1977 as carried by PyBaMM, parameter set Sulzer2019",
        "made_with": f"pybamm {pybamm.__version__}",
        "rows": rows,
    }
    (folder / "bode_rest_volts.json").write_text(
        json.dumps(record, indent=1, ensure_ascii=False) + "\n"
    )


if __name__ == "__main__":
    main()
