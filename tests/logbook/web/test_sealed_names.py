"""Lists of sealed records say what was sealed, whatever the shelf calls it since."""

from __future__ import annotations

import csv
import io
from importlib import import_module
from types import SimpleNamespace
from typing import Any

import openpyxl
import pytest
from django.apps import apps
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from logbook.records.models import ApplicationRecord, ProductLine, SealedName
from logbook.records.reading import bookfilter, selectors, verification
from logbook.records.reading.bookfilter import BookFilter
from logbook.records.sealing import freeze
from logbook.records.writing.amend import begin_amendment
from tests import factories as make
from tests.conftest import sealed_by, written

NOW_CALLED = {
    "customer": "Renamed farm",
    "field": "South 9",
    "crop": "field pea",
    "applicator": "A. Lund-Berg",
    "rig": "Old rig",
    "product": "Leafkill Pro",
}


@pytest.fixture
def renamed(signed: Any, yard: Any) -> SimpleNamespace:
    """The sealed record, after everything that it names was given another name."""
    was = {
        "customer": yard.customer.name,
        "field": yard.field.name,
        "crop": yard.planting.crop,
        "applicator": yard.person.name,
        "rig": yard.rig.name,
        "product": yard.product.name,
    }
    rename(yard, NOW_CALLED)
    return SimpleNamespace(record=signed, was=was)


def rename(yard: Any, names: dict[str, str]) -> None:
    ways = {"applicator": yard.person, "crop": yard.planting}
    for what, name in names.items():
        row = ways.get(what) or getattr(yard, what)
        setattr(row, "crop" if what == "crop" else "name", name)
        row.save()


def said(names: dict[str, str], *whats: str) -> list[dict[str, str]]:
    return [{"what": what, "name": names[what], "now": NOW_CALLED[what]} for what in whats]


def test_the_page_says_what_was_sealed_and_beside_it_the_name_of_today(
    browser: Client, renamed: Any
) -> None:
    text = browser.get(reverse("book")).content.decode()
    assert f'<a href="/book/{renamed.record.pk}/">{renamed.was["field"]}</a>' in text
    for what in ("customer", "field", "product"):
        assert renamed.was[what] in text
        assert f'<span class="quiet">now called {NOW_CALLED[what]}</span>' in text


def test_where_the_name_is_the_same_nothing_stands_beside_it(browser: Client, signed: Any) -> None:
    assert "now called" not in browser.get(reverse("book")).content.decode()


def test_a_draft_shows_the_shelf_of_today(browser: Client, clean_draft: Any, yard: Any) -> None:
    rename(yard, NOW_CALLED)
    text = browser.get(reverse("book")).content.decode()
    assert "South 9" in text
    assert "now called" not in text


def test_an_amendment_begins_with_the_names_of_today(
    browser: Client, owner: Any, renamed: Any
) -> None:
    import uuid

    draft = begin_amendment(
        actor=owner, record_id=renamed.record.pk, new_id=uuid.uuid4(), reason="The speed is wrong"
    )
    assert (draft.sealed_field, draft.sealed_rig) == (None, None)
    assert set(draft.products.values_list("sealed_product", flat=True)) == {None}


def test_the_files_say_what_was_sealed_and_what_it_is_called_now(
    browser: Client, renamed: Any
) -> None:
    answer = browser.get(reverse("book-csv"))
    text = b"".join(answer.streaming_content).decode("utf-8-sig")
    (row,) = csv.DictReader(io.StringIO(text, newline=""))
    assert {what: row[what] for what in NOW_CALLED} == renamed.was
    now = "; ".join(f"{what}: {name}" for what, name in NOW_CALLED.items())
    assert row["now called"] == now
    content = b"".join(browser.get(reverse("book-xlsx")).streaming_content)
    sheet = openpyxl.load_workbook(io.BytesIO(content)).active
    assert sheet is not None
    head, line = sheet.iter_rows(values_only=True)
    cells = dict(zip(head, line, strict=True))
    assert {what: cells[what] for what in NOW_CALLED} == renamed.was
    assert cells["now called"] == now


def test_the_api_says_what_was_sealed_and_what_it_is_called_now(
    browser: Client, renamed: Any
) -> None:
    (line,) = browser.get(reverse("api-records")).json()["results"]
    was = renamed.was
    assert (line["customer_name"], line["field_name"]) == (was["customer"], was["field"])
    assert (line["crop"], line["products"]) == (was["crop"], [was["product"]])
    assert line["now_called"] == said(was, "customer", "field", "crop", "product")
    whole = browser.get(reverse("api-record", args=[renamed.record.pk])).json()
    assert [one["name"] for one in whole["products"]] == [was["product"]]
    (due,) = browser.get(reverse("api-deadlines")).json()["results"]
    assert (due["customer"], due["field"]) == (was["customer"], was["field"])
    assert due["now_called"] == said(was, "customer", "field")
    (season,) = browser.get(f"{reverse('api-season')}?year=2026").json()["lines"]
    assert season["now_called"] == said(was, "customer", "field", "crop", "product")


@pytest.mark.parametrize("address", ["season", "deadlines", "keeping", "audit", "today"])
def test_every_other_list_says_it_too(browser: Client, renamed: Any, address: str) -> None:
    query = {"season": "?year=2026", "keeping": "?show=all", "audit": "?year=2026"}
    text = browser.get(reverse(address) + query.get(address, "")).content.decode()
    assert renamed.was["field"] in text
    assert "now called South 9" in text


