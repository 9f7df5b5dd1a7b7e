"""The list of the book from its address: narrowed, sorted, paged, as files, printed."""

from __future__ import annotations

import csv
import io
import json
import re
import uuid
from collections.abc import Iterator
from datetime import UTC, date, datetime
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from logbook.errors.exceptions import RefusedInput
from logbook.records.models import ApplicationRecord, Explanation
from logbook.records.reading import bookfilter
from logbook.records.reading.bookfilter import BookFilter, read_filter
from logbook.records.reading.examine import examine
from logbook.records.reading.selectors import book, sealed_part
from logbook.records.writing.discard import set_aside
from logbook.records.writing.draft import save_draft
from logbook.records.writing.sign import sign
from logbook.web.book import lists
from tests import factories as make
from tests.conftest import NOW, said_of
from tests.logbook.documents.reading import has, read, whole


def ids(actor: Any, **asked: Any) -> set[Any]:
    return set(book(actor=actor, asked=BookFilter(**asked)).values_list("pk", flat=True))


@pytest.fixture
def three(business: Any) -> SimpleNamespace:
    """Three drafts on fields of different customers, in different zones and with products."""
    found = []
    for name, zone, at in (
        ("Ash corner", "America/Chicago", datetime(2026, 1, 1, 5, 30, tzinfo=UTC)),
        ("Birch lane", "Pacific/Auckland", datetime(2025, 12, 31, 12, 0, tzinfo=UTC)),
        ("Cedar row", "UTC", datetime(2026, 6, 12, 12, 0, tzinfo=UTC)),
    ):
        customer = make.CustomerFactory(business=business, name=f"Customer of {name}")
        field = make.FieldFactory(business=business, customer=customer, name=name, time_zone=zone)
        record = make.ApplicationRecordFactory(
            business=business,
            field=field,
            customer=customer,
            time_zone=zone,
            started_at=at,
            applicator=make.PersonFactory(business=business, name=f"Sprayer of {name}"),
            rig=make.RigFactory(business=business, name=f"Rig of {name}"),
        )
        product = make.ProductFactory(business=business, name=f"Product of {name}")
        make.ProductLineFactory(record=record, product=product)
        found.append(record)
    return SimpleNamespace(ash=found[0], birch=found[1], cedar=found[2], all=found)


