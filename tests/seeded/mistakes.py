"""Mistakes that somebody could make in the engine, one small edit each, and who should notice.

A mistake is text in a file and what would stand there instead. The text must be found exactly once:
when the code moves on, the mistake moves with it or the quick suite says so. `tests` are those of
the quick suite that must notice, as pytest names them; all of them pass on the code as it is.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final, NamedTuple

ENGINE: Final = "monitor/engine"
TESTS: Final = "tests/monitor/engine"


class Mistake(NamedTuple):
    name: str
    file: str
    right: str
    wrong: str
    tests: tuple[str, ...]


class LostError(Exception):
    """The text that a mistake would change is not where it was: one line that says which."""


MISTAKES: Final[tuple[Mistake, ...]] = (
    Mistake(
        "a sign flipped where charge is counted",
        f"{ENGINE}/charge_counting.py",
        "moved = stored * hours\n",
        "moved = -stored * hours\n",
        (f"{TESTS}/test_properties_physics.py::test_where_no_voltage_tells_charge_is_counted",),
    ),
    Mistake(
        "temperature compensation dropped",
        f"{ENGINE}/setpoints.py",
        "return self.per_celsius * (celsius - REFERENCE_CELSIUS)",
        "return 0.0 * (celsius - REFERENCE_CELSIUS)",
        (
            f"{TESTS}/test_properties_physics.py::test_set_points_move_with_the_bank_as_chargers_move_them",
        ),
    ),
    Mistake(
        "the clamp of compensation removed",
        f"{ENGINE}/setpoints.py",
        "if celsius < self.celsius_low:",
        "if celsius < -99.0:",
        (
            f"{TESTS}/test_properties_physics.py::test_set_points_move_with_the_bank_as_chargers_move_them",
        ),
    ),
    Mistake(
        "every ampere-hour is stored, however full the bank",
        f"{ENGINE}/cell.py",
        "return self.traits.share * soc**self.traits.share_power if soc > 0.0 else 0.0",
        "return 0.0 * self.traits.share * soc**self.traits.share_power if soc > 0.0 else 0.0",
        (f"{TESTS}/test_properties_physics.py::test_near_full_a_part_of_the_charge_is_lost",),
    ),
    Mistake(
        "full is a jump to exactly one",
        f"{ENGINE}/charge.py",
        "belief.mean[SOC] = min(1.0, belief.mean[SOC])\n",
        "belief.forget(SOC, 1.0, 1e-4)\n",
        (f"{TESTS}/test_properties_physics.py::test_full_is_a_strong_hint_not_a_jump",),
    ),
    Mistake(
        "the sensor's offset is never learned",
        f"{ENGINE}/charge.py",
        "return self.belief.mean[OFFSET] * self._label",
        "return 0.0 * self.belief.mean[OFFSET] * self._label",
        (f"{TESTS}/test_properties_physics.py::test_the_sensor_s_offset_is_learned_in_float",),
    ),
    Mistake(
        "a gap does not widen the uncertainty",
        f"{ENGINE}/charge.py",
        "self.belief.spread(SOC, (0.5 * possible) ** 2)",
        "self.belief.spread(SOC, (0.0 * possible) ** 2)",
        (
            f"{TESTS}/test_properties_physics.py::test_a_gap_widens_by_what_could_have_happened_in_it",
        ),
    ),
    Mistake(
        "time left ignores Peukert",
        f"{ENGINE}/time_left.py",
        "peukert = bank.chemistry.peukert.typical",
        "peukert = 1.0",
        (
            f"{TESTS}/test_properties_physics.py::test_a_high_rate_leaves_less_than_its_share_of_time",
        ),
    ),
    Mistake(
        "float is never taken up again",
        f"{ENGINE}/transitions.py",
        "+ filled * (floated + u * hour)",
        "+ 0.0 * filled * (floated + u * hour)",
        (f"{TESTS}/test_properties_physics.py::test_a_full_bank_is_floated_again_after_a_load",),
    ),
    Mistake(
        "late readings are accepted",
        f"{ENGINE}/device.py",
        "if interval <= 0.0:",
        "if interval == 0.0:",
        (f"{TESTS}/test_align.py::test_late_and_duplicate_readings_change_nothing",),
    ),
    Mistake(
        "not-a-number is no longer refused",
        f"{ENGINE}/align.py",
        "elif not given.low <= figure <= given.high:",
        "elif figure < given.low or figure > given.high:",
        (f"{TESTS}/test_align.py::test_what_no_sensor_could_say_never_enters",),
    ),
    Mistake(
        "one thing forgotten in the saved state",
        f"{ENGINE}/full.py",
        '"_tail_seconds",\n        "_was_absorbing",',
        '"_was_absorbing",',
        (
            "tests/reference/test_cut_anywhere.py::test_a_restored_engine_holds_what_the_first_one_holds",
        ),
    ),
    Mistake(
        "an alarm's deadband removed",
        f"{ENGINE}/alarms.py",
        "beyond = figure > (limit - condition.deadband if present else limit)",
        "beyond = figure > limit",
        (f"{TESTS}/test_alarms.py::test_the_deadband_is_on_the_return_side",),
    ),
    Mistake(
        "an alarm's on-delay removed",
        f"{ENGINE}/alarms.py",
        "if present else condition.on_delay",
        "if present else 0.0",
        (
            f"{TESTS}/test_alarms.py::test_on_delay_counts_judged_seconds_and_starts_again_after_a_dip",
        ),
    ),
    Mistake(
        "an acknowledged alarm that clears waits to be acknowledged again",
        f"{ENGINE}/alarms.py",
        "(_S.ACKNOWLEDGED, _T.CLEAR): _S.NORMAL,",
        "(_S.ACKNOWLEDGED, _T.CLEAR): _S.RETURNED,",
        (f"{TESTS}/test_alarms.py::test_every_state_with_every_trigger",),
    ),
    Mistake(
        "a shunt the right way round is called reversed",
        f"{ENGINE}/steps.py",
        "if (more_amps > 0.0) == (more_volts > 0.0):",
        "if (more_amps > 0.0) != (more_volts > 0.0):",
        (f"{TESTS}/test_conditions.py::test_steps_of_the_current_vote_for_the_sign_of_the_shunt",),
    ),
    Mistake(
        "a cable's drop counts one leg only",
        "monitor/sizing/cable.py",
        "return 2.0 * leg / parallel",
        "return leg / parallel",
        ("tests/reference/test_cable_drop.py::test_iec_example_at_20_celsius",),
    ),
    Mistake(
        "a fuse may exceed what its cable carries",
        "monitor/sizing/fuses.py",
        "if least <= rating <= ampacity_amps:",
        "if least <= rating:",
        (
            "tests/monitor/sizing/test_wire_choice.py::"
            "test_the_fuse_is_the_smallest_between_current_and_ampacity",
        ),
    ),
)


def source(root: Path, mistake: Mistake) -> str:
    """The file as it is; LostError where the mistake no longer fits it."""
    text = (root / mistake.file).read_text(encoding="utf-8")
    found = text.count(mistake.right)
    if found != 1:
        raise LostError(
            f"seeded mistake '{mistake.name}': expected once in {mistake.file}, found {found} "
            f"times: {mistake.right!r}; give it the new text"
        )
    return text


def spoiled(text: str, mistake: Mistake) -> str:
    return text.replace(mistake.right, mistake.wrong)
