"""What is refused or found is told in the words and figures of people.

No name of the code, no number below zero of what cannot be below zero, no more than six figures of
what was computed: over made-up entries, at every door.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from hypothesis import example, settings
from hypothesis import given as drawn
from hypothesis import strategies as st

import calc
from calc.errors import OutOfRange, not_negative, positive, within
from calc.units import UNITS, convert
from logbook.checks.assessment import assess
from logbook.checks.core import run_all
from logbook.checks.ratecheck import COLUMNS, BadRows, check_rates
from logbook.checks.registry import CHECKS
from logbook.facts.quantity import Quantity
from logbook.facts.record import RecordFacts
from logbook.facts.spec import Amount, entered
from logbook.facts.terms import out_of_range
from logbook.records.models import ApplicationRecord
from tests.logbook.checks.build import given

NAME_OF_CODE = re.compile(r"\b[a-z]+_[a-z_]+\b")
NUMBER = re.compile(r"(?<![\w.,-])-?\d+(?:\.\d+)?(?:e[+-]?\d+)?")
ARGUMENTS = sorted(
    {
        name
        for file in Path(calc.__file__).parent.glob("*.py")
        for name in re.findall(
            r'\b(?:positive|not_negative|within|finite|whole)\(\s*"([^"]+)"', file.read_text()
        )
    }
)
VALUES = st.one_of(
    st.floats(allow_nan=False, allow_infinity=False, width=64),
    st.floats(-1000, 1000),
    st.sampled_from([0.1 + 0.2, -38.099999999999994, 1 / 3, 1e-17, 2**0.5]),
)


def figures(number: str) -> int:
    """Return how many significant figures a number is written with."""
    digits = number.partition("e")[0].replace("-", "").replace(".", "").lstrip("0")
    return len(digits if "." in number else digits.rstrip("0"))


def faults(text: str, entered: frozenset[str] = frozenset()) -> list[str]:
    """Return what no person should read in a text; numbers as they were entered may stand."""
    found = NAME_OF_CODE.findall(text)
    return found + [
        number for number in NUMBER.findall(text) if number not in entered and figures(number) > 6
    ]


def test_the_search_itself_finds_what_it_looks_for() -> None:
    assert faults("speed_km_h is 0.30000000000000004.") == ["speed_km_h", "0.30000000000000004"]
    assert faults("Speed is 0.300 mph on 2026-06-10, 43560 ft2, 100000000 L.") == []
    assert len(ARGUMENTS) > 100


@settings(max_examples=300, deadline=None)
@drawn(st.sampled_from(ARGUMENTS), VALUES, st.sampled_from([positive, not_negative, within]))
@example("row_spacing_cm - band_width_cm", -38.099999999999994, not_negative)
def test_a_refusal_of_the_computation_is_told_plainly(name: str, value: float, guard: Any) -> None:
    bounds = (0.1 + 0.2, 1.0, "") if guard is within else ()
    said = ""
    try:
        guard(name, value, *bounds)
    except OutOfRange as refusal:
        said = str(out_of_range(refusal))
    assert faults(said) == []
    if " - " in name or " − " in name:
        assert not re.search(r"[-−]\d", said)


def test_a_difference_is_told_as_what_is_more_than_what() -> None:
    refusal = OutOfRange("row_spacing_cm - band_width_cm", -38.1, "zero or more, and finite")
    assert out_of_range(refusal) == "band width cannot be more than row spacing."


AMOUNTS = [fact for fact in entered(RecordFacts).values() if isinstance(fact.kind, Amount)]


@st.composite
def changes(draw: Any) -> dict[str, Any]:
    """Return a few entries of a record as a slip of the unit or the point makes them.

    They lie up to a hundred times beyond the usual range of their fact.
    """
    found: dict[str, Any] = {"record__pattern": draw(st.sampled_from(["broadcast", "banded"]))}
    for fact in draw(st.lists(st.sampled_from(AMOUNTS), max_size=4, unique_by=id)):
        (usual,) = fact.kind.usual
        units = [code for code, one in UNITS.items() if one.dimension in fact.kind.dimensions]
        share = draw(st.floats(-2, 2))
        end = usual.low if share < 0 else usual.high
        unit = draw(st.sampled_from(units))
        value = convert(end * 10**share, from_unit=usual.unit, to_unit=unit)
        found[f"record__{fact.name}"] = Quantity(Decimal(f"{value:.3g}"), unit)
    return found


def said_of(changed: dict[str, Any]) -> Iterator[str]:
    facts = given(**changed)
    for finding in run_all(facts, CHECKS).findings:
        yield from (finding.sentence, finding.basis, finding.settle)
    yield from assess(facts).not_computed


@settings(max_examples=150, deadline=None)
@drawn(changes())
@example(
    {
        "record__pattern": "banded",
        "record__band_width": Quantity(Decimal(45), "in"),
        "record__row_spacing": Quantity(Decimal(30), "in"),
        "record__nozzles_per_row": 1,
    }
)
def test_no_finding_speaks_in_names_of_the_code_or_in_false_figures(
    changed: dict[str, Any],
) -> None:
    typed = frozenset(f"{one.value:f}" for one in changed.values() if isinstance(one, Quantity))
    found = [(text, faults(text, typed)) for text in said_of(changed)]
    assert [one for one in found if one[1]] == []


@settings(max_examples=150, deadline=None)
@drawn(st.sampled_from(AMOUNTS), VALUES, st.data())
def test_no_bound_of_a_column_speaks_in_false_figures(fact: Any, value: float, data: Any) -> None:
    units = [code for code, one in UNITS.items() if one.dimension in fact.kind.dimensions]
    number = Decimal(f"{value:.4f}")
    if abs(number) >= 10**12:
        return
    quantity = Quantity(number, data.draw(st.sampled_from(units)))
    said = []
    try:
        ApplicationRecord._meta.get_field(fact.column).validate(quantity, None)
    except ValidationError as refusal:
        said = refusal.messages
    assert [faults(text, frozenset([f"{number:f}"])) for text in said] == [[]] * len(said)


@settings(max_examples=150, deadline=None)
@drawn(st.dictionaries(st.sampled_from(sorted(COLUMNS)), VALUES, max_size=6))
def test_no_answer_of_the_rate_check_speaks_in_false_figures(row: dict[str, float]) -> None:
    body = {"known_flow": 1.5, "speed": 10.0, "spacing": 50.0, **row}
    given_ = frozenset(map(repr, body.values())) | {f"{one:.10g}" for one in body.values()}
    try:
        said = list(check_rates(body).questions.values())
    except BadRows as refusal:
        said = [text for texts in refusal.errors.values() for text in texts]
    for text in said:
        # The names of the fields are what a program is told its inputs by.
        told = [one for one in faults(text, given_) if one not in COLUMNS]
        assert told == [], text


@pytest.mark.parametrize("unit", ["psi", "gal/ac"])
def test_a_reckoned_value_that_is_contradicted_has_six_figures(unit: str) -> None:
    from logbook.api.fields import AnswerField

    field = AnswerField("pressure", "volume_rate")
    with pytest.raises(Exception, match="It is computed; leave it out") as refused:
        field.to_internal_value({"value": "33.3", "unit": unit, "si": {"value": 1, "unit": "x"}})
    assert faults(str(refused.value.detail[0])) == []
