"""Nozzle sizes, their colours and designations."""

import re

import numpy as np
import pytest

from calc import nozzle
from calc.droplets import CLASS_COLOURS
from calc.errors import OutOfRange
from tests.calc.contract import ZERO_OR_NEGATIVE
from tests.calc.vectors import Row, check, ids


def size(row: Row) -> nozzle.NozzleSize:
    return nozzle.size_of(row.inputs["size"].removeprefix("no. "))


def of_size(row: Row) -> object:
    if row.unit == "colour":
        return size(row).colour
    if row.unit == "L/min nominal":
        return size(row).iso_flow_l_min
    return nozzle.nominal_flow_l_min(size=size(row), pressure_kpa=row.inputs["kpa"])


def of_designation(row: Row) -> object:
    parsed = nozzle.parse_designation(row.inputs["text"].removeprefix("no. "))
    return {
        "°": parsed.angle_deg,
        "gal/min": parsed.size.flow_gal_min,
        "colour": parsed.size.colour,
    }[row.unit]


PUBLISHED = {
    "EX-ISO-01": of_size,
    "EX-ISO-02": of_designation,
    "TABLE-ISO-FLOW": of_size,
    "TABLE-ISO-COLOUR": of_size,
    "TABLE-S572-FLOW": of_size,
}


@pytest.mark.parametrize("example", ids("nozzle"))
def test_a_published_value_comes_out(example: str) -> None:
    check("nozzle", example, PUBLISHED)


@pytest.mark.parametrize(
    ("text", "angle", "designation"),
    [
        ("11004", 110, "04"),
        ("110-04", 110, "04"),
        ("110 04", 110, "04"),
        (" 11004 ", 110, "04"),
        ("8002", 80, "02"),
        ("80015", 80, "015"),
        ("110015", 110, "015"),
        ("1100075", 110, "0075"),
        ("110025", 110, "025"),
        ("6510", 65, "10"),
        ("11015", 110, "15"),
        ("9008", 90, "08"),
    ],
)
def test_a_designation_is_an_angle_and_a_size(text: str, angle: int, designation: str) -> None:
    parsed = nozzle.parse_designation(text)
    assert (parsed.angle_deg, parsed.size.designation) == (angle, designation)


def test_no_two_angles_and_sizes_share_a_designation() -> None:
    written = [f"{angle}{code}" for angle in nozzle.ANGLES for code in nozzle.SIZES]
    assert len(set(written)) == len(written)
    for text in written:
        parsed = nozzle.parse_designation(text)
        assert f"{parsed.angle_deg}{parsed.size.designation}" == text


@pytest.mark.parametrize(
    "text",
    [
        "65067",  # no size 067 in the table
        "11007",
        "11104",  # no angle of 111°
        "04",
        "110",
        "",
        "XR11004",  # a prefix names the kind, which a number does not tell
        "11004VS",
        "110--04",
        "110.04",
        "80010",
        "١١٠٠٤",
    ],
)
def test_a_designation_that_is_not_known_is_refused(text: str) -> None:
    with pytest.raises(
        OutOfRange, match=rf"^designation is {re.escape(repr(text))}; it must be an angle \(25, 40"
    ):
        nozzle.parse_designation(text)


@pytest.mark.parametrize("designation", ["4", "07", "", "03 "])
def test_a_size_that_is_not_known_is_refused(designation: str) -> None:
    with pytest.raises(
        OutOfRange, match=f"^designation is '{designation}'; it must be one of the sizes 0075, 01"
    ):
        nozzle.size_of(designation)


def test_a_size_number_is_tenths_of_a_gallon_and_four_tenths_of_a_litre() -> None:
    for code, each in nozzle.SIZES.items():
        tenths = float(code[:2] + "." + code[2:])
        assert each.flow_gal_min == pytest.approx(tenths / 10)
        assert each.iso_flow_l_min == pytest.approx(0.4 * tenths)


def test_the_sizes_run_from_small_to_large_in_colours_of_their_own() -> None:
    flows = [each.flow_gal_min for each in nozzle.SIZES.values()]
    assert flows == sorted(flows)
    assert len({each.colour for each in nozzle.SIZES.values()}) == len(nozzle.SIZES)
    swatches = {each.swatch for each in nozzle.SIZES.values()}
    assert len(swatches) == len(nozzle.SIZES)
    assert all(re.fullmatch("#[0-9A-F]{6}", swatch) for swatch in swatches)


def test_the_two_nominal_points_differ_by_1_3_per_cent() -> None:
    for each in nozzle.SIZES.values():
        by_law = nozzle.nominal_flow_l_min(size=each, pressure_kpa=nozzle.ISO_PRESSURE_KPA)
        assert by_law / each.iso_flow_l_min - 1 == pytest.approx(-0.013, abs=0.0005)


def test_the_rated_flow_comes_back_at_the_rated_pressure() -> None:
    each = nozzle.size_of("04")
    assert each.rated_flow_l_min == pytest.approx(1.514, abs=0.0005)
    assert nozzle.nominal_flow_l_min(
        size=each, pressure_kpa=nozzle.RATED_PRESSURE_KPA
    ) == pytest.approx(each.rated_flow_l_min)


def test_the_nominal_flow_of_an_array_is_that_of_its_elements() -> None:
    pressures = np.array([150.0, 300.0])
    together = nozzle.nominal_flow_l_min(size=nozzle.size_of("03"), pressure_kpa=pressures)
    singles = [
        nozzle.nominal_flow_l_min(size=nozzle.size_of("03"), pressure_kpa=float(pressure))
        for pressure in pressures
    ]
    assert all(type(single) is float for single in singles)
    np.testing.assert_allclose(together, singles, rtol=1e-14)


@pytest.mark.parametrize("pressure", ZERO_OR_NEGATIVE)
def test_a_bad_pressure_is_refused(pressure: float) -> None:
    with pytest.raises(OutOfRange, match=r"^pressure_kpa is .*; it must be positive and finite"):
        nozzle.nominal_flow_l_min(size=nozzle.size_of("03"), pressure_kpa=pressure)


def test_a_blue_size_and_a_blue_class_are_two_things() -> None:
    # The two codes share colour words; what is shown is always the word of the size or the class.
    blue_size = next(each for each in nozzle.SIZES.values() if each.colour == "blue")
    blue_class = next(each for each in CLASS_COLOURS.values() if each.colour == "blue")
    assert (blue_size.designation, blue_class.words) == ("03", "Coarse")
