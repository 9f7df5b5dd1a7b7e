"""A real server over the demo season for each file of tests, and a real Chromium.

The season is made once; each file gets a copy, so no journey meets what another has written.
Sealed rows cannot be flushed between tests, and a browser test is about what a person sees.
"""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from filelock import FileLock
from playwright.sync_api import Browser, Page, expect, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
MANAGE = (sys.executable, str(ROOT / "manage.py"))
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

# A refused entry answers 422, a closed draft 409, a closed door 403, a busy database 503, and a cab
# has no signal: Chromium reports each.
EXPECTED = re.compile(
    r"\b(422|409|403|503)\b|ERR_INTERNET_DISCONNECTED|htmx:(afterRequest|sendError)"
)

expect.set_options(timeout=15_000)


def free_port() -> int:
    """Return a port of this machine that nothing listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def serving(
    command: Sequence[str], environment: Mapping[str, str], address: str, log: Path
) -> Iterator[str]:
    """Run a server until the block ends, and yield its address once it answers."""
    with log.open("w") as stream:
        server = subprocess.Popen(command, env=environment, cwd=ROOT, stdout=stream, stderr=stream)
    try:
        for _ in range(120):
            try:
                urllib.request.urlopen(f"{address}/login/", timeout=1).close()
                break
            except OSError:
                time.sleep(0.25)
        else:
            pytest.fail(f"The server did not start: {log.read_text()}")
        yield address
    finally:
        server.terminate()
        server.wait(timeout=10)


@pytest.fixture(scope="session")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The database of the demo season, made by the first worker of a run that asks for it."""
    base = tmp_path_factory.getbasetemp()
    # Under xdist every worker has a folder of its own inside that of the run.
    shared = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base
    book = shared / "season.sqlite3"
    with FileLock(shared / "season.lock"):
        if not book.exists():
            made = shared / "season.part.sqlite3"
            subprocess.run(
                [*MANAGE, "demo", "--no-serve"],
                env=os.environ | {"DEBUG": "1", "DATABASE_URL": f"sqlite:///{made}"},
                check=True,
                stdout=subprocess.DEVNULL,
            )
            made.rename(book)
    return book


@pytest.fixture(scope="module")
def book(season: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """This file's own copy of the demo season."""
    return Path(shutil.copy(season, tmp_path_factory.mktemp("site") / "book.sqlite3"))


@pytest.fixture(scope="module")
def site(book: Path) -> Iterator[str]:
    """The address of a server over this file's copy of the demo season."""
    environment = os.environ | {"DEBUG": "1", "DATABASE_URL": f"sqlite:///{book}"}
    port = free_port()
    command = [*MANAGE, "runserver", "--noreload", f"127.0.0.1:{port}"]
    with serving(
        command, environment, f"http://127.0.0.1:{port}", book.with_name("server.log")
    ) as address:
        yield address


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


def explain_all(page: Page, text: str) -> None:
    """Write something of its own about each finding of the page of signing, the folded ones too."""
    if page.locator("#to-fill:not([open]) > summary").count():
        page.locator("#to-fill > summary").click()
    for place, box in enumerate(page.locator("textarea[name^='explain:']").all(), start=1):
        box.fill(f"{text} ({place})")
