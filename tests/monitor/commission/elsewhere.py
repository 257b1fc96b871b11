"""Other places to commission, each with its own defects: mains on two legs, a second bank, a
generator, the sun alone, an alternator alone, 24 V, 48 V of LFP. All invented.
"""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import Final

from monitor.bank import Bank, SetPoints, Site, Source, SourceKind
from monitor.bank import Link as SiteLink
from monitor.chemistries import CHEMISTRIES
from monitor.commission import record as r
from replay.coach.models import (
    BankModel,
    ProtectionModel,
    SecondBankModel,
    Settings,
    SourceModel,
    SupplyModel,
    Weather,
)
from replay.coach.stories import charger, shunt, sun_regulator
from tests.monitor.commission.bench import LEAD_MILLIOHMS, OPEN_OHMS, Bench, Mains, Place
from tests.monitor.commission.coach import COACH, INSTALLATION, LOADS, SCENARIO, SITE
from tests.monitor.commission.installer import PARTS

_HOUSE: Final = SITE.banks[0]
_MAIN: Final = LEAD_MILLIOHMS + 0.4
_PEDESTAL: Final = Mains(121.0, 60.0, 0.2)
_TWO_LEGS: Final = Mains(121.0, 60.0, 0.1)


def _parts(*changes: tuple[str, str]) -> tuple[str, ...]:
    """The coach's parts, each of some followed by another; "" in place of one leaves it out."""
    after = dict(changes)
    return tuple(each for part in PARTS for each in (part, after.get(part, "")) if each)


# -- mains on two legs ----------------------------------------------------------------------------


def _open_neutral(bench: Bench) -> None:
    bench.neutral_ohms = OPEN_OHMS


def _loose_neutral(bench: Bench) -> None:
    bench.neutral_ohms = 1.2


def _changed_over(bench: Bench) -> None:
    bench.tester_right = False


def _low_pedestal(bench: Bench) -> None:
    bench.shore = Mains(112.0, 60.0, 0.6)


_SPLIT: Final = Place(
    "split",
    replace(SCENARIO, name="two-legs", words="the coach on a supply of two legs and a neutral"),
    SITE,
    replace(INSTALLATION, split_supply=True),
    LOADS,
    _parts(("papers", "mains")),
    {
        "open neutral": (_open_neutral, "neutral"),
        "loose neutral": (_loose_neutral, "neutral"),
        "live and neutral changed over": (_changed_over, "ac-polarity"),
        "low volts at the pedestal": (_low_pedestal, "ac-input@shore"),
    },
    (_TWO_LEGS, None),
)


# -- a second bank --------------------------------------------------------------------------------


def _dead_combiner(bench: Bench) -> None:
    assert bench.plant.second is not None
    bench.plant.second.dead = True


def _welded_combiner(bench: Bench) -> None:
    assert bench.plant.second is not None
    bench.plant.second.welded = True


_SECOND: Final = Place(
    "second",
    replace(
        SCENARIO,
        name="two-banks",
        words="the coach with a starting battery behind a combiner",
        second=SecondBankModel(BankModel("starter", "flooded", 12, 80.0, soc=0.7, celsius=15.0)),
    ),
    replace(SITE, banks=(_HOUSE, Bank("starter", CHEMISTRIES["flooded"], 12, 80.0, series=1))),
    INSTALLATION,
    LOADS,
    _parts(("papers", "combiner_out"), ("engine", "second_bank")),
    {
        "combiner that never closes": (_dead_combiner, "both-banks"),
        "combiner that never opens": (_welded_combiner, "both-banks"),
    },
)


# -- a generator ----------------------------------------------------------------------------------


def _slow_generator(bench: Bench) -> None:
    bench.generator = Mains(121.0, 54.5, 0.5)


def _small_generator(bench: Bench) -> None:
    bench.generator = Mains(122.0, 60.5, 3.5)


def _change_sticks(bench: Bench) -> None:
    bench.change_sticks = True


