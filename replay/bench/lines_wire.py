"""A device that writes text lines, with the figures of a recording, on a pseudo-terminal.

It speaks once in each period of its description, or whenever it is asked where the description
has a request; never while the recorded device was silent, nor before its first figure.
"""

from __future__ import annotations

import asyncio
import contextlib
from pathlib import Path
from typing import Final

from adapters.text_lines import LinesDescription
from replay.bench.figures import Figures
from replay.bench.pty_line import PtyLine

#: Bytes kept while a request is looked for in them; requests are some characters long.
_MOST_ASKED: Final = 1024


class LinesWire:
    adapter: Final = "serial-lines"

    def __init__(self, description: LinesDescription, link: Path | None) -> None:
        self._description = description
        self._link = link
        self._request = description.request.encode("utf-8")
        self._asked = b""
        self._set = b""

    async def start(self) -> dict[str, object]:
        self._line = PtyLine(self._hear, self._link)
        self._speaking = asyncio.create_task(self._speak())
        return {"port": self._line.path}

    def show(self, figures: Figures) -> None:
        now = figures.now
        self._set = self._description.encode(now) if now else b""

    async def stop(self) -> None:
        self._speaking.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await self._speaking
        self._line.close()

    async def _speak(self) -> None:
        """Sets at fixed times, so that the time taken to write does not add up."""
        loop = asyncio.get_running_loop()
        due = loop.time()
        while not self._request:
            if self._set:
                self._line.write(self._set)
            due = max(due + self._description.period_seconds, loop.time())
            await asyncio.sleep(due - loop.time())

    def _hear(self, data: bytes) -> None:
        """Answers each request once; the rest of what is heard is noise."""
        if not self._request:
            return
        *requests, rest = (self._asked + data).split(self._request)
        self._asked = rest[-_MOST_ASKED:]
        for _ in requests:
            if self._set:
                self._line.write(self._set)
