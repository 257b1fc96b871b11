"""The SunSpec reader against devices that break: a right value, or none with the reason."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable, Sequence
from random import Random
from typing import cast

import pytest
from hypothesis import given
from hypothesis import settings as limits
from hypothesis import strategies as st

from adapters.adapter import LinkError, LinkLost
from adapters.modbus_link import ModbusLink, Refused
from adapters.reading import Channel, LinkState, Quantity, Reading
from adapters.registers import Block
from adapters.sunspec.device import SunSpecAdapter
from adapters.sunspec.models import models, placed
from adapters.sunspec.plan import Choices
from adapters.sunspec.reader import ModelReader
from adapters.sunspec.walk import BASES, Found
from adapters.supervise import supervise
from tests.adapters.scripted_device import Reply, Request, Script
from tests.adapters.sunspec.devices import TIMEOUT, on_a_line, on_tcp, serving, settings, told
from tests.adapters.sunspec.images import (
    BATTERY,
    COMMON,
    definition,
    device_image,
    model_words,
    random_model,
)

VOLTS = Channel("house", Quantity.BANK_VOLTS)
OUT_VOLTS = Channel("roof", Quantity.SOURCE_VOLTS)

COMMON_WORDS = model_words(1, COMMON)
BATTERY_WORDS = model_words(802, BATTERY)
MODULE_WORDS = model_words(502, {"OutV": 1412, "V_SF": -2})
IMAGE = device_image(COMMON_WORDS, BATTERY_WORDS, MODULE_WORDS)
AT_BATTERY = 40_002 + len(COMMON_WORDS)
AT_MODULE = AT_BATTERY + len(BATTERY_WORDS)
AT_END = AT_MODULE + len(MODULE_WORDS)

ways = pytest.mark.parametrize("on", [on_tcp, on_a_line])


def but(image: dict[int, int], fault: Callable[[Request], Reply | str | None]) -> Script:
    """A healthy device but for what `fault` answers; it gives "healthy" to let a request by."""
    healthy = serving(image)

    def script(request: Request) -> Reply | str | None:
        answer = fault(request)
        return healthy(request) if answer == "healthy" else answer

    return script


GARBAGE = {
    "all ones": lambda _: 0xFFFF,
    "all nothing": lambda _: 0,
    "noise": lambda address: Random(address).randrange(0x10000),
    "shifted by one": lambda address: IMAGE.get(address - 1, 0xFFFF),
}


@ways
@pytest.mark.parametrize("garbage", GARBAGE.values(), ids=list(GARBAGE))
async def test_a_device_that_reboots_into_garbage(on, garbage: Callable[[int], int]) -> None:  # type: ignore[no-untyped-def]
    """Nothing of the garbage passes; the first poll after it is right again."""
    image = dict(IMAGE)
    async with on(serving(image)) as adapter:
        assert told(await adapter.poll())[VOLTS] == 13.42
        image.update({address: garbage(address) for address in image})
        for _ in range(3):
            with pytest.raises(LinkError):
                await adapter.poll()
        image.update(IMAGE)
        assert told(await adapter.poll())[VOLTS] == 13.42


@ways
async def test_a_device_whose_map_has_moved(on) -> None:  # type: ignore[no-untyped-def]
    image = dict(IMAGE)
    async with on(serving(image)) as adapter:
        assert told(await adapter.poll())[VOLTS] == 13.42
        image.clear()
        newer = model_words(802, {**BATTERY, "V": 1290})
        image.update(device_image(COMMON_WORDS, MODULE_WORDS, [64_001, 1, 5], newer))
        with pytest.raises(
            LinkError, match=r"model 802 at 40070 is no longer there \(found id 502"
        ):
            await adapter.poll()
        values = told(await adapter.poll())
        assert (values[VOLTS], values[OUT_VOLTS]) == (12.9, 14.12)


@ways
@pytest.mark.parametrize("code", [1, 2, 3, 4, 5, 6, 10, 11])
async def test_a_block_that_answers_with_an_exception_stops_no_other(on, code: int) -> None:  # type: ignore[no-untyped-def]
    def fault(request: Request) -> Reply | str:
        end = request.address + request.count
        body = request.address < AT_MODULE and end > AT_BATTERY + 2
        return Reply(exception=code) if body else "healthy"

    async with on(but(IMAGE, fault)) as adapter:
        for _ in range(3):
            assert told(await adapter.poll()) == {OUT_VOLTS: 14.12}
        assert "model 802 at 40070" in adapter.remark
        assert f"exception {code}" in adapter.remark
        adapter.device.script = serving(IMAGE)
        await adapter.open()  # a device that has been set right is asked afresh
        assert told(await adapter.poll())[VOLTS] == 13.42
        assert "model 802" not in adapter.remark


@ways
async def test_a_block_without_an_answer_is_left_alone_ever_longer(on) -> None:  # type: ignore[no-untyped-def]
    dead = [False]

    def fault(request: Request) -> str | None:
        inside = AT_BATTERY <= request.address < AT_MODULE
        return None if dead[0] and inside else "healthy"

    async with on(but(IMAGE, fault)) as adapter:
        await adapter.poll()
        dead[0] = True
        before = len(adapter.device.requests)
        for _ in range(10):
            assert told(await adapter.poll())[OUT_VOLTS] == 14.12
        asked = [r for r in adapter.device.requests[before:] if r.address < AT_MODULE]
        assert len(asked) == 4  # at polls 1, 2, 4 and 8
        assert "model 802 at 40070 not read" in adapter.remark
        dead[0] = False
        for _ in range(8):
            values = told(await adapter.poll())
        assert values[VOLTS] == 13.42
        assert "not read" not in adapter.remark


@ways
async def test_a_device_without_an_answer_costs_two_time_limits(on) -> None:  # type: ignore[no-untyped-def]
    async with on(serving(IMAGE)) as adapter:
        await adapter.poll()
        adapter.device.script = lambda _: None
        loop = asyncio.get_running_loop()
        began = loop.time()
        with pytest.raises(LinkError, match="no answer within"):
            await adapter.poll()
        assert loop.time() - began < 6 * TIMEOUT


@ways
async def test_cut_off_answers_are_never_believed(on) -> None:  # type: ignore[no-untyped-def]
    async with on(serving(IMAGE)) as adapter:
        healthy = adapter.device.script

        def short(request: Request) -> Reply:
            words = healthy(request).words
            return Reply(words=words[:-1])

        adapter.device.script = short
        for _ in range(2):
            with pytest.raises(LinkError):
                await adapter.poll()
        adapter.device.script = healthy
        assert told(await adapter.poll())[VOLTS] == 13.42


async def test_the_living_are_found_behind_the_dead() -> None:
    """Two models in a row without an answer end a poll; the next one begins with the others."""
    image = device_image(BATTERY_WORDS, model_words(713, {"SoC": 500}), MODULE_WORDS)
    dead = [False]

    def fault(request: Request) -> str | None:
        alive = request.address >= 40_002 + len(BATTERY_WORDS) + 9
        return "healthy" if alive or not dead[0] else None

    async with on_tcp(but(image, fault)) as adapter:
        await adapter.poll()
        dead[0] = True
        with pytest.raises(LinkError, match="no answer"):
            await adapter.poll()
        assert told(await adapter.poll()) == {OUT_VOLTS: 14.12}


async def test_a_closed_connection_is_lost() -> None:
    async with on_tcp(serving(IMAGE)) as adapter:
        adapter.device.script = lambda _: "hang up"
        with pytest.raises(LinkLost):
            await adapter.poll()


async def test_a_device_that_answers_only_short_requests() -> None:
    def fault(request: Request) -> Reply | str:
        return Reply(exception=3) if request.count > 20 else "healthy"

    async with on_tcp(but(IMAGE, fault)) as adapter:
        values = told(await adapter.poll())
        assert (values[VOLTS], values[OUT_VOLTS]) == (13.42, 14.12)
        assert "refuses" not in adapter.remark


ENDS: dict[str, tuple[Callable[[Request], Reply | str | None], str]] = {
    "refused": (lambda r: Reply(exception=2) if r.address >= AT_END else "healthy", "exception 2"),
    "only the marker": (
        lambda r: Reply(exception=2) if r.address + r.count > AT_END + 1 else "healthy",
        "",
    ),
    "nothing there": (
        lambda r: Reply(words=[0] * r.count) if r.address >= AT_END else "healthy",
        f"register {AT_END} holds no model",
    ),
    "silence": (lambda r: None if r.address >= AT_END else "healthy", "does not answer"),
    "busy": (lambda r: Reply(exception=6) if r.address >= AT_END else "healthy", "does not answer"),
    "more than there can be": (
        lambda r: Reply(words=[700, 60_000]) if r.address >= AT_END else "healthy",
        "model 700 at 40164 states 60000 registers",
    ),
    "the same for ever": (
        lambda r: Reply(words=[1] * r.count) if r.address >= AT_END else "healthy",
        "more than 256 models",
    ),
}


@pytest.mark.parametrize(("fault", "said"), ENDS.values(), ids=list(ENDS))
async def test_a_map_without_an_end(
    fault: Callable[[Request], Reply | str | None], said: str
) -> None:
    async with on_tcp(but(IMAGE, fault), positive="charging") as adapter:
        assert told(await adapter.poll())[VOLTS] == 13.42
        assert said in adapter.remark
        assert bool(adapter.remark) == bool(said)


async def test_a_silence_at_the_end_is_looked_at_once_more(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What did not answer at the start may have been busy: later it is found."""
    quiet = [True]

    def fault(request: Request) -> str | None:
        return None if quiet[0] and request.address >= AT_MODULE else "healthy"

    async with on_tcp(but(IMAGE, fault)) as adapter:
        assert OUT_VOLTS not in told(await adapter.poll())
        assert "no end (the device does not answer" in adapter.remark
        quiet[0] = False
        assert OUT_VOLTS not in told(await adapter.poll())
        now = asyncio.get_running_loop().time()
        monkeypatch.setattr(adapter, "_now", lambda: now + 301.0)
        assert told(await adapter.poll())[OUT_VOLTS] == 14.12
        assert "no end" not in adapter.remark


