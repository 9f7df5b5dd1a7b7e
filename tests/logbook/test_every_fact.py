"""Every declared fact of a record is on the form, page and paper, in files and API, and is frozen.

The test walks over the declarations, so that a new fact is asked for everywhere by itself.
"""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import re
from collections.abc import Iterator
from datetime import datetime
from html import unescape
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from pypdf import PdfReader

from calc.units import convert, reference_unit
from logbook.facts import spec
from logbook.facts.quantity import Quantity
from logbook.facts.record import CropFacts, ProductFacts, RecordFacts, Snapshot, WeatherFacts
from logbook.facts.sets import OF_A_LINE, OF_A_RECORD
from logbook.facts.spec import Fact, Row, declared, entered
from logbook.facts.units import usual_unit
from logbook.records.models import ApplicationRecord
from logbook.records.sealing.changes import changes_between
from logbook.records.writing.draftforms import DraftForms
from tests import factories as make
from tests.conftest import clean_data, sealed_by, written

START, END = "2026-06-12T09:30", "2026-06-12T12:00"
STATEMENT = "Rinsed three times behind the shed"

NOT_TYPED = {"customer", "rig", "catch_test", "statements"}
"""Facts that follow from another choice, or have inputs by the name of an element of law."""

NOT_IN_CSV = {"weather", "loads", "continues", "catch_test"}
"""What the guide says the JSON alone holds."""


def typed(holder: type) -> list[Fact]:
    """Return the facts that are entered as a value and not chosen as a row."""
    kinds = (Row, spec.Statements)
    return [one for one in entered(holder).values() if not isinstance(one.kind, kinds)]


def sample(one: Fact, place: int) -> Any:
    """Return a possible value of a fact that nothing else in the record has."""
    match one.kind:
        case spec.Amount() as kind:
            low = kind.above if kind.above is not None else (kind.at_least or 0.0)
            high = kind.at_most if kind.at_most is not None else low + 100.0
            dimension = kind.dimensions[0]
            unit = usual_unit(kind.dimensions[:1], system="us", units=kind.units)
            middle = low + (high - low) * (0.41 + place / 997)
            number = convert(middle, from_unit=reference_unit(dimension), to_unit=unit)
            return make.q(f"{number:.3f} {unit}")
        case spec.Text():
            return f"entered as text {place}"
        case spec.Count(at_most=most):
            return most - 3
        case spec.Choice(words=words, many=many):
            return [[*words][-1]] if many else [*words][-1]
        case spec.Instant():
            return datetime.fromisoformat(END if one.name == "finished_at" else START)
    raise AssertionError(f"no sample of {one.kind}")


def token(one: Fact, value: Any) -> str:
    """Return what a reader looks for to find the value of a fact."""
    if isinstance(value, Quantity):
        return f"{value.value:f}"
    if isinstance(value, datetime):
        return f"{value:%H:%M}"
    return str(value[0] if isinstance(value, list) else value)


@pytest.fixture
def whole(owner: Any, yard: Any) -> SimpleNamespace:
    """A sealed record in which every declared fact has a value of its own."""
    data = clean_data(yard)
    values: dict[str, Any] = {}
    for place, one in enumerate((*typed(CropFacts), *typed(RecordFacts))):
        values[one.column] = sample(one, place)
    tokens = {
        f"{one.holder.__name__}.{one.name}": token(one, values[one.column])
        for one in (*typed(CropFacts), *typed(RecordFacts))
        if one.holder
    }
    for at, (name, holder) in enumerate(OF_A_LINE.items(), start=1):
        line = data[name][0]
        for place, one in enumerate(typed(holder)):
            line[one.column] = sample(one, 40 * at + place)
            tokens[f"{holder.__name__}.{one.name}"] = token(one, line[one.column])
        data[name] = [line]
    supervisor, crew = (
        make.PersonFactory(business=owner.business, name=f"{name} Stone")
        for name in ("Supervisor", "Crew")
    )
    day_before = {
        "started_at": datetime.fromisoformat("2026-06-11T08:00"),
        "finished_at": datetime.fromisoformat("2026-06-11T09:00"),
    }
    before = written(owner, clean_data(yard) | day_before)
    rows = {
        "supervisor": supervisor.pk,
        "crew": [crew.pk],
        "continues": before.pk,
        "statements": {"rinsate-note": STATEMENT},
    }
    tokens |= {
        "Snapshot.customer": yard.customer.name,
        "Snapshot.field": yard.field.name,
        "Snapshot.crop": yard.planting.crop,
        "Snapshot.applicator": yard.person.name,
        "Snapshot.supervisor": "Supervisor Stone",
        "Snapshot.crew": "Crew Stone",
        "Snapshot.rig": yard.rig.name,
        "Snapshot.nozzle": yard.nozzle.name,
        "Snapshot.catch_test": f"{yard.catch_test.tested_on:%Y-%m-%d}",
        "Snapshot.products": yard.product.name,
        "Snapshot.loads": tokens["LoadFacts.mixed_volume"],
        "Snapshot.weather": tokens["WeatherFacts.wind_speed"],
        "Snapshot.continues": "2026-06-11",
        "RecordFacts.statements": STATEMENT,
    }
    draft = written(owner, {**data, **values, **rows})
    return SimpleNamespace(draft=draft, tokens=tokens)


