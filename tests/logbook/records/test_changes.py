"""What an amendment changes is said in the words of the form, by its rows and its clock."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from datetime import timedelta
from typing import Any, get_args, get_type_hints

import pytest
from django.utils import translation

from logbook.facts import record
from logbook.facts.quantity import Absence, Nothing
from logbook.facts.record import Snapshot
from logbook.facts.spec import declared
from logbook.localization.locale import localized
from logbook.records.reading.examine import examine
from logbook.records.sealing.changes import changes_between
from logbook.records.writing.draftforms import DraftForms
from tests import factories as make

OF_RECORD = (
    *("pressure", "speed", "boom_height", "duty", "density", "distance", "mix_used"),
    *("treated_area", "planned_carrier", "band_width", "row_spacing"),
)
OF_READING = ("wind_from", "wind_speed", "gust", "temperature", "humidity", "cloud", "height")


@pytest.fixture
def facts(owner: Any, clean_draft: Any) -> Snapshot:
    return examine(actor=owner, record_id=clean_draft.pk).snapshot


@pytest.fixture
def forms(owner: Any, clean_draft: Any) -> DraftForms:
    return DraftForms(actor=owner, record=clean_draft)


def changed(facts: Snapshot, part: str, /, **values: Any) -> Snapshot:
    """Return the facts with other values in the record, or in the first row of a list."""
    if part == "record":
        return dataclasses.replace(facts, record=dataclasses.replace(facts.record, **values))
    first, *rest = getattr(facts, part)
    return dataclasses.replace(facts, **{part: (dataclasses.replace(first, **values), *rest)})


def only_line(facts: Snapshot, part: str, /, **values: Any) -> str:
    (line,) = changes_between(facts, changed(facts, part, **values))
    return line


ODD = Nothing(Absence.NOT_MEASURED, "the meter broke")


class TestTheFormsWords:
    @pytest.mark.parametrize("name", OF_RECORD)
    def test_of_the_record(self, facts: Snapshot, forms: DraftForms, name: str) -> None:
        label = str(forms.record_form.fields[name].label)
        line = only_line(facts, "record", **{name: ODD})
        assert line.lower().startswith(f"{label.lower()}: ")

    @pytest.mark.parametrize("name", OF_READING)
    def test_of_a_reading(self, facts: Snapshot, forms: DraftForms, name: str) -> None:
        label = str(forms.weather[0].fields[name].label)
        line = only_line(facts, "weather", **{name: ODD})
        assert line.lower().startswith(f"reading 1, {label.lower()}: ")

    @pytest.mark.parametrize("name", ["planned_rate", "total_used", "target"])
    def test_of_a_product(self, facts: Snapshot, forms: DraftForms, name: str) -> None:
        label = str(forms.products[0].fields[name].label)
        value = "thistles" if name == "target" else ODD
        line = only_line(facts, "products", **{name: value})
        product = facts.products[0].name
        assert line.startswith(f"Product 1 ({product}), {label[0].lower()}{label[1:]}: ")

    @pytest.mark.parametrize(
        ("name", "column"),
        [("mixed_volume", "mixed_volume"), ("used_here", "used"), ("order", "order")],
    )
    def test_of_a_load(self, facts: Snapshot, forms: DraftForms, name: str, column: str) -> None:
        label = str(forms.loads[0].fields[column].label)
        value = 7 if name == "order" else make.q("690 gal")
        assert only_line(facts, "loads", **{name: value}).startswith(
            f"Load 1, {label[0].lower()}{label[1:]}: "
        )


def test_a_product_is_named_with_both_amounts(facts: Snapshot) -> None:
    before = changed(
        facts, "products", total_used=make.q("230 fl oz"), name="Example Fungicide 250"
    )
    line = only_line(before, "products", total_used=make.q("240 fl oz"))
    assert line == (
        "Product 1 (Example Fungicide 250), total used, undiluted: 230 fl oz, now 240 fl oz"
    )


def test_another_product_in_its_place_is_a_change_of_the_product(facts: Snapshot) -> None:
    line = only_line(facts, "products", name="Another 12")
    assert line == f"Product 1: {facts.products[0].name}, now Another 12"


def test_what_was_put_into_a_load_is_told_by_the_product(facts: Snapshot) -> None:
    load = facts.loads[0]
    part = dataclasses.replace(load.parts[0], amount=make.q("3 gal"))
    names = {one.product_id: one.name for one in facts.products}
    line = only_line(facts, "loads", parts=(part, *load.parts[1:]))
    assert line.startswith(f"Load 1, {names[part.product_id]} put in: ")


def test_a_time_is_that_of_the_clock_at_the_field(facts: Snapshot) -> None:
    later = facts.record.started_at + timedelta(minutes=10)
    line = only_line(facts, "record", started_at=later)
    zone = facts.zone
    first, second = (each.astimezone(zone) for each in (facts.record.started_at, later))
    assert line == (
        f"Start of the spraying: {first:%Y-%m-%d %H:%M} {first:%Z}, "
        f"now {second:%Y-%m-%d %H:%M} {second:%Z}"
    )
    with translation.override("en-us"):
        assert f"now {second:%b} {second.day}, {second.year} " in localized(line)


def test_a_statement_is_named_as_the_form_names_it(facts: Snapshot) -> None:
    said = {**facts.record.statements, "clean-out": "rinsed three times"}
    line = only_line(facts, "record", statements=said)
    assert line == "The tank clean-out: blank, now rinsed three times"


NOT_COMPARED = {"business", "amends", "earlier", "record"}
"""Of the Snapshot: what differs by nature, and the record, which is its own entries."""


def without_label(holder: type, seen: set[type]) -> Iterator[str]:
    """Yield the facts of a class, and of those below it, that no declaration gives a label."""
    if holder in seen:
        return
    seen.add(holder)
    for name, hint in get_type_hints(holder).items():
        if holder is Snapshot and name in NOT_COMPARED - {"record"}:
            continue
        if name not in {"id", "product_id", "record"} and name not in declared(holder):
            yield f"{holder.__name__}.{name}"
        for inner in (hint, *get_args(hint)):
            if dataclasses.is_dataclass(inner) and inner.__module__ == record.__name__:  # type: ignore[union-attr]
                yield from without_label(inner, seen)  # type: ignore[arg-type]


def test_no_fact_that_can_differ_lacks_a_label() -> None:
    seen: set[type] = set()
    assert [*without_label(Snapshot, seen)] == []
    assert {"LabelFacts", "LicenceFacts", "LoadPartFacts"} <= {one.__name__ for one in seen}


def test_a_fact_of_the_shelf_is_named_with_the_row_it_is_of(facts: Snapshot) -> None:
    other = dataclasses.replace(facts.rig, tank=make.q("500 gal"), name="Old Tom")
    tank, name = facts.rig.tank, facts.rig.name
    assert {*changes_between(facts, dataclasses.replace(facts, rig=other))} == {
        f"Rig, tank: {tank}, now 500 gal",
        f"Rig: {name}, now Old Tom",
    }


def test_a_limit_of_the_label_is_named_with_the_product(facts: Snapshot) -> None:
    label = dataclasses.replace(facts.products[0].label, wind_max=make.q("7 mph"))
    line = only_line(facts, "products", label=label)
    assert line.startswith(f"Product 1 ({facts.products[0].name}), label edition, most wind: ")


def test_a_row_of_a_list_is_numbered(facts: Snapshot) -> None:
    first, *rest = facts.applicator.licences
    licence = dataclasses.replace(first, number="X-1")
    person = dataclasses.replace(facts.applicator, licences=(licence, *rest))
    (line,) = changes_between(facts, dataclasses.replace(facts, applicator=person))
    assert line == f"Applicator, licences no. 1, number: {first.number}, now X-1"


def test_a_word_of_a_closed_list_is_told_as_the_form_has_it(facts: Snapshot) -> None:
    line = only_line(facts, "record", pattern="banded")
    assert line == "Pattern: broadcast, now in bands"