async def test_a_silence_while_walking_is_not_the_end() -> None:
    """One lost answer is asked for again."""
    lost: list[int] = []

    def fault(request: Request) -> Reply | str | None:
        if request.address == AT_MODULE and request.count == 2 and not lost:
            lost.append(request.number)
            return None
        return "healthy"

    async with on_tcp(but(IMAGE, fault)) as adapter:
        assert lost
        assert told(await adapter.poll())[OUT_VOLTS] == 14.12


async def test_models_of_no_length_and_shorter_than_they_should_be() -> None:
    stump = BATTERY_WORDS[:36]
    stump[1] = 34
    image = device_image([802, 0], [713, 0], stump, MODULE_WORDS)
    async with on_tcp(serving(image)) as adapter:
        # Without its scale factor, which is cut off, 1342 is no voltage.
        assert told(await adapter.poll()) == {OUT_VOLTS: 14.12}


async def test_a_count_of_ports_that_cannot_be_is_bounded_by_the_length() -> None:
    ports = [{"PrtTyp": 1, "DCV": 1342}]
    image = device_image(model_words(714, {"NPrt": 40_000, "DCV_SF": -2}, ports))
    async with on_tcp(serving(image)) as adapter:
        assert told(await adapter.poll()) == {VOLTS: 13.42}
        (line,) = [line for line in adapter.about if line.startswith("model 714")]
        assert line.endswith("DERMeasureDC, 714/1 used as bank")


