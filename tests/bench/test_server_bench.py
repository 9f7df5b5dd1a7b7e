"""Requests a second at the server, as ratios; and how soon the record form's re-check answers.

Two gunicorn workers of the service, as deployed, answer `wrk` (Debian's package): the open rate
check with one setting, and a plain Django view that reads the same JSON and answers as much. Both
go through the same workers and the same middleware, in turn, so that a machine that slows down
slows both; the best of several turns counts, for other work on the machine only ever takes away.
The re-check is asked for by one browser, one after the other, as a person types.
Run with `pytest -m bench tests/bench/test_server_bench.py -s`; on PostgreSQL with BENCH_URL, the
address of an empty database.
"""

from __future__ import annotations

import itertools
import os
import re
import shutil
import statistics
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlencode

import pytest

from tests.bench.eight import PRODUCTS
from tests.bench.serve import ran, requests_a_second, serving
from tests.logbook.web.posts import sent_by

pytestmark = pytest.mark.bench

TURNS = 5
SECONDS = 3
LEAST = 0.3
RECHECKS = 60
MAX_MS = 50.0

BODY = (
    '{"known_flow": "0.40 gal/min", "known_pressure": "40 psi", "pressure": "40 psi",'
    ' "speed": "5.9 mph", "spacing": "20 in", "planned": "15 gal/ac", "label_min": "10 gal/ac",'
    ' "label_max": "20 gal/ac"}'
)


@pytest.fixture
def url(tmp_path: Path) -> str:
    """The address of an empty database."""
    return os.environ.get("BENCH_URL") or f"sqlite:///{tmp_path / 'bench.sqlite3'}"


@pytest.fixture
def static(url: str, tmp_path: Path) -> Path:
    """The collected static files."""
    folder = tmp_path / "static"
    ran("manage.py", "collectstatic", "--noinput", url=url, STATIC_ROOT=str(folder))
    return folder


@pytest.fixture
def server(url: str, static: Path) -> Iterator[str]:
    """The address of two workers of the service and the plain view."""
    ran("manage.py", "migrate", "-v0", url=url)
    with serving("tests.bench.plain_settings", url=url, static=static) as address:
        yield address


def test_a_rate_check_is_at_least_three_tenths_of_a_plain_view(server, tmp_path):
    assert shutil.which("wrk"), "apt-get install wrk"
    script = tmp_path / "post.lua"
    script.write_text(
        f"wrk.method = 'POST'\nwrk.body = [[{BODY}]]\n"
        "wrk.headers['Content-Type'] = 'application/json'\n"
    )
    post = ("-s", str(script))
    for path in ("/api/v1/rate-check/", "/plain/"):
        # wrk does not tell an answer that sends elsewhere from one that answers.
        asked = urllib.request.Request(server + path, BODY.encode())
        asked.add_header("Content-Type", "application/json")
        with urllib.request.urlopen(asked, timeout=60) as answer:
            assert answer.url == server + path
    turns = [
        (
            requests_a_second(f"{server}/api/v1/rate-check/", *post, seconds=SECONDS),
            requests_a_second(f"{server}/plain/", *post, seconds=SECONDS),
        )
        for _ in range(TURNS)
    ]
    ours, plain = (max(column) for column in zip(*turns, strict=True))
    print(
        f"\nrate check {ours:.0f}/s, plain view {plain:.0f}/s, ratio {ours / plain:.2f} (at least"
        f" {LEAST}); best of {TURNS} turns, 2 workers; each turn:"
        f" {', '.join(f'{a / b:.2f}' for a, b in turns)}"
    )
    assert ours / plain >= LEAST


def test_a_recheck_of_eight_products_answers_within_50_ms(url: str, static: Path) -> None:
    draft, session = ran("-m", "tests.bench.eight", url=url)
    with serving("tests.bench.settings", url=url, static=static) as server:
        ask = _Browser(server, session)
        sent = sent_by(ask(f"/book/{draft}/edit/"))
        assert sum(bool(re.fullmatch(r"products-\d+-product", name)) for name in sent) >= PRODUCTS
        assert {"revision", "speed_value"} <= set(sent)
        speeds = itertools.cycle(("7.9", "8.0"))

        def recheck() -> float:
            # What was typed is saved too, so each request is made from where the last one ended.
            sent["speed_value"] = next(speeds)
            start = time.perf_counter()
            answer = ask(f"/book/{draft}/check/", sent)
            taken = time.perf_counter() - start
            assert 'data-saved="all"' in answer
            sent["revision"] = str(int(sent["revision"]) + 1)
            return 1e3 * taken

        for _ in range(10):  # both workers warm
            recheck()
        # Three rounds, the best of their p95: other work on the machine only ever adds.
        rounds = [[recheck() for _ in range(RECHECKS)] for _ in "123"]
    p95 = [statistics.quantiles(one, n=20)[-1] for one in rounds]
    print(
        f"\nre-check with {PRODUCTS} products on {url.partition(':')[0]}: p95 {min(p95):.0f} ms (at"
        f" most {MAX_MS:.0f}), median {min(map(statistics.median, rounds)):.0f} ms; p95 of the"
        f" rounds {', '.join(f'{one:.0f}' for one in p95)} ms"
    )
    assert min(p95) <= MAX_MS


class _Browser:
    """Asks as the window of a person who is logged in does, and returns the page."""

    def __init__(self, server: str, session: str) -> None:
        self._server, self._cookies = server, {"sessionid": session}

    def __call__(self, address: str, sent: dict[str, object] | None = None) -> str:
        cookie = "; ".join(f"{name}={value}" for name, value in self._cookies.items())
        headers = {"Cookie": cookie, "HX-Request": "true", "Origin": self._server}
        body = urlencode(sent, doseq=True).encode() if sent else None
        request = urllib.request.Request(self._server + address, data=body, headers=headers)
        with urllib.request.urlopen(request, timeout=60) as answer:
            for line in answer.headers.get_all("Set-Cookie") or ():
                name, _, value = line.partition(";")[0].partition("=")
                self._cookies[name] = value
            return answer.read().decode()
