"""The screen in a browser, to look at only: textual-serve on this machine's own loopback.

A program of its own beside the service (`python -m monitor.service.web`), so that nothing of it is
in the process that reads the devices. Each browser gets a screen that attaches to the service and
only looks, which the service itself enforces.

Only pages of this machine itself may open it: another page in the same browser is refused by its
origin, whatever name it found for the loopback.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import ipaddress
import os
import re
import shlex
import signal
import sys
import threading
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urlsplit

from adapters.extras import install
from monitor.mishaps import Refusal
from monitor.service.unit import program

if TYPE_CHECKING:
    from textual_serve.server import Server

USUAL_PORT: Final = 8000
#: Between two starts of a web server that ended by itself.
AGAIN_SECONDS: Final = 5.0
LOOPBACK: Final = "127.0.0.1"

#: The page gets nothing from elsewhere (the library's would ask for a font on the internet).
_POLICY: Final = (
    f"default-src 'self' http://{LOOPBACK}:* ws://{LOOPBACK}:* data: blob: "
    "'unsafe-inline' 'unsafe-eval'"
)


#: An element that fetches from another host than that of the page.
_ELSEWHERE: Final = re.compile(
    r"""<link\b[^>]*\bhref\s*=\s*["'](?:https?:)?//(?!127\.0\.0\.1)[^>]*>""", re.I
)


def needs_web() -> None:
    """`Refusal` in one line where the library is not installed."""
    from importlib.util import find_spec

    if find_spec("textual_serve") is None:
        raise Refusal(
            f"--web needs a library that is not installed; install it with: {install('web')}"
        )


def port_of(place: str) -> int:
    """The port of `8000` or `127.0.0.1:8000`; `Refusal` for any address that others can reach."""
    host, _, number = place.rpartition(":")
    if host and not is_loopback(host):
        raise Refusal(
            f"--web: expected a port of this machine alone, found {place}; from elsewhere forward "
            f"it: ssh -L {USUAL_PORT}:{LOOPBACK}:{USUAL_PORT} USER@THIS-MACHINE"
        )
    if not number.isdigit() or not 0 < int(number) < 65536:
        raise Refusal(f"--web: expected a port from 1 to 65535, found {place}")
    return int(number)


def is_loopback(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def web_beside(socket: Path, port: int, say: Callable[[str], None]) -> Callable[[], Any]:
    """The web server as a program beside the service, started again should it end."""

    async def run() -> None:
        words = [sys.executable, "-m", "monitor.service.web", str(socket), str(port)]
        say(f"the screen to look at: http://{LOOPBACK}:{port}")
        while True:
            child = await asyncio.create_subprocess_exec(
                *words,
                stdin=asyncio.subprocess.PIPE,
                stdout=asyncio.subprocess.DEVNULL,
                stderr=asyncio.subprocess.PIPE,
            )
            try:
                assert child.stderr is not None
                told = await child.stderr.read()
                await child.wait()
            finally:
                if child.returncode is None:
                    child.terminate()
                    with contextlib.suppress(TimeoutError):
                        async with asyncio.timeout(1.0):
                            await child.wait()
                    if child.returncode is None:
                        child.kill()
            last = told.decode(errors="replace").strip().splitlines() or ["no reason given"]
            say(f"the web server ended: {last[-1]}; started again")
            await asyncio.sleep(AGAIN_SECONDS)

    return run


def serve(socket: Path, port: int) -> None:
    """Until ended by a signal."""
    server_of(socket, port).serve()


def without_others(page: str) -> str:
    """A page without what it would fetch from another host: there is none off the grid.

    The library's asks for a style sheet of fonts; the page names others to fall back on.
    """
    return _ELSEWHERE.sub("", page)


def server_of(socket: Path, port: int) -> Server:
    """The web server, not begun: its pages for this machine alone, and from it alone."""
    from aiohttp import web
    from textual_serve.server import Server

    @web.middleware
    async def ours_only(
        request: web.Request, handler: Callable[[web.Request], Awaitable[web.StreamResponse]]
    ) -> web.StreamResponse:
        origin = request.headers.get("Origin")
        names = [request.host.rpartition(":")[0] or request.host]
        if origin is not None:
            names.append(urlsplit(origin).hostname or "")
        if not all(map(is_loopback, names)):
            raise web.HTTPForbidden(text="only for pages of this machine itself")
        answer = await handler(request)
        if isinstance(answer, web.Response) and answer.content_type == "text/html":
            answer.text = without_others(answer.text or "")
        if not answer.prepared:
            answer.headers["Content-Security-Policy"] = _POLICY
        return answer

    class Ours(Server):
        async def _make_app(self) -> web.Application:
            app = await super()._make_app()
            app.middlewares.append(ours_only)
            return app

        async def on_startup(self, app: web.Application) -> None:
            """Nothing is printed: the service has told where it is."""

        def initialize_logging(self) -> None:
            """Nothing is logged."""

    command = shlex.join([*program(), "watch", "--look-only", "--socket", str(socket)])
    return Ours(command, host=LOOPBACK, port=port, title="Ampwright")


def _end_with_the_service() -> None:
    """Its end of our stdin closes however it ends, even by a kill."""
    sys.stdin.buffer.read()
    os.kill(os.getpid(), signal.SIGTERM)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("socket", type=Path)
    parser.add_argument("port", type=int)
    arguments = parser.parse_args()
    threading.Thread(target=_end_with_the_service, daemon=True).start()
    try:
        serve(arguments.socket, arguments.port)
    except OSError as error:
        sys.exit(f"port {arguments.port}: {(error.strerror or str(error)).lower()}")


if __name__ == "__main__":
    main()
