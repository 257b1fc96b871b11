"""Who is believed, for how long, and what is said of what is missing. No bus, no clock."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.conversion import Measurand
from adapters.reading import Quantity
from adapters.rvc.frames import message, split_id
from adapters.rvc.heard import Choices, Heard
from adapters.rvc.table import ATS, CHARGER, DC_SOURCE, INVERTER, SOLAR
from tests.adapters.rvc.traffic import (
    COACH,
    METER,
    STRANGE,
    ac,
    can_id,
    charge,
    dc_1,
    dc_2,
    dc_5,
)  # fmt: skip

Q = Quantity
Figures = dict[Quantity, float | str]


def listener(
    *things: str, positive: str = "charging", measured: bool = False, patience: float = 1.0
) -> Heard:
    return Heard(Choices(dict.fromkeys(things, 1), positive, measured, patience))


def hear(heard: Heard, can: int, data: bytes, seconds: float) -> None:
    said = message(can, data)
    assert said is not None
    heard.take(said, seconds)


def figures(heard: Heard, now: float) -> Figures:
    return {m.quantity: figure for m, figure in heard.figures(now).figures.items()}


def test_the_parts_of_an_id() -> None:
    """The example of the standard's frame: priority 6, DGN 1FFFD, source 46."""
    assert split_id(0x19FFFD46) == (6, 0x1FFFD, 0x46)


def test_a_coach_is_told_by_roles() -> None:
    bank = listener(DC_SOURCE)
    source = listener(CHARGER, ATS)
    sun = listener(SOLAR, measured=True)
    load = listener(INVERTER)
    for heard in (bank, source, sun, load):
        for can, data in COACH:
            hear(heard, can, data, 0.0)
    assert figures(bank, 0.1) == {
        Q.BANK_VOLTS: 13.423, Q.BANK_AMPS: 25.3, Q.BANK_CELSIUS: 21.5, Q.BANK_SOC: 0.87,
    }  # fmt: skip
    assert figures(source, 0.1) == {
        Q.REPORTED_STAGE: "bulk", Q.SOURCE_VOLTS: 13.5, Q.SOURCE_AMPS: 38.0,
        Q.SOURCE_CELSIUS: 44.0, Q.AC_VOLTS: 121.0, Q.AC_OTHER_LEG_VOLTS: 119.5,
        Q.AC_AMPS: 6.5, Q.AC_HERTZ: 60.0,
    }  # fmt: skip
    assert figures(sun, 0.1) == {
        Q.REPORTED_STAGE: "float",
        Q.SOURCE_VOLTS: 14.4,
        Q.SOURCE_AMPS: 5.0,
    }
    assert figures(load, 0.1) == {Q.LOAD_AMPS: 12.5}


def test_the_transfer_switch_speaks_where_the_charger_does_not() -> None:
    heard = listener(CHARGER, ATS)
    hear(heard, can_id(0x1FFAD, 1), ac(120.5, 8.0, 59.5), 0.0)
    assert figures(heard, 1.0) == {Q.AC_VOLTS: 120.5, Q.AC_AMPS: 8.0, Q.AC_HERTZ: 59.5}


@pytest.mark.parametrize(
    ("code", "word"),
    [(0, "unknown"), (1, "off"), (2, "bulk"), (3, "absorption"), (4, "unknown"), (5, "equalize"),
     (6, "float"), (7, "fixed"), (8, "unknown"), (0xFA, "unknown")],
)  # fmt: skip
def test_stages_in_words_of_the_trade(code: int, word: str) -> None:
    heard = listener(CHARGER)
    hear(heard, can_id(0x1FFC7, 1), charge(14.4, 10.0, code), 0.0)
    assert figures(heard, 0.0) == {Q.REPORTED_STAGE: word}


def test_what_a_charger_aims_for_is_not_taken_for_measured() -> None:
    for measured, expected in ((False, set()), (True, {Q.SOURCE_VOLTS, Q.SOURCE_AMPS})):
        heard = listener(CHARGER, measured=measured)
        hear(heard, can_id(0x1FFC7, 1), charge(14.4, 10.0, 3), 0.0)
        assert set(figures(heard, 0.0)) - {Q.REPORTED_STAGE} == expected


def test_the_sign_is_the_configs() -> None:
    for positive, amps in (("charging", 25.3), ("discharging", -25.3), ("", None)):
        heard = listener(DC_SOURCE, positive=positive)
        hear(heard, can_id(0x1FFFD, 1), dc_1(13.4, 25.3), 0.0)
        assert figures(heard, 0.0).get(Q.BANK_AMPS) == amps


def test_the_higher_priority_wins_and_ages_out() -> None:
    heard = listener(DC_SOURCE)
    hear(heard, can_id(0x1FFFD, 0x10), dc_1(12.0, 1.0, rank=40), 0.0)
    hear(heard, can_id(0x1FFFD, 0x90), dc_1(13.0, 2.0, rank=120), 0.0)
    assert figures(heard, 0.0) == {Q.BANK_VOLTS: 13.0, Q.BANK_AMPS: 2.0}
    hear(heard, can_id(0x1FFFD, 0x10), dc_1(12.1, 1.1, rank=40), 4.9)
    assert figures(heard, 5.0) == {}  # the better one is only late: no jump to another meter
    assert figures(heard, 5.1) == {Q.BANK_VOLTS: 12.1, Q.BANK_AMPS: 1.1}
    hear(heard, can_id(0x1FFFD, 0x90), dc_1(13.1, 2.1, rank=120), 6.0)
    assert figures(heard, 6.0) == {Q.BANK_VOLTS: 13.1, Q.BANK_AMPS: 2.1}


