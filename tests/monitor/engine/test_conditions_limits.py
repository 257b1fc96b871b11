"""Rows of limits, protection and supply: against worked figures, and where they must keep still."""

from __future__ import annotations

import json

import pytest

from adapters.reading import Channel, Quantity, Reading, Tick
from monitor.bank import Protection, SetPoints
from monitor.engine import conditions
from monitor.engine.alarms import Alarm
from monitor.engine.engine import Engine
from monitor.engine.gassing import Gassing, onset
from monitor.engine.sides import Sides
from monitor.engine.snapshot import Event, EventKind, Priority
from monitor.engine.warmth import Warmth
from tests.monitor.engine.alike import differences
from tests.monitor.engine.cases_supply import Pedestal, fed
from tests.monitor.engine.sites import bank, reading, site
from tests.monitor.engine.watched import sourced, watched

BANK = {row.name: row for row in conditions.BANK}
SOURCE = {row.name: row for row in conditions.SOURCE}
LFP_BANK = bank("lfp", set_points=SetPoints(absorption=14.2, float_=13.5))


# Limits against worked figures.


@pytest.mark.parametrize(
    ("celsius", "share"),
    [(-5.0, 0.10), (0.0, 0.10), (2.5, 0.15), (5.0, 0.20), (7.5, 0.35), (10.0, 0.5), (30.0, 0.5)],
)
def test_lfp_takes_less_near_freezing(celsius: float, share: float) -> None:
    """Published operating sheets: 0.1 C from 0 °C, 0.2 C from 5 °C, full from 10 °C."""
    row = BANK["charge-current-high"]
    assert row.limit(watched("lfp", celsius=celsius)) == pytest.approx(1.1 * share)
    assert row.limit(watched("agm", celsius=celsius)) == pytest.approx(1.1 * 0.30)
    # by the coldest cell, where that is shown
    assert row.limit(watched("lfp", cell__coldest=celsius)) == pytest.approx(1.1 * share)
    assert row.limit(watched("lfp", celsius=None)) == pytest.approx(0.55)


def test_an_inverter_s_cut_off_is_the_owner_s_or_the_usual_one() -> None:
    row = BANK["inverter-cut-off-near"]
    assert row.limit(watched()) == pytest.approx(10.8)
    assert row.limit(watched(bank_keys={"nominal_volts": 24})) == pytest.approx(21.6)
    said = {"inverter_cut_off_volts": 11.0}
    assert row.limit(watched(bank_keys=said)) == pytest.approx(11.3)
    # where nobody said that there is an inverter, a small load is none
    assert row.figure(watched(volts=10.6, amps=-10.0)) == 12.0
    assert row.figure(watched(volts=10.6, amps=-10.0, bank_keys=said)) == 10.6


def test_the_owner_s_protection_decides_when_it_is_near() -> None:
    limits = Protection(3.70, 2.8, 5.0, 55.0)
    watch = watched("lfp", {"protection": limits})
    assert BANK["cell-near-high-limit"].limit(watch) == pytest.approx(3.70)
    assert BANK["cell-near-low-limit"].limit(watch) == pytest.approx(3.10)
    assert BANK["charge-near-cold-limit"].limit(watch) == pytest.approx(7.0)
    assert BANK["bank-near-hot-limit"].limit(watch) == pytest.approx(50.0)
    # cells balanced at a high set-point stand above 3.65 V in order
    high = watched("lfp", {"set_points": SetPoints(14.6)})
    assert BANK["cell-near-high-limit"].limit(high) == pytest.approx(3.68)


def test_a_cell_is_told_by_where_it_will_be() -> None:
    """46 A into cells of which one leads: 3.52 V and 2 mV a second is the limit within minutes."""
    row = BANK["cell-near-high-limit"]
    leads = watched("lfp", volts=13.6, amps=46.0, cell__highest_volts=3.52, cell__pace=0.002)
    assert row.figure(leads) == pytest.approx(3.52 + 0.15)
    held = watched("lfp", volts=14.2, amps=6.0, cell__highest_volts=3.60, cell__pace=0.002)
    assert row.figure(held) == pytest.approx(3.60)
    far = watched("lfp", volts=13.4, amps=46.0, cell__highest_volts=3.45, cell__pace=0.002)
    assert row.figure(far) == 3.45
    assert row.figure(watched("lfp", amps=46.0)) is None