async def test_the_highest_of_what_answers_is_not_the_highest_of_all() -> None:
    string = {"CellVMax": 3371, "CellV_SF": -3, "ModTmpMax": 24, "ModTmp_SF": 0, "NMod": 0}
    warmer = {**string, "CellVMax": 3600, "ModTmpMax": 50}
    words = model_words(804, string)
    image = device_image(words, model_words(804, warmer))
    dead = [False]

    def fault(request: Request) -> Reply | str:
        second = request.address >= 40_002 + len(words)
        return Reply(exception=4) if dead[0] and second else "healthy"

    async with on_tcp(but(image, fault)) as adapter:
        highest = Channel("house", Quantity.HIGHEST_CELL_VOLTS)
        warmest = Channel("house", Quantity.HIGHEST_CELL_CELSIUS)
        assert told(await adapter.poll()) == {highest: 3.6, warmest: 50.0}
        dead[0] = True
        assert told(await adapter.poll()) == {}


NOWHERE: dict[str, tuple[Script, str]] = {
    "another device": (
        lambda r: Reply(words=[7] * r.count),
        "has no SunSpec map at register 40000, 0, 50000",
    ),
    "refusing": (lambda _: Reply(exception=2), "has no SunSpec map"),
    "silent": (lambda _: None, "no answer within"),
    "an empty map": (serving(device_image()), "holds no model: its end follows at once"),
}


