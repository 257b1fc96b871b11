"""The configuration file: what it builds, and what it says when something is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.bank import SourceKind
from monitor.config import ConfigError, load_config, parse_config
from monitor.config_keys import Problems

BANK = """\
[banks.house]
chemistry = "flooded"
nominal_volts = 12
amp_hours = 200
"""

EVERYTHING = """\
[site]
latitude = 44.1
longitude = -110.6

[banks.house]
chemistry = "flooded"
nominal_volts = 12
amp_hours = 200
series = 2
parallel = 2
lowest_soc = 0.5
standing_amps = 0.25

[banks.house.set_points]
absorption = 14.4
float = 13.5
low_hold = 13.2
equalize = 15.5
compensation_mv_per_celsius_per_cell = -4
compensation_celsius = [0, 50]
end_of_charge_amps = 4
end_of_charge_seconds = 60
absorption_hours = 4

[sources.shore]
bank = "house"
kind = "ac-charger"
rated_amps = 40

[devices.shunt]
adapter = "modbus-rtu"
port = "/dev/serial/by-id/example"
baud = 19200
description = "shunt.toml"
bank = "house"

[devices.shunt.bind]
source_volts = "shore"
"""


def wrong(text: str, name: str = "coach.toml") -> str:
    with pytest.raises(ConfigError) as caught:
        parse_config(text, name, {})
    assert "\n" not in str(caught.value)
    return caught.value.problems[0]


def test_every_key_of_the_documentation_reaches_its_place() -> None:
    config = parse_config(EVERYTHING, "coach.toml", {"shunt.toml": "period_seconds = 2.0"})
    (bank,) = config.site.banks
    assert (bank.id, bank.chemistry.name, bank.nominal_volts, bank.amp_hours, bank.cells) == (
        "house",
        "flooded",
        12,
        200.0,
        6,
    )
    assert (bank.series, bank.parallel, bank.lowest_soc, bank.standing_amps) == (2, 2, 0.5, 0.25)
    points = bank.set_points
    assert (points.absorption, points.float_, points.low_hold, points.equalize) == (
        14.4,
        13.5,
        13.2,
        15.5,
    )
    assert points.compensation_mv_per_celsius_per_cell == -4.0
    assert points.compensation_celsius == (0.0, 50.0)
    assert (points.end_of_charge_amps, points.end_of_charge_seconds) == (4.0, 60.0)
    assert points.absorption_hours == 4.0
    (source,) = config.site.sources
    assert (source.id, source.bank, source.kind, source.rated_amps) == (
        "shore",
        "house",
        SourceKind.AC_CHARGER,
        40.0,
    )
    assert (config.site.latitude, config.site.longitude) == (44.1, -110.6)
    (device,) = config.devices
    settings = device.settings
    assert device.adapter == "modbus-rtu"
    assert settings.options == {"port": "/dev/serial/by-id/example", "baud": 19200}
    assert settings.description == "period_seconds = 2.0"
    assert (settings.bank, settings.source, settings.bind) == (
        "house",
        "shore",
        {"source_volts": "shore"},
    )
    assert settings.where == "coach.toml:30 [devices.shunt]"
    assert [(link.device, link.period_seconds) for link in config.site.links] == [("shunt", 2.0)]


def test_what_is_left_out_stays_unknown() -> None:
    config = parse_config(BANK + '[sources.roof]\n[devices.meter]\nadapter = "x"\n', "c.toml")
    (bank,) = config.site.banks
    assert (bank.series, bank.parallel, bank.lowest_soc, bank.standing_amps) == (None,) * 4
    assert bank.set_points.absorption is None
    assert bank.set_points.compensation_mv_per_celsius_per_cell is None
    (source,) = config.site.sources
    assert (source.bank, source.kind, source.rated_amps) == ("house", SourceKind.UNKNOWN, None)
    assert config.site.latitude is None


def test_two_banks_have_to_be_told_apart() -> None:
    two = BANK + BANK.replace("house", "start")
    text = wrong(two + '[sources.roof]\nkind = "solar"\n')
    assert text.startswith("coach.toml:9: sources.roof.bank: ")
    assert "house, start" in text
    config = parse_config(two + '[sources.roof]\nbank = "start"\n', "c.toml")
    assert config.site.sources[0].bank == "start"


def test_a_source_may_not_have_the_name_of_a_bank() -> None:
    assert "name of a bank" in wrong(BANK + "[sources.house]\n")


@pytest.mark.parametrize(
    ("line", "instead", "place", "says"),
    [
        ('chemistry = "floded"', 2, "house.chemistry", 'did you mean "flooded"?'),
        ("nominal_volts = 36", 3, "house.nominal_volts", "12, 24 or 48"),
        ('amp_hours = "200 Ah"', 4, "house.amp_hours", "without quotes or unit"),
        ("amp_hours = 0", 4, "house.amp_hours", "above 0"),
        ("amp_hours = true", 4, "house.amp_hours", "found true"),
        ("amp_hours = nan", 4, "house.amp_hours", "found nan"),
        ("amphours = 200", 4, "house.amphours", 'did you mean "amp_hours"?'),
        ("amp_hours = 200\nlowest_soc = 50", 5, "house.lowest_soc", "0.5 for 50 %"),
        ("amp_hours = 200\nseries = 4", 5, "house.series", "6 cells"),
        ("amp_hours = 200\nfloat = 13.5", 5, "house.float", "[banks.NAME.set_points]"),
    ],
)
def test_a_wrong_line_is_named_with_what_to_do(
    line: str, instead: int, place: str, says: str
) -> None:
    key = line.split(" ")[0]
    names = {"chemistry": 1, "nominal_volts": 2, "amp_hours": 3, "amphours": 3}
    lines = BANK.splitlines()
    lines[names[key]] = line
    text = wrong("\n".join(lines))
    assert text.startswith(f"coach.toml:{instead}: banks.{place}: expected ")
    assert says in text


@pytest.mark.parametrize(
    ("points", "says"),
    [
        ("absorption = 28.8", "12.0 to 17.4 V for 6 cells"),
        ("absorption = 13.4\nfloat = 13.5", "at least the float of 13.5 V"),
        ("equalize = 14.0\nabsorption = 14.4", "at least the absorption of 14.4 V"),
        ("compensation_mv_per_celsius_per_cell = -24", "per cell"),
        ("compensation_celsius = [50, 0]", "lower end first"),
        ("compensation_celsius = 25", "two numbers"),
        ("end_of_charge_amps = 80", "at most 50 A for 200 Ah"),
        ("absorption_hours = 240", "in hours"),
        ("absorbtion = 14.4", 'did you mean "absorption"?'),
    ],
)
def test_set_points_that_cannot_be(points: str, says: str) -> None:
    text = wrong(f"{BANK}[banks.house.set_points]\n{points}\n")
    assert text.startswith("coach.toml:")
    assert "banks.house.set_points." in text
    assert says.replace("lower end first", "the lower end comes first") in text


def test_a_missing_key_is_named() -> None:
    text = wrong('[banks.house]\nchemistry = "agm"\nnominal_volts = 24\n')
    assert text.startswith("coach.toml:1: banks.house.amp_hours: expected amp-hours")
    assert "found nothing" in text


def test_all_problems_are_kept_and_the_first_is_told() -> None:
    with pytest.raises(ConfigError) as caught:
        parse_config('[banks.house]\nchemistry = "agmm"\n[bankz]\n', "c.toml")
    assert len(caught.value.problems) == 4
    assert str(caught.value).endswith("(and 3 more)")


def test_no_bank_at_all() -> None:
    assert (
        wrong("")
        == "coach.toml:1: expected at least one bank, found none; add a table [banks.house]"
    )


def test_what_is_no_toml_is_shown_with_its_line() -> None:
    assert wrong("[banks.house]\nchemistry = flooded\n").startswith(
        'coach.toml:2: expected TOML, found "chemistry = flooded"'
    )
    assert wrong("[banks.house\n").startswith("coach.toml:1: expected TOML")


def test_devices_name_banks_sources_and_quantities_that_exist() -> None:
    device = BANK + '[sources.roof]\n[devices.meter]\nadapter = "x"\n'
    assert 'did you mean "house"?' in wrong(device + 'bank = "hose"\n')
    assert 'did you mean "roof"?' in wrong(device + 'source = "rooof"\n')
    assert 'did you mean "source_volts"?' in wrong(device + 'bind = { source_volt = "roof" }\n')
    assert "the name of a source" in wrong(device + 'bind = { source_volts = "house" }\n')
    assert "the name of a bank" in wrong(device + 'bind = { cell_volts = "roof" }\n')
    assert "devices.bare.adapter" in wrong(BANK + "[devices.bare]\nport = 1\n")


def test_a_description_is_looked_for_beside_the_file_first(tmp_path: Path) -> None:
    (tmp_path / "shunt.toml").write_text("period_seconds = 5\n")
    path = tmp_path / "coach.toml"
    path.write_text(BANK + '[devices.s]\nadapter = "x"\ndescription = "shunt.toml"\n')
    config = load_config(path)
    assert config.devices[0].settings.description == "period_seconds = 5\n"
    assert config.site.links[0].period_seconds == 5.0
    path.write_text(BANK + '[devices.s]\nadapter = "x"\ndescription = "none.toml"\n')
    with pytest.raises(ConfigError, match=r'coach\.toml:7: devices\.s\.description.*"none\.toml"'):
        load_config(path)


def test_the_texts_alone_build_the_same_again(tmp_path: Path) -> None:
    """What a capture's header holds is enough, whatever lies on the disk."""
    (tmp_path / "shunt.toml").write_text("period_seconds = 2.0")
    path = tmp_path / "coach.toml"
    path.write_text(EVERYTHING)
    config = load_config(path)
    again = parse_config(config.text, str(path), config.descriptions)
    assert again == config


