"""The SunSpec reader against devices that answer: what is read, what it means, whose it is."""

from __future__ import annotations

import pytest

from adapters.adapter import LinkError, SettingsError, unheard
from adapters.installed import load
from adapters.reading import Channel, Quantity
from adapters.sunspec.device import sunspec
from tests.adapters.sunspec.devices import (
    on_a_line,
    on_tcp,
    pymodbus_server,
    serving,
    settings,
    told,
)
from tests.adapters.sunspec.images import BATTERY, COMMON, device_image, model_words

Q = Quantity


def bank(quantity: Quantity) -> Channel:
    return Channel("house", quantity)


def roof(quantity: Quantity) -> Channel:
    return Channel("roof", quantity)


BATTERY_FIGURES = {
    bank(Q.BANK_VOLTS): 13.42,
    bank(Q.BANK_SOC): 0.873,
    bank(Q.HIGHEST_CELL_VOLTS): 3.361,
    bank(Q.LOWEST_CELL_VOLTS): 3.349,
}

COMMON_WORDS = model_words(1, COMMON)
IMAGE = device_image(COMMON_WORDS, model_words(802, BATTERY))

ways = pytest.mark.parametrize("on", [on_tcp, on_a_line])


@ways
async def test_a_battery_is_found_and_read_in_one_request(on) -> None:  # type: ignore[no-untyped-def]
    async with on(serving(IMAGE), positive="discharging") as adapter:
        asked = len(adapter.device.requests)
        assert told(await adapter.poll()) == {**BATTERY_FIGURES, bank(Q.BANK_AMPS): 25.3}
        (request,) = adapter.device.requests[asked:]
        assert (request.function, request.address, request.device) == (3, 40_070, 1)
        assert request.count == 62  # up to its last scale factor that is needed, in one piece
        assert adapter.remark == ""


@pytest.mark.parametrize("base", [40_000, 0, 50_000])
async def test_the_real_server_of_another_library(base: int) -> None:
    image = device_image(COMMON_WORDS, model_words(802, BATTERY), base=base)
    async with pymodbus_server(image) as port:
        where = settings(host="127.0.0.1", port=port, positive="charging", timeout_seconds=2.0)
        adapter = sunspec(where, unheard)
        await adapter.open()
        try:
            expected = {**BATTERY_FIGURES, bank(Q.BANK_AMPS): -25.3}
            assert told(await adapter.poll()) == expected
            assert told(await adapter.poll()) == expected
            assert adapter.about[0] == (
                f"SunSpec map at register {base}: Pinewater, Bank 4, 1.2, 0007"
            )
        finally:
            await adapter.close()


async def test_the_current_of_unknown_sign_is_told_and_not_used() -> None:
    async with on_tcp(serving(IMAGE)) as adapter:
        assert told(await adapter.poll()) == BATTERY_FIGURES
        assert "bank_amps not used" in adapter.remark
        assert 'add positive = "charging"' in adapter.remark
        assert "802 A is -25.3 A now, of unknown sign: not used" in adapter.about


async def test_a_scale_factor_is_read_with_its_numbers() -> None:
    """A device may change it at any time: the next poll has both, of the same moment."""
    image = dict(IMAGE)
    async with on_tcp(serving(image)) as adapter:
        assert told(await adapter.poll())[bank(Q.BANK_VOLTS)] == 13.42
        image[40_070 + 34], image[40_070 + 59] = 134, 0xFFFF  # 134 * 10**-1
        assert told(await adapter.poll())[bank(Q.BANK_VOLTS)] == 13.4


PORTS = [
    {"PrtTyp": 1, "DCV": 1342, "DCA": -253, "Tmp": 21},
    {"PrtTyp": 0, "DCV": 3710, "DCA": 81, "Tmp": 35, "DCSta": 1},
    {"PrtTyp": 6, "DCV": 1290, "DCA": 5},
]
PORT_SCALES = {"NPrt": 3, "DCV_SF": -2, "DCA_SF": -1, "Tmp_SF": 0}
PORTED = device_image(COMMON_WORDS, model_words(714, PORT_SCALES, PORTS))