def _pins_live(bench: Bench) -> None:
    bench.pins_live = True


_GENERATOR: Final = Place(
    "generator",
    replace(
        SCENARIO,
        name="generator",
        words="the coach with a generator and a change-over; its charger tells its AC side",
        devices=(
            SCENARIO.devices[0],
            replace(charger("shore-charger", "shore", ac=True), period_seconds=10.0),
            SCENARIO.devices[2],
        ),
    ),
    SITE,
    replace(INSTALLATION, generator="G 28, 2.8 kVA"),
    LOADS,
    _parts(("engine", "generator")),
    {
        "generator that runs slow": (_slow_generator, "generator"),
        "generator too small": (_small_generator, "generator"),
        "change-over that does not come back": (_change_sticks, "change-over"),
        "live pins at the inlet": (_pins_live, "change-over"),
        "low power factor": (COACH.defects["low power factor"][0], "ac-input@shore"),
    },
    (_PEDESTAL, Mains(122.0, 60.5, 0.5)),
)


# -- the sun alone --------------------------------------------------------------------------------


def _blocking_lost(bench: Bench) -> None:
    bench.leaks["sun"] = 1.4


def _hot_idle(bench: Bench) -> None:
    bench.plant.source(bench.main).idle_heat = 0.7


def _low_absorption(bench: Bench) -> None:
    bench.plant.source(bench.main).trim_volts = -0.5


def _tells_too_much(bench: Bench) -> None:
    bench.told_scale = 1.25


_SUN_SET: Final = (
    r.SetPoint("absorption", "V", 14.4, 14.4),
    r.SetPoint("float", "V", 13.6, 13.6),
    r.SetPoint("compensation", "mV", -4.0, -4.0),
    r.SetPoint("absorption hours", "h", 2.0, 2.0),
)
_SUN: Final = Place(
    "sun",
    replace(
        SCENARIO,
        name="sun-alone",
        words="the coach on the sun alone: 480 W of panels, 30 A regulator, from the morning on",
        bank=replace(SCENARIO.bank, soc=0.72),
        sources=(
            SourceModel(
                "sun",
                "solar",
                30.0,
                Settings(14.4, 13.6, end_amps=2.0, absorption_hours=2.0, compensation_mv=-4.0),
                milliohms=_MAIN,
                panel_watts=480.0,
            ),
        ),
        devices=(shunt(12), replace(sun_regulator("sun-regulator", "sun"), period_seconds=10.0)),
        supply=None,
        weather=Weather(mean_celsius=21.0, swing_celsius=4.0, cloud=0.3),
        hours=120.0,
        start_unix=1_781_104_800.0,  # 2026-06-10 15:20 UTC, eight by the sun
    ),
    Site(
        banks=(_HOUSE,),
        sources=(Source("sun", "house", SourceKind.SOLAR, 30.0),),
        links=(SiteLink("shunt", 5.0), SiteLink("sun-regulator", 10.0)),
    ),
    replace(
        INSTALLATION,
        chargers=(r.Charger("sun", "solar", "R30", "S-3", "2026-01", 30.0, set_points=_SUN_SET),),
        cables=(r.Cable("regulator to bank", "sun", "2 AWG", 3.0, 105.0, "hexagonal", 9.0),),
    ),
    LOADS,
    (
        "papers",
        "instruments",
        "negatives",
        "temperatures",
        "alarms",
        "sunny",
        "ice",
        "handing_over",
    ),
    {
        "takes back at night": (_blocking_lost, "back-feed@sun"),
        "hot while it gives nothing": (_hot_idle, "back-feed@sun"),
        "wrong set-points": (_low_absorption, "absorption@sun"),
        "tells more than it gives": (_tells_too_much, "solar@sun"),
    },
)


# -- an alternator alone --------------------------------------------------------------------------


def _diode_leaks(bench: Bench) -> None:
    bench.leaks["engine"] = 2.2


def _belt_slips(bench: Bench) -> None:
    bench.plant.source("engine").limit = 18.0


