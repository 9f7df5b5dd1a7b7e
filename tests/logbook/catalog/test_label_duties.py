"""What a label edition adds to the law: elements, times, years of keeping, training, classes."""

from __future__ import annotations

from typing import Any

import pytest

from logbook.catalog.services import save_on_shelf
from logbook.errors.exceptions import Conflict, Refused, RefusedInput
from logbook.facts.codec import from_json, to_json
from logbook.facts.duty import Clock, HowRead, Kind, Party, When
from logbook.facts.record import Snapshot
from logbook.law.applicability import applicable, statement
from logbook.law.clocks import dues
from logbook.law.retention import kept
from logbook.records.models import ApplicationRecord
from logbook.records.sealing.snapshot import snapshot_of, with_everything


def save(yard: Any, **data: Any) -> Any:
    return save_on_shelf(
        business=yard.label.business, shelf="labels", row_id=yard.label.pk, data=data
    )


@pytest.fixture
def facts(yard: Any, clean_draft: Any) -> Any:
    """The facts of the clean draft under a label that asks for more."""
    save(
        yard,
        duty_classes=["auxin herbicide"],
        training="yearly training",
        keep_years=5,
        asks=[{"element": "buffer", "when": "always", "detail": "downwind buffer"}],
        deadlines=[{"kind": "record", "clock": "hours", "count": 72, "since": "end"}],
    )
    rows = with_everything(ApplicationRecord.objects.filter(pk=clean_draft.pk))
    return snapshot_of(rows.get())


def test_the_facts_carry_it_in_the_shape_of_a_duty_set(facts: Any) -> None:
    label = facts.products[0].label
    (ask,) = label.asks
    assert (ask.name, ask.when, ask.how_read) == ("buffer", When.ALWAYS, HowRead.LEGAL_TEXT)
    (deadline,) = label.deadlines
    assert (deadline.kind, deadline.clock, deadline.count) == (Kind.RECORD, Clock.HOURS, 72)
    assert deadline.to is Party.SELF
    assert label.classes == ("auxin herbicide",)
    assert label.training == "yearly training"


def test_it_goes_into_a_seal_and_comes_back(facts: Any) -> None:
    assert from_json(to_json(facts), Snapshot) == facts


def test_the_label_is_one_more_set_with_its_elements_times_and_years(
    facts: Any, yard: Any, now: Any
) -> None:
    set_id = f"label-{yard.label.pk}"
    assert set_id in {one.duty_set.id for one in applicable(facts)}
    asked = {r.element.name for r in statement(facts) if r.applied.duty_set.id == set_id}
    assert asked == {"buffer", "training-proof"}
    assert any(one.duty_set.id == set_id for one in dues(facts))
    # Five years of the label outlast the three of the state.
    assert kept(facts, recorded_at=now)[0].duty_set.id == set_id


def test_an_element_that_nobody_knows_is_refused_by_its_path(yard: Any) -> None:
    with pytest.raises(RefusedInput, match='"moonlight" is no element') as refusal:
        save(yard, asks=[{"element": "moonlight"}])
    assert list(refusal.value.errors) == ["asks.0.element"]
    assert not yard.label.asks.exists()


def test_hours_without_a_number_are_refused(yard: Any) -> None:
    with pytest.raises((RefusedInput, Conflict), match="how many hours or days"):
        save(yard, deadlines=[{"kind": "record", "clock": "hours"}])


def test_the_same_day_with_a_number_is_refused(yard: Any) -> None:
    with pytest.raises(Refused, match="the same day has no number"):
        save(yard, deadlines=[{"kind": "record", "clock": "same local day", "count": 2}])


def test_a_class_that_no_law_names_is_refused(yard: Any) -> None:
    with pytest.raises(RefusedInput, match="moss killer is not known"):
        save(yard, duty_classes=["moss killer"])