def test_the_season_finds_both_names_and_its_file_has_the_one_of_today(
    browser: Client, renamed: Any
) -> None:
    for word in ("north l", "south 9", "leafkill pro"):
        answer = browser.get(reverse("season"), {"year": "2026", "q": word})
        assert len(answer.context["lines"]) == 1, word
    answer = browser.get(reverse("season-csv"), {"year": "2026"})
    text = b"".join(answer.streaming_content).decode("utf-8-sig")
    (row,) = csv.DictReader(io.StringIO(text, newline=""))
    assert row["field"] == renamed.was["field"]
    assert "field: South 9" in row["now called"]


def found(actor: Any, search: str) -> list[Any]:
    rows = selectors.book(actor=actor, asked=BookFilter(search=search))
    return list(rows.values_list("pk", flat=True))


@pytest.mark.parametrize("most", [1_000, 0])
def test_the_search_finds_the_sealed_name_and_the_one_of_today(
    owner: Any, renamed: Any, monkeypatch: pytest.MonkeyPatch, most: int
) -> None:
    # With no names allowed by their ids, the wide way is taken.
    monkeypatch.setattr(bookfilter, "MAX_NAMES", most)
    for what in ("customer", "field", "product"):
        assert found(owner, renamed.was[what]) == [renamed.record.pk], what
        assert found(owner, NOW_CALLED[what]) == [renamed.record.pk], what
    assert found(owner, "Nothing of that name") == []


@pytest.mark.parametrize("most", [1_000, 0])
def test_a_record_sealed_under_the_new_name_is_not_found_by_the_old(
    owner: Any, renamed: Any, entry: dict[str, Any], monkeypatch: pytest.MonkeyPatch, most: int
) -> None:
    monkeypatch.setattr(bookfilter, "MAX_NAMES", most)
    later = sealed_by(owner, written(owner, entry), explained="Made for this test.")
    assert found(owner, "North L") == [renamed.record.pk]
    assert set(found(owner, "South 9")) == {renamed.record.pk, later.pk}


def test_names_of_another_business_are_not_searched(stranger: Any, renamed: Any) -> None:
    assert found(stranger, "North L") == []


def test_the_number_of_queries_does_not_grow_with_the_records(
    browser: Client, owner: Any, renamed: Any, entry: dict[str, Any]
) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            for address in ("book", "api-records", "season", "keeping", "deadlines"):
                browser.get(reverse(address))
            browser.get(reverse("book"), {"q": "North L"})
        return len(seen)

    browser.get(reverse("book"))
    before = queries()
    for _ in range(3):
        sealed_by(owner, written(owner, entry), explained="Made for this test.")
    assert queries() == before


@pytest.mark.parametrize(
    ("model", "column", "what"),
    [
        *((ApplicationRecord, f"sealed_{name}", name) for name in ("customer", "field", "crop")),
        *((ApplicationRecord, f"sealed_{name}", name) for name in ("applicator", "rig")),
        (ProductLine, "sealed_product", "products"),
    ],
)
def test_a_name_that_is_not_the_sealed_one_breaks_the_log(
    owner: Any, signed: Any, model: Any, column: str, what: str
) -> None:
    connection.check_constraints()
    freeze.remove(connection)
    model.objects.update(**{column: "Another name"})
    freeze.install(connection)
    broken = verification.verify(business=owner.business).broken
    assert broken
    assert broken.why == f"the rows of its record say otherwise than its text: {what}"


def test_the_database_refuses_another_name(signed: Any) -> None:
    from django.db import IntegrityError, transaction

    for rows, column in (
        (ApplicationRecord.objects, "sealed_field"),
        (ProductLine.objects, "sealed_product"),
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            rows.update(**{column: "Another name"})


COLUMNS = tuple(f"sealed_{name}" for name in ("customer", "field", "crop", "applicator", "rig"))


@pytest.mark.parametrize("text", [None, "{", "[]", '{"facts": {"products": []}}'])
def test_the_names_of_older_seals_are_read_from_what_was_sealed(
    owner: Any, renamed: Any, text: str | None
) -> None:
    """A text that cannot be read leaves the names unknown; then the lists show the shelf."""
    keeping = import_module("logbook.records.migrations.0010_sealed_names")
    record = renamed.record
    names = set(SealedName.objects.values_list("of", "name"))
    with connection.cursor() as cursor:
        connection.check_constraints()
        if connection.vendor == "postgresql":
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        freeze.remove(connection)
        ApplicationRecord.objects.update(**dict.fromkeys(COLUMNS))
        ProductLine.objects.update(sealed_product=None)
        SealedName.objects.all().delete()
        if text is not None:
            type(record.seal).objects.update(text=text)
        freeze.install(connection)
        freeze.remove_before_migrate(using="default")
        keeping.keep(apps, SimpleNamespace(connection=connection, execute=cursor.execute))
        freeze.install_after_migrate(using="default")
    assert freeze.missing(connection) == set()
    record = ApplicationRecord.objects.get(pk=record.pk)
    (line,) = record.products.all()
    if text is not None:
        assert (record.sealed_field, line.sealed_product) == (None, None)
        assert record.field_name == ("South 9", "")
        return
    was = renamed.was
    assert [getattr(record, name) for name in COLUMNS] == list(was.values())[:5]
    assert line.named == (was["product"], "Leafkill Pro")
    assert set(SealedName.objects.values_list("of", "name")) == names
    assert verification.verify(business=owner.business).broken is None


def test_two_seals_of_one_name_keep_it_once(
    owner: Any, signed: Any, entry: dict[str, Any], yard: Any
) -> None:
    sealed_by(owner, written(owner, entry), explained="Made for this test.")
    assert SealedName.objects.filter(of=yard.field.pk).count() == 1
    other = make.CustomerFactory(business=owner.business)
    assert not SealedName.objects.filter(of=other.pk).exists()
