"""Answers: a number with its unit, one of three words, or blank."""

from __future__ import annotations

from decimal import Decimal

import pint
import pytest

from calc.units import UNITS
from logbook.facts.quantity import (
    Absence,
    BadAnswer,
    Nothing,
    Quantity,
    example,
    make_quantity,
    parse_answer,
    unit_meant,
)

RATES = ("volume_rate",)


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("15.0 gal/ac", "15.0", "gal/ac"),
        ("  .5 L/ha ", "0.5", "L/ha"),
        ("-3L/ha", "-3", "L/ha"),
        ("7. fl oz/ac", "7", "fl oz/ac"),
    ],
)
def test_a_number_keeps_its_digits_and_its_unit(text: str, value: str, unit: str) -> None:
    assert parse_answer(text, dimensions=RATES) == Quantity(Decimal(value), unit)


@pytest.mark.parametrize(
    ("text", "entry"),
    [
        ("6,5 mph", "6.5 mph"),
        ("6.5 MPH", "6.5 mph"),
        ("6.5mph", "6.5 mph"),
        ("6½ mph", "6.5 mph"),
        ("¾ Mph", "0.75 mph"),
        ("10,25KM / H", "10.25 km/h"),
        ("10 kph", "10 km/h"),
        ("1234,5 km/h", "1234.5 km/h"),
        ("0,125 m/s", None),
        ("1,234 mph", None),
        ("1.234 mph", "1.234 mph"),
        ("6..5 mph", None),
        ("6,5,5 mph", None),
        ("6½5 mph", None),
        ("6.½ mph", None),
    ],
)
def test_a_number_is_read_as_people_type_it_and_never_guessed(text: str, entry: str | None) -> None:
    if entry is None:
        with pytest.raises(BadAnswer):
            parse_answer(text, dimensions=("speed",))
    else:
        assert str(parse_answer(text, dimensions=("speed",))) == entry


def test_a_number_that_may_be_two_is_refused_with_both() -> None:
    with pytest.raises(BadAnswer, match='"1,234" can be read in two ways'):
        parse_answer("1,234 gal/ac", dimensions=RATES)


def test_every_unit_is_read_in_any_case_as_itself() -> None:
    for code in UNITS:
        for written in (code, code.upper(), code.lower(), code.replace("/", " / ")):
            assert unit_meant(written) == code
    assert unit_meant("furlong") == "furlong"


def test_an_entry_prints_as_it_was_entered() -> None:
    assert str(parse_answer("15.0 gal/ac", dimensions=RATES)) == "15.0 gal/ac"


@pytest.mark.parametrize("text", ["", "   "])
def test_blank_is_no_answer(text: str) -> None:
    assert parse_answer(text, dimensions=RATES) is None


@pytest.mark.parametrize(
    ("text", "kind", "printed"),
    [
        ("none", Absence.NONE, "none"),
        ("Not Applicable", Absence.NOT_APPLICABLE, "not applicable"),
        ("not measured: no meter", Absence.NOT_MEASURED, "not measured: no meter"),
    ],
)
def test_a_word_is_an_answer_and_prints_as_one(text: str, kind: Absence, printed: str) -> None:
    answer = parse_answer(text, dimensions=RATES)
    assert isinstance(answer, Nothing)
    assert answer.kind is kind
    assert str(answer) == printed


def test_not_measured_needs_its_reason() -> None:
    with pytest.raises(BadAnswer, match='"not measured" needs the reason'):
        parse_answer("not measured", dimensions=RATES)


@pytest.mark.parametrize(
    ("text", "words", "message"),
    [
        ("none", False, '"none" is not allowed here; a number with its unit is needed'),
        ("fifteen", True, '"fifteen" is not a number with a unit, such as 12.5 L/ha'),
        ("15 mph", True, '"mph" is not a unit for this; allowed are L/ha, mL/ha'),
        ("1234567890123 L/ha", True, "has too many digits; allowed are 12 before and 12 after"),
        ("0.1234567890123 L/ha", True, "has too many digits"),
    ],
)
def test_an_unreadable_answer_says_what_is_allowed(text: str, words: bool, message: str) -> None:
    with pytest.raises(BadAnswer, match=message):
        parse_answer(text, dimensions=RATES, words=words)


def test_a_number_that_is_none_is_refused() -> None:
    with pytest.raises(BadAnswer, match='"1;5" is not a number; write it like'):
        make_quantity("1;5", "L/ha", dimensions=RATES)
    with pytest.raises(BadAnswer, match="NaN is not a number"):
        Quantity(Decimal("NaN"), "L/ha")
    with pytest.raises(BadAnswer, match='"acre" is not a unit; allowed are'):
        Quantity(Decimal(1), "acre")


def test_other_units_are_offered_and_agree_with_pint() -> None:
    # Oracle: pint; the gallon and the mile are exact there, and no acre (the survey acre) is used.
    speed = Quantity(Decimal("6.0"), "mph")
    assert speed.dimension == "speed"
    pint_speed = pint.UnitRegistry().Quantity(6.0, "mile / hour").to("kilometer / hour").magnitude
    assert speed.si == pytest.approx(pint_speed, rel=1e-12)
    assert speed.to("mph") == pytest.approx(6.0, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "other"),
    [
        # 1 gal/ac = 9.353956228956 L/ha; 40 psi = 275.790 kPa (NIST Handbook 44, SP 811).
        ("15.0 gal/ac", "140 L/ha"),
        ("40.00 psi", "275.8 kPa"),
        ("0.25 % v/v", ""),
    ],
)
def test_the_other_system_is_offered_to_the_digits_entered(text: str, other: str) -> None:
    quantity = parse_answer(text, dimensions=("volume_rate", "pressure", "volume_per_volume"))
    assert isinstance(quantity, Quantity)
    assert quantity.other == other


def test_an_example_is_in_the_reference_unit() -> None:
    assert example(("pressure",)) == "12.5 kPa"
