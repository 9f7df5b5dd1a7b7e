"""Catch test, jar method, timed course, gauge and boom height."""

import math
import statistics

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc import calibration, coverage
from calc.errors import OutOfRange
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
from tests.calc.vectors import Row, check, ids, rows
from tests.walked import walked

LENGTHS = st.floats(min_value=10, max_value=1000)
ANGLES = st.floats(min_value=10, max_value=170)
CATCHES = st.lists(st.floats(min_value=500, max_value=3000), min_size=2, max_size=60)


def inches(value: float) -> float:
    return convert(value, from_unit="in", to_unit="cm")


def to_inches(value: float) -> float:
    return convert(value, from_unit="cm", to_unit="in")


def jar_rate(row: Row) -> float:
    given = row.inputs
    width = given.get("band_in", given.get("spacing_in"))
    return calibration.jar_rate_gal_ac(
        caught_fl_oz=given["fl_oz"],
        course_ft=given.get("course_ft", calibration.jar_course_ft(width_in=width)),
        width_in=width,
    )


def course_time(row: Row) -> float:
    given = row.inputs
    if "distance_ft" in given:
        return calibration.course_time_s(
            distance_m=convert(given["distance_ft"], from_unit="ft", to_unit="m"),
            speed_km_h=convert(given["speed_mph"], from_unit="mph", to_unit="km/h"),
        )
    return calibration.course_time_s(distance_m=given["distance_m"], speed_km_h=given["speed"])


def catch_test(row: Row) -> object:
    given = row.inputs
    result = calibration.evaluate_catches(
        volumes_ml=given["volumes"],
        seconds=given["seconds"],
        new_flow_l_min=given["new_ml_min"] / 1000,
    )
    return {
        "mean": 1000 * result.mean_l_min,
        "cv": 100 * result.cv,
        "deviation of 5": 100 * result.deviations[4],
        "wear of 5": 100 * result.wear[4],
        "uneven": result.uneven,
        "worn": result.worn,
    }[given["find"]]


def height_in(row: Row) -> float:
    given = row.inputs
    height = calibration.boom_height_cm(
        spacing_cm=inches(given["spacing_in"]),
        angle_deg=given["angle"],
        width_to_spacing=given["ratio"],
    )
    return to_inches(height)


def width_or_height(row: Row) -> float:
    if row.inputs["find"] == "height":
        return height_in(row)
    width = calibration.pattern_width_cm(
        height_cm=inches(height_in(row)), angle_deg=row.inputs["angle"]
    )
    return to_inches(width)


def width_or_overlap(row: Row) -> float:
    fan = {"height_cm": inches(row.inputs["height_in"]), "angle_deg": row.inputs["angle"]}
    if row.unit == "in":
        return to_inches(calibration.pattern_width_cm(**fan))
    ratio = calibration.width_to_spacing(**fan, spacing_cm=inches(row.inputs["spacing_in"]))
    return 100 * calibration.overlap_of_spacing(width_to_spacing=ratio)


def against_field_height(row: Row) -> str:
    return "not above" if height_in(row) <= row.inputs["field_height_in"] else "above"


def evenness_band(row: Row) -> float:
    low, high = calibration.evenness_band_l_min(
        mean_l_min=convert(row.inputs["mean"], from_unit="fl oz/min", to_unit="L/min"),
        limit=calibration.EVENNESS_LIMIT,
    )
    flow = low if row.inputs["find"] == "low" else high
    return convert(flow, from_unit="L/min", to_unit="fl oz/min")


def inspection_limit(row: Row) -> float:
    listed = {limit.subject: limit for limit in calibration.INSPECTION_LIMITS}
    limit = listed[row.inputs["subject"]]
    assert (limit.unit, f"[{limit.source}]", limit.how_read) == (row.unit, row.source, row.how_read)
    return getattr(limit, row.inputs["find"])