def test_a_file_that_cannot_be_read_says_so(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match=r"none\.toml: expected a file, found none; write one"):
        load_config(tmp_path / "none.toml")
    path = tmp_path / "latin.toml"
    path.write_bytes(BANK.encode() + b"# caf\xe9\n")
    with pytest.raises(ConfigError, match=r"latin\.toml:5: expected UTF-8"):
        load_config(path)
    with pytest.raises(ConfigError, match="cannot be read: is a directory"):
        load_config(tmp_path)


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "coach.toml"
    path.write_bytes(b"\xef\xbb\xbf" + BANK.replace("\n", "\r\n").encode())
    assert load_config(path).site.banks[0].amp_hours == 200.0


def test_lines_of_keys_in_awkward_places() -> None:
    text = (
        '# [no.header]\n[a.b]\nx = """\n[not.this]\ny = 1\n"""\nz.w = 2\n'
        "['d']\nlist = [\n  1,\n]\n  v= 3\n"
    )
    problems = Problems.of("f", text)
    assert problems.place(("a", "b")) == "f:2"
    assert problems.place(("a",)) == "f:2"
    assert problems.place(("not", "this")) == "f:1"
    assert problems.place(("a", "b", "y")) == "f:2"
    assert problems.place(("a", "b", "z", "w")) == "f:7"
    assert problems.place(("d", "v", "deeper")) == "f:12"


