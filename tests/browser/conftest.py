"""A real server with the demo season and a real Chromium, each started once.

The server has a database of its own: sealed rows cannot be flushed between tests, and a browser
test is about what a person sees, not about an empty table.
"""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
CHROMIUM = "/usr/bin/chromium"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
PASSWORD = "field-book-2026"
PHONE = {"width": 360, "height": 800}
DESK = {"width": 1280, "height": 900}

# A refused entry answers 422, a closed door 403, and a cab has no signal: Chromium reports each.
EXPECTED = re.compile(r"\b(422|403)\b|ERR_INTERNET_DISCONNECTED|htmx:(afterRequest|sendError)")

expect.set_options(timeout=15_000)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a server with the demo season in a new database."""
    folder = tmp_path_factory.mktemp("site")
    environment = os.environ | {
        "DEBUG": "1",
        "DATABASE_URL": f"sqlite:///{folder / 'book.sqlite3'}",
    }
    manage = [sys.executable, str(ROOT / "manage.py")]
    subprocess.run(
        [*manage, "demo", "--no-serve"], env=environment, check=True, stdout=subprocess.DEVNULL
    )
    port = _free_port()
    with (folder / "server.log").open("w") as log:
        server = subprocess.Popen(
            [*manage, "runserver", "--noreload", f"127.0.0.1:{port}"],
            env=environment,
            stdout=log,
            stderr=log,
        )
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in range(120):
            try:
                urllib.request.urlopen(f"{address}/login/", timeout=1).close()
                break
            except OSError:
                time.sleep(0.25)
        else:
            pytest.fail(f"The server did not start: {(folder / 'server.log').read_text()}")
        yield address
    finally:
        server.terminate()
        server.wait(timeout=10)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Debian's Chromium; .ci/run installs it."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def open_page(chromium: Browser, site: str) -> Iterator[Callable[..., Page]]:
    """Open a page of its own, logged in; any error on the console fails the test."""
    contexts: list[Any] = []
    faults: list[str] = []

    def _open(who: str = "orla", size: dict[str, int] = PHONE, **options: Any) -> Page:
        context = chromium.new_context(
            viewport=size, base_url=site, accept_downloads=True, **options
        )
        contexts.append(context)
        page = context.new_page()
        page.on(
            "console",
            lambda message: (
                faults.append(message.text)
                if message.type == "error" and not EXPECTED.search(message.text)
                else None
            ),
        )
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.goto("/login/")
        page.fill("input[name=username]", f"{who}@spraying.example")
        page.fill("input[name=password]", PASSWORD)
        page.click("button[type=submit]")
        # Somebody from outside is led on to what they came to see.
        page.wait_for_url(re.compile(rf"^{re.escape(site)}/(audit/)?$"))
        return page

    yield _open
    for context in contexts:
        context.close()
    assert faults == []