PUBLISHED = {
    "EX-RATE-07": jar_rate,
    "EX-JAR-01": jar_rate,
    "EX-JAR-02": lambda row: calibration.jar_course_ft(width_in=row.inputs["band_in"]),
    "EX-JAR-03": lambda row: calibration.jar_rate_l_ha(
        caught_ml=row.inputs["ml"],
        course_m=row.inputs["course_m"],
        width_m=row.inputs["width_m"],
    ),
    "TABLE-JAR": lambda row: calibration.jar_course_ft(width_in=row.inputs["spacing_in"]),
    "EX-SPEED-01": course_time,
    "EX-SPEED-02": course_time,
    "TRAP-SPEED-B": course_time,
    "EX-WEAR-01": evenness_band,
    "EX-WEAR-02": catch_test,
    "EX-HGT-01": width_or_height,
    "EX-HGT-02": width_or_overlap,
    "EX-HGT-03": against_field_height,
    "TABLE-HGT": height_in,
    "TABLE-LIMIT": inspection_limit,
}


@pytest.mark.parametrize("example", ids("calibration"))
def test_a_published_example_comes_out(example: str) -> None:
    check("calibration", example, PUBLISHED)


NOT_AN_ANGLE = (9.9, 170.1, *ZERO_OR_NEGATIVE)
NOT_A_SHARE = (1.01, *ZERO_OR_NEGATIVE)

FORMULAS = [
    positive_in_all(calibration.weighed_volume_ml, mass_g=1180.0),
    positive_in_all(calibration.jar_course_ft, width_in=20.0),
    positive_in_all(calibration.jar_rate_gal_ac, caught_fl_oz=15.0, course_ft=204.0, width_in=20.0),
    positive_in_all(calibration.jar_rate_l_ha, caught_ml=250.0, course_m=50.0, width_m=0.5),
    positive_in_all(calibration.boomless_course_ft, swath_ft=30.0),
    positive_in_all(
        calibration.boomless_rate_gal_ac, caught_pt=15.0, course_ft=181.5, swath_ft=30.0
    ),
    positive_in_all(calibration.course_speed_km_h, distance_m=100.0, seconds=30.0),
    positive_in_all(calibration.course_speed_mph, distance_ft=200.0, seconds=34.0),
    positive_in_all(calibration.course_time_s, distance_m=100.0, speed_km_h=12.0),
    positive_in_all(calibration.overlap_of_spacing, width_to_spacing=2.0),
    positive_in_all(calibration.overlap_of_width, width_to_spacing=2.0),
    Contract(
        calibration.pattern_width_cm,
        {"height_cm": 50.0, "angle_deg": 110.0},
        {"height_cm": ZERO_OR_NEGATIVE, "angle_deg": NOT_AN_ANGLE},
    ),
    Contract(
        calibration.width_to_spacing,
        {"height_cm": 50.0, "angle_deg": 110.0, "spacing_cm": 50.0},
        {
            "height_cm": ZERO_OR_NEGATIVE,
            "angle_deg": NOT_AN_ANGLE,
            "spacing_cm": ZERO_OR_NEGATIVE,
        },
    ),
    Contract(
        calibration.boom_height_cm,
        {"spacing_cm": 50.0, "angle_deg": 110.0, "width_to_spacing": 2.0},
        {
            "spacing_cm": ZERO_OR_NEGATIVE,
            "angle_deg": NOT_AN_ANGLE,
            "width_to_spacing": (0.99, 5.01, *ZERO_OR_NEGATIVE),
        },
    ),
]
OF_ONE_VALUE = [
    Contract(
        calibration.evenness_band_l_min,
        {"mean_l_min": 1.2, "limit": 0.05},
        {"mean_l_min": ZERO_OR_NEGATIVE, "limit": NOT_A_SHARE},
    ),
    Contract(
        calibration.check_gauge,
        {"reading_kpa": 300.0, "reference_kpa": 290.0},
        {"reading_kpa": NEGATIVE, "reference_kpa": ZERO_OR_NEGATIVE},
    ),
    Contract(
        calibration.evaluate_catches,
        {
            "volumes_ml": [1200.0, 1190.0],
            "seconds": 60.0,
            "new_flow_l_min": 1.18,
            "evenness_limit": 0.05,
            "wear_limit": 0.10,
        },
        {
            "volumes_ml": ([], [1200.0], *([1200.0, value] for value in ZERO_OR_NEGATIVE)),
            "seconds": ZERO_OR_NEGATIVE,
            "new_flow_l_min": ZERO_OR_NEGATIVE,
            "evenness_limit": NOT_A_SHARE,
            "wear_limit": NOT_A_SHARE,
        },
    ),
]


