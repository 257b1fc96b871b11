"""The Modbus reader against devices that misbehave on purpose: each hardening rule for itself."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import socket
from collections.abc import Iterator

import pytest

from adapters.adapter import DeviceSettings, LinkError, LinkLost, SettingsError, Values
from adapters.modbus import ModbusAdapter, rtu, tcp
from adapters.reading import Channel, LinkState, Quantity, Reading
from adapters.supervise import supervise
from tests.adapters.scripted_device import Reply, Request, RtuDevice, Script, TcpDevice

TIMEOUT = 0.15

VOLTS = Channel("house", Quantity.BANK_VOLTS)
AMPS = Channel("house", Quantity.BANK_AMPS)
CELSIUS = Channel("house", Quantity.BANK_CELSIUS)

MAP = """kind = "modbus"
period_seconds = 0.05
[[registers]]
quantity = "bank_volts"
address = 10
type = "uint16"
scale = 0.01
unit = "V"
[[registers]]
quantity = "bank_amps"
address = 11
type = "int16"
scale = 0.1
unit = "A"
positive = "charging"
[[registers]]
quantity = "bank_celsius"
address = 14
type = "int16"
unit = "°C"
"""

#: The words of a healthy device from register 10 on: 12.61 V, -4.2 A, nothing, nothing, 21 °C.
WORDS = [1261, 0xFFD6, 7, 7, 21]
GOOD = {VOLTS: 12.61, AMPS: -4.2, CELSIUS: 21.0}


def healthy(request: Request) -> Reply:
    at = request.address - 10
    return Reply(words=WORDS[at : at + request.count])


def settings(text: str = MAP, **options: object) -> DeviceSettings:
    return DeviceSettings(
        "shunt",
        {"timeout_seconds": TIMEOUT, **options},
        description=text,
        description_name="map.toml",
        bank="house",
        where="coach.toml [devices.shunt]",
    )


def told(values: Values) -> dict[Channel, object]:
    return {channel: pytest.approx(figure) for channel, figure in values}


class Tape:
    """Collects raw frames."""

    def __init__(self) -> None:
        self.frames: list[tuple[bool, bytes]] = []

    def __call__(self, sent: bool, data: bytes) -> None:
        self.frames.append((sent, data))


@contextlib.asynccontextmanager
async def tcp_pair(script: Script, text: str = MAP):  # type: ignore[no-untyped-def]
    async with TcpDevice(script).serving() as device:
        tape = Tape()
        adapter = tcp(settings(text, host="127.0.0.1", port=device.port), tape)
        await adapter.open()
        try:
            yield device, adapter, tape
        finally:
            await adapter.close()


@contextlib.asynccontextmanager
async def rtu_pair(script: Script, **options: object):  # type: ignore[no-untyped-def]
    echo = bool(options.pop("echo", False))
    async with RtuDevice(script, echo=echo).serving() as device:
        tape = Tape()
        adapter = rtu(settings(port=device.pty.path, **options), tape)
        await adapter.open()
        try:
            yield device, adapter, tape
        finally:
            await adapter.close()


@pytest.fixture(autouse=True)
def nothing_hits_the_screen(capfd: pytest.CaptureFixture[str]) -> Iterator[None]:
    """No log line, no traceback of a callback."""
    asyncio_log: list[logging.LogRecord] = []
    handler = logging.Handler()
    handler.emit = asyncio_log.append  # type: ignore[method-assign]
    logging.getLogger("asyncio").addHandler(handler)
    yield
    logging.getLogger("asyncio").removeHandler(handler)
    complaints = [record.getMessage() for record in asyncio_log if record.levelno > logging.INFO]
    assert complaints == []
    out, err = capfd.readouterr()
    assert (out, err) == ("", "")


pairs = pytest.mark.parametrize("pair", [tcp_pair, rtu_pair])


@pairs
async def test_a_healthy_device_is_read_in_one_request(pair) -> None:  # type: ignore[no-untyped-def]
    async with pair(healthy) as (device, adapter, _):
        assert told(await adapter.poll()) == GOOD
        (request,) = device.requests
        assert (request.device, request.function, request.address, request.count) == (1, 3, 10, 5)
        assert adapter.remark == ""


MISFITS = {
    "another function code": Reply(words=WORDS, function=4),
    "fewer registers than asked": Reply(words=WORDS[:4]),
    "more registers than asked": Reply(words=[*WORDS, 1]),
    "no registers at all": Reply(words=[]),
    "an exception to another function": Reply(exception=2, function=4),
    "an unknown function": Reply(words=WORDS, function=0x41),
}


@pairs
@pytest.mark.parametrize("misfit", MISFITS.values(), ids=list(MISFITS))
async def test_a_reply_that_does_not_fit_is_never_believed(pair, misfit: Reply) -> None:  # type: ignore[no-untyped-def]
    async with pair(lambda r: misfit if r.number == 1 else healthy(r)) as (_, adapter, _):
        with pytest.raises(LinkError):
            await adapter.poll()
        assert told(await adapter.poll()) == GOOD


@pairs
async def test_a_reply_of_another_device_is_never_believed(pair) -> None:  # type: ignore[no-untyped-def]
    stranger = Reply(words=WORDS, device=9)
    async with pair(lambda r: stranger if r.number == 1 else healthy(r)) as (_, adapter, _):
        with pytest.raises(LinkError, match="no answer"):
            await adapter.poll()
        assert told(await adapter.poll()) == GOOD


@pytest.mark.parametrize("wrong", [0, 4242])
async def test_a_tcp_reply_with_another_number_is_never_believed(wrong: int) -> None:
    stale = Reply(words=WORDS, transaction=wrong)
    async with tcp_pair(lambda r: stale if r.number == 1 else healthy(r)) as (_, adapter, _):
        with pytest.raises(LinkError):
            await adapter.poll()
        assert told(await adapter.poll()) == GOOD


async def test_a_late_rtu_reply_does_not_poison_the_next_request() -> None:
    """Reply 1 comes after the timeout. Asked again at once, it would pass as reply 2."""

    def script(request: Request) -> Reply:
        if request.number == 1:
            return Reply(words=[5555] * request.count, after_seconds=1.5 * TIMEOUT)
        return healthy(request)

    async with rtu_pair(script) as (device, adapter, tape):
        with pytest.raises(LinkError, match="no answer"):
            await adapter.poll()
        assert told(await adapter.poll()) == GOOD
        late, answer = [data for sent, data in tape.frames if not sent]
        assert late != answer  # the late reply did arrive, and was let go by
        assert len(device.requests) == 2


@pairs
async def test_silence_costs_one_timeout_and_no_retry(pair) -> None:  # type: ignore[no-untyped-def]
    async with pair(lambda _: None) as (device, adapter, _):
        loop = asyncio.get_running_loop()
        began = loop.time()
        with pytest.raises(LinkError, match=r"device 1 gave no answer within 0\.15 s; check"):
            await adapter.poll()
        assert loop.time() - began < 3 * TIMEOUT
        assert len(device.requests) == 1


@pairs
@pytest.mark.parametrize(("code", "words"), [(6, "busy"), (4, "failure"), (11, "gateway")])
async def test_an_exception_that_may_pass_is_a_missed_poll(pair, code: int, words: str) -> None:  # type: ignore[no-untyped-def]
    passing = Reply(exception=code)
    async with pair(lambda r: passing if r.number == 1 else healthy(r)) as (_, adapter, _):
        with pytest.raises(LinkError, match=words):
            await adapter.poll()
        assert told(await adapter.poll()) == GOOD
        assert adapter.remark == ""


@pairs
async def test_a_refused_gap_is_no_longer_bridged(pair) -> None:  # type: ignore[no-untyped-def]
    def script(request: Request) -> Reply:
        asked = range(request.address, request.address + request.count)
        return Reply(exception=2) if 12 in asked else healthy(request)

    async with pair(script) as (device, adapter, _):
        assert told(await adapter.poll()) == GOOD
        assert told(await adapter.poll()) == GOOD
        reads = [(request.address, request.count) for request in device.requests]
        assert reads == [(10, 5), (10, 2), (14, 1), (10, 2), (14, 1)]
        assert adapter.remark == ""


@pairs
async def test_a_refused_register_is_dropped_and_the_others_go_on(pair) -> None:  # type: ignore[no-untyped-def]
    def script(request: Request) -> Reply:
        asked = range(request.address, request.address + request.count)
        return Reply(exception=2) if 11 in asked else healthy(request)

    async with pair(script) as (device, adapter, _):
        rest = {VOLTS: 12.61, CELSIUS: 21.0}
        assert told(await adapter.poll()) == rest
        asked = len(device.requests)
        assert told(await adapter.poll()) == rest
        assert len(device.requests) == asked + 2
        assert adapter.remark == (
            "the device refuses holding register 11 (exception 2: it has no such address): "
            "bank_amps not read; correct the address in map.toml"
        )
        await adapter.open()  # a device that has been set right is asked afresh
        device.script = healthy
        assert told(await adapter.poll()) == GOOD
        assert adapter.remark == ""


@pairs
async def test_a_device_that_refuses_everything_is_told_with_the_registers(pair) -> None:  # type: ignore[no-untyped-def]
    async with pair(lambda _: Reply(exception=2)) as (_, adapter, _):
        with pytest.raises(LinkError) as refusal:
            await adapter.poll()
        assert "refuses holding registers 10..11 (exception 2" in str(refusal.value)
        assert "refuses holding register 14 (exception 2" in str(refusal.value)
        assert "map.toml" in str(refusal.value)


async def test_garbage_on_tcp_is_survived() -> None:
    page = Reply(raw=b"HTTP/1.1 400 Bad Request\r\n\r\n")
    async with tcp_pair(lambda r: page if r.number == 1 else healthy(r)) as (_, adapter, _):
        with pytest.raises(LinkError):
            await adapter.poll()
        assert told(await adapter.poll()) == GOOD


@pytest.mark.parametrize(
    "raw",
    [b"\x00\xff\x13" * 30, b"booting...\r\n", b"\x01\x03\x0a\x04"],
    ids=["noise", "boot", "half a reply"],
)
async def test_noise_on_the_serial_line_is_survived(raw: bytes) -> None:
    noise = Reply(raw=raw)
    async with rtu_pair(lambda r: noise if r.number == 1 else healthy(r)) as (_, adapter, _):
        with pytest.raises(LinkError):
            await adapter.poll()
        assert told(await adapter.poll()) == GOOD


async def test_a_converter_that_hears_itself() -> None:
    async with rtu_pair(healthy, echo=True, local_echo=True) as (_, adapter, _):
        assert told(await adapter.poll()) == GOOD


async def test_a_figure_outside_its_range_is_left_out_and_counted() -> None:
    words = [65535, *WORDS[1:]]
    async with tcp_pair(lambda _: Reply(words=words)) as (_, adapter, _):
        for _ in range(3):
            assert told(await adapter.poll()) == {AMPS: -4.2, CELSIUS: 21.0}
        ((count, reason),) = adapter.believed.left_out.values()
        assert count == 3
        assert reason == "bank_volts: 655.35 V is outside 2..80 V (holding register 10)"
        assert "bank_volts" in adapter.remark


async def test_a_device_that_tells_only_nonsense_is_not_believed() -> None:
    async with tcp_pair(lambda _: Reply(words=[65535, 0x8000, 0, 0, 999])) as (_, adapter, _):
        with pytest.raises(LinkError, match=r"no figure can be believed: bank_volts: 655\.35 V"):
            await adapter.poll()


@pairs
async def test_raw_frames_are_told_once_each(pair) -> None:  # type: ignore[no-untyped-def]
    async with pair(healthy) as (_, adapter, tape):
        await adapter.poll()
        await adapter.poll()
        sent = b"".join(data for sent, data in tape.frames if sent)
        received = b"".join(data for sent, data in tape.frames if not sent)
        head = 6 if pair is tcp_pair else 0
        tail = 0 if pair is tcp_pair else 2
        assert len(sent) == 2 * (head + 6 + tail)
        assert len(received) == 2 * (head + 3 + 10 + tail)


async def test_a_reply_in_pieces_is_told_once() -> None:
    async with RtuDevice(healthy).serving() as device:
        pieces: list[bytes] = []
        write = device.pty.write
        device.pty.write = pieces.append  # type: ignore[method-assign]
        tape = Tape()
        adapter = rtu(settings(port=device.pty.path, timeout_seconds=2.0), tape)
        await adapter.open()
        poll = asyncio.create_task(adapter.poll())
        while not pieces:
            await asyncio.sleep(0)
        for index in range(len(pieces[0])):
            write(pieces[0][index : index + 1])
            while sum(len(d) for sent, d in tape.frames if not sent) <= index:
                await asyncio.sleep(0)
        assert told(await poll) == GOOD
        assert b"".join(data for sent, data in tape.frames if not sent) == pieces[0]
        await adapter.close()


async def test_a_closed_connection_is_lost_at_once() -> None:
    async with tcp_pair(lambda _: "hang up") as (_, adapter, _):
        adapter_timeout = asyncio.timeout(TIMEOUT)
        with pytest.raises(LinkLost, match="closed the link"):
            async with adapter_timeout:
                await adapter.poll()
        with pytest.raises(LinkLost):
            await adapter.poll()


async def test_an_unplugged_port_is_lost_at_once() -> None:
    device_box: list[RtuDevice] = []

    def script(request: Request) -> Reply | None:
        if request.number == 2:
            device_box[0].unplug()
            return None
        return healthy(request)

    async with rtu_pair(script) as (device, adapter, _):
        device_box.append(device)
        assert told(await adapter.poll()) == GOOD
        with pytest.raises(LinkLost):
            await adapter.poll()


async def test_nobody_listening() -> None:
    with socket.create_server(("127.0.0.1", 0)) as placeholder:
        port = placeholder.getsockname()[1]
    adapter = tcp(settings(host="127.0.0.1", port=port), Tape())
    with pytest.raises(LinkError, match=f"127.0.0.1 refuses connections to port {port}; check"):
        await adapter.open()


async def test_no_such_host() -> None:
    adapter = tcp(settings(host="no-such-host.invalid", timeout_seconds=5.0), Tape())
    with pytest.raises(LinkError, match=r"no host named no-such-host\.invalid|does not answer"):
        await adapter.open()


async def test_polling_before_opening_and_closing_twice() -> None:
    adapter = tcp(settings(host="127.0.0.1"), Tape())
    with pytest.raises(LinkError, match="not open"):
        await adapter.poll()
    await adapter.close()
    await adapter.close()


BAD_OPTIONS = [
    ({}, "key host: expected the device's name or address on the network in quotes; found none"),
    ({"host": 5}, "key host: .* found 5"),
    ({"host": "h", "port": 70_000}, "key port: expected a whole number from 1 to 65535; found"),
    ({"host": "h", "prot": 502}, 'key prot: unknown key; did you mean "port"'),
    ({"host": "h", "timeout_seconds": "1"}, 'key timeout_seconds: expected a number .* found "1"'),
]


@pytest.mark.parametrize(("options", "said"), BAD_OPTIONS)
def test_a_wrong_option_is_one_line(options: dict[str, object], said: str) -> None:
    with pytest.raises(SettingsError, match=said) as mistake:
        tcp(settings(**options), Tape())
    assert str(mistake.value).startswith("coach.toml [devices.shunt]")


def test_a_wrong_rtu_option_is_one_line() -> None:
    with pytest.raises(SettingsError, match="key parity: expected one of none, even, odd; found"):
        rtu(settings(port="/dev/ttyS0", parity="E"), Tape())


def test_the_settings_must_say_whose_figures_these_are() -> None:
    nobodys = DeviceSettings(
        "shunt", {"host": "h"}, description=MAP, where="coach.toml [devices.shunt]"
    )
    with pytest.raises(SettingsError, match=r'coach\.toml.*bank_volts.*add bank = "\.\.\."'):
        tcp(nobodys, Tape())


def test_a_description_is_needed_and_must_be_of_this_kind() -> None:
    with pytest.raises(SettingsError, match="expected description"):
        tcp(DeviceSettings("shunt", {"host": "h"}), Tape())
    lines = (
        'kind = "lines"\nformat = "json"\n'
        '[[fields]]\nname = "v"\nquantity = "bank_volts"\nunit = "V"\n'
    )
    with pytest.raises(SettingsError, match=r"map\.toml describes a device of another kind"):
        tcp(settings(lines, host="h"), Tape())


async def test_the_whole_life_of_a_device_under_supervision() -> None:
    """Up, killed in mid-read, restarted on the same port, up again: by itself."""
    loop = asyncio.get_running_loop()
    seen: list[Reading | LinkState] = []
    changed = asyncio.Event()

    def emit(item: Reading | LinkState) -> None:
        seen.append(item)
        changed.set()

    async def until(wanted: str) -> None:
        """Wait for the next thing of this kind."""
        async with asyncio.timeout(10.0):
            while True:
                changed.clear()
                await changed.wait()
                if kind(seen[-1]) == wanted or (
                    wanted != "reading" and wanted in map(kind, seen[-2:])
                ):
                    return

    def kind(item: Reading | LinkState) -> str:
        return "reading" if isinstance(item, Reading) else "up" if item.up else "down"

    device = TcpDevice(healthy)
    async with contextlib.AsyncExitStack() as first:
        await first.enter_async_context(device.serving())
        adapter: ModbusAdapter = tcp(settings(host="127.0.0.1", port=device.port), Tape())
        task = loop.create_task(supervise(adapter, loop.time, emit))
        await until("up")
        device.script = lambda _: "hang up"
    await until("down")
    device.script = healthy
    async with device.serving():
        await until("up")
        await until("reading")
        task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await task
    order = [kind(item) for item in seen]
    links = [word for word in order if word != "reading"]
    assert links[0] == "up"
    assert links[-1] == "up"
    assert "down" in links
    down = order.index("down")
    assert "reading" not in order[down : len(order) - order[::-1].index("up")]
