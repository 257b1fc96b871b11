"""Remake the frozen constants of Faraday's law from scipy.constants (CODATA).

    python -m tests.reference.remake_codata [OUTDIR]

Needs scipy (version in requirements.txt): too heavy for the tests themselves.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import scipy
from scipy import constants

WATER_GRAMS_PER_MOLE = 18.01528  # IUPAC, abridged; scipy carries no molar masses


def main() -> None:
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "frozen"
    faraday = constants.physical_constants["Faraday constant"][0]
    moles = constants.hour / (2.0 * faraday)
    litres = 1000.0 * constants.R / constants.atm * moles
    zero = constants.zero_Celsius
    record = {
        "what": "water and hydrogen of one ampere-hour through one lead-acid cell, two electrons",
        "source": "CODATA as carried by scipy.constants; water from IUPAC atomic weights",
        "made_with": f"scipy {scipy.__version__}",
        "faraday_coulombs_per_mole": round(faraday, 5),
        "gas_constant": round(constants.R, 9),
        "water_grams": round(WATER_GRAMS_PER_MOLE * moles, 6),
        "hydrogen_litres_at_0_celsius": round(litres * zero, 6),
        "hydrogen_litres_at_25_celsius": round(litres * (zero + 25.0), 6),
    }
    (folder / "codata_gas.json").write_text(json.dumps(record, indent=1, ensure_ascii=False) + "\n")


if __name__ == "__main__":
    main()