_ALTERNATOR: Final = Place(
    "alternator",
    replace(
        SCENARIO,
        name="alternator-alone",
        words="the coach on its alternator alone: 70 A, a regulator of three stages",
        sources=(
            SourceModel(
                "engine",
                "alternator",
                70.0,
                Settings(14.4, 13.6, end_amps=3.0, absorption_hours=4.0, compensation_mv=-4.0),
                milliohms=_MAIN,
            ),
        ),
        devices=(
            shunt(12),
            replace(charger("alternator", "engine"), period_seconds=10.0),
        ),
        supply=None,
    ),
    Site(
        banks=(_HOUSE,),
        sources=(Source("engine", "house", SourceKind.ALTERNATOR, 70.0),),
        links=(SiteLink("shunt", 5.0), SiteLink("alternator", 10.0)),
    ),
    replace(
        INSTALLATION,
        chargers=(
            replace(INSTALLATION.chargers[0], id="engine", kind="alternator", rated_amps=70.0),
        ),
        cables=(r.Cable("alternator to bank", "engine", "2 AWG", 3.0, 105.0, "hexagonal", 9.0),),
    ),
    LOADS,
    (
        "papers",
        "instruments",
        "negatives",
        "temperatures",
        "alarms",
        "engine",
        "drive",
        "ice",
        "handing_over",
    ),
    {
        "diode that leaks": (_diode_leaks, "engine@engine"),
        "slipping belt": (_belt_slips, "engine@engine"),
        "one bad lug": (COACH.defects["one bad lug"][0], "lugs@engine"),
    },
)


# -- 24 V -----------------------------------------------------------------------------------------


def _in_24(points: tuple[r.SetPoint, ...]) -> tuple[r.SetPoint, ...]:
    """The same with twice the volts; slopes are by the cell."""
    return tuple(
        replace(each, found=None, set=2.0 * (each.set or 0.0)) if each.unit == "V" else each
        for each in points
    )


_POINTS_24: Final = replace(_HOUSE.set_points, absorption=28.8, float_=27.2)
_TWENTY_FOUR: Final = Place(
    "24 V",
    replace(
        SCENARIO,
        name="24-volts",
        words="a boat of 24 V, AGM, two strings; shore 230 V 40 A, DC-DC charger",
        bank=BankModel("house", "agm", 24, 200.0, soc=0.52, celsius=19.0),
        sources=tuple(
            replace(each, settings=replace(each.settings, absorption=28.8, float_=27.2))
            for each in SCENARIO.sources
        ),
        devices=(shunt(24), *SCENARIO.devices[1:]),
        supply=SupplyModel(volts=231.0, hertz=50.0, ohms=0.4, other_watts=0.01),
    ),
    replace(
        SITE,
        banks=(replace(_HOUSE, nominal_volts=24, series=2, set_points=_POINTS_24),),
        sources=(replace(SITE.sources[0], ac_volts=230.0), SITE.sources[1]),
    ),
    replace(
        INSTALLATION,
        nominal_volts=24,
        series=2,
        batteries=tuple(
            r.Battery(
                f"{string}{place}", "AGM 100", f"K-{string}{place}", "2026-03", 12.0, 100.0, number
            )
            for number, string in enumerate("AB", start=1)
            for place in (1, 2)
        ),
        chargers=tuple(
            replace(
                each,
                ac_volts=230.0 if each.ac_volts else None,
                set_points=_in_24(each.set_points),
            )
            for each in INSTALLATION.chargers
        ),
        limits=r.OwnLimits(30.0, 21.0, 80.0, 300.0, -10.0, 50.0, "sheet of the battery"),
    ),
    LOADS,
    PARTS,
    {
        "thin cable": (COACH.defects["thin cable"][0], "lead-drop@shore"),
        "no compensation": (COACH.defects["no compensation"][0], "compensation@shore"),
        "charger hot while it gives nothing": (_hot_idle, "back-feed@shore"),
    },
)


