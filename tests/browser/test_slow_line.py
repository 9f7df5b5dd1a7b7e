"""On a line like 3G a second page shows within a second: measured on the service as in production.

400 kbit/s down and up and 400 ms there and back, as Chromium's own emulation lays them on; the
first page has filled the cache. The time is that to the first contentful paint of the next page.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.browser.conftest import MANAGE, PASSWORD, PHONE, free_port, serving

pytestmark = pytest.mark.browser

LINE = {"offline": False, "latency": 400, "downloadThroughput": 50_000, "uploadThroughput": 50_000}
LIMIT_MS = 1000
PAGES = ("/book/?state=draft", "/plan/", "/shelf/", "/deadlines/")
# Told by the browser when it comes: to ask again and again takes `eval`, which the page forbids.
FIRST_PAINT = """() => new Promise((done) => {
  new PerformanceObserver((list) => {
    const [paint] = list.getEntriesByName("first-contentful-paint");
    if (paint) done(paint.startTime);
  }).observe({ type: "paint", buffered: true });
})"""


@pytest.fixture(scope="module")
def served(book: Path) -> Iterator[str]:
    """The address of a server without DEBUG over a copy of the demo season."""
    port = free_port()
    environment = {name: value for name, value in os.environ.items() if name != "DEBUG"} | {
        "DATABASE_URL": f"sqlite:///{book}",
        "SECRET_KEY": "a-key-of-this-test-alone-" * 3,
        "ALLOWED_HOSTS": "localhost",
        "SECURE_SSL_REDIRECT": "0",
        "STATIC_ROOT": str(book.with_name("static")),
    }
    subprocess.run(
        [*MANAGE, "collectstatic", "--noinput"],
        env=environment,
        check=True,
        stdout=subprocess.DEVNULL,
    )
    command = [
        *(sys.executable, "-m", "gunicorn", "logbook.config.wsgi"),
        *("-b", f"127.0.0.1:{port}", "--keep-alive", "20"),
        *("--worker-class", "gthread", "--threads", "4"),
    ]
    log = book.with_name("gunicorn.log")
    with serving(command, environment, f"http://localhost:{port}", log) as address:
        yield address


def test_a_second_page_shows_within_a_second(chromium: Browser, served: str) -> None:
    context = chromium.new_context(viewport=PHONE, base_url=served)
    page = context.new_page()
    page.goto("/login/")
    page.fill("input[name=username]", "jens@spraying.example")
    page.fill("input[name=password]", PASSWORD)
    page.click("button[type=submit]")
    page.wait_for_url(f"{served}/")
    context.new_cdp_session(page).send("Network.emulateNetworkConditions", LINE)
    page.goto("/season/")
    took = {}
    for address in PAGES:
        # The better of two: the machine of the test may be busy, the line is not.
        shown = []
        for _ in range(2):
            page.goto(address)
            shown.append(round(page.evaluate(FIRST_PAINT)))
        took[address] = min(shown)
    print(f"first paint of a second page [ms]: {took}")
    context.close()
    assert max(took.values()) < LIMIT_MS, took
