"""The loop that keeps a device alive: a scripted adapter, a clock of our own, no waiting."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable

import pytest

from adapters.adapter import LinkError, LinkLost, Values
from adapters.poll_result import wrong_in
from adapters.reading import Channel, LinkState, Quantity, Reading
from adapters.supervise import FIRST_WAIT_SECONDS, LONGEST_WAIT_SECONDS, supervise
from monitor.link_counts import Counted

GOOD: Values = ((Channel("house", Quantity.BANK_VOLTS), 12.6),)


class TimeIsUp(Exception):
    pass


class FakeTime:
    """A clock that only sleeping and polling move; it ends the test at its horizon."""

    def __init__(self, horizon: float) -> None:
        self.now = 0.0
        self.horizon = horizon
        self.slept: list[float] = []

    def clock(self) -> float:
        return self.now

    async def sleep(self, seconds: float) -> None:
        self.slept.append(seconds)
        self.now += max(seconds, 0.0)
        if self.now >= self.horizon:
            raise TimeIsUp


class Scripted:
    """An adapter that does what its script says; each step is values, a fault or a call."""

    name = "shunt"

    def __init__(
        self,
        time: FakeTime,
        polls: Callable[[int], Values | Exception],
        opens: Callable[[int], Exception | None] = lambda _: None,
        period: float = 1.0,
        poll_seconds: float = 0.1,
    ) -> None:
        self.period_seconds = period
        self.time, self.polls, self.opens, self.poll_seconds = time, polls, opens, poll_seconds
        self.opened = self.closed = self.polled = 0
        self.poll_times: list[float] = []

    async def open(self) -> None:
        self.opened += 1
        if fault := self.opens(self.opened):
            raise fault

    async def poll(self) -> Values:
        self.polled += 1
        self.poll_times.append(self.time.now)
        self.time.now += self.poll_seconds
        outcome = self.polls(self.polled)
        if isinstance(outcome, Exception):
            raise outcome
        return outcome

    async def close(self) -> None:
        self.closed += 1


async def run(adapter: Scripted, time: FakeTime, **options: int) -> list[Reading | LinkState]:
    told: list[Reading | LinkState] = []
    with pytest.raises(TimeIsUp):
        await supervise(adapter, time.clock, told.append, sleep=time.sleep, **options)
    return told


def links(told: list[Reading | LinkState]) -> list[tuple[bool, str]]:
    return [(item.up, item.reason) for item in told if isinstance(item, LinkState)]


async def test_a_good_device_is_told_up_once_and_read_at_its_period() -> None:
    time = FakeTime(5.05)
    adapter = Scripted(time, lambda _: GOOD)
    told = await run(adapter, time)
    assert told[0] == LinkState(0.1, "shunt", True, "")
    assert told[1] == Reading(0.1, "shunt", GOOD)
    assert links(told) == [(True, "")]
    assert adapter.poll_times == pytest.approx([0.0, 1.0, 2.0, 3.0, 4.0, 5.0])


async def test_slow_polls_neither_drift_nor_burst() -> None:
    time = FakeTime(40.0)
    adapter = Scripted(time, lambda _: GOOD)

    def polls(number: int) -> Values:
        adapter.poll_seconds = 3.4 if number == 5 else 0.3
        return GOOD

    adapter.polls = polls
    await run(adapter, time)
    steps = [b - a for a, b in zip(adapter.poll_times, adapter.poll_times[1:], strict=False)]
    assert all(step >= 0.999 for step in steps)
    # On the grid of whole seconds always, except for nothing.
    assert all(abs(moment - round(moment)) < 1e-6 for moment in adapter.poll_times)
    assert max(steps) == pytest.approx(4.0)


async def test_silence_is_told_after_the_given_number_of_missed_polls() -> None:
    time = FakeTime(20.0)
    outcome = {4: LinkError("no answer"), 5: LinkError("no answer"), 6: LinkError("no answer")}
    adapter = Scripted(time, lambda n: outcome.get(n, GOOD))
    told = await run(adapter, time, missed_polls=3)
    assert links(told) == [(True, ""), (False, "no answer"), (True, "")]
    down = next(item for item in told if isinstance(item, LinkState) and not item.up)
    assert down.seconds == pytest.approx(5.1)
    assert adapter.opened == 2
    # No reading between the moment of silence and the return.
    after = told[told.index(down) + 1 :]
    assert isinstance(after[0], LinkState)
    assert after[0].up


async def test_fewer_missed_polls_are_not_told() -> None:
    time = FakeTime(20.0)
    adapter = Scripted(time, lambda n: LinkError("busy") if n % 3 else GOOD)
    told = await run(adapter, time, missed_polls=3)
    assert links(told) == [(True, "")]
    assert adapter.opened == 1


async def test_a_lost_link_is_told_and_reopened_at_once() -> None:
    time = FakeTime(10.0)
    adapter = Scripted(time, lambda n: LinkLost("unplugged") if n == 3 else GOOD)
    told = await run(adapter, time)
    assert links(told) == [(True, ""), (False, "unplugged"), (True, "")]
    assert adapter.opened == 2
    assert adapter.poll_times[3] - adapter.poll_times[2] == pytest.approx(
        adapter.poll_seconds + FIRST_WAIT_SECONDS
    )


async def test_a_device_that_cannot_be_opened_is_told_once_and_tried_ever_more_rarely() -> None:
    time = FakeTime(100.0)
    adapter = Scripted(time, lambda _: GOOD, opens=lambda _: LinkError("no such port"))
    told = await run(adapter, time)
    assert links(told) == [(False, "no such port")]
    assert told[0].seconds == 0.0
    assert time.slept[:5] == [0.5, 1.0, 2.0, 4.0, 5.0]
    assert set(time.slept[5:]) == {LONGEST_WAIT_SECONDS}
    assert adapter.polled == 0


async def test_the_wait_is_short_again_after_a_reading() -> None:
    time = FakeTime(60.0)
    adapter = Scripted(
        time,
        lambda n: LinkLost("unplugged") if n == 2 else GOOD,
        opens=lambda n: LinkError("no such port") if n <= 6 else None,
    )
    await run(adapter, time)
    assert time.slept[5] == LONGEST_WAIT_SECONDS
    assert FIRST_WAIT_SECONDS in time.slept[6:]


async def test_new_reasons_are_told_but_alternating_ones_do_not_fill_the_record() -> None:
    time = FakeTime(3600.0)
    adapter = Scripted(time, lambda _: GOOD, opens=lambda n: LinkError(f"reason {n % 2}"))
    assert links(await run(adapter, time)) == [(False, "reason 1"), (False, "reason 0")]
    time = FakeTime(3600.0)
    adapter = Scripted(time, lambda _: GOOD, opens=lambda n: LinkError(f"reason {n}"))
    assert len(await run(adapter, time)) == 8


async def test_an_unexpected_fault_becomes_one_line_and_a_reopening() -> None:
    time = FakeTime(10.0)
    adapter = Scripted(time, lambda n: ZeroDivisionError("a\nb") if n == 2 else GOOD)
    told = await run(adapter, time)
    reason = "fault in the adapter of shunt: ZeroDivisionError: a b"
    assert links(told) == [(True, ""), (False, reason), (True, "")]
    assert adapter.closed >= 1


async def test_a_fault_in_close_does_not_stop_the_loop() -> None:
    time = FakeTime(10.0)
    adapter = Scripted(time, lambda n: LinkLost("gone") if n % 2 else GOOD)

    async def close() -> None:
        adapter.closed += 1
        raise RuntimeError("cannot close")

    adapter.close = close  # type: ignore[method-assign]
    told = await run(adapter, time)
    assert sum(isinstance(item, Reading) for item in told) >= 3


async def test_a_device_that_talks_unasked_is_polled_at_once_but_never_in_a_busy_loop() -> None:
    time = FakeTime(10.0)
    adapter = Scripted(time, lambda _: GOOD, poll_seconds=0.0)
    adapter.unasked = True  # type: ignore[attr-defined]
    told = await run(adapter, time)
    assert adapter.polled <= 10.0 / 0.02 + 1
    assert all(wait > 0.0 for wait in time.slept)
    assert len(told) > 400


async def test_what_is_wrong_with_a_working_device_is_told_when_it_changes() -> None:
    time = FakeTime(6.0)
    adapter = Scripted(time, lambda _: GOOD)

    def polls(number: int) -> Values:
        adapter.remark = "" if number < 3 else "registers 10..11 refused"  # type: ignore[attr-defined]
        return GOOD

    adapter.polls = polls
    told = await run(adapter, time)
    assert links(told) == [(True, ""), (True, "registers 10..11 refused")]


async def test_cancelling_in_the_middle_of_a_poll_closes_the_device() -> None:
    polling = asyncio.Event()
    time = FakeTime(10.0)
    adapter = Scripted(time, lambda _: GOOD)

    async def poll() -> Values:
        polling.set()
        await asyncio.Event().wait()
        raise AssertionError

    adapter.poll = poll  # type: ignore[method-assign]
    told: list[Reading | LinkState] = []
    task = asyncio.create_task(supervise(adapter, time.clock, told.append, sleep=time.sleep))
    await polling.wait()
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    assert adapter.closed == 1
    assert told == []


async def test_an_adapter_that_never_answers_is_given_up() -> None:
    time = FakeTime(1.0)
    adapter = Scripted(time, lambda _: GOOD)

    async def poll() -> Values:
        await asyncio.Event().wait()
        raise AssertionError

    adapter.poll = poll  # type: ignore[method-assign]
    told: list[Reading | LinkState] = []
    with pytest.raises(TimeIsUp):
        await supervise(adapter, time.clock, told.append, sleep=time.sleep, stuck_seconds=0.01)
    assert links(told) == [(False, "the adapter of shunt did not answer in time")]


@pytest.mark.parametrize("outcome", [GOOD, LinkError("no answer")])
async def test_it_ends_even_where_an_adapter_lets_a_cancellation_go_by(
    outcome: Values | Exception,
) -> None:
    """As a wait does whose answer comes at the very moment of the cancellation."""
    polling = asyncio.Event()

    class Deaf(Scripted):
        async def poll(self) -> Values:
            polling.set()
            with contextlib.suppress(asyncio.CancelledError):
                await asyncio.Event().wait()
            return await super().poll()

    time = FakeTime(100.0)
    adapter = Deaf(time, lambda _: outcome)
    told: list[Reading | LinkState] = []
    task = asyncio.create_task(supervise(adapter, time.clock, told.append, sleep=time.sleep))
    await polling.wait()
    task.cancel()
    done, _ = await asyncio.wait({task}, timeout=20)
    assert done
    assert task.cancelled()
    assert told == []
    assert adapter.polled == 1
    assert adapter.closed == 1


NAN = float("nan")
HOUSE = Channel("house", Quantity.BANK_VOLTS)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (None, "poll gave None; expected pairs as in"),
        ("12.6", "poll gave a value of type str ('12.6'); expected pairs"),
        ([(HOUSE, 12.6)], "poll gave a value of type list ("),
        ((12.6,), "poll gave a value of type float (12.6) among its values"),
        (
            ((("house", "bank_volts"), 12.6),),
            "a value of type tuple (('house', 'bank_volts')) as a",
        ),
        (((Channel("house", "volts"), 12.6),), "a channel of a value of type str ('house') and"),
        (((HOUSE, NAN),), "poll gave nan, no number; leave out what is missing, as bank_volts of"),
        (((HOUSE, None),), "poll gave None, expected a number, as bank_volts of house"),
        (((HOUSE, "12.6"),), "poll gave a value of type str ('12.6'), expected a number, as bank"),
        (((HOUSE, True),), "poll gave a value of type bool (True), expected a number"),
        (((Channel("shore", Quantity.REPORTED_STAGE), 3.0),), "expected text, as reported_stage"),
    ],
)
async def test_an_author_is_told_what_his_poll_gave(given: object, says: str) -> None:
    """One line with the adapter and the type, told at once and counted as lost."""
    time = FakeTime(2.0)
    adapter = Scripted(time, lambda _: given)  # type: ignore[arg-type, return-value]  # on purpose
    counted = Counted(adapter)
    told = await run(counted, time)  # type: ignore[arg-type]  # an adapter all the same
    assert told
    assert all(isinstance(one, LinkState) and not one.up for one in told)
    (reason,) = {one.reason for one in told if isinstance(one, LinkState)}
    assert reason.startswith("fault in the adapter of shunt: ")
    assert says in reason
    assert "\n" not in reason
    count = counted.count()
    assert count.polls == count.lost > 0
    assert count.error == reason


def test_a_set_as_it_should_be_is_let_pass() -> None:
    stage = Channel("shore", Quantity.REPORTED_STAGE)
    assert wrong_in(()) == ""
    assert wrong_in(((HOUSE, 12), (stage, "bulk"))) == ""