async def test_ports_are_used_by_their_type() -> None:
    async with on_tcp(serving(PORTED), positive="discharging") as adapter:
        assert told(await adapter.poll()) == {
            bank(Q.BANK_VOLTS): 13.42,
            bank(Q.BANK_AMPS): 25.3,
            roof(Q.INPUT_VOLTS): 37.1,
            roof(Q.INPUT_AMPS): 8.1,
        }
        (line,) = [line for line in adapter.about if line.startswith("model 714")]
        assert line.endswith("714/1 used as bank, 714/2 used as input, 714/3 not used")


async def test_the_config_may_say_what_a_port_is() -> None:
    roles = {"714/2": "output", "714/3": "bank", "714/1": "unused"}
    async with on_tcp(serving(PORTED), roles=roles) as adapter:
        assert told(await adapter.poll()) == {
            bank(Q.BANK_VOLTS): 12.9,
            roof(Q.SOURCE_VOLTS): 37.1,
            roof(Q.SOURCE_AMPS): 8.1,
            roof(Q.SOURCE_CELSIUS): 35.0,
            roof(Q.REPORTED_STAGE): "unknown",
        }


async def test_a_charger_on_a_dc_dc_module() -> None:
    module = {
        "OutV": 1412, "OutA": 183, "InV": 3550, "InA": 77, "Tmp": 41, "Stat": 7,
        "A_SF": -1, "V_SF": -2,
    }  # fmt: skip
    async with on_tcp(serving(device_image(COMMON_WORDS, model_words(502, module)))) as adapter:
        assert told(await adapter.poll()) == {
            roof(Q.SOURCE_VOLTS): 14.12,
            roof(Q.SOURCE_AMPS): 18.3,
            roof(Q.INPUT_VOLTS): 35.5,
            roof(Q.INPUT_AMPS): 7.7,
            roof(Q.SOURCE_CELSIUS): 41.0,
            roof(Q.REPORTED_STAGE): "fault",
        }


AC_SIDE = {
    roof(Q.AC_VOLTS): 119.5,
    roof(Q.AC_AMPS): 6.4,
    roof(Q.AC_WATTS): 740.0,  # drawn: the standard counts what is generated
    roof(Q.AC_HERTZ): 60.02,
    roof(Q.AC_POWER_FACTOR): 0.97,
    roof(Q.SOURCE_CELSIUS): 38.0,
    roof(Q.REPORTED_STAGE): "off",
}


@pytest.mark.parametrize("number", [101, 102, 103])
async def test_an_inverter_with_scale_factors(number: int) -> None:
    given = {
        "PhVphA": 1195, "V_SF": -1, "A": 64, "A_SF": -1, "W": -74, "W_SF": 1, "Hz": 6002,
        "Hz_SF": -2, "PF": -970, "PF_SF": -1, "TmpCab": 38, "Tmp_SF": 0, "St": 8,
    }  # fmt: skip
    image, roles = device_image(model_words(number, given)), {str(number): "ac"}
    async with on_tcp(serving(image), roles=roles) as adapter:
        assert told(await adapter.poll()) == AC_SIDE


@pytest.mark.parametrize("number", [111, 112, 113])
async def test_an_inverter_in_floats(number: int) -> None:
    given = {
        "PhVphA": 119.5, "A": 6.4, "W": -740.0, "Hz": 60.02, "PF": 97.0, "TmpCab": 38.0, "St": 2,
    }  # fmt: skip
    image, roles = device_image(model_words(number, given)), {str(number): "ac"}
    async with on_tcp(serving(image), roles=roles) as adapter:
        assert told(await adapter.poll()) == {
            channel: pytest.approx(figure, rel=1e-6) if isinstance(figure, float) else figure
            for channel, figure in AC_SIDE.items()
        }