@pytest.mark.parametrize(
    ("celsius", "volts"), [(25.0, 2.39), (5.0, 2.505), (-40.0, 2.97), (60.0, 2.30), (None, 2.39)]
)
def test_gassing_sets_in_by_temperature(celsius: float | None, volts: float) -> None:
    assert onset(celsius) == pytest.approx(volts)


def test_gassing_is_forgotten_after_a_day() -> None:
    gassing = Gassing()
    for minute in range(5 * 60):
        gassing.look(60.0 * minute, 2.45, 25.0, 60.0)
    assert gassing.hours == pytest.approx(5.0, abs=0.02)
    for minute in range(5 * 60, 28 * 60):
        gassing.look(60.0 * minute, 2.25, 25.0, 60.0)
    assert 0.5 < gassing.hours < 2.5
    for minute in range(28 * 60, 30 * 60):
        gassing.look(60.0 * minute, 2.25, 25.0, 60.0)
    assert gassing.hours == 0.0
    # nothing seen for three days: nothing of them counts
    gassing.look(33 * 86400.0, 2.45, 25.0, 30.0)
    assert gassing.hours == pytest.approx(30.0 / 3600.0)


# Temperature.


def test_a_day_s_sun_is_no_warming_in_float() -> None:
    """The air from 15 to 35 °C and the bank after it, two days in float."""
    row = BANK["warming-in-float"]
    for measured in (True, False):
        watch = watched(stage="float", celsius=20.0)
        alarm = Alarm(row, "house")
        for minute in range(2 * 24 * 60):
            hour = minute / 60.0 % 24.0
            air = 25.0 + 10.0 * (1.0 - abs(hour - 14.0) / 6.0 if 8.0 <= hour <= 20.0 else 0.0)
            bank_celsius = 22.0 + 6.0 * max(0.0, 1.0 - abs(hour - 17.0) / 8.0)
            watch.celsius = bank_celsius
            watch.warmth.look(60.0 * minute, bank_celsius, air if measured else None, True)
            alarm.judge(watch, 60.0)
            assert not alarm.present


def test_charge_left_in_a_bank_as_warmth_is_no_warming_in_float() -> None:
    """Thirteen degrees over its air as float begins, and cooling."""
    warmth = Warmth()
    for minute in range(12 * 60):
        warmth.look(60.0 * minute, 20.0 + 18.0 * min(1.0, minute / 600.0), 20.0, False)
    for minute in range(12 * 60, 24 * 60):
        hours = (minute - 12 * 60) / 60.0
        warmth.look(60.0 * minute, 20.0 + 18.0 * 0.85**hours, 20.0, True)
        assert warmth.float_excess == 0.0


# Protection: told or seen, opened and closed again.


def test_a_side_that_closed_again_is_told_once_however_it_was_known() -> None:
    sides = Sides()
    assert sides.look(0.0, None, None) == []
    assert sides.look(10.0, False, False) == []
    assert sides.look(20.0, True, False) == []
    assert sides.look(30.0, None, False) == []  # its device is silent: nothing is known
    ((name, words),) = sides.look(200.0, False, False)
    assert name == "charge-side-closed"
    assert words.endswith("it can be charged, after 3 min.")
    assert sides.look(210.0, False, False) == []
    # a blink that was never told is not told to be over
    sides.look(220.0, False, True)
    assert sides.look(225.0, False, False) == []


@pytest.mark.parametrize(
    ("figures", "words"),
    [
        ({"cell__highest_volts": 3.66}, "the highest cell stands at 3.660 V; "),
        ({"celsius": -1.0}, "it is -1.0 °C cold; "),
        ({"cell__warmest": 61.0}, "it is 61.0 °C hot; "),
        ({}, "none of what is measured says why; "),
    ],
)
def test_why_the_charge_side_opened_is_said_by_what_is_seen(
    figures: dict[str, float], words: str
) -> None:
    adds = BANK["charge-side-open"].adds
    assert adds is not None
    assert adds(watched("lfp", charge_permitted=False, **figures)) == words


