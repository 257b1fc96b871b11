"""What the owner changes of the conditions, read strictly and carried to the panels."""

from __future__ import annotations

from typing import Any

import pytest

from monitor.bank import Override
from monitor.config import ConfigError, parse_config
from monitor.config_limits import ALL_ROWS, keys_of
from monitor.engine import conditions
from monitor.engine.condition import Condition
from monitor.engine.engine import Engine
from monitor.engine.overrides import adjusted
from monitor.engine.snapshot import EventKind, Priority
from monitor.setup import _LIMITS_EXAMPLE
from tests.monitor.engine.sites import reading
from tests.monitor.engine.watched import watched

COACH = """\
[banks.house]
chemistry = "agm"
nominal_volts = 12
amp_hours = 200

[sources.shore]
kind = "ac-charger"
"""


def parsed(more: str) -> tuple[Override, ...]:
    return parse_config(COACH + more, "coach.toml").site.overrides


def rows_of(more: str) -> dict[str, Condition[Any]]:
    site = parse_config(COACH + more, "coach.toml").site
    return {row.name: row for row in adjusted(conditions.BANK, site, "house")}


def test_nothing_said_changes_nothing() -> None:
    assert parsed("") == ()
    for row, ours in zip(rows_of("").values(), conditions.BANK, strict=True):
        assert row is ours


def test_every_key_is_read() -> None:
    (override,) = parsed(
        "[limits.bank-hot]\nlimit_celsius = 45\ndeadband_celsius = 3\non_delay_seconds = 10\n"
        'off_delay_seconds = 20\npriority = "medium"\noff = false\n'
    )
    assert override == Override("bank-hot", None, 45.0, 3.0, 10.0, 20.0, 2, False)


def test_a_row_is_judged_by_the_owners_figures() -> None:
    row = rows_of(
        "[limits.bank-hot]\nlimit_celsius = 45\ndeadband_celsius = 3\non_delay_seconds = 10\n"
        'off_delay_seconds = 20\npriority = "medium"\n'
    )["bank-hot"]
    assert row.limit(watched()) == 45.0
    assert (row.deadband, row.on_delay, row.off_delay) == (3.0, 10.0, 20.0)
    assert row.priority is Priority.MEDIUM
    assert row.evidence(46.0, 45.0, ()).words == (
        "46.0 °C, charging allowed up to 45 °C (limit: the config, limits.bank-hot: 45 celsius)"
    )


def test_the_narrower_goes_before_the_wider_key_by_key() -> None:
    row = rows_of(
        "[limits.bank-hot]\nlimit_celsius = 45\non_delay_seconds = 10\n"
        "[banks.house.limits.bank-hot]\nlimit_celsius = 47\n"
    )["bank-hot"]
    assert row.limit(watched()) == 47.0
    assert row.on_delay == 10.0


def test_a_row_switched_off_is_not_judged_and_that_is_said() -> None:
    more = (
        "[banks.house.limits.bank-hot]\noff = true\n"
        "[sources.shore.limits.ac-low]\noff = true\n[limits.clock-jumped]\noff = true\n"
    )
    engine = Engine(parse_config(COACH + more, "coach.toml").site)
    events = []
    for second in range(0, 1200, 5):
        events += engine.step(reading(float(second), 13.0, 0.0, 58.0))
    assert "bank-hot" not in {event.name for event in events}
    (bank,) = engine.snapshot().banks
    (fact,) = [fact for fact in bank.warnings if fact.rule == "switched-off"]
    assert fact.words == "not judged, as the config says: bank-hot, ac-low"
    assert engine.site_panel.alarms == []
    # the same with the row left on
    engine = Engine(parse_config(COACH, "coach.toml").site)
    events = []
    for second in range(0, 1200, 5):
        events += engine.step(reading(float(second), 13.0, 0.0, 58.0))
    assert "bank-hot" in {event.name for event in events if event.kind is EventKind.CONDITION}
    assert not [f for f in engine.snapshot().banks[0].warnings if f.rule == "switched-off"]