async def test_the_newer_ac_model_counts_its_states_from_0() -> None:
    given = {
        "LNV": 1195, "V_SF": -1, "A": -64, "A_SF": -1, "W": -74, "W_SF": 1, "Hz": 60_020,
        "Hz_SF": -3, "PF": -97, "PF_SF": -2, "TmpCab": 380, "Tmp_SF": -1, "InvSt": 1,
    }  # fmt: skip
    image = device_image(model_words(701, given))
    async with on_tcp(serving(image), roles={"701": "ac"}) as adapter:
        asked = len(adapter.device.requests)
        assert told(await adapter.poll()) == AC_SIDE
        assert len(adapter.device.requests) == asked + 1  # 155 registers, of which 123 are needed


@pytest.mark.parametrize(
    ("number", "point", "stages"),
    [
        (701, "InvSt", {0: "off", 1: "off", 2: "unknown", 3: "unknown", 6: "fault", 7: "off"}),
        (103, "St", {1: "off", 2: "off", 3: "unknown", 4: "unknown", 7: "fault", 8: "off"}),
        (502, "Stat", {1: "off", 4: "unknown", 5: "unknown", 7: "fault", 9: "unknown"}),
    ],
)
async def test_states_are_those_of_their_own_model(
    number: int, point: str, stages: dict[int, str]
) -> None:
    for code, stage in stages.items():
        image = device_image(model_words(number, {point: code}))
        roles = {} if number == 502 else {str(number): "ac"}
        async with on_tcp(serving(image), roles=roles) as adapter:
            assert told(await adapter.poll()) == {roof(Q.REPORTED_STAGE): stage}


async def test_a_power_factor_told_as_a_fraction_is_not_one_percent() -> None:
    given = {"PhVphA": 120, "V_SF": 0, "PF": 98, "PF_SF": -2}
    image = device_image(model_words(101, given))
    async with on_tcp(serving(image), roles={"101": "ac"}) as adapter:
        assert told(await adapter.poll()) == {roof(Q.AC_VOLTS): 120.0}


async def test_what_no_model_file_says_is_left_to_the_config() -> None:
    """An inverter may feed a charger or be fed by the bank; its DC side may be bank or panels."""
    given = {"PhVphA": 120, "V_SF": 0, "W": 300, "W_SF": 0, "DCV": 1270, "DCA": 260, "DCV_SF": -2,
             "DCA_SF": -1}  # fmt: skip
    image = device_image(model_words(101, given), model_words(714, PORT_SCALES, PORTS[2:]))
    async with on_tcp(serving(image)) as adapter:
        assert told(await adapter.poll()) == {}
        assert adapter.about[-1] == (
            "not used until the config says what it is: 101 (ac), 101/dc (bank, output, input), "
            '714/1 (bank, output, input); as in roles = { "101" = "ac" }'
        )
    roles = {"101": "unused", "101/dc": "bank", "714/1": "output"}
    async with on_tcp(serving(image), roles=roles) as adapter:
        # The inverter's current has no sign: it says nothing of the bank's.
        assert told(await adapter.poll()) == {
            bank(Q.BANK_VOLTS): 12.7,
            roof(Q.SOURCE_VOLTS): 12.9,
            roof(Q.SOURCE_AMPS): 0.5,
        }
        assert not any("until the config says" in line for line in adapter.about)


async def test_a_single_mppt_module_and_a_combiner() -> None:
    module = {"DCA": 92, "DCV": 381, "Tmp": 33, "DCSt": 4}
    scales = {"DCA_SF": -1, "DCV_SF": -1, "N": 1}
    async with on_tcp(serving(device_image(model_words(160, scales, [module])))) as adapter:
        panels = {
            roof(Q.INPUT_VOLTS): 38.1,
            roof(Q.INPUT_AMPS): 9.2,
            roof(Q.SOURCE_CELSIUS): 33.0,
            roof(Q.REPORTED_STAGE): "unknown",
        }
        assert told(await adapter.poll()) == panels
    combiner = {"DCA": 92, "DCV": 381, "DCA_SF": -1, "DCV_SF": -1}
    async with on_tcp(serving(device_image(model_words(404, combiner, [{}, {}])))) as adapter:
        assert told(await adapter.poll()) == {
            roof(Q.INPUT_VOLTS): 38.1,
            roof(Q.INPUT_AMPS): 9.2,
        }