@pytest.mark.parametrize(
    ("figures", "words"),
    [
        ({"cell__lowest_volts": 2.6}, "the lowest cell stands at 2.600 V; "),
        ({"cut__amps": -190.0}, "190 A were drawn just before; "),
        ({}, "none of what is measured says why; "),
    ],
)
def test_why_the_discharge_side_opened_is_said_by_what_is_seen(
    figures: dict[str, float], words: str
) -> None:
    adds = BANK["discharge-side-open"].adds
    assert adds is not None
    assert adds(watched("lfp", discharge_permitted=False, **figures)) == words


def guard(seconds: float, **figures: float) -> Reading:
    values = tuple((Channel("house", Quantity(name)), value) for name, value in figures.items())
    return Reading(seconds, "guard", values)


def told(events: list[Event]) -> list[str]:
    return [
        event.name
        for event in events
        if event.kind is EventKind.CONDITION and event.priority is not Priority.NONE
    ]


def test_cells_one_by_one_are_as_good_as_a_device_that_tells_the_extremes() -> None:
    """A cell at 3.75 V of four, told by its number."""
    for extremes in (True, False):
        engine = Engine(site(house=LFP_BANK))
        events: list[Event] = []
        for second in range(0, 120, 5):
            events += engine.step(reading(float(second), 14.1, 10.0))
            if extremes:
                events += engine.step(guard(second + 1.0, highest_cell_volts=3.75))
                continue
            cells = tuple(
                (Channel(f"house#{number}", Quantity.CELL_VOLTS), volts)
                for number, volts in enumerate((3.45, 3.75, 3.44, 3.46), start=1)
            )
            events += engine.step(Reading(second + 1.0, "guard", cells))
        assert "cell-over-voltage" in told(events)


def test_lead_acid_has_no_protection_that_could_close() -> None:
    """A source parted from a lead bank is a fuse, and no word of protection is an event of it."""
    engine = Engine(site(sources=("shore",)))
    volts = Channel("shore", Quantity.SOURCE_VOLTS)
    events: list[Event] = []
    for second in range(0, 1800, 5):
        source = 14.4 if second < 900 else 12.9
        amps = 0.0 if second < 900 else 20.0
        events += engine.step(reading(float(second), 12.7, amps, more=((volts, source),)))
    assert not [event for event in events if event.name.endswith("side-closed")]


# Supply.


def test_nominal_voltage_is_seen_and_forgotten_with_the_stay() -> None:
    pedestal = Pedestal().show(0.1, 122.0)
    supply = pedestal.room.supply
    assert supply.nominal == 120.0
    # a lost neutral that lifts a leg to 180 V does not make it a 230 V supply
    pedestal.show(0.1, 180.0)
    assert supply.nominal == 120.0
    pedestal.show(0.3, 0.0).show(0.1, 228.0)
    assert supply.nominal == 230.0
    assert sourced({"ac_volts": 100.0}).supply.nominal == 100.0


def test_two_legs_that_part_are_a_lost_neutral_at_once() -> None:
    row = SOURCE["lost-neutral"]
    alarm = Alarm(row, "shore")
    room = (
        Pedestal().show(0.2, 120.0, other_leg_volts=120.0).show(0.05, 141.0, other_leg_volts=99.0)
    )
    alarm.judge(room.room, 60.0)
    assert alarm.present
    # both legs high is a high supply, and has all its neutral
    high = Pedestal().show(0.2, 120.0, other_leg_volts=120.0)
    high.show(0.05, 138.0, other_leg_volts=138.0)
    assert row.figure(high.room) == 0.0


