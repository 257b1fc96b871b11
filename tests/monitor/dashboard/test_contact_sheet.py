"""The sheet of pictures has every screen there is, each as it is in use."""

from __future__ import annotations

from collections.abc import AsyncIterator
from unittest.mock import patch

from monitor.dashboard.contact_sheet import NAMES, drawn
from monitor.dashboard.screens import devices
from monitor.engine.snapshot import Snapshot
from monitor.words.commission import NO_SESSION
from monitor.words.devices import Found
from tests.monitor.dashboard.fake_feed import NORMAL, FakeFeed


class Again(FakeFeed):
    """The same moment for every board that looks."""

    async def snapshots(self) -> AsyncIterator[Snapshot]:
        self.put(NORMAL)
        async for snapshot in super().snapshots():
            yield snapshot

    def look_again(self) -> None:
        self.put(NORMAL)


async def test_every_screen_is_there_and_none_is_empty() -> None:
    with patch.object(devices, "found", lambda: Found((), (), ())):
        made = await drawn(Again(None), (60, 20), "dark")  # type: ignore[arg-type]  # stands in
    assert tuple(made) == NAMES
    assert not [name for name, picture in made.items() if NO_SESSION[:20] in picture]
    assert "NOW" in made["commission-runs"]
    assert ">identity:<" in made["commission-list"]
    assert "capture" in made["now-playing"]
    assert len(set(made.values())) == len(made), "two pictures of the same screen"