async def test_modules_of_equal_rank_are_not_chosen_among() -> None:
    modules = [{"DCA": 92, "DCV": 381}, {"DCA": 50, "DCV": 372}]
    image = device_image(model_words(160, {"DCA_SF": -1, "DCV_SF": -1, "N": 2}, modules))
    async with on_tcp(serving(image)) as adapter:
        assert told(await adapter.poll()) == {}
        (note,) = [line for line in adapter.about if "not used: told by" in line]
        assert note.startswith("input_volts, input_amps, source_celsius, reported_stage not used")
        assert '"160/2" = "unused"' in note
    async with on_tcp(serving(image), roles={"160/2": "unused"}) as adapter:
        assert told(await adapter.poll()) == {roof(Q.INPUT_VOLTS): 38.1, roof(Q.INPUT_AMPS): 9.2}


async def test_two_batteries_must_be_told_apart() -> None:
    other = {**BATTERY, "V": 1290}
    image = device_image(model_words(802, BATTERY), model_words(802, other))
    async with on_tcp(serving(image), positive="charging") as adapter:
        values = told(await adapter.poll())
        assert bank(Q.BANK_VOLTS) not in values
        assert bank(Q.BANK_AMPS) not in values
        assert values[bank(Q.HIGHEST_CELL_VOLTS)] == 3.361
        assert "bank_volts, bank_amps, bank_soc not used: told by 802, 802.2" in adapter.remark
    chosen = {"802": "unused"}
    async with on_tcp(serving(image), positive="charging", roles=chosen) as adapter:
        assert told(await adapter.poll())[bank(Q.BANK_VOLTS)] == 12.9
        assert adapter.remark == ""


async def test_strings_and_cells_of_a_lithium_bank() -> None:
    """The extremes are those of all strings; cells are counted through the modules."""
    string = {
        "CellV_SF": -3, "ModTmp_SF": -1, "A_SF": -1, "V_SF": -2, "SoC_SF": 0, "NMod": 0, "V": 1340,
        "CellVMax": 3371, "CellVMin": 3340, "ModTmpMax": 243, "ModTmpMin": 229, "ModTmpAvg": 236,
    }  # fmt: skip
    colder = {**string, "CellVMax": 3380, "CellVMin": 3352, "ModTmpMax": 190, "ModTmpMin": 185}
    cells = [{"CellV": 3340 + 2 * number, "CellTmp": 21} for number in range(4)]
    module = {"CellV_SF": -3, "Tmp_SF": 0}
    image = device_image(
        model_words(804, string), model_words(804, colder), model_words(805, module, cells[:2]),
        model_words(805, module, cells[2:]),
    )  # fmt: skip
    async with on_tcp(serving(image)) as adapter:
        values = told(await adapter.poll())
    assert values[bank(Q.HIGHEST_CELL_VOLTS)] == 3.38
    assert values[bank(Q.LOWEST_CELL_VOLTS)] == 3.34
    assert values[bank(Q.HIGHEST_CELL_CELSIUS)] == 24.3
    assert values[bank(Q.LOWEST_CELL_CELSIUS)] == 18.5
    told_cells = [values[Channel(f"house#{n}", Q.CELL_VOLTS)] for n in range(1, 5)]
    assert told_cells == [3.34, 3.342, 3.344, 3.346]
    assert values[Channel("house#4", Q.CELL_CELSIUS)] == 21.0


async def test_the_preferred_model_first_the_next_where_it_has_nothing() -> None:
    storage = model_words(713, {"SoC": 500, "Pct_SF": -1})
    basic = model_words(124, {"InBatV": 1288, "InBatV_SF": -2, "ChaState": 51, "ChaState_SF": 0})
    full = device_image(model_words(802, BATTERY), storage, basic)
    async with on_tcp(serving(full)) as adapter:
        values = told(await adapter.poll())
        assert (values[bank(Q.BANK_VOLTS)], values[bank(Q.BANK_SOC)]) == (13.42, 0.873)
    async with on_tcp(serving(device_image(storage, basic))) as adapter:
        values = told(await adapter.poll())
        assert values == {bank(Q.BANK_VOLTS): 12.88, bank(Q.BANK_SOC): 0.5}


