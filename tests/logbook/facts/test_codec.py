"""Facts as plain JSON and back; what cannot be read is named by its place."""

from __future__ import annotations

import dataclasses
import json
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest

from logbook.facts.codec import NotRead, from_json, to_json
from logbook.facts.messages import Message, msg
from logbook.facts.quantity import Absence, Answer, Nothing, Quantity
from logbook.facts.record import AmendmentFacts, Snapshot, TrainingFacts
from tests.logbook.checks.build import clean


@dataclass(frozen=True)
class Everything:
    """One member of each kind."""

    answers: tuple[Answer, ...]
    rate: Quantity | None
    share: Decimal
    at: datetime
    on: date
    said: Message
    kind: Absence
    window: tuple[float, float] | None = None
    shape: dict[str, Any] = dataclasses.field(default_factory=dict)


WHOLE = Everything(
    answers=(
        Quantity(Decimal("15.00"), "gal/ac"),
        Nothing(Absence.NOT_MEASURED, "dark"),
        Nothing(Absence.NONE),
        None,
    ),
    rate=None,
    share=Decimal("1E+3"),
    at=datetime(2026, 6, 12, 14, 30, tzinfo=UTC),
    on=date(2026, 6, 12),
    said=msg("{days} days", days=3),
    kind=Absence.NONE,
    window=(1.0, 2.5),
    shape={"type": "Point"},
)


def test_what_is_sealed_is_written_so_for_good() -> None:
    # Computed by hand from the form that seals have had since their first format.
    assert to_json(WHOLE) == {
        "answers": [
            {"value": "15.00", "unit": "gal/ac"},
            {"nothing": "not measured", "reason": "dark"},
            {"nothing": "none", "reason": ""},
            None,
        ],
        "rate": None,
        "share": "1000",
        "at": "2026-06-12T14:30:00+00:00",
        "on": "2026-06-12",
        "said": {"text": "{days} days", "values": {"days": 3}},
        "kind": "none",
        "window": [1.0, 2.5],
        "shape": {"type": "Point"},
    }


@pytest.mark.parametrize("whole", [WHOLE, clean()])
def test_it_comes_back_as_it_was(whole: Any) -> None:
    plain = json.loads(json.dumps(to_json(whole)))
    assert from_json(plain, type(whole)) == whole
    assert from_json([plain], tuple[type(whole), ...]) == (whole,)


def test_a_message_comes_back_as_one() -> None:
    back = from_json(to_json(WHOLE), Everything).said
    assert (back.template, back.values) == ("{days} days", {"days": 3})


def test_single_values_are_written_as_in_a_seal() -> None:
    assert to_json(
        [None, "a", {"b": "c"}, 2, Quantity(Decimal("7.9"), "mph"), date(2026, 6, 12)]
    ) == [
        *(None, "a", {"b": "c"}, 2),
        {"value": "7.9", "unit": "mph"},
        "2026-06-12",
    ]


def test_a_member_that_came_later_takes_its_default() -> None:
    plain = to_json(WHOLE)
    del plain["window"], plain["shape"]
    assert from_json(plain, Everything) == dataclasses.replace(WHOLE, window=None, shape={})


def test_everything_that_is_wrong_is_named_by_its_place() -> None:
    plain = to_json(clean())
    plain["record"]["speed"] = {"value": "6.0", "unit": "knots"}
    plain["products"][0]["colour"] = "blue"
    del plain["business"]["name"]
    with pytest.raises(NotRead) as refusal:
        from_json(plain, Snapshot)
    found = {one.path: str(one.allowed) for one in refusal.value.problems}
    assert found["business", "name"] == "this member is missing."
    assert found["products", 0, "colour"] == "there is no such member."
    assert found["record", "speed"].startswith('"knots" is not a unit; allowed are L/ha')
    assert str(refusal.value) == "$.business.name: this member is missing."


@pytest.mark.parametrize(
    ("kind", "plain", "said"),
    [
        (AmendmentFacts, {"number": "x"}, "$.number: a whole number is needed"),
        (TrainingFacts, {"trained_on": "12 June"}, "$.trained_on: Invalid isoformat string"),
        (TrainingFacts, [], "$: an object is needed here."),
        (tuple[TrainingFacts, ...], {}, "$: a list is needed here."),
        (Answer, {"nothing": "dunno"}, "$.nothing: allowed are none, not applicable, not measured"),
        (Answer, "6 mph", "$: a quantity is written"),
        (Quantity, {"nothing": "none"}, "$: a quantity is written"),
    ],
)
def test_a_text_that_was_altered_is_refused(kind: Any, plain: Any, said: str) -> None:
    with pytest.raises(NotRead) as refusal:
        from_json(plain, kind)
    assert str(refusal.value).startswith(said)
