"""Rate, flow, speed and width: published examples, round trips, scaling and refusals."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc import coverage
from calc.coverage import AreaBasis, EffectiveWidth
from calc.errors import OutOfRange
from calc.nozzle import nominal_flow_l_min, size_of
from calc.units import convert
from tests.calc.contract import (
    NEGATIVE,
    ZERO_OR_NEGATIVE,
    Contract,
    assert_broadcasts,
    assert_refused,
    assert_refuses_one_bad_element,
    named,
    positive_in_all,
    refusals,
)
from tests.calc.vectors import Row, check, ids
from tests.walked import walked

RATES = st.floats(min_value=10, max_value=2000)
SPEEDS = st.floats(min_value=1, max_value=40)
SPACINGS = st.floats(min_value=10, max_value=3000)
FACTORS = st.floats(min_value=0.2, max_value=5)


def rate_of_size(row: Row) -> float:
    rate = coverage.delivered_rate_l_ha(
        flow_l_min=nominal_flow_l_min(
            size=size_of(row.inputs["size"].removeprefix("no. ")),
            pressure_kpa=row.inputs["pressure_kpa"],
        ),
        speed_km_h=row.inputs["speed"],
        spacing_cm=row.inputs["spacing"],
    )
    return convert(rate, from_unit="L/ha", to_unit="L/ac")


def flow_gal_min(row: Row) -> float:
    return convert(row.inputs["flow_fl_oz_min"], from_unit="fl oz/min", to_unit="gal/min")


def nozzle_flow(row: Row) -> float:
    flow = coverage.nozzle_flow_gal_min(
        rate_gal_ac=row.inputs["rate"],
        speed_mph=row.inputs["speed"],
        spacing_in=row.inputs["spacing"],
    )
    return convert(flow, from_unit="gal/min", to_unit=row.unit)


def refill_rate(row: Row) -> float:
    return coverage.refill_rate_gal_ac(
        volume_gal=row.inputs["volume"],
        area_ac=coverage.rectangle_area_ac(
            distance_ft=row.inputs["distance_ft"], width_ft=row.inputs["swath_ft"]
        ),
    )


def rate_from_fluid_ounces(row: Row) -> float:
    return coverage.delivered_rate_gal_ac(
        flow_gal_min=flow_gal_min(row),
        speed_mph=row.inputs["speed"],
        spacing_in=row.inputs.get("spacing", row.inputs.get("swath_in")),
    )


PUBLISHED = {
    "EX-RATE-01": nozzle_flow,
    "EX-RATE-02": lambda row: coverage.ground_speed_mph(
        flow_gal_min=row.inputs["flow"],
        rate_gal_ac=row.inputs["rate"],
        spacing_in=row.inputs["swath_in"],
    ),
    "EX-RATE-03": rate_from_fluid_ounces,
    "EX-RATE-04": lambda row: coverage.refill_rate_l_ha(
        volume_l=row.inputs["volume_l"],
        area_ha=convert(row.inputs["area_m2"], from_unit="m2", to_unit="ha"),
    ),
    "EX-RATE-05": lambda row: coverage.swath_rate_l_ha(
        boom_flow_l_min=row.inputs["flow"],
        speed_km_h=row.inputs["speed"],
        swath_m=row.inputs["swath_m"],
    ),
    "EX-RATE-06": rate_of_size,
    "EX-RATE-08": refill_rate,
    "EX-RATE-09": refill_rate,
    "EX-RATE-10": refill_rate,
    "EX-RATE-11": refill_rate,
    "EX-RATE-12": lambda row: coverage.field_area_amount(
        broadcast_amount=row.inputs["rate"],
        band_width_cm=convert(row.inputs["band_in"], from_unit="in", to_unit="cm"),
        row_spacing_cm=convert(row.inputs["row_in"], from_unit="in", to_unit="cm"),
    ),
    "EX-RATE-13": nozzle_flow,
    "EX-RATE-14": lambda row: coverage.swath_rate_gal_ac(
        boom_flow_gal_min=row.inputs["flow"],
        speed_mph=row.inputs["speed"],
        swath_ft=row.inputs["swath_ft"],
    ),
    "TRAP-RATE-A": rate_from_fluid_ounces,
}


@pytest.mark.parametrize("example", ids("coverage"))
def test_a_published_example_comes_out(example: str) -> None:
    check("coverage", example, PUBLISHED)


FORMULAS = [
    positive_in_all(coverage.delivered_rate_l_ha, flow_l_min=1.2, speed_km_h=12.0, spacing_cm=50.0),
    positive_in_all(coverage.nozzle_flow_l_min, rate_l_ha=120.0, speed_km_h=12.0, spacing_cm=50.0),
    positive_in_all(coverage.ground_speed_km_h, flow_l_min=1.2, rate_l_ha=120.0, spacing_cm=50.0),
    positive_in_all(coverage.nozzle_spacing_cm, flow_l_min=1.2, rate_l_ha=120.0, speed_km_h=12.0),
    positive_in_all(
        coverage.delivered_rate_gal_ac, flow_gal_min=0.4, speed_mph=8.0, spacing_in=20.0
    ),
    positive_in_all(coverage.nozzle_flow_gal_min, rate_gal_ac=15.0, speed_mph=8.0, spacing_in=20.0),
    positive_in_all(coverage.ground_speed_mph, flow_gal_min=0.4, rate_gal_ac=15.0, spacing_in=20.0),
    positive_in_all(coverage.nozzle_spacing_in, flow_gal_min=0.4, rate_gal_ac=15.0, speed_mph=8.0),
    positive_in_all(coverage.swath_rate_l_ha, boom_flow_l_min=60.0, speed_km_h=12.0, swath_m=24.0),
    positive_in_all(coverage.boom_flow_l_min, rate_l_ha=120.0, speed_km_h=12.0, swath_m=24.0),
    positive_in_all(
        coverage.swath_rate_gal_ac, boom_flow_gal_min=20.0, speed_mph=8.0, swath_ft=80.0
    ),
    positive_in_all(coverage.boom_flow_gal_min, rate_gal_ac=15.0, speed_mph=8.0, swath_ft=80.0),
    positive_in_all(coverage.rectangle_area_ha, distance_m=400.0, width_m=24.0),
    positive_in_all(coverage.rectangle_area_ac, distance_ft=1320.0, width_ft=80.0),
    positive_in_all(coverage.refill_rate_l_ha, volume_l=20.0, area_ha=0.2),
    positive_in_all(coverage.refill_rate_gal_ac, volume_gal=4.0, area_ac=0.1),
    positive_in_all(coverage.work_rate_ha_h, speed_km_h=12.0, swath_m=24.0),
    positive_in_all(coverage.work_rate_ac_h, speed_mph=8.0, swath_ft=80.0),
    positive_in_all(coverage.spraying_time_min, area_ha=40.0, speed_km_h=12.0, swath_m=24.0),
    positive_in_all(coverage.overlap, applied_ha=4.8, covered_ha=4.48),
    Contract(
        coverage.field_area_amount,
        {"broadcast_amount": 3.0, "band_width_cm": 25.0, "row_spacing_cm": 75.0},
        {
            "broadcast_amount": NEGATIVE,
            "band_width_cm": (*ZERO_OR_NEGATIVE, 75.1),
            "row_spacing_cm": (*ZERO_OR_NEGATIVE, 24.9),
        },
    ),
]
WIDTHS = [
    Contract(coverage.broadcast_width, {"spacing_cm": 50.0}, {"spacing_cm": ZERO_OR_NEGATIVE}),
    Contract(
        coverage.directed_width,
        {"row_spacing_cm": 75.0, "nozzles_per_row": 3},
        {"row_spacing_cm": ZERO_OR_NEGATIVE, "nozzles_per_row": (0, -1, 1.5)},
    ),
    Contract(
        coverage.band_width,
        {
            "band_width_cm": 25.0,
            "row_spacing_cm": 75.0,
            "nozzles_per_band": 1,
            "basis": AreaBasis.FIELD,
        },
        {
            "band_width_cm": (*ZERO_OR_NEGATIVE, 75.1),
            "row_spacing_cm": (*ZERO_OR_NEGATIVE, 24.9),
            "nozzles_per_band": (0, -1, 1.5),
        },
    ),
]


@walked(("function", "arguments", "name", "value"), refusals([*FORMULAS, *WIDTHS]))
def test_a_bad_argument_is_refused_by_name(function, arguments, name, value) -> None:
    assert_refused(function, arguments, name)


@pytest.mark.parametrize("contract", named(FORMULAS))
def test_one_bad_element_of_an_array_is_refused(contract: Contract) -> None:
    assert_refuses_one_bad_element(contract)


@pytest.mark.parametrize("contract", named(FORMULAS))
def test_arrays_give_what_floats_give(contract: Contract) -> None:
    assert_broadcasts(contract)


@given(rate=RATES, speed=SPEEDS, spacing=SPACINGS)
def test_each_of_the_four_metric_unknowns_comes_back(rate, speed, spacing) -> None:
    flow = coverage.nozzle_flow_l_min(rate_l_ha=rate, speed_km_h=speed, spacing_cm=spacing)
    assert coverage.delivered_rate_l_ha(
        flow_l_min=flow, speed_km_h=speed, spacing_cm=spacing
    ) == pytest.approx(rate, rel=1e-12)
    assert coverage.ground_speed_km_h(
        flow_l_min=flow, rate_l_ha=rate, spacing_cm=spacing
    ) == pytest.approx(speed, rel=1e-12)
    assert coverage.nozzle_spacing_cm(
        flow_l_min=flow, rate_l_ha=rate, speed_km_h=speed
    ) == pytest.approx(spacing, rel=1e-12)


@given(rate=RATES, speed=SPEEDS, spacing=SPACINGS)
def test_each_of_the_four_us_unknowns_comes_back(rate, speed, spacing) -> None:
    flow = coverage.nozzle_flow_gal_min(rate_gal_ac=rate, speed_mph=speed, spacing_in=spacing)
    assert coverage.delivered_rate_gal_ac(
        flow_gal_min=flow, speed_mph=speed, spacing_in=spacing
    ) == pytest.approx(rate, rel=1e-12)
    assert coverage.ground_speed_mph(
        flow_gal_min=flow, rate_gal_ac=rate, spacing_in=spacing
    ) == pytest.approx(speed, rel=1e-12)
    assert coverage.nozzle_spacing_in(
        flow_gal_min=flow, rate_gal_ac=rate, speed_mph=speed
    ) == pytest.approx(spacing, rel=1e-12)


@given(rate=RATES, speed=SPEEDS, spacing=SPACINGS)
def test_the_us_and_the_metric_formula_are_one_law(rate, speed, spacing) -> None:
    us = coverage.nozzle_flow_gal_min(
        rate_gal_ac=convert(rate, from_unit="L/ha", to_unit="gal/ac"),
        speed_mph=convert(speed, from_unit="km/h", to_unit="mph"),
        spacing_in=convert(spacing, from_unit="cm", to_unit="in"),
    )
    metric = coverage.nozzle_flow_l_min(rate_l_ha=rate, speed_km_h=speed, spacing_cm=spacing)
    assert convert(us, from_unit="gal/min", to_unit="L/min") == pytest.approx(metric, rel=1e-12)


@given(rate=RATES, speed=SPEEDS, swath=SPACINGS)
def test_a_boom_is_its_nozzles_together(rate, speed, swath) -> None:
    metric = coverage.boom_flow_l_min(rate_l_ha=rate, speed_km_h=speed, swath_m=swath / 100)
    assert metric == pytest.approx(
        coverage.nozzle_flow_l_min(rate_l_ha=rate, speed_km_h=speed, spacing_cm=swath), rel=1e-12
    )
    assert coverage.swath_rate_l_ha(
        boom_flow_l_min=metric, speed_km_h=speed, swath_m=swath / 100
    ) == pytest.approx(rate, rel=1e-12)
    us = coverage.boom_flow_gal_min(rate_gal_ac=rate, speed_mph=speed, swath_ft=swath / 12)
    assert us == pytest.approx(
        coverage.nozzle_flow_gal_min(rate_gal_ac=rate, speed_mph=speed, spacing_in=swath), rel=1e-12
    )
    assert coverage.swath_rate_gal_ac(
        boom_flow_gal_min=us, speed_mph=speed, swath_ft=swath / 12
    ) == pytest.approx(rate, rel=1e-12)


@given(rate=RATES, speed=SPEEDS, spacing=SPACINGS, factor=FACTORS)
def test_the_rate_falls_with_speed_and_with_width(rate, speed, spacing, factor) -> None:
    flow = coverage.nozzle_flow_l_min(rate_l_ha=rate, speed_km_h=speed, spacing_cm=spacing)
    faster = coverage.delivered_rate_l_ha(
        flow_l_min=flow, speed_km_h=speed * factor, spacing_cm=spacing
    )
    wider = coverage.delivered_rate_l_ha(
        flow_l_min=flow, speed_km_h=speed, spacing_cm=spacing * factor
    )
    assert faster == pytest.approx(rate / factor, rel=1e-12)
    assert wider == pytest.approx(rate / factor, rel=1e-12)


def test_the_refill_test_and_the_flow_formula_give_one_rate() -> None:
    # One minute at 12 km/h is 200 m; 24 nozzles of 1.2 L/min on 50 cm put out 28.8 L on 12 m.
    area = coverage.rectangle_area_ha(distance_m=200.0, width_m=12.0)
    by_refill = coverage.refill_rate_l_ha(volume_l=28.8, area_ha=area)
    by_flow = coverage.delivered_rate_l_ha(flow_l_min=1.2, speed_km_h=12.0, spacing_cm=50.0)
    assert by_refill == pytest.approx(by_flow, rel=1e-12)


def test_a_boom_of_50_8_cm_taken_for_50_cm_is_off_by_1_6_per_cent() -> None:
    # GRDC Spray Application Manual 8.3, read in excerpt.
    told = coverage.delivered_rate_l_ha(flow_l_min=1.2, speed_km_h=12.0, spacing_cm=50.0)
    true = coverage.delivered_rate_l_ha(flow_l_min=1.2, speed_km_h=12.0, spacing_cm=50.8)
    assert told / true - 1 == pytest.approx(0.016, abs=0.0005)


def test_a_broadcast_nozzle_covers_its_spacing() -> None:
    assert coverage.broadcast_width(spacing_cm=50.8) == EffectiveWidth(50.8, AreaBasis.TREATED)


def test_nozzles_on_one_row_share_the_row() -> None:
    # University of Missouri Extension G1270A, read in excerpt.
    assert coverage.directed_width(row_spacing_cm=75.0, nozzles_per_row=3) == EffectiveWidth(
        25.0, AreaBasis.FIELD
    )


def test_the_width_of_a_band_nozzle_follows_the_basis_of_the_label() -> None:
    # University of Missouri Extension G1270A, read in excerpt.
    layout = {"band_width_cm": 30.0, "row_spacing_cm": 75.0, "nozzles_per_band": 2}
    treated = coverage.band_width(**layout, basis=AreaBasis.TREATED)
    field = coverage.band_width(**layout, basis=AreaBasis.FIELD)
    assert treated == EffectiveWidth(15.0, AreaBasis.TREATED)
    assert field == EffectiveWidth(37.5, AreaBasis.FIELD)
    per_treated = coverage.delivered_rate_l_ha(
        flow_l_min=0.6, speed_km_h=8.0, spacing_cm=treated.width_cm
    )
    per_field = coverage.delivered_rate_l_ha(
        flow_l_min=0.6, speed_km_h=8.0, spacing_cm=field.width_cm
    )
    assert per_field == pytest.approx(
        coverage.field_area_amount(
            broadcast_amount=per_treated, band_width_cm=30.0, row_spacing_cm=75.0
        ),
        rel=1e-12,
    )


def test_a_band_as_wide_as_the_row_is_broadcast() -> None:
    assert (
        coverage.field_area_amount(broadcast_amount=3.0, band_width_cm=75.0, row_spacing_cm=75.0)
        == 3.0
    )


def test_the_message_names_a_band_wider_than_its_row() -> None:
    with pytest.raises(
        OutOfRange, match=r"^row_spacing_cm - band_width_cm is -5\.0; it must be zero or more"
    ):
        coverage.field_area_amount(broadcast_amount=3.0, band_width_cm=80.0, row_spacing_cm=75.0)


@given(speed=SPEEDS, swath=st.floats(min_value=1, max_value=40), hours=FACTORS)
def test_the_time_expected_is_the_area_over_the_work_rate(speed, swath, hours) -> None:
    area = hours * coverage.work_rate_ha_h(speed_km_h=speed, swath_m=swath)
    minutes = coverage.spraying_time_min(area_ha=area, speed_km_h=speed, swath_m=swath)
    assert minutes == pytest.approx(60 * hours, rel=1e-12)


@given(speed=SPEEDS, swath=st.floats(min_value=1, max_value=120))
def test_the_us_and_the_metric_work_rate_are_one_law(speed, swath) -> None:
    us = coverage.work_rate_ac_h(speed_mph=speed, swath_ft=swath)
    metric = coverage.work_rate_ha_h(
        speed_km_h=convert(speed, from_unit="mph", to_unit="km/h"),
        swath_m=convert(swath, from_unit="ft", to_unit="m"),
    )
    assert convert(us, from_unit="ac", to_unit="ha") == pytest.approx(metric, rel=1e-12)


def test_the_overlap_is_what_was_sprayed_twice() -> None:
    assert coverage.overlap(applied_ha=4.8, covered_ha=4.8) == 0.0
    assert coverage.overlap(applied_ha=6.0, covered_ha=4.8) == pytest.approx(0.25)
    assert coverage.overlap(applied_ha=4.7999, covered_ha=4.8) < 0.0


def test_the_constants_are_their_definitions() -> None:
    assert coverage.INCHES_US == 43_560 * 12 / 88
    assert coverage.FEET_US == 43_560 / 88
    assert coverage.CM_METRIC == 100 * coverage.M_METRIC == 10_000 * 100 * 60 / 1000


def test_the_usual_ranges_hold_an_ordinary_boom() -> None:
    ordinary = {"speed_km_h": 12, "spacing_cm": 50, "rate_l_ha": 120, "nozzle_flow_l_min": 1.2}
    assert ordinary.keys() == coverage.USUAL.keys()
    assert all(low < ordinary[name] < high for name, (low, high) in coverage.USUAL.items())


def test_one_float_and_arrays_mix() -> None:
    speeds = np.array([6.0, 12.0])
    rates = coverage.delivered_rate_l_ha(flow_l_min=1.2, speed_km_h=speeds, spacing_cm=50.0)
    np.testing.assert_allclose(rates, [240.0, 120.0])
    assert math.isclose(rates[1], 120.0)
