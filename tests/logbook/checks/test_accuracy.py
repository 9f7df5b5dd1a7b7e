"""What accuracy makes a rig good enough for its yardstick, in numbers that were tried."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from calc.verdict import LEAST_CAPABILITY
from logbook.checks.accuracy import too_coarse
from logbook.checks.setting import setting
from tests.logbook.checks.build import given, q

COARSE: dict[str, Any] = {"rig__gauge_accuracy": q("12 psi")}


def said(**changes: Any) -> str:
    return too_coarse(setting(given(**changes)), off_plan=0.10)


def test_a_rig_that_measures_finely_enough_says_nothing() -> None:
    assert said() == ""


def test_too_coarse_a_gauge_says_how_good_it_would_have_to_be() -> None:
    # By hand: the others add √(1.5² + 1.67² + 1²)/√3 % = 1.42 %, and 10 %/3 leaves 3.02 % for the
    # gauge, ½ · a/42/√3: 4.39 psi, of which no more than two figures are asked.
    words = said(**COARSE)
    assert words.endswith("A gauge good to within 4.3 psi would do.")
    assert "too coarse for a yardstick of 10 %" in words
    assert said(rig__gauge_accuracy=q("4.3 psi")) == ""
    assert said(rig__gauge_accuracy=q("4.5 psi")) != ""


@pytest.mark.parametrize(
    ("changes", "words", "better"),
    [
        (
            {"catch_test__accuracy_percent": Decimal(9)},
            "A catch test good to within",
            {"catch_test__accuracy_percent": Decimal("4.8")},
        ),
        (
            {"rig__speed_accuracy": q("1 mph")},
            "A ground speed good to within",
            {"rig__speed_accuracy": q("0.28 mph")},
        ),
        (
            {"rig__spacing_accuracy_percent": Decimal(9)},
            "A nozzle spacing measured to within",
            {"rig__spacing_accuracy_percent": Decimal("4.6")},
        ),
    ],
)
def test_each_measurement_that_would_do_is_named(
    changes: dict[str, Any], words: str, better: dict[str, Any]
) -> None:
    assert words in said(**changes)
    assert said(**changes | better) == ""


def test_where_no_single_one_would_do_all_of_them_are_told() -> None:
    worst = COARSE | {"rig__speed_accuracy": q("1 mph")}
    assert "No single one would do: the accuracies of flow, gauge, speed and spacing" in said(
        **worst
    )


def test_the_yardstick_is_that_of_the_rule() -> None:
    assert LEAST_CAPABILITY == 1.5
    laid = setting(given(**COARSE))
    assert too_coarse(laid, off_plan=3.0 * laid.laid.relative_u) == ""
    # All evidence together may be better than the settings.
    assert too_coarse(laid, off_plan=0.10, relative_u=0.01) == ""
