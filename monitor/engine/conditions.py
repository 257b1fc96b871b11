"""Every condition there is, gathered: one table for each kind of thing that is watched.

To add one: write a row in the `conditions_*.py` of its room, with its limit's source, and a test
that raises it and one that comes close and must not.
"""

from __future__ import annotations

from typing import Final

from adapters.reading import OwnLink
from monitor.engine import (
    conditions_balance,
    conditions_charging,
    conditions_current,
    conditions_empty,
    conditions_installation,
    conditions_lay_up,
    conditions_protection,
    conditions_source,
    conditions_supply,
    conditions_temperature,
    conditions_tool,
    conditions_voltage,
    conditions_wear,
)
from monitor.engine.condition import Condition
from monitor.engine.device import Device
from monitor.engine.site import SiteWatch
from monitor.engine.source import SourceRoom
from monitor.engine.watch import BankWatch

BANK: Final[tuple[Condition[BankWatch], ...]] = (
    *conditions_voltage.CONDITIONS,
    *conditions_empty.CONDITIONS,
    *conditions_temperature.CONDITIONS,
    *conditions_current.CONDITIONS,
    *conditions_charging.CONDITIONS,
    *conditions_wear.CONDITIONS,
    *conditions_balance.CONDITIONS,
    *conditions_installation.CONDITIONS,
    *conditions_protection.CONDITIONS,
    *conditions_lay_up.CONDITIONS,
)
SOURCE: Final[tuple[Condition[SourceRoom], ...]] = (
    *conditions_source.CONDITIONS,
    *conditions_current.SOURCE_CONDITIONS,
    *conditions_supply.CONDITIONS,
)
DEVICE: Final[tuple[Condition[Device], ...]] = conditions_tool.DEVICE_CONDITIONS
OWN_LINK: Final[dict[OwnLink, tuple[Condition[Device], ...]]] = conditions_tool.OWN_LINK_CONDITIONS
SITE: Final[tuple[Condition[SiteWatch], ...]] = conditions_tool.SITE_CONDITIONS