def test_a_starting_motor_is_no_low_supply() -> None:
    """Ten seconds at 95 V in every minute, 118 V else: no row of the AC side."""
    pedestal = Pedestal()
    alarms = [Alarm(row, "shore") for row in SOURCE.values() if row.name.startswith(("ac", "lost"))]
    for _ in range(60):
        pedestal.show(50.0 / 3600.0, 118.0, hertz=60.0).show(10.0 / 3600.0, 95.0, hertz=60.0)
        for alarm in alarms:
            alarm.judge(pedestal.room, 60.0)
    assert [alarm.condition.name for alarm in alarms if alarm.present] == []


def test_how_shore_power_is_known_to_be_missed_is_said() -> None:
    gone = Pedestal().show(72.0, 119.0).show(0.3, 0.0).room
    adds = SOURCE["ac-gone"].adds
    assert adds is not None
    assert adds(gone) == "it had been there for 3 days, so it is missed; "
    # after two hours people have left, and it is over by itself
    later = Pedestal().show(72.0, 119.0).show(2.1, 0.0).room
    assert SOURCE["ac-gone"].figure(later) == 0.0
    # what the config expects is told by its own row only
    expected = Pedestal(ac_expected=True).show(72.0, 119.0).show(0.3, 0.0).room
    assert SOURCE["ac-gone"].figure(expected) == 0.0
    assert (SOURCE["ac-lost"].figure(expected) or 0.0) > 15.0
    assert "config" in SOURCE["ac-lost"].says


def test_a_power_factor_is_told_or_worked_out() -> None:
    assert fed(120.0, amps=10.0, watts=720.0).supply.power_factor == pytest.approx(0.6)
    assert fed(120.0, amps=10.0, power_factor=-0.6).supply.power_factor == pytest.approx(0.6)
    assert fed(120.0, watts=720.0).supply.power_factor is None


def test_a_charger_is_held_against_its_own_best_only_at_its_limit() -> None:
    output = sourced().output
    for _ in range(10):
        output.look(38.0, 0.0, "bulk")
    assert output.best == pytest.approx(38.0, rel=0.01)
    # tapering, by what is seen or by what it says
    output.look(5.0, 0.95, None)
    assert output.share == 1.0
    output.look(5.0, 0.0, "absorption")
    assert output.share == 1.0
    output.look(5.0, 0.5, None)  # nobody can say
    assert output.share is None
    output.look(19.0, 0.0, "bulk")
    assert output.share == pytest.approx(0.5, rel=0.01)
    # turned down for good: a week of charging later that is its best
    for _ in range(7 * 24 * 60):
        output.look(19.0, 0.0, "bulk")
    assert output.share == 1.0


# Cut anywhere.


def test_everything_carried_here_survives_a_restart() -> None:
    """Cells, AC, warmth, gassing and sides: stopped and restored every minute, nothing differs."""
    where = site(house=LFP_BANK, sources=("shore",), links=(("shunt", 10.0), ("guard", 10.0)))
    engine, again = Engine(where), Engine(where)
    events: list[Event] = []
    for second in range(0, 3600, 10):
        opened = 1200 <= second < 1800
        inputs = [
            Tick(float(second)),
            reading(float(second), 13.4 + second / 9000.0, 0.0 if opened else 20.0, 18.0),
            guard(
                second + 1.0,
                highest_cell_volts=3.4 + second / 20000.0,
                lowest_cell_celsius=17.5,
                charge_permitted=float(not opened),
                ambient_celsius=15.0 + second / 900.0,
            ),
            Reading(
                second + 2.0,
                "charger",
                (
                    (Channel("shore", Quantity.AC_VOLTS), 0.0 if 2400 <= second < 3200 else 150.0),
                    (Channel("shore", Quantity.AC_HERTZ), 60.0),
                    (Channel("shore", Quantity.AC_AMPS), 6.0),
                    (Channel("shore", Quantity.AC_POWER_FACTOR), 0.65),
                ),
            ),
        ]
        for value in inputs:
            expected = engine.step(value)
            assert again.step(value) == expected
            events += expected
        if second % 60 == 30:
            again = Engine(where, json.loads(json.dumps(again.state(), allow_nan=False)))
    assert differences(engine, again) == []
    assert {"charge-side-open", "power-factor-low"} <= set(told(events))
    assert "charge-side-closed" in {event.name for event in events}
