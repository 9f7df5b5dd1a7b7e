"""Droplet size classes: order, tables of pressure and class, and the exclusion zone."""

import re
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc import droplets
from calc.droplets import Allowed, DropletClass
from calc.errors import OutOfRange
from tests.calc.contract import (
    ZERO_OR_NEGATIVE,
    Contract,
    assert_broadcasts,
    assert_refused,
    assert_refuses_one_bad_element,
    positive_in_all,
    refusals,
)
from tests.calc.vectors import Row, check, ids
from tests.walked import walked

CLASSES = st.sampled_from(DropletClass)
CLASSES_IN_ORDER = ("XF", "VF", "F", "M", "C", "VC", "XC", "UC")
TABLE = [(200.0, DropletClass.C), (300.0, DropletClass.M), (400.0, DropletClass.M)]


def zone(row: Row) -> float:
    return droplets.exclusion_zone_ft(
        day=date(2025, 6, 1),
        droplet_class=droplets.parse_class(row.inputs["class"]),
        height_in=row.inputs["height_in"],
    )


def medium_or_coarser(row: Row) -> str:
    name = row.inputs["class"]
    candidates = [] if name == "unknown" else [droplets.parse_class(name)]
    return droplets.allowed(
        candidates=candidates, allowed_classes=droplets.this_or_coarser(DropletClass.M)
    )


PUBLISHED = {
    "EX-DROP-01": zone,
    "EX-DROP-02": medium_or_coarser,
    "EX-DROP-03": lambda row: droplets.drop_count_factor(
        diameter_um=row.inputs["diameter"], new_diameter_um=row.inputs["new"]
    ),
    "TABLE-CLASS-COLOUR": lambda row: (
        droplets.CLASS_COLOURS[droplets.parse_class(row.inputs["class"])].colour
    ),
}


@pytest.mark.parametrize("example", ids("droplets"))
def test_a_published_value_comes_out(example: str) -> None:
    check("droplets", example, PUBLISHED)


COUNT = positive_in_all(droplets.drop_count_factor, diameter_um=250.0, new_diameter_um=500.0)
CONTRACTS = [
    COUNT,
    Contract(
        droplets.class_at_pressure,
        {"rows": TABLE, "pressure_kpa": 300.0},
        {"pressure_kpa": ZERO_OR_NEGATIVE, "rows": ([], [TABLE[0], TABLE[0]])},
    ),
    Contract(
        droplets.exclusion_zone_ft,
        {"day": date(2025, 6, 1), "droplet_class": DropletClass.M, "height_in": 20.0},
        {"height_in": ZERO_OR_NEGATIVE, "day": (date(2024, 12, 2), date(2022, 6, 1))},
    ),
    Contract(
        droplets.allowed,
        {"candidates": [DropletClass.M], "allowed_classes": {DropletClass.M}},
        {"allowed_classes": (frozenset(), [])},
    ),
]


@walked(("function", "arguments", "name", "value"), refusals(CONTRACTS))
def test_a_bad_argument_is_refused_by_name(function, arguments, name, value) -> None:
    assert_refused(function, arguments, name)


def test_the_number_of_drops_broadcasts_and_refuses_bad_elements() -> None:
    assert_broadcasts(COUNT)
    assert_refuses_one_bad_element(COUNT)


def test_the_classes_run_from_extremely_fine_to_ultra_coarse() -> None:
    assert [each.name for each in sorted(DropletClass)] == list(CLASSES_IN_ORDER)
    assert DropletClass.XC.words == "Extremely Coarse"
    assert DropletClass.F < DropletClass.M < DropletClass.UC


def test_every_class_has_a_word_a_colour_and_a_swatch_of_its_own() -> None:
    shown = droplets.CLASS_COLOURS
    assert shown.keys() == set(DropletClass)
    for attribute in ("words", "colour", "swatch"):
        assert len({getattr(each, attribute) for each in shown.values()}) == len(shown)
    assert all(re.fullmatch("#[0-9A-F]{6}", each.swatch) for each in shown.values())


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("M", "M"),
        ("m", "M"),
        ("medium", "M"),
        ("Medium", "M"),
        (" VERY  COARSE ", "VC"),
        ("very-coarse", "VC"),
        ("Extremely Fine", "XF"),
        ("uc", "UC"),
    ],
)
def test_a_class_is_read_from_its_symbol_or_its_name(text: str, expected: str) -> None:
    assert droplets.parse_class(text).name == expected


