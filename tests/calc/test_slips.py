"""Slips of unit and of digits: factors from exact definitions; which units, common practice."""

import pytest

from calc.errors import OutOfRange
from calc.slips import TAKEN_FOR_EACH_OTHER, slips_into, with_swapped_digits
from calc.units import convert


def factor(read: str, written: str) -> float:
    (slip,) = (slip for slip in slips_into(written=written) if slip.read == read)
    assert slip.written == written
    return slip.factor


# What the rate is then multiplied by, as handbooks' conversion factors have it ([NIST-SP811] app.
# B): the slip's factor to the power with which the entry moves the rate.
@pytest.mark.parametrize(
    ("read", "written", "power", "on_the_rate"),
    [
        ("km/h", "mph", -1.0, 0.6214),
        ("mph", "km/h", -1.0, 1.6093),
        ("psi", "bar", 0.5, 3.808),
        ("bar", "psi", 0.5, 0.2626),
        ("psi", "kPa", 0.5, 0.3808),
        ("kPa", "psi", 0.5, 2.626),
        ("in", "cm", -1.0, 2.54),
        ("cm", "in", -1.0, 0.3937),
        ("1", "%", 1.0, 0.01),
        ("ac", "ha", -1.0, 0.4047),
        ("ha", "ac", -1.0, 2.471),
        ("gal", "L", 1.0, 0.2642),
        ("L", "gal", 1.0, 3.785),
        ("gal", "imp gal", 1.0, 1.2009),
        ("imp gal", "gal", 1.0, 0.8327),
        ("fl oz", "pt", 1.0, 16.0),
        ("pt", "gal", 1.0, 8.0),
        ("qt", "gal", 1.0, 4.0),
        ("ft", "m", -1.0, 0.3048),
        ("m", "ft", -1.0, 3.281),
    ],
)
def test_factor_of_a_slip_on_the_rate(read, written, power, on_the_rate):
    assert factor(read, written) ** power == pytest.approx(on_the_rate, rel=2e-4)


def test_every_slip_has_its_reverse():
    for one, other in TAKEN_FOR_EACH_OTHER:
        assert factor(one, other) * factor(other, one) == pytest.approx(1.0)


def test_the_true_value_is_the_entered_one_over_the_factor():
    # 40 psi in truth, written down as 40 bar.
    entered = convert(40.0, from_unit="bar", to_unit="kPa")
    assert entered / factor("psi", "bar") == pytest.approx(
        convert(40.0, from_unit="psi", to_unit="kPa")
    )


def test_a_unit_that_is_not_mixed_up_has_no_slips():
    assert slips_into(written="°") == ()


@pytest.mark.parametrize(
    ("entered", "made"),
    [
        ("8.7", ("7.8",)),
        ("132", ("312", "123")),
        ("6,5", ("5,6",)),
        ("44", ()),
        ("10.5", ("15.0",)),  # "01.5" is no way to write a number
        ("0.62", ("6.02", "0.26")),
        ("7", ()),
        ("", ()),
    ],
)
def test_neighbouring_digits_swapped(entered, made):
    assert with_swapped_digits(entered=entered) == made


def test_swapped_digits_differ_by_a_multiple_of_nine():
    # The bookkeeper's test; common practice. 8.7 for 7.8 makes the rate 0.8966 of the true one.
    for text in ("8.7", "132", "10.5", "9041"):
        for made in with_swapped_digits(entered=text):
            apart = int(text.replace(".", "")) - int(made.replace(".", ""))
            assert apart % 9 == 0
    assert pytest.approx(0.8966, abs=5e-5) == 7.8 / 8.7


def test_refuses_nothing_but_answers_for_codes_of_the_table_alone():
    assert slips_into(written="furlong") == ()
    with pytest.raises(OutOfRange):
        convert(1.0, from_unit="furlong", to_unit="m")