@pytest.mark.parametrize(("script", "said"), NOWHERE.values(), ids=list(NOWHERE))
async def test_no_map(script: Script, said: str) -> None:
    with pytest.raises(LinkError, match=said) as fault:
        async with on_tcp(script):
            pass
    assert "\n" not in str(fault.value)


async def test_a_map_behind_places_that_do_not_answer() -> None:
    image = device_image(BATTERY_WORDS, base=50_000)
    async with on_tcp(but(image, lambda r: None if r.address < 50_000 else "healthy")) as adapter:
        assert told(await adapter.poll())[VOLTS] == 13.42


class FakeLink:
    """Registers without a wire."""

    def __init__(self, read: Callable[[int, int], Sequence[int]]) -> None:
        self._read = read

    async def read(self, block: Block) -> list[int]:
        return list(self._read(block.address, block.count))

    def close(self) -> None:
        pass


def adapter_on(read: Callable[[int, int], Sequence[int]], **roles: str) -> SunSpecAdapter:
    async def connect() -> ModbusLink:
        return cast(ModbusLink, FakeLink(read))

    choices = Choices(roles, "charging")
    return SunSpecAdapter(settings(), choices, 1.0, BASES, 125, connect)


async def test_scale_factors_that_change_between_two_requests() -> None:
    """A module of 40 cells takes two requests; its scale factors are looked at again."""
    cells = [{"CellV": 3300, "CellTmp": 20}] * 40
    image = device_image(model_words(805, {"CellV_SF": -3, "Tmp_SF": 0}, cells))
    scale_at = 40_002 + 42
    changes: list[int] = []

    def read(address: int, count: int) -> list[int]:
        words = [image[address + at] for at in range(count)]
        if changes and address <= scale_at < address + count:
            image[scale_at] = changes.pop()  # after it was read
        return words

    adapter = adapter_on(read)
    await adapter.open()
    cell = Channel("house#40", Quantity.CELL_VOLTS)
    assert told(await adapter.poll())[cell] == 3.3
    changes.append(0xFFFE)
    with pytest.raises(LinkError, match="scale factors changed while it was read"):
        await adapter.poll()