def test_a_state_kept_before_a_row_was_switched_off_is_taken_up() -> None:
    engine = Engine(parse_config(COACH, "coach.toml").site)
    for second in range(0, 600, 5):
        engine.step(reading(float(second), 13.0, 0.0, 58.0))
    off = parse_config(COACH + "[limits.bank-hot]\noff = true\n", "coach.toml").site
    assert Engine(off, engine.state()).snapshot().alarms == ()


WRONG = [
    (
        "[limits.bank-hott]\n",
        'limits.bank-hott: expected the name of a condition, found the unknown "bank-hott"; '
        'did you mean "bank-hot"?',
    ),
    (
        "[limits.bank-hot]\nlimit_volts = 14\n",
        'limits.bank-hot.limit_volts: expected limit_celsius, found the unknown "limit_volts"; '
        "bank-hot is in this",
    ),
    (
        "[limits.bank-hot]\nlimit = 45\n",
        'limits.bank-hot.limit: expected limit_celsius, found the unknown "limit"; '
        "bank-hot is in this",
    ),
    (
        "[limits.bank-hot]\nlimit_celsius = 113\n",
        "limits.bank-hot.limit_celsius: expected celsius from 20 to 90, found 113",
    ),
    (
        '[limits.bank-hot]\nlimit_celsius = "45 C"\n',
        'limits.bank-hot.limit_celsius: expected celsius from 20 to 90, found "45 C"; '
        "write the number alone, without quotes or unit",
    ),
    (
        "[limits.bank-hot]\non_delay_seconds = -1\n",
        "limits.bank-hot.on_delay_seconds: expected seconds from 0 to a week, 604800, found -1; "
        "it is in seconds: 60 is a minute",
    ),
    (
        '[limits.bank-hot]\npriority = "urgent"\n',
        'limits.bank-hot.priority: expected "low", "medium" or "high", found "urgent"',
    ),
    (
        '[limits.bank-hot]\noff = "yes"\n',
        'limits.bank-hot.off: expected true or false, found "yes"; '
        "write true or false, without quotes",
    ),
    (
        "[limits.bank-hot]\nlatched = true\n",
        'limits.bank-hot.latched: expected a key of limits.bank-hot, found the unknown "latched"',
    ),
    (
        "[limits.device-silent]\nlimit_seconds = 4\n",
        "limits.device-silent.limit_seconds: expected no limit, found one; "
        "device-silent is a yes or no",
    ),
    (
        "[limits]\nbank-hot = 45\n",
        "limits.bank-hot: expected a table, as in [limits.bank-hot], found 45",
    ),
    (
        "[banks.house.limits.charging-frozen]\n",
        "banks.house.limits.charging-frozen: expected a condition of agm banks, found one of lfp",
    ),
    (
        "[banks.house.limits.ac-low]\n",
        "banks.house.limits.ac-low: expected the name of a condition, "
        'found the unknown "ac-low"; it belongs in another table, such as [limits]',
    ),
    (
        "[sources.shore.limits.bank-hot]\n",
        "sources.shore.limits.bank-hot: expected the name of a condition, "
        'found the unknown "bank-hot"; it belongs in another table, such as [limits]',
    ),
]


@pytest.mark.parametrize(("more", "words"), WRONG, ids=[w.split(":")[0] for _, w in WRONG])
def test_what_cannot_be_is_one_line_with_its_place(more: str, words: str) -> None:
    with pytest.raises(ConfigError) as caught:
        parse_config(COACH + more, "coach.toml")
    (problem,) = caught.value.problems
    last = len((COACH + more).splitlines())
    assert problem.startswith(f"coach.toml:{last}: {words}")
    assert "\n" not in problem


@pytest.mark.parametrize("name", ALL_ROWS)
def test_our_own_limits_are_among_those_an_owner_may_choose(name: str) -> None:
    """A row that says a unit says which limits are possible, and its deadband fits within."""
    row = ALL_ROWS[name]
    low, high = row.possible
    assert bool(row.unit) == (high > low)
    if row.unit:
        assert row.deadband <= high - low
        assert f"limit_{row.unit}" in keys_of(row)


@pytest.mark.parametrize("name", ALL_ROWS)
def test_only_a_yes_or_no_has_no_limit_to_move(name: str) -> None:
    """A new row that forgets its unit, so that no owner could move its limit, fails here."""
    row = ALL_ROWS[name]
    if not row.unit:
        assert row.limit(None) == 0.5


