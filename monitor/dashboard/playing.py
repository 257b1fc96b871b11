"""What the digits do while a capture plays: pause, rate, step, jump, events, a time to go to."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from monitor.dashboard.leaving import Leaving
from monitor.engine.snapshot import EventKind, Snapshot
from monitor.feed import Feed, PlayerControls
from monitor.mishaps import Refusal
from monitor.words.texts import GO_TO, GO_TO_EXAMPLE

if TYPE_CHECKING:
    from datetime import tzinfo

JUMP_SECONDS: Final = 600.0
RATES: Final = (1.0, 5.0, 20.0, 60.0, 300.0, 1200.0, 3600.0)
#: The events that a person jumps to; what was learned and clocks set are not worth a stop.
WORTH_A_STOP: Final = frozenset({EventKind.STAGE, EventKind.ALARM, EventKind.LINK})
#: An event so close before the place where it stands is the one it stands at, seconds.
_HERE_SECONDS: Final = 1.0


class PlayerKeys(Leaving):
    """The part of the application that drives the player; does nothing when live."""

    feed: Feed
    zone: tzinfo | None
    snapshot: Snapshot | None
    #: While the next event is looked for: the last event before, and the rate to go back to.
    _hunt: tuple[int, float] | None = None

    def moved(self) -> None:
        raise NotImplementedError

    @property
    def _player(self) -> PlayerControls | None:
        return self.feed.player

    def action_pause(self) -> None:
        if (player := self._player) is not None:
            self._give_up_hunt()
            (player.resume if player.paused else player.pause)()
            self.moved()

    def action_faster(self) -> None:
        if (player := self._player) is not None:
            self._give_up_hunt()
            player.set_rate(next((rate for rate in RATES if rate > player.rate), RATES[-1]))
            self.moved()

    def action_slower(self) -> None:
        if (player := self._player) is not None:
            self._give_up_hunt()
            player.set_rate(next((r for r in reversed(RATES) if r < player.rate), RATES[0]))
            self.moved()

    def action_step(self) -> None:
        if (player := self._player) is not None:
            self._give_up_hunt()
            player.pause()
            player.step()
            self.moved()

    def action_earlier(self) -> None:
        self._jump(-JUMP_SECONDS)

    def action_later(self) -> None:
        self._jump(JUMP_SECONDS)

    def action_begin_again(self) -> None:
        self._jump(-math.inf)

    def _jump(self, seconds: float) -> None:
        if (player := self._player) is not None:
            self._go(player, player.position + seconds)

    def _go(self, player: PlayerControls, seconds: float) -> None:
        self._give_up_hunt()
        player.seek(min(max(seconds, player.start), player.end))
        self.moved()

    # Events.

    def action_event_before(self) -> None:
        """To the last event before this place: known, since the engine has been there."""
        if (player := self._player) is not None:
            here = player.position - _HERE_SECONDS
            places = [
                event.seconds
                for event in self.feed.events(0)
                if event.kind in WORTH_A_STOP and event.seconds < here
            ]
            player.pause()
            self._go(player, places[-1] if places else player.start)

    def action_next_event(self) -> None:
        """Play as fast as it goes until something happened, then stand there, paused."""
        if (player := self._player) is not None:
            self._give_up_hunt()
            last = self.snapshot.last_event if self.snapshot is not None else 0
            self._hunt = (last, player.rate)
            player.set_rate(math.inf)
            player.resume()
            self.moved()

    def look_for_event(self) -> None:
        """Called with every snapshot: did what is hunted for happen?"""
        player = self._player
        if self._hunt is None or player is None or player.catching_up:
            return
        last, _ = self._hunt
        found = next((e for e in self.feed.events(last) if e.kind in WORTH_A_STOP), None)
        if found is not None:
            player.pause()
            self._go(player, found.seconds)
        elif player.position >= player.end:
            player.pause()
            self._give_up_hunt()

    def _give_up_hunt(self) -> None:
        if self._hunt is not None and self._player is not None:
            self._player.set_rate(self._hunt[1])
        self._hunt = None

    # A time.

    def action_go_to(self) -> None:
        from monitor.dashboard.screens.ask import AskScreen

        def ask(question: str, before: str = "") -> None:
            def given(text: str | None) -> None:
                player = self._player
                if not text or text == before or player is None:
                    return
                offset = self.snapshot.wall_offset if self.snapshot is not None else None
                try:
                    place = _place(text, player, offset, self.zone)
                except Refusal as problem:
                    ask(str(problem).removeprefix("--at: "), text)
                else:
                    self._go(player, place)

            self.push_screen(AskScreen(question, before, GO_TO_EXAMPLE), given)

        if self._player is not None:
            ask(GO_TO)


def _place(text: str, player: PlayerControls, offset: float | None, zone: tzinfo | None) -> float:
    """Seconds of the capture: a share of it (40 %), or a moment as commands take it."""
    from monitor.moments import Span, moment

    share = text.removesuffix("%").strip()
    if text.endswith("%") and share.replace(".", "", 1).isdecimal():
        return player.start + min(float(share), 100.0) / 100.0 * (player.end - player.start)
    return moment(text, Span(player.start, player.end, offset), zone)