class TestNarrowing:
    @pytest.fixture(params=["few", "many"], autouse=True)
    def _few_or_many(self, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
        """What fits few records and what fits many is found in two ways; both find the same."""
        if request.param == "many":
            monkeypatch.setattr(bookfilter, "FEW", 0)

    @pytest.mark.parametrize("name", ["customer", "field", "applicator", "rig"])
    def test_by_what_a_record_names(self, owner: Any, three: Any, name: str) -> None:
        asked = {f"{name}_id": getattr(three.ash, f"{name}_id")}
        assert ids(owner, **asked) == {three.ash.pk}

    def test_by_product(self, owner: Any, three: Any) -> None:
        line = three.birch.products.get()
        assert ids(owner, product_id=line.product_id) == {three.birch.pk}

    @pytest.mark.parametrize("word", ["birch", "Customer of Birch", "product OF birch"])
    def test_by_a_word_in_a_name(self, owner: Any, three: Any, word: str) -> None:
        assert ids(owner, search=word) == {three.birch.pk}

    def test_by_a_word_that_many_names_have(
        self, owner: Any, three: Any, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(bookfilter, "MAX_NAMES", 1)
        assert ids(owner, search="customer of") == {one.pk for one in three.all}

    def test_by_number(self, owner: Any, signed: Any, three: Any) -> None:
        assert ids(owner, search=str(signed.seal.number)) == {signed.pk}
        assert ids(owner, search="999") == set()

    def test_by_state(self, owner: Any, signed: Any, three: Any) -> None:
        assert ids(owner, state="signed") == {signed.pk}
        assert ids(owner, state="draft") == {one.pk for one in three.all}
        assert ids(owner, state="superseded") == set()

    def test_by_what_the_seal_counts(self, owner: Any, signed: Any, three: Any) -> None:
        assert ids(owner, flag="clean") == {signed.pk}
        assert ids(owner, flag="breach") == ids(owner, flag="finding") == set()

    def test_by_several_at_once(self, owner: Any, three: Any) -> None:
        assert ids(owner, search="ash", rig_id=three.birch.rig_id) == set()
        assert ids(owner, search="ash", rig_id=three.ash.rig_id) == {three.ash.pk}

    def test_a_row_of_another_business_is_never_found(
        self, stranger: Any, signed: Any, three: Any
    ) -> None:
        line = three.ash.products.get()
        for asked in (
            {"search": "ash"},
            {"search": str(signed.seal.number)},
            {"product_id": line.product_id},
            {"customer_id": three.ash.customer_id},
            {"flag": "clean"},
            {"year": 2026},
            {"sort": "number"},
            {"sort": "field"},
        ):
            assert ids(stranger, **asked) == set()


class TestFindings:
    """What the seal counts, and of drafts what lacks the words that signing asks for."""

    @pytest.fixture(params=["few", "many"], autouse=True)
    def _few_or_many(self, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
        if request.param == "many":
            monkeypatch.setattr(bookfilter, "FEW", 0)

    @pytest.fixture
    def sealed(self, owner: Any, clean_draft: Any, entry: dict[str, Any], confirmed: Any) -> Any:
        """Seal the draft as changed; about what has to be explained something is said."""

        def seal(**changed: Any) -> Any:
            draft = save_draft(
                actor=owner,
                record_id=clean_draft.pk,
                revision=clean_draft.revision,
                data={**entry, **changed},
            )
            asked = examine(actor=owner, record_id=draft.pk).report.must_be_explained()
            return sign(
                actor=owner,
                record_id=draft.pk,
                revision=draft.revision,
                explanations={
                    one.key: said_of(one, "The gauge broke on the way.") for one in asked
                },
                confirmation=confirmed(owner),
                now=NOW,
            )

        return seal

    def test_mismatches_may_be_sealed_without_words_and_are_found(
        self, owner: Any, sealed: Any
    ) -> None:
        # More mix than the loads hold, and than the setting delivers: one cause, the mix used.
        seal = sealed(mix_used=make.q("3000 gal"))
        assert (seal.mismatches, seal.missing, seal.unexplained) == (1, 0, 1)
        assert ids(owner, flag="mismatch") == ids(owner, flag="unexplained") == {seal.record_id}
        assert ids(owner, flag="missing") == ids(owner, flag="breach") == set()
        assert ids(owner, flag="unexplained", state="draft") == set()

    def test_a_missing_fact_was_explained_at_sealing(self, owner: Any, sealed: Any) -> None:
        seal = sealed(humidity=None, pressure=None)
        assert seal.missing >= 1
        assert ids(owner, flag="missing") == {seal.record_id}
        assert ids(owner, flag="unexplained") == (
            {seal.record_id} if seal.findings > seal.missing else set()
        )
        content = json.loads(seal.text)
        assert seal.unexplained == seal.findings - len(content["explanations"])

    def test_a_draft_is_found_until_something_is_said(
        self, owner: Any, stranger: Any, browser: Client, clean_draft: Any, entry: dict[str, Any]
    ) -> None:
        assert ids(owner, flag="unexplained") == set()
        draft = save_draft(
            actor=owner,
            record_id=clean_draft.pk,
            revision=clean_draft.revision,
            data={**entry, "pressure": None},
        )
        assert ids(owner, flag="unexplained") == {draft.pk}
        assert ids(owner, flag="unexplained", year=2025) == set()
        assert ids(owner, flag="unexplained", state="signed") == set()
        assert ids(stranger, flag="unexplained") == set()
        api = browser.get("/api/v1/records/", {"flag": "unexplained"}).json()
        assert [one["id"] for one in api["results"]] == [str(draft.pk)]
        asked = examine(actor=owner, record_id=draft.pk).report.must_be_explained()
        Explanation.objects.bulk_create(
            Explanation(record=draft, finding=one.key, text="The gauge broke.") for one in asked
        )
        assert ids(owner, flag="unexplained") == set()

    def test_more_drafts_than_are_looked_at_are_refused_and_not_left_out(
        self, owner: Any, browser: Client, three: Any, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(bookfilter, "MAX_DRAFTS", 2)
        with pytest.raises(RefusedInput, match="More than 2 drafts fit"):
            ids(owner, flag="unexplained")
        answer = browser.get(reverse("book"), {"flag": "unexplained"})
        assert answer.status_code == 422
        assert "More than 2 drafts fit" in answer.text
        assert browser.get("/api/v1/records/", {"flag": "unexplained"}).status_code == 422
        # A file that cannot be sent goes back to a page that says why; see `front_door`.
        assert browser.get(reverse("book-csv"), {"flag": "unexplained"}).status_code == 303
        assert "More than 2 drafts fit" in browser.get(reverse("book")).text
        assert ids(owner, flag="unexplained", year=2025) == {three.ash.pk}
        assert ids(owner, flag="unexplained", state="signed") == set()

    def test_the_file_has_what_the_seal_counts(
        self, owner: Any, browser: Client, sealed: Any
    ) -> None:
        sealed(mix_used=make.q("3000 gal"))
        answer = browser.get(reverse("book-csv"), {"flag": "mismatch"})
        (said,) = table(answer)
        wanted = {"breaches": "0", "mismatches": "1", "missing facts": "0", "findings": "1"}
        assert said | wanted | {"findings without explanation": "1"} == said


class TestDays:
    """The year and the day are those of the clock at the field."""

    def test_the_year_ends_at_the_midnight_of_each_field(self, owner: Any, three: Any) -> None:
        # 2026-01-01 05:30 UTC is 23:30 of 31 December in Chicago (UTC-6), and 2025-12-31 12:00
        # UTC is 01:00 of 1 January in Auckland (UTC+13, daylight saving); computed.
        assert ids(owner, year=2025) == {three.ash.pk}
        assert ids(owner, year=2026) == {three.birch.pk, three.cedar.pk}

    def test_both_days_are_counted(self, owner: Any, three: Any) -> None:
        day = date(2025, 12, 31)
        assert ids(owner, day_from=day, day_to=day) == {three.ash.pk}
        assert ids(owner, day_from=date(2026, 1, 1)) == {three.birch.pk, three.cedar.pk}
        assert ids(owner, day_to=day) == {three.ash.pk}

    def test_a_year_and_a_day_both_hold(self, owner: Any, three: Any) -> None:
        assert ids(owner, year=2026, day_from=date(2026, 2, 1)) == {three.cedar.pk}

    def test_a_record_without_a_start_is_of_no_day(self, owner: Any, business: Any) -> None:
        make.ApplicationRecordFactory(business=business)
        assert ids(owner, day_from=date(1, 1, 1)) == set()
        assert ids(owner, day_to=date(9999, 12, 31)) == set()


def rows_of(answer: Any) -> list[Any]:
    return [row["id"] for row in answer.context["page"].rows]


@pytest.fixture
def mixed(business: Any, signed: Any) -> list[Any]:
    """The signed record, and seven drafts on two fields and on none."""
    fields = [make.FieldFactory(business=business, name=name) for name in ("A field", "Z field")]
    drafts = [
        make.ApplicationRecordFactory(
            business=business,
            field=fields[n % 2] if n < 6 else None,
            customer=fields[n % 2].customer if n < 6 else None,
            started_at=datetime(2026, 5, 1 + n, tzinfo=UTC),
        )
        for n in range(7)
    ]
    return [signed, *drafts]


class TestThePage:
    @pytest.mark.parametrize("sort", [s + n for n in bookfilter.SORTS for s in ("", "-")])
    def test_every_record_of_an_order_is_met_once_and_back(
        self, browser: Client, mixed: list[Any], sort: str, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(lists, "PER_PAGE", 2)
        seen: list[Any] = []
        query = f"?sort={sort}"
        while query:
            answer = browser.get(reverse("book") + query)
            seen += rows_of(answer)
            query = answer.context["pages"]["after"]
            assert not query or f"sort={sort}" in query
        wanted = {"number": 1, "day": 8}.get(sort.removeprefix("-"), 7)
        assert len(seen) == len(set(seen)) == wanted
        back = rows_of(answer)
        while query := answer.context["pages"]["before"]:
            answer = browser.get(reverse("book") + query)
            back = rows_of(answer) + back
        assert back == seen
        names = dict(ApplicationRecord.objects.values_list("pk", "field__name"))
        if "field" in sort:
            told = [names[pk] for pk in seen]
            assert told == sorted(told, reverse=sort.startswith("-"))

    def test_an_order_says_what_it_leaves_out(self, browser: Client, mixed: list[Any]) -> None:
        text = browser.get(reverse("book"), {"sort": "number"}).content.decode()
        assert "signed records alone" in text
        assert 'aria-sort="ascending"' in text

    def test_links_keep_the_rest_of_the_address(self, browser: Client, mixed: list[Any]) -> None:
        answer = browser.get(reverse("book"), {"q": "field", "state": "draft", "after": ""})
        text = answer.content.decode()
        assert 'href="?q=field&amp;state=draft&amp;sort=field"' in text
        assert 'href="/book/list.csv?q=field&amp;state=draft"' in text
        assert 'href="?q=field"' in text  # without the state
        assert "Show all" in text

    @pytest.mark.parametrize(
        ("name", "value", "allowed"),
        [
            ("state", "done", "draft, signed, superseded"),
            ("sort", "name", "customer, -customer"),
            ("flag", "odd", "breach, mismatch, missing, unexplained, finding, clean"),
            ("from", "12.06.2026", "2026-06-12"),
            ("from", "2026-02-30", "2026-06-12"),
            ("to", "1066-10-14", "from 1990 to 2200"),
            ("year", "26", "from 1990 to 2200"),
            ("year", "２０２６", "from 1990 to 2200"),
            ("customer", "Holm", "choose one of the list"),
            ("after", "x", "follow the links"),
            ("before", "x", "follow the links"),
            ("q", "x" * 201, "at most 200"),
        ],
    )
    def test_what_cannot_be_read_is_named_with_what_is_allowed(
        self, browser: Client, mixed: list[Any], name: str, value: str, allowed: str
    ) -> None:
        answer = browser.get(reverse("book"), {name: value})
        assert answer.status_code == 422
        (said,) = answer.context["errors"]
        assert value[:60] in said
        assert allowed in said
        assert rows_of(answer) == []

    def test_a_last_day_before_the_first_is_refused(self, browser: Client, business: Any) -> None:
        answer = browser.get(reverse("book"), {"from": "2026-06-02", "to": "2026-06-01"})
        assert answer.status_code == 422
        assert "before the first" in answer.context["errors"][0]

    def test_a_customer_of_another_business_is_none_of_the_list(
        self, browser: Client, other_business: Any
    ) -> None:
        other = make.CustomerFactory(business=other_business, name="Unseen")
        answer = browser.get(reverse("book"), {"customer": str(other.pk)})
        assert answer.status_code == 422
        assert "Unseen" not in answer.content.decode()

    def test_what_is_typed_is_never_markup(self, browser: Client, business: Any) -> None:
        field = make.FieldFactory(business=business, name="<b>Bold</b>")
        make.ApplicationRecordFactory(business=business, field=field, customer=field.customer)
        text = browser.get(reverse("book"), {"q": "<b>"}).content.decode()
        assert "<b>" not in text
        assert "&lt;b&gt;Bold&lt;/b&gt;" in text

    def test_no_name_in_a_line_is_markup(self, browser: Client, business: Any) -> None:
        customer = make.CustomerFactory(business=business, name='<i>Slant & "Sons"</i>')
        field = make.FieldFactory(business=business, customer=customer, name="<b>50 %s</b>")
        record = make.ApplicationRecordFactory(business=business, field=field, customer=customer)
        for name in ("<u>One</u>", "Two's"):
            product = make.ProductFactory(business=business, name=name)
            make.ProductLineFactory(record=record, product=product)
        text = browser.get(reverse("book")).content.decode()
        assert "&lt;b&gt;50 %s&lt;/b&gt;" in text
        assert "&lt;i&gt;Slant &amp; &quot;Sons&quot;&lt;/i&gt;" in text
        assert "&lt;u&gt;One&lt;/u&gt;, Two&#x27;s" in text
        assert not any(tag in text for tag in ("<i>", "<b>", "<u>"))

    def test_a_page_of_many_takes_the_queries_of_a_page_of_one(
        self, browser: Client, business: Any, django_assert_num_queries: Any
    ) -> None:
        def add(count: int) -> None:
            for _ in range(count):
                field = make.FieldFactory(business=business)
                make.ProductLineFactory(
                    record=make.ApplicationRecordFactory(
                        business=business, field=field, customer=field.customer
                    )
                )

        add(2)
        addresses = ("", "?sort=field", "?q=field", "?year=2026", "?flag=clean&state=signed")
        few = {}
        for address in addresses:
            with CaptureQueriesContext(connection) as seen:
                browser.get(reverse("book") + address)
            few[address] = len(seen)
        add(20)
        for address in addresses:
            with django_assert_num_queries(few[address]):
                browser.get(reverse("book") + address)

    def test_the_form_offers_only_rows_of_the_business(
        self, browser: Client, three: Any, other_business: Any
    ) -> None:
        make.CustomerFactory(business=other_business, name="Unseen")
        chosen = str(three.ash.rig_id)
        text = browser.get(reverse("book-narrow"), {"rig": chosen}).content.decode()
        assert "Customer of Ash corner" in text
        assert "Unseen" not in text
        assert f'<option value="{chosen}" selected>' in text

    def test_a_visitor_is_sent_to_log_in(self, client: Client, db: None) -> None:
        for name in ("book", "book-narrow", "book-csv", "book-xlsx", "book-print"):
            assert client.get(reverse(name)).status_code == 302


def table(answer: Any) -> Iterator[dict[str, str]]:
    text = b"".join(answer.streaming_content).decode("utf-8-sig")
    return csv.DictReader(io.StringIO(text, newline=""))


class TestStates:
    def test_a_draft_set_aside_is_called_so_wherever_the_list_names_it(
        self, browser: Client, three: Any
    ) -> None:
        listed = browser.get(reverse("book"), {"state": "aside"}).content.decode()
        assert "state <strong>set aside</strong>" in listed
        assert '<option value="aside" selected>set aside</option>' in listed
        form = browser.get(reverse("book-narrow"), {"state": "aside"}).content.decode()
        assert '<option value="aside" selected>set aside</option>' in form

    @pytest.mark.parametrize(
        ("state", "offered"),
        [("", True), ("signed", True), ("draft", False), ("aside", False)],
    )
    def test_printing_is_offered_where_the_list_can_hold_a_signed_record(
        self, browser: Client, signed: Any, three: Any, state: str, offered: bool
    ) -> None:
        ApplicationRecord.objects.filter(pk=three.ash.pk).update(
            set_aside_at=datetime(2026, 6, 12, tzinfo=UTC)
        )
        page = browser.get(reverse("book"), {"state": state}).content.decode()
        assert reverse("book-csv") in page
        assert (reverse("book-print") in page) is offered


class TestFiles:
    def test_csv_holds_the_list_with_values_as_entered(self, browser: Client, signed: Any) -> None:
        answer = browser.get(reverse("book-csv"))
        assert answer["Content-Type"] == "text/csv; charset=utf-8"
        (row,) = table(answer)
        told = {
            "number": "1",
            "state": "signed",
            "day": "2026-06-12",
            "started": "2026-06-12 09:30",
            "time zone": "America/Chicago",
            "field": "North L",
            "product": "Leafkill",
            "planned rate": "22",
            "planned rate unit": "fl oz/ac",
            "total used": "2752",
            "total used unit": "fl oz",
            "mix used": "1880",
            "mix used unit": "gal",
        }
        assert {name: row[name] for name in told} == told

    def test_they_hold_what_the_address_asks_for(self, browser: Client, mixed: list[Any]) -> None:
        rows = list(table(browser.get(reverse("book-csv"), {"q": "A field", "sort": "day"})))
        assert [row["field"] for row in rows] == ["A field"] * 3
        assert [row["day"] for row in rows] == sorted(row["day"] for row in rows)

    def test_a_draft_set_aside_is_called_so(
        self, browser: Client, clean_draft: Any, owner: Any
    ) -> None:
        set_aside(actor=owner, record_id=clean_draft.pk, reason="begun twice", now=NOW)
        rows = table(browser.get(reverse("book-csv"), {"state": "aside"}))
        assert {row["state"] for row in rows} == {"set aside"}

    def test_a_formula_in_a_name_is_a_text(self, browser: Client, business: Any) -> None:
        field = make.FieldFactory(business=business, name="=HYPERLINK(1)")
        make.ApplicationRecordFactory(business=business, field=field, customer=field.customer)
        (row,) = table(browser.get(reverse("book-csv")))
        assert row["field"] == "'=HYPERLINK(1)"

    def test_xlsx_is_a_workbook(self, browser: Client, signed: Any) -> None:
        answer = browser.get(reverse("book-xlsx"))
        assert answer["Content-Disposition"] == 'attachment; filename="book.xlsx"'
        assert b"".join(answer.streaming_content)[:4] == b"PK\x03\x04"

    def test_a_workbook_too_large_is_refused_and_says_what_to_do(
        self, browser: Client, mixed: list[Any], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(lists, "MAX_XLSX", 3)
        answer = browser.get(reverse("book-xlsx"), headers={"referer": "http://testserver/book/"})
        assert answer.status_code == 303
        assert "take CSV" in browser.get("/book/").content.decode()

    def test_they_hold_nothing_of_another_business(
        self, browser_of: Any, stranger: Any, signed: Any
    ) -> None:
        assert list(table(browser_of(stranger).get(reverse("book-csv")))) == []

    @pytest.mark.parametrize("name", ["book-csv", "book-xlsx", "book-print-pdf"])
    def test_what_cannot_be_read_makes_no_file(
        self, browser: Client, business: Any, name: str
    ) -> None:
        answer = browser.get(reverse(name), {"year": "soon"})
        assert answer.status_code == 303


class TestPrint:
    def test_the_page_says_how_many_are_printed_and_left_out(
        self, browser: Client, mixed: list[Any]
    ) -> None:
        text = browser.get(reverse("book-print")).content.decode()
        assert "1 signed record" in text
        assert "7 drafts are left out" in text
        assert 'href="/book/print.pdf?part=1"' in text

    def test_the_file_is_contents_and_records_and_the_same_twice(
        self, browser: Client, signed: Any
    ) -> None:
        first = browser.get(reverse("book-print-pdf"))
        pages = read(first.content)
        has(pages[0], "Contents", "North L", "2026-06-12", f"1 of {len(pages)} in this file")
        has(pages[1], "Application record no. 1", "Leafkill", signed.seal.link)
        assert browser.get(reverse("book-print-pdf")).content == first.content

    def test_each_record_prints_as_it_does_by_itself(self, browser: Client, signed: Any) -> None:
        # By the API, from the seal alone; a member's own print says how its copies stood, too.
        alone = whole(browser.get(reverse("api-record-pdf", args=[signed.pk])).content)
        _, *pages = read(browser.get(reverse("book-print-pdf")).content)
        bound = re.sub(r"\d+ of \d+ in this file", "", " ".join(pages))
        assert bound.split() == alone.split()

    @pytest.mark.parametrize("part", ["0", "x", "101", "2", "000001999999", "0" * 5000])
    def test_a_part_that_is_not_there_is_refused(
        self, browser: Client, signed: Any, part: str
    ) -> None:
        assert browser.get(reverse("book-print-pdf"), {"part": part}).status_code == 303

    def test_a_book_of_drafts_has_nothing_to_print(self, browser: Client, business: Any) -> None:
        make.ApplicationRecordFactory(business=business)
        text = browser.get(reverse("book-print")).content.decode()
        assert "nothing to print" in text

    def test_no_seal_of_another_business_is_printed(self, stranger: Any, signed: Any) -> None:
        assert sealed_part(actor=stranger, asked=BookFilter(), first=0, count=9) == []

    def test_a_corrected_record_comes_with_what_corrects_it(
        self, owner: Any, signed: Any, confirmed: Any, now: datetime
    ) -> None:
        from logbook.records.writing.amend import begin_amendment
        from logbook.records.writing.sign import sign

        draft = begin_amendment(
            actor=owner, record_id=signed.pk, new_id=uuid.uuid4(), reason="The area was misread."
        )
        sign(
            actor=owner,
            record_id=draft.pk,
            revision=draft.revision,
            explanations={},
            confirmation=confirmed(owner),
            now=now,
        )
        found = sealed_part(actor=owner, asked=BookFilter(sort="number"), first=0, count=9)
        assert [(one.number, [x.number for x in later]) for one, later in found] == [
            (1, [2]),
            (2, []),
        ]
        assert ids(owner, state="superseded") == {signed.pk}


def test_a_filter_without_anything_narrows_nothing() -> None:
    assert read_filter({}) == BookFilter()
    assert not read_filter({"sort": "field"}).narrows
    assert read_filter({"year": "2026"}).narrows


def test_among_signed_records_alone_no_draft_is_looked_for(browser: Client, signed: Any) -> None:
    """A million records would be gone through for drafts that the list leaves out."""
    with CaptureQueriesContext(connection) as asked:
        assert browser.get("/book/?flag=unexplained&state=signed").status_code == 200
    assert not [one for one in asked.captured_queries if '"signed_at" IS NULL' in one["sql"]]