def test_no_device_takes_the_name_of_the_recorder() -> None:
    assert "rename it" in wrong(BANK + '[devices.recorder]\nadapter = "x"\n')


@given(st.text(alphabet=st.sampled_from("[]banks.house=\"'\n 0123#{},-e")))
def test_any_text_gives_a_config_or_a_config_error(text: str) -> None:
    try:
        parse_config(text, "any.toml")
    except ConfigError as error:
        assert error.problems  # noqa: PT017 (the other outcome is as good)


SOURCE = '[sources.shore]\n{}\n[devices.shunt]\nadapter = "x"\nsource = "shore"\nbank = "house"\n'


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (BANK + SOURCE.format('bank = "hose"'), 'did you mean "house"?'),
        (BANK + SOURCE.format("rated_amps = inf"), "found inf"),
        (BANK + SOURCE.format('kind = "wind"'), 'found "wind"'),
        (BANK.replace("[banks.house]", "[[banks]]") + SOURCE.format(""), "[banks.main]"),
        (BANK.replace("banks.house", 'banks."my house"') + SOURCE.format(""), "is no name"),
        (BANK.replace("banks.house", "bank.house") + SOURCE.format(""), 'did you mean "banks"?'),
        (BANK + SOURCE.format("").replace("sources.", "source."), 'did you mean "sources"?'),
        (BANK + "[site]\nlatitude = 395\nlongitude = 10\n", "found 395"),
        (BANK.replace("chem", "Chem"), 'did you mean "chemistry"?'),
        ('chemistry = "agm"\n' + BANK, "it belongs in a table [banks.NAME]"),
        (BANK.replace("flooded", "fla") + "[banks.house.limits.bank-hot]\n", 'found "fla"'),
        (BANK.replace('"flooded"', '["agm"]') + "[banks.house.limits.bank-hot]\n", '["agm"]'),
        (BANK.replace("200", "0x" + "f" * 6000), "far too many digits"),
        (BANK.replace("200", "1" + "0" * 400), "far too many digits"),
        (BANK.replace("200", "1" * 5000), "4: expected TOML, found a number of thousands"),
    ],
)
def test_one_mistake_is_told_on_one_line(text: str, says: str) -> None:
    with pytest.raises(ConfigError) as caught:
        parse_config(text, "coach.toml", {})
    (problem,) = caught.value.problems
    assert says in problem
    assert len(problem) < 400


