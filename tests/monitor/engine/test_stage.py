"""The stage filter, on captures whose true stage is known and on what must not matter."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from monitor.bank import Bank, SetPoints, Source, SourceKind
from monitor.engine.bank_inputs import BankInputs
from monitor.engine.signal import Signal
from monitor.engine.snapshot import Stage
from monitor.engine.stage import LOOK, STIRRED_SECONDS, StageFilter
from monitor.engine.state import dump, restore
from tests.monitor.engine.captures import TRUTH, capture
from tests.monitor.engine.sites import AMPS, CELSIUS, SHORE_VOLTS, VOLTS
from tests.reference.predictions import scorer

#: Seconds, volts, amps, celsius, source volts.
Row = tuple[float, float, float, float | None, float | None]


def rows_of(name: str) -> tuple[Bank, tuple[Source, ...], list[Row]]:
    _, site, readings = capture(name)
    rows = []
    for reading in readings:
        figures = dict(reading.values)
        rows.append(
            (
                reading.seconds,
                float(figures[VOLTS]),
                float(figures[AMPS]),
                figures.get(CELSIUS),
                figures.get(SHORE_VOLTS),
            )
        )
    return site.banks[0], site.sources, rows


class Run:
    """Signal and stage together, fed by hand; `soc` stands for the charge filter's estimate."""

    def __init__(self, bank: Bank, sources: tuple[Source, ...]) -> None:
        self.signal = Signal(bank, sources)
        self.filter = StageFilter(bank, sources)
        self.inputs = BankInputs(len(sources))
        self.amp_hours = bank.amp_hours
        self.soc, self.soc_sd = 0.6, 0.2
        self.looks = 0

    def take(self, row: Row, reported: str | None = None, permitted: bool | None = None) -> bool:
        inputs = self.inputs
        inputs.seconds, inputs.volts, inputs.amps, inputs.celsius, source_volts = row
        inputs.charge_permitted = permitted
        if inputs.source_volts:
            inputs.source_volts[0] = source_volts
            inputs.reported_stages[0] = reported
        if not self.signal.update(inputs):
            return False
        changed = False
        if self.filter.due(self.signal):
            changed = self.filter.update(self.signal, self.soc, self.soc_sd)
            self.looks += 1
        self._count()
        return changed

    def _count(self) -> None:
        """A plain count of amp-hours, set right whenever absorption has tapered."""
        share = self.signal.amps * min(self.signal.elapsed, 600.0) / 3600.0 / self.amp_hours
        self.soc = min(1.0, max(0.0, self.soc + share * (0.9 if share > 0.0 else 1.0)))
        if self.filter.stage is Stage.FLOAT:
            self.soc, self.soc_sd = max(self.soc, 0.97), 0.02

    def stages(self, rows: list[Row]) -> list[str]:
        said = []
        for row in rows:
            self.take(row)
            said.append(self.filter.stage.value)
        return said


def hidden(bank: Bank) -> Bank:
    return replace(bank, set_points=SetPoints())


def score(name: str, rows: list[Row], said: list[str]) -> dict[str, float]:
    path = next(TRUTH.glob(f"{name}*.csv.gz"))
    truth, _, about = scorer().load_truth(str(path))
    prediction = {"t_s": np.array([row[0] for row in rows]), "stage": np.array(said)}
    result: dict[str, float] = scorer().row(name, scorer().score_capture(truth, about, prediction))
    return result


#: Floors a little below what is reached: macro F1 without ambiguous samples, false changes a day.
FLOORS = {
    "c03": (0.97, 0.97),
    "c08": (0.97, 0.95),
    "c15": (0.98, 0.98),
    "c16": (0.96, 0.96),
    "c17": (0.97, 0.97),
    "c18": (0.95, 0.95),
}


#: With set-points hidden one of lithium and one of lead in every run, the rest with what is slow.
HIDDEN = {"c08", "c17"}
WAYS = [
    pytest.param(
        name,
        way,
        id=f"{name}-{'hidden' if way else 'given'}",
        marks=pytest.mark.slow if way and name not in HIDDEN else (),
    )
    for name in FLOORS
    for way in (0, 1)
]


@pytest.mark.parametrize(("name", "way"), WAYS)
def test_the_stage_is_that_of_the_truth(name: str, way: int) -> None:
    bank, sources, rows = rows_of(name)
    said = Run(hidden(bank) if way else bank, sources).stages(rows)
    result = score(name, rows, said)
    assert result["macro_f1_clear"] >= FLOORS[name][way]
    assert result["false_day"] <= 3.0
    assert result["delay_med_s"] <= 30.0


