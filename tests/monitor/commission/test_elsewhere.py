"""Other places than the coach: two legs, a second bank, a generator, sun or alternator alone, 24 V,
48 V of LFP. The first hours of some here; all of them to the end in `make commission-runs`."""

from __future__ import annotations

from dataclasses import replace

import pytest

from monitor.bank import Bank, SetPoints, Site, Source, SourceKind
from monitor.chemistries import CHEMISTRIES
from monitor.commission.look import Look, SourceLook
from monitor.commission.procedure import Procedure
from monitor.commission.record import Installation, Verdict
from monitor.commission.setting import Setting
from tests.monitor.commission.bench import Place
from tests.monitor.commission.elsewhere import PLACES
from tests.monitor.commission.runs import commission

_EVERY = [(name, defect) for name, place in PLACES.items() for defect in (None, *place.defects)]


def _first(place: Place, *parts: str) -> Place:
    """Only so many parts of the work."""
    return place._replace(parts=parts)


@pytest.mark.parametrize(
    ("place", "defect", "parts"),
    [
        ("split", "loose neutral", ("papers", "mains")),
        ("split", None, ("papers", "mains")),
        ("generator", "generator that runs slow", ("papers", "generator")),
        ("generator", "change-over that does not come back", ("papers", "generator")),
        ("generator", None, ("papers", "generator")),
        ("second", "combiner that never opens", ("papers", "second_bank")),
        ("48 V LFP", "protection that does not open", ("papers", "guard")),
        ("24 V", "charger hot while it gives nothing", ("papers", "temperatures", "dark")),
    ],
)
def test_a_defect_is_named_and_it_alone(
    place: str, defect: str | None, parts: tuple[str, ...]
) -> None:
    at = PLACES[place]
    made = commission(2, defect, place=_first(at, *parts))
    assert made.named == ([] if defect is None else [at.defects[defect][1]])
    done = {each.id for each in made.record.outcomes if each.verdict is Verdict.PASS}
    assert "identity" in done


@pytest.mark.slow
@pytest.mark.parametrize(("place", "defect"), _EVERY)
def test_every_place_passes_sound_and_names_each_defect(place: str, defect: str | None) -> None:
    at = PLACES[place]
    made = commission(3, defect, place=at)
    assert made.named == ([] if defect is None else [at.defects[defect][1]])
    if defect is None:
        assert made.left == []


# -- what only looks like the regulator's doing -------------------------------------------------

_POINTS = SetPoints(absorption=14.4, float_=13.6, absorption_hours=2.0)
_SUN = Site(
    banks=(Bank("house", CHEMISTRIES["agm"], 12, 200.0, set_points=_POINTS),),
    sources=(Source("sun", "house", SourceKind.SOLAR, 30.0),),
)


class Day:
    """A procedure on the sun alone, shown volts and amps for so many minutes."""

    def __init__(self) -> None:
        self.procedure = Procedure(Setting(_SUN, _SUN.banks[0], Installation(bank="house")))
        self.seconds = 0.0

    def shown(self, minutes: float, volts: float, amps: float, last_amps: float) -> None:
        steps = round(minutes * 12.0)
        for step in range(steps):
            self.seconds += 5.0
            now = amps + (last_amps - amps) * step / steps
            source = SourceLook("sun", volts, now, None)
            self.procedure.look(Look(self.seconds, 0.0, volts, now - 1.0, 25.0, sources=(source,)))

    def verdict(self, key: str) -> Verdict:
        return next(each.verdict for each in self.procedure.outcomes() if each.key == key)


def _absorbed() -> Day:
    day = Day()
    day.shown(20.0, 13.4, 20.0, 21.0)
    day.shown(40.0, 14.4, 16.0, 6.0)
    return day


def test_volts_that_stand_still_under_a_steady_sun_are_no_absorption() -> None:
    day = Day()
    day.shown(20.0, 13.4, 20.0, 21.0)
    day.shown(60.0, 13.7, 12.0, 11.5)
    assert day.verdict("absorption@sun") is Verdict.NOT_DONE


def test_a_regulator_that_holds_its_volts_while_its_current_falls_is_judged() -> None:
    assert _absorbed().verdict("absorption@sun") is Verdict.PASS


def test_a_cloudy_afternoon_after_absorption_is_no_float_and_dusk_no_missing_one() -> None:
    day = _absorbed()
    day.shown(60.0, 13.1, 3.0, 2.9)
    day.shown(10.0 * 60.0, 12.8, 0.0, 0.0)
    assert day.verdict("float@sun") is Verdict.NOT_DONE
    assert day.verdict("taper@sun") is Verdict.NOT_DONE


def test_the_float_that_follows_it_is_judged_and_the_taper_with_it() -> None:
    day = _absorbed()
    day.shown(10.0, 14.0, 0.0, 0.0)
    day.shown(30.0, 13.6, 2.0, 1.0)
    assert day.verdict("float@sun") is Verdict.PASS
    assert day.verdict("taper@sun") is Verdict.PASS


def test_the_next_day_begins_anew() -> None:
    day = _absorbed()
    day.shown(11.0 * 60.0, 12.8, 0.0, 0.0)
    day.shown(60.0, 13.2, 3.0, 3.5)
    assert day.verdict("float@sun") is Verdict.NOT_DONE
    day.shown(40.0, 14.4, 10.0, 3.0)
    day.shown(10.0, 14.0, 0.0, 0.0)
    day.shown(30.0, 13.6, 2.0, 1.0)
    assert day.verdict("float@sun") is Verdict.PASS


def test_an_alternators_label_is_for_a_cold_one() -> None:
    source = replace(_SUN.sources[0], id="engine", kind=SourceKind.ALTERNATOR)
    site = replace(_SUN, sources=(source,))
    procedure = Procedure(Setting(site, site.banks[0], Installation(bank="house")))
    item = procedure.item("output@engine")
    assert item is not None
    assert "cold" in item.needless


def test_a_generators_frequency_is_judged_by_its_own_supply() -> None:
    hertz = {}
    for volts, entered in ((120.0, None), (230.0, None), (230.0, 60.0)):
        sources = (Source("shore", "house", SourceKind.AC_CHARGER, 40.0, ac_volts=volts),)
        site = replace(_SUN, sources=sources)
        entry = Installation(bank="house", generator="G", ac_hertz=entered)
        item = Procedure(Setting(site, site.banks[0], entry)).item("generator")
        assert item is not None
        limit = next(each for each in item.limits if each.name == "hertz")
        hertz[volts, entered] = limit.low, limit.high
    assert hertz[120.0, None] == (57.0, 63.0)
    assert hertz[230.0, None] == (47.5, 52.5)
    assert hertz[230.0, 60.0] == (57.0, 63.0)
