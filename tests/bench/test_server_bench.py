"""Requests a second at the server, as ratios; and how soon the record form's re-check answers.

Two gunicorn workers of the service answer `wrk` (Debian's package): the open rate check with one
setting, and a plain Django view that reads the same JSON and answers as much. Both go through the
same workers and the same middleware, in turn, so that a machine that slows down slows both; the
best of several turns counts, for other work on the machine only ever takes away.
Run with `pytest -m bench tests/bench/test_server_bench.py -s`; with DATABASE_URL on PostgreSQL too.
"""

from __future__ import annotations

import itertools
import os
import re
import shutil
import socket
import statistics
import subprocess
import sys
import time
import urllib.request
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from django.db import connection
from django.test import Client

from logbook.records.models import ApplicationRecord
from tests import factories as make
from tests.logbook.web.posts import as_shown

pytestmark = pytest.mark.bench

ROOT = Path(__file__).resolve().parents[2]
TURNS = 5
SECONDS = 3
LEAST = 0.3
RECHECKS = 60
MOST_MS = 50.0
PRODUCTS = 8

BODY = (
    '{"known_flow": "0.40 gal/min", "known_pressure": "40 psi", "pressure": "40 psi",'
    ' "speed": "5.9 mph", "spacing": "20 in", "planned": "15 gal/ac", "label_min": "10 gal/ac",'
    ' "label_max": "20 gal/ac"}'
)


@pytest.fixture
def server(tmp_path: Path) -> Iterator[str]:
    """The address of two workers on an empty database of their own."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    environment = {
        **os.environ,
        "DEBUG": "1",
        "DATABASE_URL": f"sqlite:///{tmp_path / 'bench.sqlite3'}",
        "DJANGO_SETTINGS_MODULE": "tests.bench.plain_settings",
    }
    subprocess.run(
        [sys.executable, "manage.py", "migrate", "-v0"], cwd=ROOT, env=environment, check=True
    )
    gunicorn = subprocess.Popen(
        [
            *(sys.executable, "-m", "gunicorn", "--workers=2", f"--bind=127.0.0.1:{port}"),
            *("--log-level=error", "logbook.config.wsgi"),
        ],
        cwd=ROOT,
        env=environment,
    )
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in range(120):
            try:
                urllib.request.urlopen(f"{address}/api/v1/schema/").read()
                break
            except OSError:
                time.sleep(0.5)
        yield address
    finally:
        gunicorn.terminate()
        gunicorn.wait()


def requests_a_second(address: str, script: Path) -> float:
    command = ["wrk", "-t1", "-c4", f"-d{SECONDS}s", "-s", str(script), address]
    told = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    assert "Non-2xx" not in told, told
    found = re.search(r"Requests/sec:\s+([\d.]+)", told)
    assert found, told
    return float(found[1])


def test_a_rate_check_is_at_least_three_tenths_of_a_plain_view(server, tmp_path):
    assert shutil.which("wrk"), "apt-get install wrk"
    script = tmp_path / "post.lua"
    script.write_text(
        f"wrk.method = 'POST'\nwrk.body = [[{BODY}]]\n"
        "wrk.headers['Content-Type'] = 'application/json'\n"
    )
    turns = [
        (
            requests_a_second(f"{server}/api/v1/rate-check/", script),
            requests_a_second(f"{server}/plain/", script),
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


@pytest.mark.django_db
def test_a_recheck_of_eight_products_answers_within_50_ms(owner: Any, yard: Any, entry: Any):
    from logbook.records.services.draft import begin_draft, save_draft

    products = [yard.product]
    while len(products) < PRODUCTS:
        product = make.ProductFactory(business=owner.business)
        make.IngredientFactory(edition=make.LabelEditionFactory(product=product))
        products.append(product)
    (line,) = entry["products"]
    entry["products"] = [{**line, "product": product.pk} for product in products]
    draft = begin_draft(actor=owner, record_id=uuid.uuid4())
    save_draft(actor=owner, record_id=draft.pk, revision=draft.revision, data=entry)
    browser = Client()
    browser.force_login(owner.user, backend="django.contrib.auth.backends.ModelBackend")
    sent = as_shown(browser, f"/book/{draft.pk}/edit/")
    assert sum(bool(re.fullmatch(r"products-\d+-product", name)) for name in sent) >= PRODUCTS

    speeds = itertools.cycle(("7.9", "8.0"))

    def recheck() -> float:
        # What was typed is saved too, so each request is made from where the last one ended.
        draft.refresh_from_db()
        sent.update(revision=str(draft.revision), speed_value=next(speeds))
        start = time.perf_counter()
        answer = browser.post(
            f"/book/{draft.pk}/check/",
            urlencode(sent, doseq=True),
            "application/x-www-form-urlencoded",
            headers={"HX-Request": "true"},
        )
        taken = time.perf_counter() - start
        assert answer.status_code == 200, answer.content
        assert ApplicationRecord.objects.get(pk=draft.pk).revision == draft.revision + 1
        return 1e3 * taken

    assert {"revision", "speed_value"} <= set(sent)
    recheck()
    # Three rounds, the best of their p95: other work on the machine only ever adds.
    rounds = [statistics.quantiles([recheck() for _ in range(RECHECKS)], n=20)[-1] for _ in "123"]
    print(
        f"\nre-check with {PRODUCTS} products on {connection.vendor}: p95 {min(rounds):.0f} ms"
        f" (at most {MOST_MS:.0f}); rounds {', '.join(f'{one:.0f}' for one in rounds)} ms"
    )
    assert min(rounds) <= MOST_MS
