"""Lists over a million records, against a bare list of REST framework over as large a table.

Two gunicorn workers each, wrk by turns on page, API and floor, the best of several rounds, on
whatever DATABASE_URL names: a database that `tests.bench.million` has filled. Run with

    DATABASE_URL=… DEBUG=1 python -m tests.bench.million 1000000
    BENCH_URL=… pytest -m bench tests/bench/test_lists_bench.py -s

BENCH_URL is that address; without it the test makes a small SQLite database of its own
(BENCH_RECORDS, 2,000 unless told otherwise) and prints what it finds there.
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
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
ROUNDS = int(os.environ.get("BENCH_ROUNDS", "5"))
SECONDS = int(os.environ.get("BENCH_SECONDS", "4"))
LEAST = 0.8
LOGIN = """
import os, django
os.environ["DJANGO_SETTINGS_MODULE"] = "tests.bench.settings"
django.setup()
from django.test import Client
from django.contrib.auth import get_user_model
c = Client(); c.force_login(get_user_model().objects.get(email="orla@spraying.example"),
                            backend="django.contrib.auth.backends.ModelBackend")
print(c.cookies["sessionid"].value)
"""
QUERIES = """
import os, sys, django
os.environ["DJANGO_SETTINGS_MODULE"] = "tests.bench.settings"
os.environ["DEBUG"] = "1"
django.setup()
from django.conf import settings
settings.ALLOWED_HOSTS = ["*"]
from django.contrib.auth import get_user_model
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
c = Client(); c.force_login(get_user_model().objects.get(email="orla@spraying.example"),
                            backend="django.contrib.auth.backends.ModelBackend")
for path in sys.argv[1:]:
    with CaptureQueriesContext(connection) as seen:
        assert c.get(path).status_code == 200, path
    print(len(seen))
"""
ASKED = (
    "/book/",
    "/api/v1/records/",
    *(f"/book/?sort={sort}" for sort in ("number", "-number", "field", "-customer", "day")),
    *("/book/?state=draft", "/book/?flag=breach", "/book/?year=2010", "/book/?q=Field+0007"),
    *("/book/?flag=mismatch", "/book/?flag=missing", "/book/?flag=unexplained&state=signed"),
)


def environment(url: str, static: Path) -> dict[str, str]:
    own = {"SECRET_KEY": "of the bench alone" * 4, "ALLOWED_HOSTS": "127.0.0.1", "DEBUG": "0"}
    return os.environ | own | {"DATABASE_URL": url, "STATIC_ROOT": str(static)}


def ran(program: str, url: str, static: Path, *arguments: str) -> list[str]:
    answer = subprocess.run(
        [sys.executable, "-c", program, *arguments],
        env=environment(url, static),
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    )
    return answer.stdout.split()


@contextmanager
def serving(settings: str, url: str, static: Path) -> Iterator[str]:
    """Serve with two workers; yield the address."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    server = subprocess.Popen(
        [
            *(sys.executable, "-m", "gunicorn", "-w", "2", "-b", f"127.0.0.1:{port}"),
            *("--log-level", "error", "django.core.wsgi:get_wsgi_application()"),
        ],
        env=environment(url, static) | {"DJANGO_SETTINGS_MODULE": settings},
        cwd=ROOT,
    )
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in range(200):
            try:
                socket.create_connection(("127.0.0.1", port), timeout=1).close()
                break
            except OSError:
                time.sleep(0.2)
        yield address
    finally:
        server.terminate()
        server.wait(timeout=20)


def rate(address: str, cookie: str = "") -> float:
    """Return the requests a second that wrk gets answered at an address."""
    request = urllib.request.Request(address, headers={"Cookie": cookie})
    assert urllib.request.urlopen(request, timeout=60).status == 200
    told = subprocess.run(
        ["wrk", "-t1", "-c4", f"-d{SECONDS}s", "-H", f"Cookie: {cookie}", address],
        check=True,
        capture_output=True,
        text=True,
    ).stdout
    assert "Non-2xx" not in told, told
    match = re.search(r"Requests/sec:\s*([\d.]+)", told)
    assert match, told
    return float(match[1])


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    """The address of the filled database, and the collected static files."""
    folder = tmp_path_factory.mktemp("lists")
    url = os.environ.get("BENCH_URL", "")
    if not url:
        url = f"sqlite:///{folder / 'book.sqlite3'}"
        subprocess.run(
            [sys.executable, "-m", "tests.bench.million", os.environ.get("BENCH_RECORDS", "2000")],
            env=os.environ | {"DATABASE_URL": url, "DEBUG": "1"},
            cwd=ROOT,
            check=True,
            stdout=subprocess.DEVNULL,
        )
    subprocess.run(
        [sys.executable, "manage.py", "collectstatic", "--noinput"],
        env=environment(url, folder / "static"),
        cwd=ROOT,
        check=True,
        stdout=subprocess.DEVNULL,
    )
    return url, folder / "static"


@pytest.mark.bench
def test_page_and_api_of_fifty_records_against_a_bare_list(place: tuple[str, Path]) -> None:
    if shutil.which("wrk") is None:
        pytest.skip("wrk is not installed")
    cookie = f"sessionid={ran(LOGIN, *place)[0]}"
    best: dict[str, float] = {}
    with (
        serving("tests.bench.settings", *place) as service,
        serving("tests.bench.floor_settings", *place) as floor,
    ):
        asked: dict[str, tuple[Any, ...]] = {
            "floor": (f"{floor}/plain/",),
            "API": (f"{service}/api/v1/records/", cookie),
            "page": (f"{service}/book/", cookie),
        }
        for _ in range(ROUNDS):
            for name, arguments in asked.items():
                best[name] = max(best.get(name, 0.0), rate(*arguments))
    for name in ("API", "page"):
        print(
            f"\n{name}: {best[name]:.0f} requests/s, floor {best['floor']:.0f},"
            f" ratio {best[name] / best['floor']:.2f} (at least {LEAST}), best of {ROUNDS}"
        )
    assert best["API"] >= LEAST * best["floor"]
    assert best["page"] >= LEAST * best["floor"]


@pytest.mark.bench
def test_the_number_of_queries_and_the_time_of_every_order(place: tuple[str, Path]) -> None:
    """Prints both, to be compared between a hundred records and a million."""
    counts = ran(QUERIES, *place, *ASKED)
    cookie = f"sessionid={ran(LOGIN, *place)[0]}"
    with serving("tests.bench.settings", *place) as service:
        for path, count in zip(ASKED, counts, strict=True):
            request = urllib.request.Request(service + path, headers={"Cookie": cookie})
            took = []
            for _ in range(4):
                start = time.perf_counter()
                urllib.request.urlopen(request, timeout=120).read()
                took.append(time.perf_counter() - start)
            print(f"\n{path}: {count} queries, {min(took) * 1e3:.0f} ms")
