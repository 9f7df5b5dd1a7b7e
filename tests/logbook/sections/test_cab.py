"""The table a cab drives by, against the published constants and the square-root law."""

from __future__ import annotations

from typing import Any

import pytest

from calc.droplets import Allowed, DropletClass
from logbook.checks.core import CannotRun
from logbook.sections.cab import CabTable, cab_table
from tests.logbook.checks.build import given, q


def table(
    snapshot: Any = None, /, units: tuple[str, str] = ("mph", "psi"), **facts: Any
) -> CabTable:
    return cab_table(given(snapshot, **facts), speed_unit=units[0], pressure_unit=units[1])


def test_each_speed_has_the_gauge_pressure_that_lays_down_the_carrier() -> None:
    # 5940 × 0.303 gal/min / (15 gal/ac × 20 in) = 6.0 mph at 40 psi (UF/IFAS WG013; the flow is
    # that of the catch test). Twice the flow needs four times the pressure (the square-root law of
    # the Purdue/EPA core manual): 7 mph 40 · (7/6)² = 54.4 psi, 8 mph 71.1 psi. The line loses
    # 2 psi at 36 nozzles · 0.303 gal/min and grows with the flow squared: 2.0, 2.7 and 3.6 psi.
    found = table()
    assert [(one.speed, one.pressure) for one in found.steps] == [
        ("6", "42"),
        ("7", "57"),
        ("8", "75"),
    ]
    assert found.at_gauge
    # 30 and 90 psi: 6 · √(30/40) = 5.196 mph and 6 · √(90/40) = 8.999 mph, both told inwards.
    assert (found.low, found.high, found.slowest, found.fastest) == ("30", "90", "5.2", "8.9")


def test_the_droplet_class_is_that_of_the_nozzle_and_is_held_against_the_label() -> None:
    # The table of the nozzle: 30 psi very coarse, 50 coarse, 70 medium, 90 fine.
    found = table(products__0__label__finest_class="C", products__0__label__coarsest_class="")
    assert [one.classes for one in found.steps] == [
        (DropletClass.C, DropletClass.VC),
        (DropletClass.M, DropletClass.C),
        (DropletClass.F, DropletClass.M),
    ]
    assert [one.allowed for one in found.steps] == [
        Allowed.PASSES,
        Allowed.UNKNOWN,
        Allowed.FAILS,
    ]


def test_without_a_known_loss_the_pressure_is_that_at_the_nozzle() -> None:
    for loss in (None, q("not measured: no gauge on the boom")):
        found = table(rig__line_loss=loss)
        assert not found.at_gauge
        assert [one.pressure for one in found.steps] == ["40", "54", "71"]
    assert table(rig__line_loss=q("none")).at_gauge


def test_without_a_catch_test_the_flow_is_that_of_the_data_sheet() -> None:
    # 5940 × 0.30 / (15 × 20) = 5.94 mph at 40 psi: 6 mph needs 40 · (6/5.94)² = 40.8 psi, and 2.
    assert table(catch_test=None).steps[0].pressure == "43"


def test_the_table_is_read_in_the_units_of_the_rig() -> None:
    # 8.4 to 14.4 km/h; 10 km/h is 6.21 mph: 40 · (6.214/6)² = 42.9 psi and 2.1 lost are 3.1 bar.
    found = table(units=("km/h", "bar"))
    assert [one.speed for one in found.steps] == ["10", "12", "14"]
    assert found.steps[0].pressure == "3.1"


def test_a_heavier_mix_needs_more_pressure() -> None:
    # Root of the density: 1.28 times water takes 1.28 times the pressure for the same mix.
    found = table(record__density=q("1.28 SG"), rig__line_loss=q("none"))
    assert found.steps[0].speed == "5"
    assert next(one for one in found.steps if one.speed == "6").pressure == "51"


def test_of_a_heavier_mix_the_line_loses_the_same_share_of_the_pressure() -> None:
    # Loss and nozzle pressure both go with density times flow squared: 2 of 40 psi stays 1/20, so
    # 40 · 1.28 · 1.05 = 53.76 psi at the gauge for 6 mph (the square-root law; computed by hand).
    found = table(record__density=q("1.28 SG"))
    assert next(one for one in found.steps if one.speed == "6").pressure == "54"


def test_what_lacks_is_named() -> None:
    with pytest.raises(CannotRun) as lack:
        cab_table(
            given(record__planned_carrier=None, nozzle=None), speed_unit="mph", pressure_unit="psi"
        )
    assert set(lack.value.needs) == {"planned_carrier", "nozzle"}


def test_speeds_are_few_enough_to_be_read_from_a_seat() -> None:
    assert all(
        len(table(record__planned_carrier=q(f"{rate} gal/ac")).steps) <= 5 for rate in (2, 5, 8, 30)
    )