@given(droplet_class=CLASSES)
def test_symbol_and_name_lead_back_to_the_class(droplet_class: DropletClass) -> None:
    assert droplets.parse_class(droplet_class.name) is droplet_class
    assert droplets.parse_class(droplet_class.words) is droplet_class


@pytest.mark.parametrize("text", ["", "X", "medium or coarser", "350 µm", "EC", "4"])
def test_a_text_that_names_no_class_is_refused(text: str) -> None:
    with pytest.raises(
        OutOfRange, match=rf"^droplet class is {text!r}; it must be one of XF \(Extremely Fine\)"
    ):
        droplets.parse_class(text)


@given(one=CLASSES, other=CLASSES)
def test_coarser_and_finer_are_inequalities_that_share_their_class(one, other) -> None:
    assert (other in droplets.this_or_coarser(one)) == (other >= one)
    assert (other in droplets.this_or_finer(one)) == (other <= one)


@given(candidates=st.lists(CLASSES, max_size=4), allowed_classes=st.sets(CLASSES, min_size=1))
def test_what_may_be_sprayed_passes_fails_or_cannot_be_told(candidates, allowed_classes) -> None:
    outcome = droplets.allowed(candidates=candidates, allowed_classes=allowed_classes)
    inside, outside = set(candidates) & allowed_classes, set(candidates) - allowed_classes
    assert (outcome is Allowed.PASSES) == bool(inside and not outside)
    assert (outcome is Allowed.FAILS) == bool(outside and not inside)


def test_a_listed_pressure_has_the_listed_class() -> None:
    result = droplets.class_at_pressure(rows=TABLE, pressure_kpa=300.0)
    assert result == droplets.ClassAtPressure((DropletClass.M,))
    assert (result.finer, result.coarser) == (DropletClass.M, DropletClass.M)


def test_a_listed_pressure_that_was_converted_is_still_the_listed_one() -> None:
    row = (40 * 6.894757293168361, DropletClass.C)
    result = droplets.class_at_pressure(
        rows=[row, (500.0, DropletClass.F)], pressure_kpa=275.79029172673445
    )
    assert result.candidates == (DropletClass.C,)


def test_between_two_pressures_of_one_class_that_class_holds() -> None:
    result = droplets.class_at_pressure(rows=TABLE, pressure_kpa=350.0)
    assert result == droplets.ClassAtPressure((DropletClass.M,))


def test_between_two_pressures_of_differing_class_both_are_candidates() -> None:
    result = droplets.class_at_pressure(rows=TABLE, pressure_kpa=250.0)
    assert result.candidates == (DropletClass.M, DropletClass.C)
    assert result.finer is DropletClass.M
    assert result.coarser is DropletClass.C
    assert result.reason == "between the listed 200 and 300 kPa"


def test_a_class_skipped_by_the_table_is_a_candidate_too() -> None:
    rows = [(400.0, DropletClass.F), (200.0, DropletClass.C)]
    result = droplets.class_at_pressure(rows=rows, pressure_kpa=300.0)
    assert result.candidates == (DropletClass.F, DropletClass.M, DropletClass.C)
    only_medium = droplets.allowed(candidates=result.candidates, allowed_classes={DropletClass.M})
    assert only_medium is Allowed.UNKNOWN


@pytest.mark.parametrize("pressure", [1.0, 199.9, 400.1, 1000.0])
def test_outside_the_table_the_class_is_unknown(pressure: float) -> None:
    result = droplets.class_at_pressure(rows=TABLE, pressure_kpa=pressure)
    assert result.candidates == ()
    assert (result.finer, result.coarser) == (None, None)
    assert result.reason == "outside the table, which runs from 200 to 400 kPa"
    outcome = droplets.allowed(
        candidates=result.candidates, allowed_classes=droplets.this_or_coarser(DropletClass.XF)
    )
    assert outcome is Allowed.UNKNOWN


