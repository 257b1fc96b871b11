"""A coach to commission, and its twelve defects.

A 12 V AGM bank of two parallel strings, a 40 A charger on shore power with its own probe, a DC-DC
charger on the engine, an inverter and a water heater as large loads. Each defect is a function
that turns what nobody can see. Other places are in `elsewhere`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from monitor.bank import Bank, SetPoints, Site, Source, SourceKind
from monitor.bank import Link as SiteLink
from monitor.chemistries import CHEMISTRIES
from monitor.commission import record as r
from replay.coach.models import BankModel, SourceModel, SupplyModel, Weather
from replay.coach.models import Settings as SourceSettings
from replay.coach.scenario import Scenario
from replay.coach.stories import charger, shunt
from tests.monitor.commission.bench import (
    LEAD_MILLIOHMS,
    LUG_MILLIOHMS,
    STEP_SECONDS,
    Bench,
    Place,
    set_up,
)
from tests.monitor.commission.installer import PARTS

LOADS: Final = {"inverter": 620.0, "water heater": 380.0}

SCENARIO: Final = Scenario(
    name="proving",
    words="a 12 V AGM coach that is being commissioned",
    bank=BankModel("house", "agm", 12, 200.0, soc=0.52, celsius=19.0),
    sources=(
        SourceModel(
            "shore",
            "ac-charger",
            40.0,
            SourceSettings(
                absorption=14.4,
                float_=13.6,
                end_amps=3.0,
                end_seconds=300.0,
                absorption_hours=4.0,
                compensation_mv=-4.0,
            ),
            milliohms=LEAD_MILLIOHMS + 4.0 * LUG_MILLIOHMS,
        ),
        SourceModel(
            "engine",
            "dc-dc",
            30.0,
            SourceSettings(14.4, 13.6, end_amps=3.0, absorption_hours=4.0, compensation_mv=-4.0),
            milliohms=3.0,
        ),
    ),
    devices=(
        shunt(12),
        replace(charger("shore-charger", "shore"), period_seconds=10.0),
        replace(charger("engine-charger", "engine"), period_seconds=10.0, phase_seconds=3.0),
    ),
    weather=Weather(mean_celsius=13.0, swing_celsius=1.0, cloud=0.2),
    supply=SupplyModel(volts=121.0, ohms=0.2, other_watts=0.01),
    hours=60.0,
    step_seconds=STEP_SECONDS,
)

SITE: Final = Site(
    banks=(
        Bank(
            "house",
            CHEMISTRIES["agm"],
            12,
            200.0,
            series=1,
            parallel=2,
            set_points=SetPoints(
                absorption=14.4,
                float_=13.6,
                compensation_mv_per_celsius_per_cell=-4.0,
                end_of_charge_amps=3.0,
                absorption_hours=4.0,
            ),
        ),
    ),
    sources=(
        Source("shore", "house", SourceKind.AC_CHARGER, 40.0, ac_volts=120.0),
        Source("engine", "house", SourceKind.DC_DC, 30.0),
    ),
    links=(
        SiteLink("shunt", 5.0),
        SiteLink("shore-charger", 10.0),
        SiteLink("engine-charger", 10.0),
    ),
)

_SET: Final = (
    r.SetPoint("absorption", "V", 14.7, 14.4),
    r.SetPoint("float", "V", 13.6, 13.6),
    r.SetPoint("compensation", "mV", 0.0, -4.0),
    r.SetPoint("absorption hours", "h", 4.0, 4.0),
)

INSTALLATION: Final = r.Installation(
    name="the coach on the bench",
    who="Installer",
    bank="house",
    chemistry="agm",
    nominal_volts=12,
    amp_hours=200.0,
    series=1,
    parallel=2,
    ambient_celsius=13.0,
    batteries=(
        r.Battery("A", "AGM 100", "K-0007", "2026-03", 12.0, 100.0, 1),
        r.Battery("B", "AGM 100", "K-0008", "2026-03", 12.0, 100.0, 2),
    ),
    chargers=(
        r.Charger("shore", "ac-charger", "C40", "S-1", "2026-01", 40.0, 120.0, 0.95, 0.88, _SET),
        r.Charger("engine", "dc-dc", "D30", "S-2", "2026-01", 30.0, set_points=_SET),
    ),
    cables=(
        r.Cable("charger to bank", "shore", "2 AWG", 3.0, 105.0, "hexagonal, pulled", 9.0),
        r.Cable("engine to bank", "engine", "2 AWG", 2.4, 105.0, "hexagonal, pulled", 9.0),
    ),
    breaking=(
        r.Breaking("bank fuse", "fuse", 200.0, 32.0, 10000.0, "bank", "at the post", True),
        r.Breaking("charger fuse", "fuse", 60.0, 32.0, 2000.0, "charger", "busbar", True),
    ),
    instruments=(
        r.Instrument("multimeter", "M-1", "2026-02-01", "V", 0.003, 0.01),
        r.Instrument("multimeter", "M-1", "2026-02-01", "mV", 0.005, 0.3),
        r.Instrument("clamp", "M-2", "2026-02-01", "A", 0.02, 0.2),
        r.Instrument("probe", "M-3", "2026-02-01", "°C", 0.0, 1.5),
    ),
    large_loads=tuple(LOADS),
    # both chargers together give 70 A
    limits=r.OwnLimits(15.0, 10.5, 80.0, 300.0, -10.0, 50.0, "sheet of the battery"),
)


#: The configuration of the same site, as its owner would write it.
CONFIG: Final = """\
[banks.house]
chemistry = "agm"
nominal_volts = 12
amp_hours = 200
series = 1
parallel = 2

