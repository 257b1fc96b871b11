"""All checks, in the order in which an installer does them."""

from __future__ import annotations

from typing import Final

from monitor.commission import (
    checks_charging,
    checks_compensation,
    checks_entered,
    checks_equalize,
    checks_handover,
    checks_measuring,
    checks_site,
    checks_sources,
    checks_stages,
    checks_supply,
    checks_temperature,
)
from monitor.commission.check import Check

CHECKS: Final[tuple[Check, ...]] = (
    *checks_entered.CHECKS,
    *checks_measuring.CHECKS,
    *checks_temperature.CHECKS,
    *checks_charging.CHECKS,
    *checks_supply.CHECKS,
    *checks_stages.CHECKS,
    *checks_compensation.CHECKS,
    *checks_equalize.CHECKS,
    *checks_sources.CHECKS,
    *checks_site.CHECKS,
    *checks_handover.CHECKS,
)

BY_ID: Final[dict[str, Check]] = {each.id: each for each in CHECKS}
