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
import shutil
import time
import urllib.request
from pathlib import Path

import pytest

from tests.bench.serve import BARE, ran, requests_a_second, serving

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


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    """The address of the filled database, and the collected static files."""
    folder = tmp_path_factory.mktemp("lists")
    url = os.environ.get("BENCH_URL", "")
    if not url:
        url = f"sqlite:///{folder / 'book.sqlite3'}"
        count = os.environ.get("BENCH_RECORDS", "2000")
        ran("-m", "tests.bench.million", count, url=url, DEBUG="1")
    static = str(folder / "static")
    ran("manage.py", "collectstatic", "--noinput", url=url, STATIC_ROOT=static)
    return url, folder / "static"


@pytest.mark.bench
def test_page_and_api_of_fifty_records_against_a_bare_list(place: tuple[str, Path]) -> None:
    if shutil.which("wrk") is None:
        pytest.skip("wrk is not installed")
    url, static = place
    cookie = f"sessionid={ran('-c', LOGIN, url=url)[0]}"
    best: dict[str, float] = {}
    with (
        serving("tests.bench.settings", url=url, static=static) as service,
        serving("tests.bench.floor_settings", url=url, static=static, application=BARE) as floor,
    ):
        asked = {
            "floor": (f"{floor}/plain/",),
            "API": (f"{service}/api/v1/records/", "-H", f"Cookie: {cookie}"),
            "page": (f"{service}/book/", "-H", f"Cookie: {cookie}"),
        }
        for _ in range(ROUNDS):
            for name, arguments in asked.items():
                best[name] = max(
                    best.get(name, 0.0), requests_a_second(*arguments, seconds=SECONDS)
                )
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
    url, static = place
    cookie = f"sessionid={ran('-c', LOGIN, url=url)[0]}"
    counts = ran("-c", QUERIES, *ASKED, url=url)
    with serving("tests.bench.settings", url=url, static=static) as service:
        for path, count in zip(ASKED, counts, strict=True):
            request = urllib.request.Request(service + path, headers={"Cookie": cookie})
            took = []
            for _ in range(4):
                start = time.perf_counter()
                urllib.request.urlopen(request, timeout=120).read()
                took.append(time.perf_counter() - start)
            print(f"\n{path}: {count} queries, {min(took) * 1e3:.0f} ms")