# -- 48 V of LFP ----------------------------------------------------------------------------------


def _no_float(bench: Bench) -> None:
    for source in bench.plant.sources:
        source.stops_when_full = True


def _guard_welded(bench: Bench) -> None:
    bench.guard_welded = True


def _high_absorption(bench: Bench) -> None:
    bench.plant.source("shore").trim_volts = 1.0


_LFP_SET: Final = (
    r.SetPoint("absorption", "V", 57.6, 56.8),
    r.SetPoint("compensation", "mV", -4.0, 0.0),
    r.SetPoint("absorption hours", "h", 1.0, 1.0),
)
_FORTY_EIGHT: Final = Place(
    "48 V LFP",
    replace(
        SCENARIO,
        name="48-volts",
        words="a coach of 48 V, LFP with its own protection, no float; shore 230 V 30 A, DC-DC",
        bank=BankModel("house", "lfp", 48, 100.0, soc=0.45, celsius=19.0),
        protection=ProtectionModel(),
        sources=tuple(
            replace(
                each,
                rated_amps=rated,
                settings=Settings(56.8, 54.0, absorption_hours=1.0),
            )
            for each, rated in zip(SCENARIO.sources, (30.0, 20.0), strict=True)
        ),
        devices=(shunt(48), *SCENARIO.devices[1:]),
        supply=SupplyModel(volts=231.0, hertz=50.0, ohms=0.4, other_watts=0.01),
        weather=Weather(mean_celsius=15.0, swing_celsius=1.0, cloud=0.2),
    ),
    replace(
        SITE,
        banks=(
            Bank(
                "house",
                CHEMISTRIES["lfp"],
                48,
                100.0,
                series=1,
                parallel=1,
                set_points=SetPoints(absorption=56.8, end_of_charge_amps=3.0, absorption_hours=1.0),
            ),
        ),
        sources=(
            Source("shore", "house", SourceKind.AC_CHARGER, 30.0, ac_volts=230.0),
            Source("engine", "house", SourceKind.DC_DC, 20.0),
        ),
    ),
    replace(
        INSTALLATION,
        chemistry="lfp",
        nominal_volts=48,
        amp_hours=100.0,
        series=1,
        parallel=1,
        batteries=(r.Battery("A", "LFP 48-100", "K-0100", "2026-03", 48.0, 100.0, 1),),
        chargers=(
            r.Charger(
                "shore", "ac-charger", "C30", "S-5", "2026-01", 30.0, 230.0, 0.95, 0.88, _LFP_SET
            ),
            r.Charger("engine", "dc-dc", "D20", "S-6", "2026-01", 20.0, set_points=_LFP_SET),
        ),
        protection=(r.ProtectionDevice("cell guard", "P 48", "P-1", "3.65 V and 2.60 V a cell"),),
        breaking=(
            r.Breaking("bank fuse", "fuse", 200.0, 80.0, 20000.0, "bank", "at the post", True),
            r.Breaking("charger fuse", "fuse", 60.0, 80.0, 20000.0, "charger", "busbar", True),
        ),
        large_loads=("inverter", "water heater"),
        limits=r.OwnLimits(58.4, 44.0, 60.0, 100.0, 0.0, 50.0, "sheet of the battery"),
    ),
    {"inverter": 1500.0, "water heater": 700.0},
    _parts(("temperatures", "guard")),
    {
        "protection that does not open": (_guard_welded, "protection@cell guard"),
        "charges as if it were lead-acid": (_high_absorption, "absorption@shore"),
        "absorption that never ends": (COACH.defects["float never"][0], "float@shore"),
        "thin cable": (COACH.defects["thin cable"][0], "lead-drop@shore"),
    },
    ordinary=_no_float,
)

PLACES: Final = MappingProxyType(
    {
        each.name: each
        for each in (
            _SPLIT,
            _SECOND,
            _GENERATOR,
            _SUN,
            _ALTERNATOR,
            _TWENTY_FOUR,
            _FORTY_EIGHT,
        )
    }
)