@pytest.mark.parametrize("name", ["c08", "c17"])
def test_coarse_sampling_gives_the_same_stages(name: str) -> None:
    bank, sources, rows = rows_of(name)
    coarse = rows[::4]
    result = score(name, coarse, Run(bank, sources).stages(coarse))
    assert result["macro_f1_clear"] >= 0.95


def test_a_calm_signal_is_weighed_once_a_look_and_a_step_at_once() -> None:
    bank, sources, _ = rows_of("c17")
    run = Run(bank, sources)
    for second in range(1800):
        run.take(
            (float(second), 12.5 + 0.004 * (second % 3), -5.0 - 0.01 * (second % 2), 25.0, None)
        )
    assert run.filter.stage is Stage.DISCHARGE
    before = run.looks
    for second in range(1800, 2400):
        run.take(
            (float(second), 12.5 + 0.004 * (second % 3), -5.0 - 0.01 * (second % 2), 25.0, None)
        )
    assert run.looks - before == 600.0 / LOOK
    before = run.looks
    for second in range(2400, 2430):
        run.take((float(second), 12.1, -25.0, 25.0, None))
    assert run.looks - before == STIRRED_SECONDS


def test_a_step_out_of_turn_weighs_no_more_than_its_own_second() -> None:
    """What a reading shows after a calm stretch was not so before it: one alone decides nothing."""
    bank, sources, _ = rows_of("c17")
    run = Run(bank, sources)
    for second in range(1809):
        run.take(
            (float(second), 12.5 + 0.004 * (second % 3), -5.0 - 0.01 * (second % 2), 25.0, None)
        )
    before = list(run.filter.probabilities)
    assert run.filter.looked is not None
    assert 1809.0 - run.filter.looked > 0.5 * LOOK
    run.take((1809.0, 12.9, 20.0, 25.0, None))
    assert run.filter.looked == 1809.0
    assert max(abs(a - b) for a, b in zip(run.filter.probabilities, before, strict=True)) < 0.1


def test_probabilities_sum_to_one() -> None:
    bank, sources, rows = rows_of("c18")
    run = Run(bank, sources)
    for row in rows[:6000]:
        run.take(row)
        p = run.filter.probabilities
        assert abs(sum(p) - 1.0) < 1e-9
        assert min(p) >= 0.0
        assert run.filter.regulating <= 1.0 + 1e-9


def doubled_amps(rows: list[Row]) -> Iterator[Row]:
    for seconds, volts, amps, celsius, source_volts in rows:
        yield seconds, volts, 4.0 * amps, celsius, source_volts


def at_48_volts(rows: list[Row]) -> Iterator[Row]:
    for seconds, volts, amps, celsius, source_volts in rows:
        yield seconds, 4.0 * volts, amps, celsius, None if not source_volts else 4.0 * source_volts


@pytest.mark.parametrize("name", ["c08", "c17"])
def test_the_size_of_the_bank_does_not_matter(name: str) -> None:
    bank, sources, rows = rows_of(name)
    rows = rows[:9000]
    said = Run(bank, sources).stages(rows)
    assert len(set(said)) >= 4

    bigger = replace(bank, amp_hours=4.0 * bank.amp_hours)
    assert Run(bigger, sources).stages(list(doubled_amps(rows))) == said

    points = bank.set_points
    assert points.absorption is not None
    assert points.float_ is not None
    higher = replace(
        bank,
        nominal_volts=48,
        set_points=replace(points, absorption=4.0 * points.absorption, float_=4.0 * points.float_),
    )
    assert Run(higher, sources).stages(list(at_48_volts(rows))) == said


def test_cut_anywhere() -> None:
    bank, sources, rows = rows_of("c17")
    whole = Run(bank, sources)
    whole.stages(rows[:3300])
    for _ in range(3):
        half = Run(bank, sources)
        restore(half.signal, json.loads(json.dumps(dump(whole.signal), allow_nan=False)))
        restore(half.filter, json.loads(json.dumps(dump(whole.filter), allow_nan=False)))
        half.soc, half.soc_sd = whole.soc, whole.soc_sd
        assert half.filter.view() == whole.filter.view()
        at = round(whole.signal.seconds / 5.0) + 1
        assert half.stages(rows[at : at + 900]) == whole.stages(rows[at : at + 900])
        assert dump(half.filter) == dump(whole.filter)


def test_late_and_duplicate_readings_change_nothing() -> None:
    bank, sources, rows = rows_of("c17")
    run = Run(bank, sources)
    run.stages(rows[:2000])
    before = dump(run.filter)
    for row in (rows[1999], rows[1500], (rows[1999][0] + 5.0, 0.0, 0.0, None, None)):
        assert not run.take(row)
    assert dump(run.filter) == before