@walked(("function", "arguments", "name", "value"), refusals([*FORMULAS, *OF_ONE_VALUE]))
def test_a_bad_argument_is_refused_by_name(function, arguments, name, value) -> None:
    assert_refused(function, arguments, name)


@pytest.mark.parametrize("contract", named(FORMULAS))
def test_one_bad_element_of_an_array_is_refused(contract: Contract) -> None:
    assert_refuses_one_bad_element(contract)


@pytest.mark.parametrize("contract", named(FORMULAS))
def test_arrays_give_what_floats_give(contract: Contract) -> None:
    assert_broadcasts(contract)


@given(volumes=CATCHES, seconds=st.floats(min_value=10, max_value=120))
def test_mean_and_spread_agree_with_the_standard_library(volumes, seconds) -> None:
    result = calibration.evaluate_catches(volumes_ml=volumes, seconds=seconds)
    flows = [volume / 1000 / (seconds / 60) for volume in volumes]
    assert result.flows_l_min == pytest.approx(flows, rel=1e-12)
    assert result.mean_l_min == pytest.approx(statistics.fmean(flows), rel=1e-12)
    assert result.cv == pytest.approx(statistics.stdev(flows) / result.mean_l_min, abs=1e-9)
    assert math.fsum(result.deviations) == pytest.approx(0.0, abs=1e-9)


@given(volumes=CATCHES, factor=st.floats(min_value=0.5, max_value=2))
def test_twice_the_time_with_twice_the_water_is_the_same_test(volumes, factor) -> None:
    once = calibration.evaluate_catches(volumes_ml=volumes, seconds=60.0, new_flow_l_min=1.2)
    again = calibration.evaluate_catches(
        volumes_ml=[volume * factor for volume in volumes],
        seconds=60.0 * factor,
        new_flow_l_min=1.2,
    )
    assert again.mean_l_min == pytest.approx(once.mean_l_min, rel=1e-12)
    assert again.cv == pytest.approx(once.cv, abs=1e-9)
    assert again.wear == pytest.approx(once.wear, abs=1e-9)


def test_a_nozzle_on_the_evenness_limit_is_even() -> None:
    # The mean is exactly 1000 mL; the first two stand on 5 %, the last two a little beyond.
    on_it = calibration.evaluate_catches(volumes_ml=[950.0, 1050.0, 1000.0, 1000.0], seconds=60.0)
    beyond = calibration.evaluate_catches(volumes_ml=[949.0, 1051.0, 1000.0, 1000.0], seconds=60.0)
    assert on_it.uneven == ()
    assert beyond.uneven == (1, 2)


def test_a_nozzle_that_reaches_the_wear_limit_is_worn() -> None:
    result = calibration.evaluate_catches(
        volumes_ml=[1302.4, 1302.3, 1500.0, 1184.0, 900.0], seconds=60.0, new_flow_l_min=1.184
    )
    assert result.worn == (1, 3)
    assert result.wear[4] < 0.0


def test_without_a_new_flow_nothing_is_said_about_wear() -> None:
    result = calibration.evaluate_catches(volumes_ml=[1180.0, 1400.0], seconds=60.0)
    assert (result.wear, result.worn) == (None, None)
    assert result.uneven == (1, 2)


def test_an_older_yardstick_can_be_asked_for() -> None:
    volumes = [1180, 1195, 1210, 1175, 1305, 1190, 1200, 1185]
    result = calibration.evaluate_catches(volumes_ml=volumes, seconds=60.0, evenness_limit=0.10)
    assert result.uneven == ()