def test_of_equal_priorities_the_lower_address_in_any_order() -> None:
    for addresses in ((0x10, 0x11), (0x11, 0x10)):
        heard = listener(DC_SOURCE)
        for address in addresses:
            hear(heard, can_id(0x1FFFD, address), dc_1(address / 1.0, 0.0), 0.0)
        assert figures(heard, 0.0)[Q.BANK_VOLTS] == 16.0


def test_a_better_node_without_a_figure_leaves_it_to_the_next() -> None:
    heard = listener(DC_SOURCE)
    hear(heard, can_id(0x1FFFD, 1), b"\x01\x78\xff\xff" + dc_1(0.0, 5.0)[4:], 0.0)
    hear(heard, can_id(0x1FFFD, 2), dc_1(12.8, 9.0, rank=20), 0.0)
    assert figures(heard, 0.0) == {Q.BANK_VOLTS: 12.8, Q.BANK_AMPS: 5.0}


def test_fine_volts_are_not_mixed_with_coarse_until_they_are_old() -> None:
    heard = listener(DC_SOURCE)
    hear(heard, can_id(0x1FEC8, METER), dc_5(13.423), 0.0)
    assert figures(heard, 0.0) == {Q.BANK_VOLTS: 13.423}
    hear(heard, can_id(0x1FFFD, METER), dc_1(13.4, 1.0), 1.0)
    assert figures(heard, 1.0) == {Q.BANK_AMPS: 1.0}
    hear(heard, can_id(0x1FFFD, METER), dc_1(13.4, 1.0), 6.0)
    assert figures(heard, 6.0) == {Q.BANK_VOLTS: 13.4, Q.BANK_AMPS: 1.0}


def test_fast_figures_once_slow_ones_until_old_and_then_the_reason() -> None:
    heard = listener(DC_SOURCE)
    hear(heard, can_id(0x1FFFD, METER), dc_1(13.4, 1.0), 0.0)
    hear(heard, can_id(0x1FFFC, METER), dc_2(20.0, 0.5), 0.0)
    assert len(figures(heard, 0.0)) == 4
    assert set(figures(heard, 15.0)) == {Q.BANK_CELSIUS, Q.BANK_SOC}
    assert figures(heard, 15.1) == {}
    assert "bank_volts is missing: no DC_SOURCE_STATUS_1 for more than 5 s" in heard.missing
    assert "bank_soc is missing: no DC_SOURCE_STATUS_2 for more than 15 s" in heard.missing
    hear(heard, can_id(0x1FFFC, METER), dc_2(20.0, 0.5), 16.0)
    assert len(figures(heard, 16.0)) == 2
    assert "bank_soc" not in heard.missing


def test_an_error_code_is_the_reason() -> None:
    heard = listener(DC_SOURCE)
    hear(heard, can_id(0x1FFFC, METER), dc_2(20.0, 0.5), 0.0)
    figures(heard, 0.0)
    hear(heard, can_id(0x1FFFC, METER), b"\x01\x78\xfe\xff\xff\xff\xff\xff", 1.0)
    assert figures(heard, 1.0) == {}
    assert "bank_celsius is missing: DC_SOURCE_STATUS_2 says an error of the" in heard.missing
    assert "bank_soc is missing: DC_SOURCE_STATUS_2 says no data" in heard.missing


def test_patience_for_a_slow_bus() -> None:
    heard = listener(DC_SOURCE, patience=4.0)
    hear(heard, can_id(0x1FFFC, METER), dc_2(20.0, 0.5), 0.0)
    assert len(figures(heard, 60.0)) == 2
    assert figures(heard, 60.1) == {}


def test_what_cannot_be_true_is_left_out() -> None:
    heard = listener(DC_SOURCE)
    hear(heard, can_id(0x1FFFD, METER), dc_1(1000.0, 1.0), 0.0)
    decoded = heard.figures(0.0)
    assert decoded.left_out == {Measurand(Q.BANK_VOLTS): "bank_volts: 1000 V is outside 2..80 V"}
    assert decoded.figures == {Measurand(Q.BANK_AMPS): 1.0}


def test_strange_frames_say_nothing() -> None:
    assert [message(can, data) for can, data in STRANGE] == [None] * len(STRANGE)


def test_a_short_frame_keeps_what_it_holds() -> None:
    heard = listener(DC_SOURCE)
    hear(heard, can_id(0x1FFFD, METER), dc_1(13.4, 1.0)[:7], 0.0)
    assert figures(heard, 0.0) == {Q.BANK_VOLTS: 13.4}


@given(st.lists(st.tuples(st.integers(0, (1 << 32) - 1), st.binary(max_size=64)), max_size=30))
def test_garbage_never_raises(frames: list[tuple[int, bytes]]) -> None:
    heard = listener(*(DC_SOURCE, CHARGER, INVERTER, ATS))
    for seconds, (can, data) in enumerate(frames):
        said = message(can, data)
        if said is not None:
            heard.take(said, float(seconds))
        heard.figures(float(seconds))


def test_a_mad_bus_takes_little_memory() -> None:
    heard = listener(DC_SOURCE)
    for source in range(256):
        for instance in range(1, 20):
            hear(heard, can_id(0x1FFFD, source), dc_1(13.0, 0.0, instance=instance), 0.0)
    assert len(list(heard.kept())) == 512
