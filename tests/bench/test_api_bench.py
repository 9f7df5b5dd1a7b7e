"""Cost of the open rate check with 10,000 settings, as a ratio to the same work without the API.

The yardstick reads the same JSON with the standard library, fills arrays, does the arithmetic
straight in numpy for rows known to be good, and writes the same answer as JSON: no validation, no
units, no framework. Run with `pytest -m bench tests/bench/test_api_bench.py -s`.
"""

from __future__ import annotations

import json
import statistics
import time
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from django.core.cache import cache
from django.test import Client

ROWS = 10_000
REPEATS = 15
MOST = 3.0
ROOT_3 = np.sqrt(3.0)
WORDS = {-1: "does not agree", 0: "cannot be decided at this accuracy", 1: "agrees"}


def settings_body() -> str:
    random = np.random.default_rng(20250621)

    def between(low: float, high: float) -> list[float]:
        return random.uniform(low, high, ROWS).tolist()

    columns: dict[str, list[Any]] = {
        "known_flow": between(0.4, 3.0),
        "known_pressure": [300] * ROWS,
        "exponent": [0.5] * ROWS,
        "pressure": between(150.0, 600.0),
        "line_loss": between(0.0, 20.0),
        "speed": between(6.0, 25.0),
        "spacing": [50] * ROWS,
        "density": between(1.0, 1.35),
        "duty": between(40.0, 100.0),
        "flow_accuracy": [2] * ROWS,
        "pressure_accuracy": [10] * ROWS,
        "speed_accuracy": [0.2] * ROWS,
        "spacing_accuracy": [1] * ROWS,
        "label_min": between(60.0, 90.0),
        "label_max": between(120.0, 200.0),
        "planned": between(70.0, 190.0),
    }
    names = list(columns)
    rows = [dict(zip(names, row, strict=True)) for row in zip(*columns.values(), strict=True)]
    return json.dumps({"settings": rows})


def judged(rate: Any, expanded: Any, low: Any, high: Any) -> Any:
    bottom, top = rate - expanded, rate + expanded
    inside = (bottom >= low) & (top <= high)
    outside = (top < low) | (bottom > high)
    return inside.astype(np.int8) - outside.astype(np.int8)


def straight(body: str) -> bytes:
    rows = json.loads(body)["settings"]
    c = {name: np.array([row[name] for row in rows], np.float64) for name in rows[0]}
    pressure = c["pressure"] - c["line_loss"]
    flow = c["known_flow"] * (pressure / c["known_pressure"]) ** c["exponent"]
    flow = flow * (c["duty"] / 100.0) / np.sqrt(c["density"])
    rate = 60_000.0 * flow / (c["speed"] * c["spacing"])
    relative = (
        np.sqrt(
            (c["flow_accuracy"] / 100.0) ** 2
            + (c["exponent"] * c["pressure_accuracy"] / pressure) ** 2
            + (c["speed_accuracy"] / c["speed"]) ** 2
            + (c["spacing_accuracy"] / 100.0) ** 2
        )
        / ROOT_3
    )
    expanded = 2.0 * relative * rate
    label = judged(rate, expanded, c["label_min"], c["label_max"])
    deviation = rate / c["planned"] - 1.0
    planned = judged(rate, expanded, 0.9 * c["planned"], 1.1 * c["planned"])
    results = [
        {
            "delivered": a,
            "expanded": b,
            "relative_u_percent": d,
            "nozzle_flow_l_min": e,
            "nozzle_pressure_kpa": f,
            "label": WORDS[g],
            "planned": WORDS[h],
            "look_again": i,
            "deviation_percent": j,
        }
        for a, b, d, e, f, g, h, i, j in zip(
            rate.tolist(),
            expanded.tolist(),
            (100.0 * relative).tolist(),
            flow.tolist(),
            pressure.tolist(),
            label.tolist(),
            planned.tolist(),
            (np.abs(deviation) > 0.05).tolist(),
            (100.0 * deviation).tolist(),
            strict=True,
        )
    ]
    return json.dumps({"results": results}).encode()


def asked(body: str) -> bytes:
    response = Client().post("/api/v1/rate-check/", body, content_type="application/json")
    assert response.status_code == 200
    return bytes(response.content)


def seconds(work: Callable[[str], bytes], body: str) -> float:
    start = time.perf_counter()
    work(body)
    return time.perf_counter() - start


@pytest.mark.bench
@pytest.mark.django_db
def test_ten_thousand_settings_cost_at_most_three_times_numpy_and_json():
    body = settings_body()
    cache.clear()
    ours, theirs = json.loads(asked(body))["results"], json.loads(straight(body))["results"]
    for one, other in zip(ours, theirs, strict=True):
        assert one["delivered"] == pytest.approx(other["delivered"], rel=1e-12)
        assert one["expanded"] == pytest.approx(other["expanded"], rel=1e-12)
        assert (one["label"], one["planned"]) == (other["label"], other["planned"])

    # Both are timed in turn, so that a machine that slows down slows both.
    pairs = [(seconds(asked, body), seconds(straight, body)) for _ in range(REPEATS)]
    api, numpy_and_json = (statistics.median(times) for times in zip(*pairs, strict=True))
    ratio = statistics.median(one / other for one, other in pairs)
    print(
        f"\n{ROWS} settings, {len(body) / 1e6:.1f} MB: rate check {api * 1e3:.0f} ms, numpy and"
        f" JSON {numpy_and_json * 1e3:.0f} ms, ratio {ratio:.2f} (at most {MOST:.0f}),"
        f" median of {REPEATS}"
    )
    assert ratio <= MOST