def test_a_bad_catch_is_named_by_its_nozzle() -> None:
    with pytest.raises(
        OutOfRange, match=r"^volumes_ml, nozzle 2, is -5\.0; it must be positive and finite"
    ):
        calibration.evaluate_catches(volumes_ml=[1200.0, -5.0], seconds=60.0)


def test_a_single_catch_says_nothing_about_evenness() -> None:
    with pytest.raises(OutOfRange, match="the catches of two nozzles or more"):
        calibration.evaluate_catches(volumes_ml=[1200.0], seconds=60.0)


def test_a_kilogram_of_water_is_a_little_more_than_a_litre() -> None:
    assert calibration.weighed_volume_ml(mass_g=998.0) == pytest.approx(1000.0)


@given(caught=LENGTHS, width=LENGTHS)
def test_on_the_right_course_ounces_are_gallons_per_acre(caught, width) -> None:
    rate = calibration.jar_rate_gal_ac(
        caught_fl_oz=caught, course_ft=calibration.jar_course_ft(width_in=width), width_in=width
    )
    assert rate == pytest.approx(caught, rel=1e-12)


@given(caught=LENGTHS, swath=LENGTHS)
def test_on_the_right_boomless_course_pints_are_gallons_per_acre(caught, swath) -> None:
    rate = calibration.boomless_rate_gal_ac(
        caught_pt=caught, course_ft=calibration.boomless_course_ft(swath_ft=swath), swath_ft=swath
    )
    assert rate == pytest.approx(caught, rel=1e-12)


@given(caught=LENGTHS, course=LENGTHS, width=LENGTHS)
def test_the_us_and_the_metric_jar_are_one_law(caught, course, width) -> None:
    us = calibration.jar_rate_gal_ac(caught_fl_oz=caught, course_ft=course, width_in=width)
    metric = calibration.jar_rate_l_ha(
        caught_ml=convert(caught, from_unit="fl oz", to_unit="mL"),
        course_m=convert(course, from_unit="ft", to_unit="m"),
        width_m=convert(width, from_unit="in", to_unit="m"),
    )
    boomless = calibration.boomless_rate_gal_ac(
        caught_pt=caught / 16, course_ft=course, swath_ft=width / 12
    )
    assert convert(us, from_unit="gal/ac", to_unit="L/ha") == pytest.approx(metric, rel=1e-12)
    assert boomless == pytest.approx(us, rel=1e-12)


@given(flow=st.floats(min_value=0.1, max_value=20), speed=st.floats(min_value=1, max_value=40))
def test_the_jar_gives_what_flow_and_speed_give(flow, speed) -> None:
    seconds = calibration.course_time_s(distance_m=50.0, speed_km_h=speed)
    by_jar = calibration.jar_rate_l_ha(
        caught_ml=flow * 1000 * seconds / 60, course_m=50.0, width_m=0.5
    )
    by_flow = coverage.delivered_rate_l_ha(flow_l_min=flow, speed_km_h=speed, spacing_cm=50.0)
    assert by_jar == pytest.approx(by_flow, rel=1e-12)


@given(distance=LENGTHS, seconds=LENGTHS)
def test_a_timed_course_gives_one_speed_in_both_systems(distance, seconds) -> None:
    mph = calibration.course_speed_mph(distance_ft=distance, seconds=seconds)
    metres = convert(distance, from_unit="ft", to_unit="m")
    km_h = calibration.course_speed_km_h(distance_m=metres, seconds=seconds)
    assert convert(mph, from_unit="mph", to_unit="km/h") == pytest.approx(km_h, rel=1e-12)
    assert calibration.course_time_s(distance_m=metres, speed_km_h=km_h) == pytest.approx(seconds)


def test_a_hundred_metres_are_360_over_the_seconds() -> None:
    assert calibration.course_speed_km_h(distance_m=100.0, seconds=30.0) == pytest.approx(12.0)


