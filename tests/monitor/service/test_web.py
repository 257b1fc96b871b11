"""The screen in a browser: on loopback only, for this machine's own pages only, and read-only."""

from __future__ import annotations

import asyncio
import os
import re
import shutil
import signal
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from monitor.mishaps import Refusal
from monitor.service.web import is_loopback, port_of, server_of, without_others
from tests.monitor.service.showing_feed import ShowingFeed, serving, short_folder
from tests.wire.waiting import START_SECONDS, soon

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")


def test_a_port_of_this_machine() -> None:
    assert port_of("8000") == 8000
    assert port_of("localhost:81") == 81
    assert port_of("127.0.0.1:81") == 81
    assert port_of("[::1]:81") == 81


@pytest.mark.parametrize("place", ["0.0.0.0:8000", "192.168.1.7:8000", "coach.local:8000", ":::80"])
def test_other_addresses_are_refused_with_the_way_to_forward(place: str) -> None:
    with pytest.raises(Refusal, match=r"ssh -L 8000:127\.0\.0\.1:8000"):
        port_of(place)


@pytest.mark.parametrize("place", ["0", "99999", "http", ""])
def test_a_port_that_is_none(place: str) -> None:
    with pytest.raises(Refusal, match="from 1 to 65535"):
        port_of(place)


def test_what_is_loopback() -> None:
    assert is_loopback("127.8.9.1")
    assert not is_loopback("127.0.0.1.evil.example")
    assert not is_loopback("")


HOST = re.compile(r"""(?:https?:|wss?:)?//([\w.-]+\.[a-z]{2,}|\d+\.\d+\.\d+\.\d+)""", re.I)
FETCHED = re.compile(r"""\b(?:src|href)\s*=\s*["']([^"']+)|\burl\(["']([^"')]+)""")


def hosts(text: str) -> set[str]:
    """Every host that an address names; a namespace and remarks fetch nothing."""
    text = re.sub(r"/\*.*?\*/", "", text, flags=re.S)
    text = re.sub(r"""\bxmlns(:\w+)?\s*=\s*["'][^"']*["']""", "", text)
    return set(HOST.findall(text)) - {"127.0.0.1"}


async def test_the_page_and_all_that_it_fetches_name_no_other_host(tmp_path: Path) -> None:
    """Off the grid there is none; what a page asks of one keeps it from being shown meanwhile."""
    from aiohttp.test_utils import TestClient, TestServer

    application = await server_of(tmp_path / "socket", 8000)._make_app()
    application.on_startup.clear()
    async with TestClient(TestServer(application)) as client:
        page = await (await client.get("/")).text()
        assert "Ampwright" in page
        assert hosts(page) == set()
        fetched = {first or second for first, second in FETCHED.findall(page)}
        assert len(fetched) >= 3
        for address in fetched:
            path = urlsplit(address).path
            answer = await client.get(path)
            assert answer.status == 200, address
            if answer.content_type.startswith("text/"):
                assert hosts(await answer.text()) == set(), address


def test_only_what_comes_from_elsewhere_is_taken_out() -> None:
    page = (
        '<link rel="stylesheet" href="http://127.0.0.1:8000/static/xterm.css" />'
        '<link rel="stylesheet" href="/own.css"/>\n<script src="own.js"></script>'
    )
    assert without_others(page) == page
    for elsewhere in ("https://fonts.example.org/css?family=Mono", "//fonts.example.org/x"):
        asked = f'<link\n rel="stylesheet"\n href="{elsewhere}"\n/>'
        assert hosts(asked) == {"fonts.example.org"}
        assert without_others(asked + page) == page


def keep(drawn: bytearray) -> Callable[[object], None]:
    """Gathers what the page is told to draw."""

    def take(data: object) -> None:
        drawn.extend(data if isinstance(data, bytes) else str(data).encode())

    return take


def free_port() -> int:
    import socket

    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


def fetched(port: int, **headers: str) -> int:
    """The status of the page."""
    request = urllib.request.Request(f"http://127.0.0.1:{port}/", headers=headers)
    try:
        with urllib.request.urlopen(request, timeout=5) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as error:
        return error.code
    except OSError:
        return 0


@pytest.mark.slow
@pytest.mark.skipif(BROWSER is None, reason="no Chromium here; on Debian it is package chromium")
async def test_a_browser_shows_the_bank_and_gives_no_command(tmp_path: Path) -> None:
    """In headless Chromium: what is drawn is on the page, other pages are refused."""
    assert BROWSER is not None
    playwright = pytest.importorskip("playwright.async_api", reason="playwright is not installed")
    with short_folder() as folder:
        feed, port = ShowingFeed(4000), free_port()
        async with serving(feed, folder / "s") as server:
            words = [sys.executable, "-m", "monitor.service.web", str(folder / "s"), str(port)]
            state = {**os.environ, "XDG_STATE_HOME": str(tmp_path)}
            web = subprocess.Popen(words, env=state, stdin=subprocess.PIPE)
            try:
                await soon_async(lambda: asyncio.to_thread(fetched, port), 200)
                assert await asyncio.to_thread(fetched, port, Origin="http://evil.example") == 403
                assert await asyncio.to_thread(fetched, port, Host="evil.example:80") == 403
                async with playwright.async_playwright() as driver:
                    browser = await driver.chromium.launch(
                        executable_path=BROWSER, args=["--no-sandbox"]
                    )
                    page = await browser.new_page(viewport={"width": 1200, "height": 700})
                    drawn = bytearray()
                    page.on("websocket", lambda line: line.on("framereceived", keep(drawn)))
                    await page.goto(f"http://127.0.0.1:{port}/?fontsize=16")
                    await soon(lambda: server.clients, START_SECONDS, "a screen has attached")
                    await page.wait_for_selector(".xterm-screen", timeout=30_000)
                    shown = feed.snapshot().banks[0].stage.stage.capitalize().encode()
                    await soon(lambda: shown in drawn, START_SECONDS, "the stage is drawn")
                    await page.screenshot(path=str(tmp_path / "page.png"))
                    await page.focus(".xterm-helper-textarea")
                    await page.keyboard.press("a")
                    await soon(lambda: b"Alarms: " in drawn, START_SECONDS, "the list of alarms")
                    await page.keyboard.press("k")
                    await soon(lambda: b"only looks" in drawn, START_SECONDS, "it says so")
                    await browser.close()
                await soon(lambda: server.clients == 0, START_SECONDS, "it has gone")
                assert not feed.commands
            finally:
                assert web.stdin is not None
                web.stdin.close()  # as the end of the service does, however it ends
                assert web.wait(10) in (0, -signal.SIGTERM)


async def soon_async(ask: object, wanted: int) -> None:
    async with asyncio.timeout(START_SECONDS):
        while await ask() != wanted:  # type: ignore[operator]
            await asyncio.sleep(0.1)