def test_absorption_gives_its_reasons_in_words() -> None:
    bank, sources, rows = rows_of("c17")
    run = Run(bank, sources)
    run.stages(rows[:4000])
    view = run.filter.view()
    assert view.stage is Stage.ABSORPTION
    fact = view.evidence[0]
    assert fact.rule == "held voltage"
    assert "V at the source)" in fact.words
    assert "while current went 3" in fact.words
    assert "compensated absorption set-point 14.6" in fact.words
    assert run.filter.taper_seconds is not None
    assert 1000.0 < run.filter.taper_seconds < 20000.0
    assert run.filter.hold_volts == pytest.approx(14.62, abs=0.06)


def test_a_source_that_holds_something_else_is_reported_not_followed() -> None:
    bank, sources, rows = rows_of("c16")
    assert bank.set_points.absorption == 14.5
    told = replace(bank, set_points=replace(bank.set_points, absorption=14.62))
    run = Run(told, sources)
    run.stages(rows[:3600])
    view = run.filter.view()
    assert view.stage is Stage.ABSORPTION
    differs = [fact for fact in view.evidence if fact.rule == "set-point differs"]
    assert differs
    assert dict(differs[0].figures)["seen_volts"] == pytest.approx(14.5, abs=0.03)


def test_hidden_set_points_are_found() -> None:
    bank, sources, rows = rows_of("c17")
    run = Run(hidden(bank), sources)
    before = run.filter.set_points_view(25.0)
    run.stages(rows[:9000])
    after = run.filter.set_points_view(25.0)
    for seen, started, truth in (
        (after.absorption, before.absorption, 14.6),
        (after.float_, before.float_, 13.4),
    ):
        assert seen.figure == pytest.approx(truth, abs=0.04)
        assert seen.sd is not None
        assert started.sd is not None
        assert seen.sd < 0.2 * started.sd


def test_protection_that_opens_is_rest_and_says_so() -> None:
    bank, sources, rows = rows_of("c18")
    run = Run(bank, sources)
    run.stages([row for row in rows if row[0] < 14140.0])
    view = run.filter.view()
    assert view.stage is Stage.REST
    assert view.evidence[0].rule == "source parted from bank"

    blind = Run(bank, ())
    for row in rows:
        if row[0] >= 14400.0:
            break
        blind.take(row, permitted=row[0] < 14085.0)
    assert blind.filter.stage is Stage.REST
    assert blind.filter.view().evidence[0].rule == "charge side open"


def test_what_a_source_says_of_itself_does_not_overrule_what_is_measured() -> None:
    bank, _, rows = rows_of("c08")
    sources = (Source("shore", "house", SourceKind.AC_CHARGER),)
    run = Run(bank, sources)
    said = []
    for row in rows:
        run.take(row, reported="bulk")
        said.append(run.filter.stage.value)
    assert score("c08", rows, said)["macro_f1_clear"] >= 0.9
    assert any(fact.rule == "reported stage" for fact in run.filter.view().evidence)


def test_bulk_and_fixed_cannot_be_told_apart_at_first_and_can_later() -> None:
    bank, sources, rows = rows_of("c15")
    run = Run(bank, sources)
    run.stages([row for row in rows if row[0] < 3300.0])
    view = run.filter.view()
    assert view.stage is Stage.BULK
    assert view.probabilities[list(Stage).index(Stage.FIXED)] > 0.05
    assert any(fact.rule == "bulk or fixed" for fact in view.evidence)
    run.stages([row for row in rows if 3300.0 <= row[0] < 20260.0])
    assert run.filter.stage is Stage.FIXED  # a second charge, known from its first minutes


def test_a_source_configured_as_fixed_is_fixed_from_the_start() -> None:
    bank, _, rows = rows_of("c15")
    run = Run(bank, (Source("converter", "house", SourceKind.FIXED),))
    run.stages([row for row in rows if row[0] < 3000.0])
    assert run.filter.stage is Stage.FIXED


def test_the_zero_of_the_current_sensor_shows_in_float() -> None:
    bank, sources, rows = rows_of("c12")
    run = Run(bank, sources)
    run.stages([row for row in rows if row[0] < 61000.0])
    assert run.filter.stage is Stage.FLOAT
    assert run.filter.features.zero * bank.amp_hours == pytest.approx(-0.3, abs=0.15)
    facts = run.filter.view().evidence
    assert any(fact.rule == "sensor zero" for fact in facts)