[banks.house.set_points]
absorption = 14.4
float = 13.6
compensation_mv_per_celsius_per_cell = -4
end_of_charge_amps = 3
absorption_hours = 4

[sources.shore]
bank = "house"
kind = "ac-charger"
rated_amps = 40
ac_volts = 120

[sources.engine]
bank = "house"
kind = "dc-dc"
rated_amps = 30
"""


# -- the twelve defects ---------------------------------------------------------------------------


def _thin_cable(bench: Bench) -> None:
    bench.lead_milliohms = LEAD_MILLIOHMS * 0.491 / 0.194  # 6 AWG where 2 AWG was meant


def _reversed_shunt(bench: Bench) -> None:
    for sensor in bench.plant.devices[0].sensor("bank_amps"):
        sensor.scale = -sensor.model.scale


def _sensor_in_air(bench: Bench) -> None:
    bench.sensor_in_air = True


def _probe_unplugged(bench: Bench) -> None:
    bench.probe_plugged = False


def _no_compensation(bench: Bench) -> None:
    bench.plant.source("shore").compensation_mv = 0.0


def _float_never(bench: Bench) -> None:
    bench.plant.source("shore").never_ends = True


def _derated_hot(bench: Bench) -> None:
    bench.derates = True


def _bypassing_load(bench: Bench) -> None:
    bench.bypassing.add("inverter")


def _bad_lug(bench: Bench) -> None:
    bench.lugs[2] = 1.3


def _uneven_strings(bench: Bench) -> None:
    bench.shares = (0.68, 0.32)


def _low_power_factor(bench: Bench) -> None:
    bench.power_factor = 0.68


def _wrong_set_points(bench: Bench) -> None:
    bench.plant.source("shore").trim_volts = -0.5


#: Each defect, what turns it on, and the check that must name it, and it alone.
DEFECTS: Final[dict[str, tuple[Callable[[Bench], None], str]]] = {
    "thin cable": (_thin_cable, "lead-drop@shore"),
    "reversed shunt": (_reversed_shunt, "polarity"),
    "sensor in air": (_sensor_in_air, "bank-sensor"),
    "charger probe unplugged": (_probe_unplugged, "probe@shore"),
    "no compensation": (_no_compensation, "compensation@shore"),
    "float never": (_float_never, "float@shore"),
    "charger derated hot": (_derated_hot, "output-hot@shore"),
    "a load that bypasses the shunt": (_bypassing_load, "through-shunt@inverter"),
    "one bad lug": (_bad_lug, "lugs@shore"),
    "uneven strings": (_uneven_strings, "string-share"),
    "low power factor": (_low_power_factor, "ac-input@shore"),
    "wrong set-points": (_wrong_set_points, "absorption@shore"),
}

COACH: Final = Place("coach", SCENARIO, SITE, INSTALLATION, LOADS, PARTS, DEFECTS)


def make_bench(
    seed: int, defect: Callable[[Bench], None] | None = None, soc: float | None = None
) -> Bench:
    return set_up(COACH, seed, defect, soc)