@given(
    rows=st.dictionaries(
        st.integers(min_value=50, max_value=1000), CLASSES, min_size=1, max_size=8
    ),
    pressure=st.floats(min_value=10, max_value=1200),
)
def test_a_candidate_never_leaves_the_classes_of_its_neighbours(rows, pressure) -> None:
    table = [(float(kpa), each) for kpa, each in rows.items()]
    result = droplets.class_at_pressure(rows=table, pressure_kpa=pressure)
    if not min(rows) <= pressure <= max(rows):
        assert result.candidates == ()
        return
    below = rows[max(kpa for kpa in rows if kpa <= pressure)]
    above = rows[min(kpa for kpa in rows if kpa >= pressure)]
    assert (result.finer, result.coarser) in {
        (min(below, above), max(below, above)),
        (below, below),
        (above, above),
    }


@pytest.mark.parametrize("pressure", ZERO_OR_NEGATIVE)
def test_a_table_with_a_bad_pressure_is_refused(pressure: float) -> None:
    with pytest.raises(OutOfRange, match=r"^pressure of a row is .*; it must be positive and fin"):
        droplets.class_at_pressure(rows=[(pressure, DropletClass.M)], pressure_kpa=300.0)


@given(
    diameter=st.floats(min_value=50, max_value=1000),
    factor=st.floats(min_value=0.2, max_value=5),
)
def test_the_number_of_drops_goes_with_the_inverse_cube(diameter, factor) -> None:
    count = droplets.drop_count_factor(diameter_um=diameter, new_diameter_um=diameter * factor)
    assert count == pytest.approx(factor**-3, rel=1e-12)


def test_the_exclusion_zone_is_dated() -> None:
    # 89 FR 80767: the present text took effect on 3 December 2024.
    zone_ft = droplets.exclusion_zone_ft(
        day=date(2024, 12, 3), droplet_class=DropletClass.F, height_in=20.0
    )
    assert zone_ft == 100.0
    with pytest.raises(
        OutOfRange, match=r"^day is '2024-12-02'; it must be 2024-12-03 or later, when this text"
    ):
        droplets.exclusion_zone_ft(
            day=date(2024, 12, 2), droplet_class=DropletClass.F, height_in=20.0
        )


@pytest.mark.parametrize(("height", "zone_ft"), [(12.0, 0.0), (12.1, 25.0)])
def test_twelve_inches_are_not_above_twelve_inches(height: float, zone_ft: float) -> None:
    result = droplets.exclusion_zone_ft(
        day=date(2025, 6, 1), droplet_class=DropletClass.M, height_in=height
    )
    assert result == zone_ft


@pytest.mark.parametrize(
    ("droplet_class", "height", "zone_ft"),
    [(None, None, 100.0), (None, 10.0, 100.0), (DropletClass.M, None, 25.0)],
)
def test_what_is_not_known_takes_the_larger_distance(droplet_class, height, zone_ft) -> None:
    result = droplets.exclusion_zone_ft(
        day=date(2025, 6, 1), droplet_class=droplet_class, height_in=height
    )
    assert result == zone_ft


@given(droplet_class=CLASSES, height=st.floats(min_value=1, max_value=80), lower=st.floats(0.1, 1))
def test_neither_coarser_drops_nor_a_lower_boom_widen_the_zone(
    droplet_class, height, lower
) -> None:
    def at(each: DropletClass, height_in: float) -> float:
        return droplets.exclusion_zone_ft(
            day=date(2025, 6, 1), droplet_class=each, height_in=height_in
        )

    here = at(droplet_class, height)
    assert at(droplet_class, height * lower) <= here
    assert all(at(each, height) <= here for each in droplets.this_or_coarser(droplet_class))


def test_the_directions_of_change_say_where_they_come_from() -> None:
    shifts = {each.change: each.shift for each in droplets.DIRECTIONS}
    assert shifts["higher pressure"] is droplets.Shift.FINER
    assert shifts["larger orifice"] is droplets.Shift.COARSER
    assert shifts["wider fan angle"] is droplets.Shift.FINER
    assert shifts["air induction"] is droplets.Shift.COARSER
    assert len(shifts) == len(droplets.DIRECTIONS)
    assert {each.how_read for each in droplets.DIRECTIONS} == {"from memory"}


def test_the_exponents_point_the_way_of_the_directions() -> None:
    by_quantity = {each.quantity: each for each in droplets.DIAMETER_EXPONENTS}
    assert by_quantity["pressure"].high < 0 < by_quantity["orifice diameter"].low
    assert all(each.how_read == "from memory" for each in droplets.DIAMETER_EXPONENTS)
    assert all(each.low <= each.high for each in droplets.DIAMETER_EXPONENTS)
