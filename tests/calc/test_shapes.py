"""Areas of simple plane shapes: published figures, an independent polygon, and refusals."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Polygon

from calc import shapes
from calc.errors import OutOfRange
from calc.units import convert
from tests.calc.contract import (
    ZERO_OR_NEGATIVE,
    Contract,
    assert_broadcasts,
    assert_refused,
    assert_refuses_one_bad_element,
    named,
    positive_in_all,
    refusals,
)

FORMULAS = [
    positive_in_all(shapes.rectangle_m2, length_m=400.0, width_m=200.0),
    positive_in_all(shapes.triangle_m2, base_m=400.0, height_m=200.0),
    positive_in_all(shapes.triangle_of_sides_m2, a_m=130.0, b_m=140.0, c_m=150.0),
    positive_in_all(shapes.circle_m2, radius_m=400.0),
    Contract(
        shapes.sector_m2,
        {"radius_m": 400.0, "angle_deg": 90.0},
        {"radius_m": ZERO_OR_NEGATIVE, "angle_deg": (*ZERO_OR_NEGATIVE, 360.1)},
    ),
    positive_in_all(shapes.trapezoid_m2, side_m=400.0, parallel_m=300.0, width_m=200.0),
]


@pytest.mark.parametrize(("function", "arguments", "name", "value"), refusals(FORMULAS))
def test_a_bad_argument_is_refused_by_name(function, arguments, name, value) -> None:
    assert_refused(function, arguments, name)


@pytest.mark.parametrize("contract", named(FORMULAS))
def test_one_bad_element_of_an_array_is_refused(contract: Contract) -> None:
    assert_refuses_one_bad_element(contract)


@pytest.mark.parametrize("contract", named(FORMULAS))
def test_arrays_give_what_floats_give(contract: Contract) -> None:
    assert_broadcasts(contract)


def ft(value: float) -> float:
    return convert(value, from_unit="ft", to_unit="m")


def acres(area_m2: float) -> float:
    return convert(area_m2, from_unit="m2", to_unit="ac")


@pytest.mark.parametrize(
    ("area", "expected"),
    [
        # Heron, Metrica I.8: the triangle 13, 14, 15 has 84 (from memory).
        (shapes.triangle_of_sides_m2(a_m=13.0, b_m=14.0, c_m=15.0), 84.0),
        # Euclid I.47 with I.41: 3, 4, 5 is half of 3 by 4 (from memory).
        (shapes.triangle_of_sides_m2(a_m=5.0, b_m=3.0, c_m=4.0), 6.0),
        # Kahan's needle, whose usual formula loses its digits: sides 100000, 99999.99979, 0.00029
        # have 10.0 to three digits (from memory).
        (shapes.triangle_of_sides_m2(a_m=100000.0, b_m=99999.99979, c_m=0.00029), 9.999999990),
    ],
)
def test_triangles_of_three_sides(area: float, expected: float) -> None:
    assert area == pytest.approx(expected, rel=1e-7)


def test_the_acre_of_a_chain_by_a_furlong() -> None:
    # An acre is 43,560 square feet, 66 ft by 660 ft [NIST Handbook 44, Appendix C].
    assert acres(shapes.rectangle_m2(length_m=ft(660), width_m=ft(66))) == pytest.approx(1.0)


def test_the_circle_in_a_quarter_section() -> None:
    # A pivot of 1,320 ft reaches the sides of a quarter section: 125.7 of its 160 acres; common
    # practice, computed.
    circle = acres(shapes.circle_m2(radius_m=ft(1320)))
    assert circle == pytest.approx(125.7, abs=0.05)
    assert circle == pytest.approx(160 * math.pi / 4)


@pytest.mark.parametrize("sides", [(1.0, 2.0, 3.0), (1.0, 2.0, 3.1), (50.0, 2.0, 3.0)])
def test_sides_that_close_no_triangle_are_refused(sides: tuple[float, float, float]) -> None:
    a, b, c = sides
    with pytest.raises(OutOfRange, match="the longest side"):
        shapes.triangle_of_sides_m2(a_m=a, b_m=b, c_m=c)


LENGTHS = st.floats(10.0, 2000.0)


@given(LENGTHS, LENGTHS, LENGTHS, st.floats(0.1, 0.9))
def test_they_are_the_areas_of_the_polygons(
    base: float, top: float, high: float, at: float
) -> None:
    # shapely's shoelace sum as the independent figure.
    corners = [(0.0, 0.0), (base, 0.0), (at * base, high)]
    triangle = Polygon(corners)
    assert shapes.triangle_m2(base_m=base, height_m=high) == pytest.approx(triangle.area, rel=1e-9)
    a, b, c = (math.dist(corners[n], corners[n - 1]) for n in range(3))
    heron = shapes.triangle_of_sides_m2(a_m=a, b_m=b, c_m=c)
    assert heron == pytest.approx(triangle.area, rel=1e-6)
    flat = Polygon([(0.0, 0.0), (base, 0.0), (at + top, high), (at, high)])
    trapezoid = shapes.trapezoid_m2(side_m=base, parallel_m=top, width_m=high)
    assert trapezoid == pytest.approx(flat.area, rel=1e-9)
    fan = [(0.0, 0.0)]
    fan += [(base * math.cos(n * at / 500), base * math.sin(n * at / 500)) for n in range(501)]
    sector = shapes.sector_m2(radius_m=base, angle_deg=math.degrees(at))
    assert sector == pytest.approx(Polygon(fan).area, rel=1e-5)