@pytest.mark.parametrize(
    ("reading", "reference", "allowed", "within"),
    [
        # ISO 16122-2, from memory: ±0.2 bar up to 2 bar, ±10 % above.
        (120.0, 100.0, 20.0, True),
        (121.0, 100.0, 20.0, False),
        (180.0, 200.0, 20.0, True),
        (179.0, 200.0, 20.0, False),
        (330.0, 300.0, 30.0, True),
        (269.0, 300.0, 30.0, False),
        (0.0, 150.0, 20.0, False),
    ],
)
def test_a_gauge_is_held_to_the_limit_of_its_range(reading, reference, allowed, within) -> None:
    result = calibration.check_gauge(reading_kpa=reading, reference_kpa=reference)
    assert result.allowed_kpa == pytest.approx(allowed)
    assert result.within_limit is within
    assert result.error_kpa == reading - reference
    assert result.relative == pytest.approx(reading / reference - 1)


@given(
    angle=ANGLES,
    spacing=st.floats(min_value=10, max_value=300),
    ratio=st.floats(min_value=1, max_value=5),
)
def test_height_and_overlap_undo_each_other(angle, spacing, ratio) -> None:
    height = calibration.boom_height_cm(spacing_cm=spacing, angle_deg=angle, width_to_spacing=ratio)
    back = calibration.width_to_spacing(height_cm=height, angle_deg=angle, spacing_cm=spacing)
    assert back == pytest.approx(ratio, rel=1e-12)


@given(angle=st.floats(min_value=10, max_value=160), height=LENGTHS)
def test_a_wider_fan_covers_more(angle, height) -> None:
    narrow = calibration.pattern_width_cm(height_cm=height, angle_deg=angle)
    wide = calibration.pattern_width_cm(height_cm=height, angle_deg=angle + 10)
    assert wide > narrow


def test_a_fan_of_a_right_angle_is_twice_as_wide_as_it_is_high() -> None:
    width = calibration.pattern_width_cm(height_cm=50.0, angle_deg=90.0)
    assert width == pytest.approx(100.0, rel=1e-12)


def test_the_two_meanings_of_overlap_differ_for_one_layout() -> None:
    # Wolf calls a fan of twice the spacing 100 % overlap; others call the same layout 50 %.
    assert calibration.overlap_of_spacing(width_to_spacing=2.0) == 1.0
    assert calibration.overlap_of_width(width_to_spacing=2.0) == 0.5


def test_every_inspection_limit_says_where_it_comes_from() -> None:
    subjects = [limit.subject for limit in calibration.INSPECTION_LIMITS]
    assert len(set(subjects)) == len(subjects)
    for limit in calibration.INSPECTION_LIMITS:
        assert limit.how_read in {"read in excerpt", "from memory", "common practice"}
        assert (limit.low, limit.high) != (None, None)
        assert limit.unit in {"%", "bar", "mm", "°"}


def test_every_inspection_limit_is_compared_with_its_published_value() -> None:
    compared = {
        (row.inputs["subject"], row.inputs["find"])
        for row in rows("calibration")
        if row.id == "TABLE-LIMIT"
    }
    listed = {
        (limit.subject, find)
        for limit in calibration.INSPECTION_LIMITS
        for find in ("low", "high")
        if getattr(limit, find) is not None
    }
    assert compared == listed


def test_the_defaults_are_the_listed_limits() -> None:
    by_subject = {limit.subject: limit for limit in calibration.INSPECTION_LIMITS}
    even = by_subject["single nozzle against the boom mean"]
    worn = by_subject["single nozzle over its new flow"]
    assert (even.low, even.high) == (-100 * calibration.EVENNESS_LIMIT, 5)
    assert worn.high == 100 * calibration.WEAR_LIMIT


def test_an_angle_given_as_an_array_is_a_fan_each() -> None:
    widths = calibration.pattern_width_cm(
        height_cm=np.array([50.0, 50.0]), angle_deg=np.array([80.0, 110.0])
    )
    np.testing.assert_allclose(widths, [83.910, 142.815], atol=0.001)