async def test_a_battery_whose_heart_has_stopped() -> None:
    now = [100.0]
    words = list(BATTERY_WORDS)
    beat_at = next(p.offset for p in models()[802].points.values() if p.name == "Hb")

    async def read(address: int, count: int) -> list[int]:
        return words[address : address + count]

    found = Found(802, 0, len(words) - 2, 1)
    points = tuple(placed(models()[802], found.length))
    reader = ModelReader(found, points, 125, lambda: now[0])

    async def looks(seconds: float, times: int, beats: bool) -> None:
        for _ in range(times):
            now[0] += seconds
            words[beat_at] = (words[beat_at] + beats) % 60
            await reader.read(read)

    await looks(1.0, 100, beats=True)
    await looks(1.0, 9, beats=False)  # a slow one
    await looks(1.0, 1, beats=True)
    await looks(60.0, 5, beats=False)  # looked at too rarely to say
    await looks(1.0, 1, beats=True)
    with pytest.raises(LinkError, match="heartbeat stands still"):
        await looks(1.0, 12, beats=False)
    with pytest.raises(LinkError, match="heartbeat stands still"):
        await looks(1.0, 1, beats=False)
    await looks(1.0, 1, beats=True)  # and is believed again
    # One that never beat is no clock at all.
    still = ModelReader(found, points, 125, lambda: now[0])
    for _ in range(30):
        now[0] += 1.0
        await still.read(read)


async def test_a_length_that_is_garbage_costs_few_requests() -> None:
    """A model that states 25 394 registers where 60 exist, found by feeding damaged maps."""
    image = device_image(model_words(805, {"CellV_SF": -3, "Tmp_SF": 0}, [{"CellV": 3300}] * 4))
    image[40_003] = 25_394
    asked = 0

    def read(address: int, count: int) -> list[int]:
        nonlocal asked
        asked += 1
        if any(address + at not in image for at in range(count)):
            raise Refused(2)
        return [image[address + at] for at in range(count)]

    adapter = adapter_on(read)
    for step in (adapter.open, adapter.poll, adapter.poll):
        with contextlib.suppress(LinkError):
            await step()
    assert asked < 400


@limits(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 2**32),
    wrong=st.lists(st.tuples(st.integers(0, 600), st.integers(0, 0xFFFF)), max_size=40),
)
def test_only_link_errors_leave_the_adapter(seed: int, wrong: list[tuple[int, int]]) -> None:
    """Random maps with random words put wrong, also between polls; refusals and silences."""
    random = Random(seed)
    numbers = random.choices(sorted(models()), k=3)
    image = device_image(*(random_model(random, number) for number in numbers))
    after = dict(image)
    after.update({40_002 + at: word for at, word in wrong})
    now = [after if random.random() < 0.5 else image]

    def read(address: int, count: int) -> list[int]:
        if random.random() < 0.03:
            raise random.choice([Refused(2), LinkError("busy")])
        if any(address + at not in now[0] for at in range(count)):
            raise Refused(2)
        return [now[0][address + at] for at in range(count)]

    async def life() -> None:
        adapter = adapter_on(read)
        for step in (
            adapter.open,
            adapter.poll,
            adapter.poll,
            "change",
            adapter.poll,
            adapter.poll,
        ):
            if isinstance(step, str):
                now[0] = after
                continue
            with contextlib.suppress(LinkError):
                await step()
            assert "\n" not in adapter.remark
            assert all("\n" not in line for line in adapter.about)

    asyncio.run(life())


async def test_the_whole_life_of_a_device_under_supervision() -> None:
    """Up, a battery that vanishes and comes back elsewhere, up again: by itself."""
    loop = asyncio.get_running_loop()
    image = dict(IMAGE)
    seen: list[Reading | LinkState] = []
    enough = asyncio.Event()

    def emit(item: Reading | LinkState) -> None:
        seen.append(item)
        volts = dict(item.values).get(VOLTS) if isinstance(item, Reading) else None
        if volts == 13.42:
            image.clear()
            image.update(device_image(model_words(802, {**BATTERY, "V": 1290}), base=0))
        if volts == 12.9:
            enough.set()

    async with on_tcp(serving(image), period_seconds=0.05) as adapter:
        task = loop.create_task(supervise(adapter, loop.time, emit))
        async with asyncio.timeout(10.0):
            await enough.wait()
        task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await task
    volts = [dict(item.values).get(VOLTS) for item in seen if isinstance(item, Reading)]
    assert set(volts) == {13.42, 12.9}


def test_the_heartbeat_is_where_the_files_put_it() -> None:
    names = [point["name"] for point in definition(802)["points"]]
    assert "Hb" in names