@pytest.fixture
def sealed(owner: Any, whole: SimpleNamespace) -> Any:
    return sealed_by(owner, whole.draft, explained="Read at the field, twice.")


@pytest.fixture
def reader(client: Client, owner: Any) -> Client:
    client.force_login(owner.user)
    return client


def lacking(text: str, tokens: dict[str, str], *, but: set[str] = frozenset()) -> dict[str, str]:
    """Return the facts whose value a text does not hold, but for those that it may lack."""
    words = " ".join(text.replace("\xa0", " ").split())
    return {
        name: value
        for name, value in tokens.items()
        if name not in but and value not in words and value.capitalize() not in words
    }


def test_the_form_has_an_input_for_each_with_its_label(owner: Any, whole: SimpleNamespace) -> None:
    draft = ApplicationRecord.objects.get(pk=whole.draft.pk)
    forms = DraftForms(actor=owner, record=draft)
    wanted = {one.column: one for one in OF_A_RECORD if one.column not in NOT_TYPED}
    lists = {name: getattr(forms, name)[0] for name in OF_A_LINE}
    inputs = dict(forms.record_form.fields)
    assert wanted.keys() - inputs.keys() == lists.keys()
    labels = {name: str(inputs[name].label) for name in wanted.keys() & inputs.keys()}
    for name, form in lists.items():
        wanted |= {f"{name}.{one.column}": one for one in typed(OF_A_LINE[name])}
        labels |= {f"{name}.{one}": str(field.label) for one, field in form.fields.items()}
    assert {
        name: labels[name]
        for name, one in wanted.items()
        if name not in lists and labels[name].lower() != one.label.lower()
    } == {}
    assert (
        f"statements-{'rinsate-note'}"
        in DraftForms(actor=owner, record=draft, snapshot=_facts(owner, draft)).record_form.fields
    )


def _facts(owner: Any, draft: Any) -> Snapshot:
    from logbook.records.reading.examine import examine

    return examine(actor=owner, record_id=draft.pk).snapshot


def test_the_page_shows_each(reader: Client, sealed: Any, whole: SimpleNamespace) -> None:
    page = reader.get(f"/book/{sealed.pk}/").content.decode()
    text = unescape(re.sub(r"<[^>]+>", " ", page))
    tokens = whole.tokens | {
        # In the form of the page's locale.
        "Snapshot.catch_test": "by",
        "RecordFacts.started_at": "9:30",
        "RecordFacts.finished_at": "12:00",
        "WeatherFacts.read_at": "9:30",
    }
    assert lacking(text, tokens) == {}


def test_the_paper_shows_each(reader: Client, sealed: Any, whole: SimpleNamespace) -> None:
    paper = reader.get(f"/book/{sealed.pk}/record.pdf").content
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(paper)).pages)
    assert lacking(text, whole.tokens) == {}


def test_the_csv_holds_each_but_what_it_says_it_leaves_out(
    reader: Client, sealed: Any, whole: SimpleNamespace
) -> None:
    answer = reader.get("/exchange/records.csv")
    rows = csv.DictReader(io.StringIO(b"".join(answer.streaming_content).decode()))
    (row,) = [one for one in rows if one["record_id"] == str(sealed.pk)]
    left_out = {f"Snapshot.{name}" for name in NOT_IN_CSV}
    left_out |= {name for name in whole.tokens if name.startswith(("WeatherFacts", "LoadFacts"))}
    assert lacking("\n".join(row.values()), whole.tokens, but=left_out) == {}


