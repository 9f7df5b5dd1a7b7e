"""The rate used: what counts before what, and exact figures by the definition of a rate."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.units import UNITS
from logbook.facts.quantity import Quantity
from logbook.facts.used import Basis, rate_used
from tests.logbook.checks.build import q


def used(**facts: Any) -> tuple[str, str] | None:
    found = rate_used(**({"planned": None, "total": None, "area": None} | facts))
    return found and (str(found.rate), found.basis.value)


PLAN = q("22 fl oz/ac")


@pytest.mark.parametrize(
    ("facts", "expected"),
    [
        # By hand, the definition of a rate: amount / area.
        ({"total": q("3850 fl oz"), "area": q("125 ac")}, ("30.8 fl oz/ac", "total")),
        # 128 fl oz are a US gallon [NIST Handbook 44, Appendix C].
        ({"total": q("30 gal"), "area": q("120 ac")}, ("32 fl oz/ac", "total")),
        ({"total": q("0 gal"), "area": q("120 ac")}, ("0 fl oz/ac", "total")),
        ({"total": q("none"), "area": q("120 ac")}, ("0 fl oz/ac", "total")),
        # In a unit of its own kind where the plan is of another.
        ({"total": q("40 lb"), "area": q("125 ac")}, ("0.32 lb/ac", "total")),
        # The acre is 0.40468564224 ha [NIST Handbook 44, Appendix C].
        ({"total": q("40 kg"), "area": q("125 ac")}, ("0.79073722 kg/ha", "total")),
        ({"total": q("not measured: spilt"), "area": q("120 ac")}, ("22 fl oz/ac", "planned")),
        ({"total": q("3850 fl oz")}, ("22 fl oz/ac", "planned")),
        ({"total": q("3850 fl oz"), "area": q("none")}, ("22 fl oz/ac", "planned")),
        ({"delivered": q("21 fl oz/ac")}, ("21 fl oz/ac", "delivered")),
        (
            {"total": q("3850 fl oz"), "area": q("125 ac"), "delivered": q("21 fl oz/ac")},
            ("30.8 fl oz/ac", "total"),
        ),
        ({"planned": q("none")}, None),
        ({"planned": q("0.25 % v/v")}, None),
        # A hundredth of the carrier, and 2 g in each litre of it; definitions of the units.
        ({"planned": q("1 % v/v"), "carrier": q("200 L/ha")}, ("2 L/ha", "planned")),
        ({"planned": q("2 g/L"), "carrier": q("200 L/ha")}, ("0.4 kg/ha", "planned")),
        # Beyond what a quantity can hold nothing is said, and nothing fails.
        ({"total": q("99999999999 gal"), "area": q("0.000001 ac")}, ("22 fl oz/ac", "planned")),
    ],
)
def test_a_total_goes_before_the_delivered_rate_and_that_before_the_plan(
    facts: dict[str, Any], expected: tuple[str, str] | None
) -> None:
    assert used(**({"planned": PLAN} | facts)) == expected


@given(
    st.decimals(Decimal("0.01"), Decimal(99999), places=2),
    st.decimals(Decimal("0.1"), Decimal(9999), places=1),
    st.sampled_from(["gal", "fl oz", "L", "mL"]),
    st.sampled_from(["ac", "ha"]),
)
def test_it_is_the_quotient_cut_off_after_nine_decimals(
    total: Decimal, area: Decimal, unit: str, of_area: str
) -> None:
    found = rate_used(planned=None, total=Quantity(total, unit), area=Quantity(area, of_area))
    assert found is not None
    assert found.basis is Basis.TOTAL
    amount = Fraction(total) * UNITS[unit].factor / (Fraction(area) * UNITS[of_area].factor)
    exact = amount / UNITS[found.rate.unit].factor
    assert 0 <= exact - Fraction(found.rate.value) < Fraction(1, 10**9)