@pytest.mark.parametrize("word", ["lead", "Lead-Acid", "lead acid", "lead_acid"])
def test_a_word_that_is_true_of_several_kinds_is_no_guess(word: str) -> None:
    text = wrong(BANK.replace("flooded", word))
    assert "say which: flooded, gel, agm or lead-calcium" in text
    assert "did you mean" not in text


DEVICE = '[devices.{}]\nadapter = "{}"\n{} = "{}"\ndescription = "modbus-template.toml"\n'


def test_two_devices_on_one_port_are_refused_by_both_names(tmp_path: Path) -> None:
    """However the port is called: neither `./` nor a link below by-id makes another of it."""
    port, link = tmp_path / "tty", tmp_path / "by-id"
    port.touch()
    link.symlink_to(port)
    path = tmp_path / "coach.toml"
    for other in (f"{tmp_path}/./tty", str(link), str(port)):
        path.write_text(
            BANK
            + DEVICE.format("shunt", "modbus-rtu", "port", port)
            + DEVICE.format("charger", "serial-lines", "port", other)
        )
        with pytest.raises(ConfigError) as caught:
            load_config(path)
        (problem,) = caught.value.problems
        assert "devices.charger.port: expected a serial port of its own" in problem
        assert "which [devices.shunt] reads already" in problem
        # Whoever reads a recorded configuration has other ports, or none.
        assert len(parse_config(path.read_text(), "c.toml", {"modbus-template.toml": ""}).devices)


@pytest.mark.parametrize(
    ("ours", "theirs", "words"),
    [
        (
            "",
            "device_id = 1\n",
            "devices.charger.device_id: expected an address of its own on the line, found 1",
        ),
        ("device_id = 7\n", "device_id = 7\n", "found 7, which is that of [devices.shunt]"),
        (
            "baud = 9600\n",
            "device_id = 2\nbaud = 19200\n",
            "devices.charger.baud: expected the same line settings",
        ),
        (
            "",
            'device_id = 2\nparity = "even"\n',
            "devices.charger.parity: expected the same line settings",
        ),
    ],
)
def test_two_on_one_line_need_addresses_and_the_same_settings(
    tmp_path: Path, ours: str, theirs: str, words: str
) -> None:
    path, device = tmp_path / "coach.toml", DEVICE.format("{}", "modbus-rtu", "port", tmp_path)
    path.write_text(BANK + device.format("shunt") + ours + device.format("charger") + theirs)
    with pytest.raises(ConfigError) as caught:
        load_config(path)
    (problem,) = caught.value.problems
    assert words in problem


def test_devices_with_addresses_of_their_own_share_a_line(tmp_path: Path) -> None:
    path = tmp_path / "coach.toml"
    device = DEVICE.format("{}", "modbus-rtu", "port", tmp_path)
    sun = (
        f'[devices.sun]\nadapter = "sunspec"\nport = "{tmp_path}"\ndevice_id = 3\nbank = "house"\n'
    )
    path.write_text(BANK + device.format("a") + device.format("b") + "device_id = 2\n" + sun)
    assert len(load_config(path).devices) == 3


def test_what_can_be_shared_is_allowed(tmp_path: Path) -> None:
    path = tmp_path / "coach.toml"
    path.write_text(
        BANK
        + "".join(DEVICE.format(name, "modbus-tcp", "host", "gateway") for name in ("a", "b"))
        + "".join(DEVICE.format(name, "rvc", "channel", "can0") for name in ("c", "d"))
        + "".join(DEVICE.format(name, "modbus-rtu", "port", name) for name in ("e", "f"))
    )
    assert len(load_config(path).devices) == 6


def test_a_description_that_is_none_says_what_one_is() -> None:
    from adapters.adapter import SettingsError
    from adapters.description import load_text

    for text in ("root:x:0:0:root:/root\n", "scale = " + "9" * 5000):
        with pytest.raises(SettingsError, match="says where a device keeps its numbers; copy one"):
            load_text(text, "shunt.toml")