def test_the_json_holds_each(reader: Client, sealed: Any, whole: SimpleNamespace) -> None:
    answer = reader.get("/exchange/records.json")
    file = json.loads(b"".join(answer.streaming_content))
    (record,) = [one for one in file["records"] if one["id"] == str(sealed.pk)]
    times = {f"{name}_at" for name in ("started", "finished", "read")}
    utc = {name for name in whole.tokens if name.partition(".")[2] in times}
    application = json.dumps([record["facts"], record["application"]], ensure_ascii=False)
    assert lacking(application, whole.tokens, but=utc) == {}
    assert all(record["facts"]["record"][name] for name in ("started_at", "finished_at"))


def test_the_api_serves_each(reader: Client, sealed: Any, whole: SimpleNamespace) -> None:
    served = reader.get(f"/api/v1/records/{sealed.pk}/").json()
    absent = {one.column for one in OF_A_RECORD if one.column not in served} - {"catch_test"}
    for name, holder in OF_A_LINE.items():
        absent |= {one.column for one in typed(holder) if one.column not in served[name][0]}
    assert absent == set()
    typed_values = {
        name: value
        for name, value in whole.tokens.items()
        if not name.startswith("Snapshot.") and not name.endswith("_at")
    }
    assert lacking(json.dumps(served, ensure_ascii=False), typed_values) == {}


def _changed(facts: Snapshot) -> Iterator[tuple[Fact, Snapshot]]:
    """Yield each typed fact, and the facts with it left blank."""
    for one in typed(RecordFacts):
        blank = "" if isinstance(one.kind, spec.Text | spec.Choice) else None
        yield (
            one,
            dataclasses.replace(
                facts, record=dataclasses.replace(facts.record, **{one.name: blank})
            ),
        )
    for name, holder in OF_A_LINE.items():
        for one in typed(holder):
            (line,) = getattr(facts, name)
            blank = () if isinstance(one.kind, spec.Choice) else None
            if isinstance(one.kind, spec.Instant):
                blank = facts.record.finished_at  # a reading is of some time
            other = dataclasses.replace(line, **{one.name: blank})
            yield one, dataclasses.replace(facts, **{name: (other,)})
    assert facts.crop
    (stage,) = typed(CropFacts)
    yield (
        stage,
        dataclasses.replace(facts, crop=dataclasses.replace(facts.crop, growth_stage_bbch=None)),
    )
    for one in declared(Snapshot).values():
        if one.kind == Row() and one.name != "continues":
            yield one, dataclasses.replace(facts, **{one.name: None})


def test_an_amendment_names_each_by_its_label(owner: Any, whole: SimpleNamespace) -> None:
    facts = _facts(owner, whole.draft)
    unnamed = {}
    for one, after in _changed(facts):
        lines = [str(line) for line in changes_between(facts, after)]
        if not any(one.label.lower() in line.partition(": ")[0].lower() for line in lines):
            unnamed[f"{one.holder.__name__}.{one.name}"] = lines  # type: ignore[union-attr]
    assert unnamed == {}


TABLES = {
    "records_applicationrecord": [one for one in OF_A_RECORD if one.name not in NOT_TYPED],
    "records_productline": typed(ProductFacts),
    "records_weatherreading": typed(WeatherFacts),
    "records_loaduse": [one for one in typed(OF_A_LINE["loads"]) if one.column != "mixed_volume"],
}


def test_the_database_refuses_a_change_of_each(sealed: Any) -> None:
    open_columns = []
    for table, facts in TABLES.items():
        for one in facts:
            if isinstance(one.kind, Row) and one.kind.many:
                continue
            column = f"{one.column}_id" if isinstance(one.kind, Row) else one.column
            owner = "id" if table == "records_applicationrecord" else "record_id"
            try:
                with transaction.atomic(), connection.cursor() as cursor:
                    cursor.execute(
                        f'UPDATE {table} SET "{column}" = NULL WHERE {owner} = %s',
                        [sealed.pk.hex if connection.vendor == "sqlite" else sealed.pk],
                    )
                    open_columns.append(f"{table}.{column}: {cursor.rowcount}")
            except IntegrityError as refusal:
                if "NOT NULL" in str(refusal):
                    open_columns.append(f"{table}.{column}: {refusal}")
    assert open_columns == []
