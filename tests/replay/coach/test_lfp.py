"""The LFP bank and its protection."""

from __future__ import annotations

import itertools

import pytest

from replay.coach.circuit import Feed, balance
from replay.coach.lfp import LithiumBank, open_cell_volts
from replay.coach.models import BankModel, ProtectionModel
from replay.coach.protection import Protection

STEP = 5.0

# Three published curves (a simulation library's 26650 file, a parameter set of a cell paper, an
# open-source battery table): lowest and highest of them at each share of charge.
PUBLISHED = {
    0.1: (2.978, 3.189),
    0.2: (3.159, 3.231),
    0.3: (3.194, 3.267),
    0.5: (3.221, 3.299),
    0.7: (3.246, 3.309),
    0.8: (3.256, 3.325),
    0.9: (3.262, 3.342),
    1.0: (3.348, 3.600),
}


def bank_of(soc: float, spread: float = 0.0) -> LithiumBank:
    return LithiumBank(BankModel("b", "lfp", 12, 200.0, soc=soc, celsius=25.0, spread=spread), STEP)


def hold(bank: LithiumBank, volts: float, limit: float, hours: float) -> list[tuple[float, float]]:
    rows = []
    for _ in range(int(hours * 3600 / STEP)):
        branch = bank.branch()
        found = balance(branch, [Feed(volts, 2500.0, limit)], 0.0, bank.inner)
        bank.advance(found, branch, 25.0)
        rows.append((found.posts, found.amps))
    return rows


@pytest.mark.parametrize("soc", PUBLISHED)
def test_curve_lies_among_the_published_ones(soc):
    low, high = PUBLISHED[soc]
    assert low - 0.02 <= open_cell_volts(soc) <= high + 0.02


def test_curve_always_rises():
    volts = [open_cell_volts(share / 500) for share in range(-10, 512)]
    assert all(a < b for a, b in itertools.pairwise(volts))


def test_charge_ends_abruptly():
    bank = bank_of(0.5)
    rows = hold(bank, 14.2, 60.0, 3.0)
    tapering = sum(1 for _, amps in rows if 6.0 < amps < 59.0) * STEP / 60
    assert tapering < 25.0  # minutes; lead-acid takes hours
    assert rows[-1][1] < 1.0
    assert bank.soc == pytest.approx(1.0, abs=0.01)


def test_hysteresis_of_a_few_millivolts_a_cell():
    up, down = bank_of(0.4), bank_of(0.6)
    hold(up, 14.2, 40.0, 0.5 * 200 / 40 * 0.2 * 2)
    for _ in range(int(1.0 * 3600 / STEP)):
        branch = down.branch()
        down.advance(balance(branch, [], 20.0, down.inner), branch, 25.0)
    up.charge = down.charge = 0.5
    rested = []
    for bank in (up, down):
        for _ in range(int(4 * 3600 / STEP)):
            branch = bank.branch()
            found = balance(branch, [], 0.0, bank.inner)
            bank.advance(found, branch, 25.0)
        rested.append(found.posts)
    assert 0.02 < rested[0] - rested[1] < 0.12


def test_amp_hours_are_neither_made_nor_lost():
    bank = bank_of(0.3)
    bank.losing = 0.0
    rows = hold(bank, 14.2, 60.0, 1.5)
    passed = sum(amps for _, amps in rows) * STEP / 3600
    assert (bank.charge - 0.3) * 200 == pytest.approx(passed * bank.cell.efficiency, rel=1e-6)


def test_the_first_cell_runs_ahead_near_full_only():
    bank = bank_of(0.5, spread=0.02)
    assert bank.highest_cell_volts() - bank.lowest_cell_volts() < 0.01
    hold(bank, 14.4, 60.0, 1.65)
    assert bank.highest_cell_volts() - bank.lowest_cell_volts() > 0.05
    cells = [bank.cell_volts(number) for number in range(1, 5)]
    assert cells == sorted(cells, reverse=True)
    assert sum(cells) / 4 == pytest.approx(bank.inner / 4, abs=0.12)


def test_protection_opens_late_and_closes_again():
    protection = Protection(ProtectionModel(delay_seconds=10.0))
    protection.advance(3.70, 3.30, 20.0, STEP)
    assert protection.charge_closed
    protection.advance(3.70, 3.30, 20.0, STEP)
    assert not protection.charge_closed
    assert protection.discharge_closed
    for _ in range(5):  # between the two figures nothing changes
        protection.advance(3.50, 3.30, 20.0, STEP)
    assert not protection.charge_closed
    for _ in range(2):
        protection.advance(3.35, 3.30, 20.0, STEP)
    assert protection.charge_closed


@pytest.mark.parametrize(
    ("highest", "lowest", "celsius", "charge", "discharge"),
    [
        (3.3, 3.3, -2.0, False, True),
        (3.3, 3.3, 61.0, False, True),
        (3.1, 2.5, 20.0, True, False),
        (3.3, 3.3, 20.0, True, True),
    ],
)
def test_protection_limits(highest, lowest, celsius, charge, discharge):
    protection = Protection(ProtectionModel())
    for _ in range(4):
        protection.advance(highest, lowest, celsius, STEP)
    assert (protection.charge_closed, protection.discharge_closed) == (charge, discharge)


def test_a_blind_protection_lets_cold_cells_be_charged():
    protection = Protection(ProtectionModel())
    protection.blind = True
    for _ in range(4):
        protection.advance(3.3, 3.3, -10.0, STEP)
    assert protection.charge_closed
