"""Cost of judging many settings, as a ratio to the same arithmetic written straight in numpy.

The yardstick does what `check_settings` does, for arguments known to be good: no validation, no
dataclasses, no function calls. Run with `pytest -m bench tests/bench -s`.
"""

import statistics
import time
from collections.abc import Callable

import numpy as np
import pytest

from calc.delivery import Settings, Uncertainties, check_settings
from calc.errors import positive

ROWS = 10_000
REPEATS = 300
MOST = 3.0

Columns = dict[str, np.ndarray]


def columns() -> Columns:
    random = np.random.default_rng(20250621)

    def between(low: float, high: float) -> np.ndarray:
        return random.uniform(low, high, ROWS)

    return {
        "known_flow_l_min": between(0.4, 3.0),
        "known_at_kpa": np.full(ROWS, 300.0),
        "exponent": np.full(ROWS, 0.5),
        "gauge_kpa": between(150.0, 600.0),
        "line_loss_kpa": between(0.0, 20.0),
        "speed_km_h": between(6.0, 25.0),
        "spacing_cm": np.full(ROWS, 50.0),
        "specific_gravity": between(1.0, 1.35),
        "duty": between(0.4, 1.0),
        "u_flow": between(0.01, 0.03),
        "u_pressure_kpa": between(5.0, 12.0),
        "u_speed": between(0.005, 0.02),
        "u_spacing": np.full(ROWS, 0.005),
        "u_specific_gravity": np.full(ROWS, 0.01),
        "u_duty": np.full(ROWS, 0.02),
        "low": between(60.0, 90.0),
        "high": between(120.0, 200.0),
        "planned": between(70.0, 190.0),
    }


def straight(c: Columns) -> tuple[np.ndarray, ...]:
    pressure = c["gauge_kpa"] - c["line_loss_kpa"]
    flow = (
        c["known_flow_l_min"]
        * (pressure / c["known_at_kpa"]) ** c["exponent"]
        * c["duty"]
        / np.sqrt(c["specific_gravity"])
    )
    rate = 60_000.0 * flow / (c["speed_km_h"] * c["spacing_cm"])
    relative = np.sqrt(
        c["u_flow"] ** 2
        + (c["exponent"] * c["u_pressure_kpa"] / c["gauge_kpa"]) ** 2
        + c["u_speed"] ** 2
        + c["u_spacing"] ** 2
        + c["u_duty"] ** 2
        + 0.25 * c["u_specific_gravity"] ** 2
    )
    worst = 1.0 - np.sqrt(3.0) * (
        c["u_flow"]
        + c["exponent"] * c["u_pressure_kpa"] / c["gauge_kpa"]
        + c["u_speed"]
        + c["u_spacing"]
        + c["u_duty"]
        + 0.5 * c["u_specific_gravity"]
    )
    least, most = rate * worst, rate / worst
    coarse = relative > 0.1 / 3.0
    step = np.where(coarse, np.maximum(0.05, 1.6448536269514722 * relative), 0.05)
    above, below = rate / c["high"] - 1.0, 1.0 - rate / c["low"]
    beyond = np.maximum(above, below)
    reach = 1.959963984540054 * relative
    breach = (beyond > reach) | (above >= 1.0) | (below >= 0.5)
    breach |= (least > c["high"]) | (most < c["low"])
    at_limit = (rate * (1.0 + reach) > c["high"]) | (rate * (1.0 - reach) < c["low"])
    label = np.where(coarse & at_limit, 2, 0)
    label = np.where(beyond > step, 3, label)
    label = np.where(breach, 4, label)
    off = np.abs(rate / c["planned"] - 1.0)
    planned = np.where(off > np.maximum(0.05, reach), 1, 0)
    planned = np.where(coarse, 2, planned)
    planned = np.where(off > 0.1, 3, planned)
    return rate, 2.0 * relative * rate, label, planned


def checked(c: Columns) -> tuple[np.ndarray, ...]:
    found = check_settings(
        settings=Settings(
            known_flow_l_min=c["known_flow_l_min"],
            known_at_kpa=c["known_at_kpa"],
            exponent=c["exponent"],
            gauge_kpa=c["gauge_kpa"],
            line_loss_kpa=c["line_loss_kpa"],
            speed_km_h=c["speed_km_h"],
            spacing_cm=c["spacing_cm"],
            specific_gravity=c["specific_gravity"],
            duty=c["duty"],
        ),
        uncertainties=Uncertainties(
            flow=c["u_flow"],
            pressure_kpa=c["u_pressure_kpa"],
            speed=c["u_speed"],
            spacing=c["u_spacing"],
            specific_gravity=c["u_specific_gravity"],
            duty=c["u_duty"],
        ),
        label_low_l_ha=c["low"],
        label_high_l_ha=c["high"],
        planned_l_ha=c["planned"],
    )
    laid = found.delivered
    return (
        laid.rate_l_ha,
        laid.expanded_l_ha,
        found.label.codes,
        found.planned.codes,
    )


def seconds(work: Callable[[Columns], object], data: Columns) -> float:
    start = time.perf_counter()
    work(data)
    return time.perf_counter() - start


@pytest.mark.bench
def test_ten_thousand_settings_cost_at_most_three_times_straight_numpy():
    data = columns()
    for ours, theirs in zip(checked(data), straight(data), strict=True):
        np.testing.assert_allclose(ours, theirs, rtol=1e-12)

    # Both are timed in turn, so that a machine that slows down slows both.
    pairs = [(seconds(checked, data), seconds(straight, data)) for _ in range(REPEATS)]
    ours, theirs = (statistics.median(times) for times in zip(*pairs, strict=True))
    ratio = statistics.median(one / other for one, other in pairs)
    print(
        f"\n{ROWS} settings: checked {ours * 1e3:.3f} ms, straight numpy {theirs * 1e3:.3f} ms,"
        f" ratio {ratio:.2f} (at most {MOST:.0f}), median of {REPEATS}"
    )
    assert ratio <= MOST


@pytest.mark.bench
def test_a_thousand_checks_of_floats_take_less_than_two_milliseconds() -> None:
    def run() -> float:
        start = time.perf_counter()
        for _ in range(1000):
            positive("speed_km_h", 8.0)
        return time.perf_counter() - start

    best = min(run() for _ in range(50))
    print(f"\na thousand checks of floats: {1000 * best:.2f} ms")
    assert best < 0.002