@pytest.mark.parametrize("row", conditions.BANK, ids=lambda row: str(row.name))
def test_a_banks_own_limits_are_possible(row: Condition[Any]) -> None:
    if not row.unit:
        return
    for chemistry in row.chemistries:
        keys = {"lowest_soc": 0.3, "cable_amps": 100.0, "fuse_amps": 100.0}
        limit = row.limit(watched(chemistry, keys))
        assert row.possible[0] <= limit <= row.possible[1]


def test_ratings_and_cut_offs_reach_the_site() -> None:
    text = (
        '[banks.house]\nchemistry = "lfp"\nnominal_volts = 24\namp_hours = 200\nfuse_amps = 250\n'
        "cable_amps = 200\ninverter_cut_off_volts = 21\n[banks.house.protection]\n"
        "high_cell_volts = 3.7\nlow_cell_volts = 2.5\nlow_celsius = 0\nhigh_celsius = 55\n"
        "[sources.shore]\nfuse_amps = 60\ncable_amps = 70\nac_volts = 230\nac_expected = true\n"
    )
    site = parse_config(text, "coach.toml").site
    bank, source = site.banks[0], site.sources[0]
    assert (bank.fuse_amps, bank.cable_amps, bank.inverter_cut_off_volts) == (250.0, 200.0, 21.0)
    assert bank.protection.high_cell_volts == 3.7
    assert (source.fuse_amps, source.cable_amps, source.ac_volts) == (60.0, 70.0, 230.0)
    assert source.ac_expected is True


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ("inverter_cut_off_volts = 21\n", "expected 9 to 12.6 V for a bank of 12 V, found 21"),
        ("[banks.house.protection]\nlow_celsius = 0\n", "expected none on a lead-acid bank"),
        ("[banks.house.protection]\nhigh_cell_volts = 14.6\n", "expected volts of one cell"),
    ],
)
def test_ratings_of_another_kind_are_refused(more: str, words: str) -> None:
    bank = COACH.split("\n\n")[0] + "\n"
    with pytest.raises(ConfigError, match=words):
        parse_config(bank + more, "coach.toml")


def test_the_example_of_init_is_right_when_uncommented() -> None:
    lines = [line.removeprefix("# ") for line in _LIMITS_EXAMPLE.splitlines()]
    tables = "\n".join(lines[lines.index("[limits.bank-hot]") :])
    names = {override.condition for override in parsed(tables)}
    assert names == {"bank-hot", "not-full-for-days"}


def test_limits_of_a_banks_voltage_may_be_given_in_its_own_volts() -> None:
    more = "[banks.house.limits.over-voltage]\nlimit_volts = 15\ndeadband_volts = 0.3\n"
    (override,) = parsed(more)
    assert override == Override("over-voltage", "house", 15.0 / 6, 0.3 / 6)
    assert parsed(more.replace("_volts = 15", "_volts_per_cell = 2.5"))[0] == override
    assert rows_of(more)["over-voltage"].limit(watched()) == 2.5


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (
            "[limits.over-voltage]\nlimit_volts = 15\n",
            'expected limit_volts_per_cell, found the unknown "limit_volts"; over-voltage is in '
            "this; limit_volts, of the whole bank, goes into [banks.NAME.limits.over-voltage]",
        ),
        (
            "[banks.house.limits.over-voltage]\nlimit_volts = 35\n",
            "expected volts of the whole bank from 9 to 30, found 35",
        ),
        (
            "[banks.house.limits.over-voltage]\nlimit_volts = 15\nlimit_volts_per_cell = 2.5\n",
            "expected limit_volts_per_cell or limit_volts, found both; leave one of the two",
        ),
        (
            "[banks.house.limits.halves-apart]\nlimit_volts = 0.2\n",
            'expected limit_volts_per_cell, found the unknown "limit_volts"; halves-apart is in',
        ),
    ],
)
def test_bank_volts_where_they_cannot_be_are_refused(more: str, words: str) -> None:
    with pytest.raises(ConfigError) as caught:
        parse_config(COACH + more, "coach.toml")
    (problem,) = caught.value.problems
    assert words in problem
