"""Single checks on looks made by hand: what must fail fails, what cannot be told is not passed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from monitor.bank import Bank, Protection, SetPoints, Site, Source, SourceKind
from monitor.chemistries import CHEMISTRIES
from monitor.commission import record as r
from monitor.commission.check import Ask
from monitor.commission.entry import EntryError, value_of_entry
from monitor.commission.installation_file import completed, read_installation, template
from monitor.commission.look import Look, SourceLook
from monitor.commission.procedure import Procedure
from monitor.commission.record import Outcome, Verdict
from monitor.commission.said import Said
from monitor.commission.setting import Setting
from monitor.commission.table import CHECKS
from monitor.mishaps import Refusal
from tests.monitor.commission.coach import INSTALLATION, SITE

_LFP = Site(
    banks=(
        Bank(
            "house",
            CHEMISTRIES["lfp"],
            12,
            200.0,
            set_points=SetPoints(absorption=14.2, float_=None),
            protection=Protection(high_cell_volts=3.65),
        ),
    ),
    sources=(
        Source("shore", "house", SourceKind.AC_CHARGER, 40.0),
        Source("roof", "house", SourceKind.SOLAR, 30.0),
    ),
)


def _lfp(**changes: object) -> Procedure:
    entered = completed(r.Installation(**changes), _LFP, _LFP.banks[0])  # type: ignore[arg-type]
    return Procedure(Setting(_LFP, _LFP.banks[0], entered))


def _house(**changes: object) -> Procedure:
    entered = replace(INSTALLATION, **changes)  # type: ignore[arg-type]
    return Procedure(Setting(SITE, SITE.banks[0], entered))


def _outcome(procedure: Procedure, key: str) -> Outcome:
    return next(each for each in procedure.outcomes() if each.key == key)


def _say(procedure: Procedure, key: str, word: str, rest: str = "", seconds: float = 0.0) -> None:
    procedure.hear(Said(seconds, "A", key, word, rest))


def _looks(procedure: Procedure, start: float, count: int, **figures: object) -> float:
    seconds = start
    for _ in range(count):
        seconds += 5.0
        procedure.look(Look(seconds, 1e9, **figures))  # type: ignore[arg-type]
    return seconds


def test_every_check_says_what_it_must() -> None:
    for check in CHECKS:
        assert check.purpose, check.id
        assert check.hands, check.id
        assert check.watches, check.id
    assert len({each.id for each in CHECKS}) == len(CHECKS)


@pytest.mark.parametrize("procedure", [_house(), _lfp()])
def test_every_limit_has_its_source(procedure: Procedure) -> None:
    limits = [limit for item in procedure.items for limit in item.limits]
    assert len(limits) > 20
    assert all(each.source for each in limits)


def test_nothing_is_passed_before_anything_was_done() -> None:
    for procedure in (_house(), _lfp()):
        assert {each.verdict for each in procedure.outcomes()} == {
            Verdict.NOT_DONE,
            Verdict.NOT_APPLICABLE,
        }
        assert all(each.why for each in procedure.outcomes())


def test_what_a_site_has_no_use_for_says_why() -> None:
    why = {o.key: o.why for o in _lfp().outcomes() if o.verdict is Verdict.NOT_APPLICABLE}
    assert why["compensation@shore"] == "this charger is not to follow the temperature"
    assert why["engine"] == "no such source at this site"
    assert why["string-share"] == "one string: nothing to share with"
    assert "protection" not in why  # LFP must have one: not done, never needless
    assert "solar@roof" not in why


def test_lfp_without_protection_is_not_passed() -> None:
    procedure = _lfp()
    _say(procedure, "protection", "begin")
    _looks(procedure, 0.0, 2, volts=13.2, amps=-5.0)
    assert _outcome(procedure, "protection").verdict is Verdict.NOT_DONE


def _opens(procedure: Procedure, amps: Iterator[float]) -> Outcome:
    key = "protection@guard"
    _say(procedure, key, "begin")
    seconds = 0.0
    for each in amps:
        seconds = _looks(procedure, seconds, 3, volts=13.2, amps=each)
    _say(procedure, key, "enter", "opened = yes")
    _say(procedure, key, "enter", "closed = yes")
    _looks(procedure, seconds, 1, volts=13.2, amps=-5.0)
    return _outcome(procedure, key)


def test_protection_must_be_seen_to_open() -> None:
    guard = (r.ProtectionDevice("guard", serial="1"),)
    assert _opens(_lfp(protection=guard), iter((-5.0, 0.0, -5.0))).verdict is Verdict.PASS
    never = _opens(_lfp(protection=guard), iter((-5.0, -5.0, -5.0)))
    assert never.verdict is Verdict.FAIL
    assert "never stopped" in never.why


def _load(procedure: Procedure, start: float, before: float, after: float) -> float:
    """A check of a step, begun, with a load that makes it."""
    seconds = _looks(procedure, start, 6, volts=12.5, amps=before)
    return _looks(procedure, seconds, 6, volts=12.4, amps=after)


def test_a_shunt_that_was_turned_round_passes_when_tried_again() -> None:
    procedure = _house()
    _say(procedure, "polarity", "begin")
    seconds = _load(procedure, 0.0, 0.1, 30.0)
    assert _outcome(procedure, "polarity").verdict is Verdict.FAIL
    # until then everything else is judged with the sign turned
    _say(procedure, "through-shunt@inverter", "begin")
    seconds = _load(procedure, seconds, 0.1, 50.0)
    _say(procedure, "through-shunt@inverter", "enter", "clamp = 50 A")
    assert _outcome(procedure, "through-shunt@inverter").verdict is Verdict.PASS
    _say(procedure, "polarity", "begin")
    seconds = _load(procedure, seconds, -0.1, -30.0)
    assert _outcome(procedure, "polarity").verdict is Verdict.PASS
    _say(procedure, "standing-draw", "begin")
    _say(procedure, "standing-draw", "done")
    _looks(procedure, seconds, 65, volts=12.5, amps=-0.2)
    outcome = _outcome(procedure, "standing-draw")
    assert outcome.figures[0].figure == pytest.approx(0.2)


def test_a_load_that_draws_past_the_shunt_is_found_without_a_step() -> None:
    procedure = _house()
    _say(procedure, "through-shunt@inverter", "begin")
    _looks(procedure, 0.0, 10, volts=12.3, amps=-0.2)
    _say(procedure, "through-shunt@inverter", "enter", "clamp = 48 A")
    outcome = _outcome(procedure, "through-shunt@inverter")
    assert outcome.verdict is Verdict.FAIL
    assert "goes past the shunt" in outcome.why


def test_a_thin_cable_fails_though_it_is_the_one_that_was_entered() -> None:
    cable = replace(INSTALLATION.cables[0], conductor="10 AWG")
    procedure = _house(cables=(cable, INSTALLATION.cables[1]))
    _say(procedure, "lead-drop@shore", "begin")
    shore = (SourceLook("shore", 13.6, 40.0),)
    _looks(procedure, 0.0, 6, volts=13.0, amps=39.0, sources=shore)
    for leg in ("positive", "negative"):
        _say(procedure, "lead-drop@shore", "enter", f"{leg} = 480 mV")
    outcome = _outcome(procedure, "lead-drop@shore")
    assert outcome.verdict is Verdict.FAIL
    assert "share of nominal volts" in outcome.why
    assert "beyond the cable" not in outcome.why


def test_batteries_apart_before_joining_fails() -> None:
    procedure = _house()
    _say(procedure, "batteries", "begin")
    _say(procedure, "batteries", "enter", "A = 12.71 V")
    _say(procedure, "batteries", "enter", "B = 12.43")
    _looks(procedure, 0.0, 1, volts=12.5)
    outcome = _outcome(procedure, "batteries")
    assert outcome.verdict is Verdict.FAIL
    assert "highest less lowest 0.28" in outcome.why


def test_a_missing_serial_is_not_passed_by_a_yes() -> None:
    procedure = _house(batteries=(replace(INSTALLATION.batteries[0], serial=""),))
    _say(procedure, "identity", "begin")
    _say(procedure, "identity", "enter", "labels = yes")
    _looks(procedure, 0.0, 1, volts=12.5)
    outcome = _outcome(procedure, "identity")
    assert outcome.verdict is Verdict.NOT_DONE
    assert outcome.why == "not entered: serial of A"


def test_a_fuse_below_the_charging_voltage_fails() -> None:
    weak = (replace(INSTALLATION.breaking[0], dc_volts=12.0),)
    procedure = _house(breaking=weak)
    _say(procedure, "fuses", "begin")
    _say(procedure, "fuses", "enter", "bank fuse = yes")
    _looks(procedure, 0.0, 1, volts=12.5)
    assert _outcome(procedure, "fuses").verdict is Verdict.FAIL


def test_equalize_set_where_it_must_never_be_fails() -> None:
    points = (*INSTALLATION.chargers[0].set_points, r.SetPoint("equalize", "V", 15.5, 15.5))
    chargers = (replace(INSTALLATION.chargers[0], set_points=points), INSTALLATION.chargers[1])
    procedure = _house(chargers=chargers)
    _looks(procedure, 0.0, 1, volts=12.5)
    outcome = _outcome(procedure, "set-points@shore")
    assert outcome.verdict is Verdict.FAIL
    assert "must never be given" in outcome.why


def test_full_output_is_not_judged_on_a_full_bank() -> None:
    procedure = _house()
    _say(procedure, "output@shore", "begin")
    _looks(procedure, 0.0, 200, volts=14.4, amps=3.0, sources=(SourceLook("shore", 14.45, 3.0),))
    outcome = _outcome(procedure, "output@shore")
    assert outcome.verdict is Verdict.NOT_DONE
    assert "too full" in outcome.why


def test_a_weak_charger_on_an_empty_bank_fails() -> None:
    procedure = _house()
    _say(procedure, "output@shore", "begin")
    _looks(procedure, 0.0, 200, volts=12.9, amps=22.0, sources=(SourceLook("shore", 13.0, 22.0),))
    assert _outcome(procedure, "output@shore").verdict is Verdict.FAIL


def test_a_charger_that_is_switched_on_after_the_check_began_passes() -> None:
    procedure = _house()
    _say(procedure, "output@shore", "begin")
    now = _looks(
        procedure, 0.0, 3, volts=12.4, amps=-1.0, sources=(SourceLook("shore", 12.4, 0.0),)
    )
    _looks(procedure, now, 60, volts=13.0, amps=39.0, sources=(SourceLook("shore", 13.1, 40.0),))
    assert _outcome(procedure, "output@shore").verdict is Verdict.PASS


def test_a_gap_does_not_count_as_held() -> None:
    """Half an hour of full output with an hour missing in the middle proves nothing hot."""
    procedure = _house()
    shore = (SourceLook("shore", 13.2, 40.0),)
    seconds = _looks(procedure, 0.0, 100, volts=13.0, amps=39.0, sources=shore)
    _looks(procedure, seconds + 3600.0, 100, volts=13.0, amps=39.0, sources=shore)
    assert _outcome(procedure, "output-hot@shore").verdict is Verdict.NOT_DONE
    assert procedure.record().coverage is not None
    assert procedure.record().coverage.longest_gap_seconds == 3605.0


def test_the_sun_alone_is_not_judged_while_another_gives() -> None:
    procedure = _lfp()
    _say(procedure, "solar@roof", "begin")
    _say(procedure, "solar@roof", "enter", "clamp = 12.0")
    both = (SourceLook("shore", 13.5, 20.0), SourceLook("roof", 13.5, 12.1))
    seconds = _looks(procedure, 0.0, 3, volts=13.4, amps=30.0, sources=both)
    assert _outcome(procedure, "solar@roof").verdict is Verdict.NOT_DONE
    alone = (SourceLook("shore", 13.5, 0.0), SourceLook("roof", 13.5, 12.1))
    seconds = _looks(procedure, seconds, 1, volts=13.4, amps=11.0, sources=alone)
    _say(procedure, "solar@roof", "begin")
    _say(procedure, "solar@roof", "enter", "clamp = 12.0")
    _looks(procedure, seconds, 20, volts=13.4, amps=11.0, sources=alone)
    outcome = _outcome(procedure, "solar@roof")
    assert outcome.verdict is Verdict.PASS
    assert [each.verdict for each in outcome.attempts] == [Verdict.NOT_DONE, Verdict.PASS]


def test_a_skipped_check_is_not_done_and_says_why() -> None:
    procedure = _house()
    _say(procedure, "scale", "skip", "no clamp here")
    outcome = _outcome(procedure, "scale")
    assert (outcome.verdict, outcome.why) == (Verdict.NOT_DONE, "no clamp here")
    assert procedure.next is not None
    assert procedure.next.key != "scale"


def test_beginning_another_leaves_the_first_unjudged() -> None:
    procedure = _house()
    _say(procedure, "voltmeter", "begin")
    _say(procedure, "scale", "begin")
    assert procedure.current is not None
    assert procedure.current.key == "scale"
    assert _outcome(procedure, "voltmeter").why == "not begun"


@pytest.mark.parametrize(
    ("ask", "text", "value"),
    [
        (Ask("a", "", "V", 2.0, 80.0), "12.62 V", 12.62),
        (Ask("a", "", "V", 2.0, 80.0), "12,62", 12.62),
        (Ask("a", "", "mV", 0.0, 500.0), "0.041 V", 41.0),
        (Ask("a", "", "°C", -40.0, 80.0), "59F", 15.0),
        (Ask("a", ""), "Y", "yes"),
        (Ask("a", "", "°C", -40.0, 80.0, or_no=True), "no", "no"),
    ],
)
def test_answers_are_read_with_their_units(ask: Ask, text: str, value: float | str) -> None:
    assert value_of_entry(ask, text) == pytest.approx(value)


@pytest.mark.parametrize("text", ["", "twelve", "126", "nan", "12.6 A", "1e9"])
def test_other_answers_are_refused_in_one_line(text: str) -> None:
    with pytest.raises(EntryError) as refused:
        value_of_entry(Ask("meter", "", "V", 2.0, 80.0), text)
    assert "\n" not in str(refused.value)


def test_the_template_is_an_installation() -> None:
    entered = read_installation(template(SITE, SITE.banks[0]), "t")
    assert [each.id for each in entered.chargers] == ["shore", "engine"]
    assert [each.string for each in entered.batteries] == [1, 2]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("naem = 'x'", 'x.toml: expected a known key, found "naem"; did you mean "name"'),
        ("[[batteries]]\nname='a'\nserail='1'", "x.toml: batteries[0]: expected a known key"),
        ("ambient_celsius = 'warm'", "x.toml.ambient_celsius: expected float, found 'warm'"),
        ("[[chargers]]\nkind='x'", "x.toml.chargers[0]: expected id, found none"),
        ("a = ", "x.toml: expected TOML"),
    ],
)
def test_a_wrong_installation_file_is_refused_in_one_line(text: str, words: str) -> None:
    with pytest.raises(Refusal) as refused:
        read_installation(text, "x.toml")
    assert words in str(refused.value)
    assert "\n" not in str(refused.value)


def _charge(procedure: Procedure, held: float, after: float, after_amps: float) -> None:
    """Bulk, an absorption held at `held`, then `after` for four hours."""
    seconds = 0.0
    for volts, amps, count in (
        (held - 0.8, 40.0, 100),
        (held, 20.0, 240),
        (after, after_amps, 2880),
    ):
        shore = (SourceLook("shore", volts, amps),)
        seconds = _looks(
            procedure, seconds, count, volts=volts, amps=amps, celsius=25.0, sources=shore
        )


def test_lfp_whose_charge_ends_with_nothing_held_is_right() -> None:
    procedure = _lfp()
    _charge(procedure, 14.2, 13.4, 0.0)
    assert _outcome(procedure, "absorption@shore").verdict is Verdict.PASS
    outcome = _outcome(procedure, "float@shore")
    assert outcome.verdict is Verdict.PASS
    assert "nothing is held, rightly" in outcome.why


def test_lead_whose_charger_switches_off_is_not() -> None:
    procedure = _house()
    _charge(procedure, 14.4, 12.9, 0.0)
    assert _outcome(procedure, "absorption@shore").verdict is Verdict.PASS
    outcome = _outcome(procedure, "float@shore")
    assert outcome.verdict is Verdict.FAIL
    assert "switched off after absorption" in outcome.why


def test_a_float_at_the_wrong_voltage_fails_by_itself() -> None:
    procedure = _house()
    _charge(procedure, 14.4, 13.2, 1.0)
    assert [each.key for each in procedure.record().defects if each.id == "float"] == [
        "float@shore"
    ]


def test_a_bank_that_was_equalized_though_it_must_not_be_fails() -> None:
    procedure = _house()
    _looks(procedure, 0.0, 3, volts=15.9, amps=8.0)
    assert _outcome(procedure, "never-equalized@shore").verdict is Verdict.FAIL


def test_what_was_left_out_may_be_entered_later() -> None:
    """The list is filled in, the program started again: judged anew, both tries kept."""
    procedure = _house(batteries=())
    _looks(procedure, 0.0, 2, volts=12.5)
    assert _outcome(procedure, "layout").verdict is Verdict.NOT_DONE
    assert "layout" not in [item.key for item in procedure.waiting]
    again = Procedure(Setting(SITE, SITE.banks[0], INSTALLATION), procedure.record())
    _looks(again, 0.0, 2, volts=12.5)
    outcome = _outcome(again, "layout")
    assert [each.verdict for each in outcome.attempts] == [Verdict.NOT_DONE, Verdict.PASS]
    third = Procedure(Setting(SITE, SITE.banks[0], INSTALLATION), again.record())
    _looks(third, 0.0, 2, volts=12.5)
    assert len(_outcome(third, "layout").attempts) == 2