async def test_unknown_models_are_listed_and_passed_over() -> None:
    own = [64_123, 3, 1, 2, 3]
    later = [899, 0]
    image = device_image(COMMON_WORDS, own, later, model_words(802, BATTERY))
    async with on_tcp(serving(image)) as adapter:
        assert told(await adapter.poll()) == BATTERY_FIGURES
        assert adapter.about[2] == (
            "model 64123 at 40070, 3 registers: of one maker's own, passed over"
        )
        assert adapter.about[3] == "model 899 at 40075, 0 registers: not read here, passed over"
    async with on_tcp(serving(device_image(COMMON_WORDS, own))) as adapter:
        assert told(await adapter.poll()) == {}
        assert "none of its models tells anything" in adapter.remark


async def test_figures_without_an_owner_are_left_out_and_told() -> None:
    image = device_image(model_words(802, BATTERY), model_words(101, {"PhVphA": 120, "V_SF": 0}))
    async with on_tcp(serving(image), source=None, roles={"101": "ac"}) as adapter:
        assert told(await adapter.poll()) == BATTERY_FIGURES
        assert any("ac_volts but nothing says what it belongs to" in x for x in adapter.about)


async def test_an_impossible_figure_is_not_believed() -> None:
    image = device_image(model_words(802, {**BATTERY, "V_SF": 0}))
    async with on_tcp(serving(image)) as adapter:
        assert bank(Q.BANK_VOLTS) not in told(await adapter.poll())


def test_the_adapter_is_installed_under_the_name_of_the_standard() -> None:
    assert load("sunspec") is sunspec


WRONG = [
    ({}, "key host: expected .* or port with the path of a serial port; found neither"),
    ({"port": 502}, "key host: expected"),
    ({"host": "h", "positive": "up"}, "key positive: expected one of charging, discharging; found"),
    ({"host": "h", "roles": "bank"}, "key roles: expected a table of parts and roles, as in"),
    ({"host": "h", "roles": {"b": "bank"}}, 'key roles: "b": expected the name of a part'),
    ({"host": "h", "roles": {"714": "bank"}}, 'model 714 is named "714/1"'),
    ({"host": "h", "roles": {"120": "bank"}}, "model 120 is named of no use here"),
    ({"host": "h", "roles": {"802": "bnak"}}, 'one of bank, unused; found "bnak"; did you mean'),
    ({"host": "h", "base_adress": 0}, 'unknown key; did you mean "base_address"'),
    ({"host": "h", "base_address": 70_000}, "key base_address: expected a whole number"),
    ({"port": "/dev/ttyS9", "device_id": 0}, "key device_id: expected a whole number from 1"),
    ({"port": "/dev/ttyS9", "parity": "E"}, "key parity: expected one of none, even, odd"),
]


@pytest.mark.parametrize(("options", "said"), WRONG)
def test_a_wrong_option_is_one_line(options: dict[str, object], said: str) -> None:
    with pytest.raises(SettingsError, match=said) as mistake:
        sunspec(settings(**options), unheard)
    assert str(mistake.value).startswith("coach.toml:7 [devices.sun]")
    assert "\n" not in str(mistake.value)


async def test_a_role_for_a_part_that_is_not_there_is_told() -> None:
    async with on_tcp(serving(PORTED), roles={"714/4": "bank"}, positive="charging") as adapter:
        assert (
            'roles: this device has no part "714/4" (it has 714/1, 714/2, 714/3)' in adapter.remark
        )


async def test_polling_before_opening_and_closing_twice() -> None:
    adapter = sunspec(settings(host="127.0.0.1"), unheard)
    with pytest.raises(LinkError, match="not open"):
        await adapter.poll()
    await adapter.close()
    await adapter.close()
