"""Duties on the pages: what a record is asked for, what was done for it, and the form's inputs."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.test import Client

from logbook.facts.duty import Obligation
from logbook.records.models import ApplicationRecord, DutyEntry
from logbook.records.reading import owed
from logbook.records.sealing.sealed import read_seal
from logbook.records.writing.draft import save_draft
from logbook.web.duties.present import due_shown, path_words, span
from tests import factories as make
from tests.conftest import NOW


@pytest.fixture(autouse=True)
def _afternoon() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


def page(browser: Client, address: str) -> str:
    answer = browser.get(address)
    assert answer.status_code == 200
    return answer.content.decode()


def posted(draft: Any) -> dict[str, Any]:
    """Return a posted form of the draft: where, when and by whom, without products or loads."""
    draft.refresh_from_db()
    clock = "%Y-%m-%dT%H:%M"
    zone = ZoneInfo(draft.time_zone)
    return {
        "revision": str(draft.revision),
        "pattern": "broadcast",
        **{f"{name}-count": "0" for name in ("products", "loads", "weather")},
        "field": str(draft.field_id),
        "planting": str(draft.planting_id),
        "applicator": str(draft.applicator_id),
        "started_at": draft.started_at.astimezone(zone).strftime(clock),
        "finished_at": draft.finished_at.astimezone(zone).strftime(clock),
    }


GIVEN = {
    "kind": "notice after",
    "to_whom": "Customer",
    "how": "telephone",
    "given_at": "2026-06-12T13:00",
    "note": "",
}


class TestRecordPage:
    def test_it_shows_for_each_set_what_is_asked_and_where_it_stands(
        self, browser: Client, signed: Any
    ) -> None:
        text = page(browser, f"/book/{signed.pk}/")
        assert "N.D. Admin. Code 60-03-01-07(2)" in text
        assert "last read 2026-" in text
        assert "Note on rinsate, spills and incidents" in text
        assert "confirm with your authority" in text
        assert "products 1, total used" in text
        assert "It is not legal advice." in text
        assert "The text of the authority prevails" in text

    def test_a_missing_element_is_called_missing(
        self, browser: Client, owner: Any, clean_draft: Any
    ) -> None:
        save_draft(
            actor=owner,
            record_id=clean_draft.pk,
            revision=clean_draft.revision,
            data={"statements": {}},
        )
        assert "1 missing" in page(browser, f"/book/{clean_draft.pk}/duties/")

    def test_a_place_without_a_set_says_what_was_found_of_its_law(
        self, browser: Client, yard: Any, clean_draft: Any
    ) -> None:
        yard.field.place = "CA-ON"
        yard.field.save()
        text = page(browser, f"/book/{clean_draft.pk}/duties/")
        assert "The rules of Ontario are not carried here." in text
        assert "Ontario" in text

    def test_without_field_and_day_it_says_that_they_decide(self, browser: Client) -> None:
        record_id = uuid.uuid4()
        browser.post("/book/new/", {"id": record_id})
        text = page(browser, f"/book/{record_id}/")
        assert "once field and day of the work are entered" in text

    def test_crew_and_the_job_resumed_are_named(
        self, browser: Client, owner: Any, business: Any, signed: Any
    ) -> None:
        other = make.PersonFactory(business=business, name="B. Lind", licensed=True)
        rest_id = uuid.uuid4()
        answer = browser.post(f"/book/{signed.pk}/resume/", {"id": rest_id})
        assert answer.headers["Location"] == f"/book/{rest_id}/edit/"
        rest = ApplicationRecord.objects.get(pk=rest_id)
        save_draft(
            actor=owner, record_id=rest.pk, revision=rest.revision, data={"crew": [other.pk]}
        )
        text = page(browser, f"/book/{rest_id}/")
        assert "B. Lind" in text
        assert f"record no. {signed.seal.number}, begun 2026-06-12" in text


class TestEntries:
    def test_what_was_done_is_written_down_and_shown(self, browser: Client, signed: Any) -> None:
        address = f"/book/{signed.pk}/duties/"
        assert browser.post(address, GIVEN).status_code == 302
        text = page(browser, address)
        assert "Notice of the completed work" in text
        assert "by telephone, 2026-06-12 13:00 CDT" in text
        assert "Written down by The owner" in text

    def test_what_is_overdue_says_once_what_can_still_be_done(
        self, browser_of: Any, owner: Any, signed: Any
    ) -> None:
        advice = "What is overdue can still be given: give it now"
        address = f"/book/{signed.pk}/duties/"
        with time_machine.travel(signed.started_at - timedelta(days=3), tick=False):
            assert advice not in page(browser_of(owner), address)
        with time_machine.travel(NOW + timedelta(days=40), tick=False):
            browser = browser_of(owner)
            assert page(browser, address).count(advice) == 1
            assert page(browser, f"/book/{signed.pk}/").count(advice) == 1

    def test_sending_twice_makes_one(self, browser: Client, signed: Any) -> None:
        data = {**GIVEN, "id": str(uuid.uuid4())}
        for _ in range(2):
            browser.post(f"/book/{signed.pk}/duties/", data)
        assert DutyEntry.objects.count() == 1

    def test_the_page_sent_again_with_other_content_is_refused_and_what_was_typed_stays(
        self, browser: Client, signed: Any
    ) -> None:
        data = {**GIVEN, "id": str(uuid.uuid4())}
        browser.post(f"/book/{signed.pk}/duties/", data)
        answer = browser.post(f"/book/{signed.pk}/duties/", {**data, "to_whom": "Another farm"})
        assert answer.status_code == 422
        text = answer.content.decode()
        assert "This page was sent before and said something else" in text
        assert 'value="Another farm"' in text
        assert f'value="{data["id"]}"' not in text
        assert DutyEntry.objects.get().to_whom == "Customer"

    @pytest.mark.parametrize(
        ("change", "why"),
        [
            ({"to_whom": ""}, "This field is required"),
            ({"given_at": "2026-06-12T15:01"}, "still to come"),
            ({"given_at": "noon"}, "is not a day and time"),
            ({"how": "not owed"}, "why it is not owed"),
            ({"kind": "record"}, "not one of the available choices"),
        ],
    )
    def test_what_cannot_be_taken_stands_beside_its_input(
        self, browser: Client, signed: Any, change: dict[str, str], why: str
    ) -> None:
        answer = browser.post(f"/book/{signed.pk}/duties/", {**GIVEN, **change})
        assert answer.status_code == 422
        assert why in answer.content.decode()
        assert not DutyEntry.objects.exists()

    def test_a_mistake_is_struck_and_stays_readable(self, browser: Client, signed: Any) -> None:
        address = f"/book/{signed.pk}/duties/"
        browser.post(address, GIVEN)
        entry = DutyEntry.objects.get()
        strike = f"{address}{entry.pk}/strike/"
        answer = browser.post(strike, {"reason": "no"})
        assert answer.status_code == 422
        assert "what was wrong with the entry" in answer.content.decode()
        assert f'value="no" aria-invalid="true" aria-describedby="why-{entry.pk}"' in (
            answer.content.decode()
        )
        # The page stands at the strike's address; its form for the next entry does not go there.
        assert f'action="{address}"' in answer.content.decode()
        assert browser.post(strike, {"reason": "The wrong farm."}).status_code == 302
        text = page(browser, address)
        assert "Strikes an entry" in text
        assert "The wrong farm." in text
        assert "<s>" in text

    def test_a_helper_reads_and_writes_nothing_a_stranger_finds_nothing(
        self, browser_of: Any, helper: Any, stranger: Any, signed: Any
    ) -> None:
        address = f"/book/{signed.pk}/duties/"
        assert "Write down what was done" not in page(browser_of(helper), address)
        assert browser_of(helper).post(address, GIVEN).status_code == 403
        assert browser_of(stranger).get(address).status_code == 404
        assert browser_of(stranger).post(address, GIVEN).status_code == 404
        assert browser_of(stranger).post(f"/book/{signed.pk}/resume/").status_code == 404
        assert not DutyEntry.objects.exists()


class TestForm:
    def test_only_what_is_asked_and_has_no_input_of_its_own_is_offered(
        self, browser: Client, clean_draft: Any
    ) -> None:
        text = page(browser, f"/book/{clean_draft.pk}/edit/")
        assert 'name="statements-rinsate-note_word"' in text
        assert "statements-buffer" not in text
        assert "statements-wind-speed" not in text

    def test_a_word_and_a_text_are_read(
        self, browser: Client, owner: Any, clean_draft: Any
    ) -> None:
        for word, text, kept in (
            ("", "rinsed on the field", "rinsed on the field"),
            ("not measured", "no time", "not measured: no time"),
            ("not applicable", "", "not applicable"),
        ):
            clean_draft.refresh_from_db()
            data = posted(clean_draft) | {
                "statements-rinsate-note_word": word,
                "statements-rinsate-note_text": text,
            }
            assert browser.post(f"/book/{clean_draft.pk}/edit/", data).status_code == 302
            clean_draft.refresh_from_db()
            assert clean_draft.statements == {"rinsate-note": kept}

    def test_not_measured_without_a_reason_stands_beside_its_input(
        self, browser: Client, owner: Any, clean_draft: Any
    ) -> None:
        data = posted(clean_draft) | {
            "statements-rinsate-note_word": "not measured",
            "statements-rinsate-note_text": "",
        }
        answer = browser.post(f"/book/{clean_draft.pk}/edit/", data)
        assert answer.status_code == 422
        assert "needs the reason" in answer.content.decode()

    def test_a_blank_takes_the_statement_away(
        self, browser: Client, owner: Any, clean_draft: Any
    ) -> None:
        data = posted(clean_draft) | {
            "statements-rinsate-note_word": "",
            "statements-rinsate-note_text": "",
        }
        browser.post(f"/book/{clean_draft.pk}/edit/", data)
        clean_draft.refresh_from_db()
        assert clean_draft.statements == {}

    def test_another_place_brings_its_own_questions_with_the_check(
        self, browser: Client, owner: Any, business: Any, yard: Any, clean_draft: Any
    ) -> None:
        # Oregon asks who supplied the product (ORS 634.146, OAR 603-057-0410).
        oregon = make.FieldFactory(business=business, customer=yard.customer, place="US-OR")
        data = posted(clean_draft)
        data |= {"field": str(oregon.pk), "planting": ""}
        answer = browser.post(f"/book/{clean_draft.pk}/check/", data)
        assert "statements-product-supplier_text" in answer.content.decode()

    def test_people_and_a_job_to_resume_are_offered(
        self, browser: Client, owner: Any, business: Any, signed: Any, entry: dict[str, Any]
    ) -> None:
        other = make.PersonFactory(business=business, name="B. Lind")
        rest_id = uuid.uuid4()
        browser.post("/book/new/", {"id": rest_id})
        rest = ApplicationRecord.objects.get(pk=rest_id)
        next_day = {
            "started_at": entry["started_at"] + timedelta(days=1),
            "finished_at": entry["finished_at"] + timedelta(days=1),
        }
        save_draft(
            actor=owner,
            record_id=rest.pk,
            revision=rest.revision,
            data=entry | next_day | {"weather": []},
        )
        rest.refresh_from_db()
        text = page(browser, f"/book/{rest_id}/edit/")
        assert "Several applicators, or a job resumed" in text
        assert f"2026-06-12, no. {signed.seal.number}" in text
        data = posted(rest)
        data |= {"crew": [str(other.pk)], "continues": str(signed.pk)}
        assert browser.post(f"/book/{rest_id}/edit/", data).status_code == 302
        rest.refresh_from_db()
        assert rest.continues == signed
        assert [member.person for member in rest.crew.all()] == [other]


def test_a_path_is_said_in_words() -> None:
    assert path_words("products.0.total_used") == "products 1, total used"
    assert path_words("field.boundary") == "field, boundary"
    assert path_words("statements.rinsate-note") == "statements, rinsate note"


@pytest.mark.parametrize(
    ("length", "words"),
    [
        (timedelta(seconds=5), "1 min"),
        (timedelta(minutes=25), "25 min"),
        (timedelta(hours=5, minutes=30), "5 h 30 min"),
        (timedelta(days=1), "1 day"),
        (timedelta(days=3, hours=4), "3 days 4 h"),
        (timedelta(days=40, hours=4), "40 days"),
    ],
)
def test_a_length_of_time_is_said_in_two_units(length: timedelta, words: str) -> None:
    assert span(length) == words


def test_the_clock_of_these_tests_stands(now: datetime) -> None:
    assert now == NOW


def test_what_is_owed_before_the_work_stands_in_the_draft_and_on_the_day_before(
    browser_of: Any, owner: Any, clean_draft: Any
) -> None:
    # 40 CFR 170.309 and 170.313, as EPA's fact sheet states it: the farm is told before the start.
    told = "Notice before the work: in time until 2026-06-12 09:30 CDT"
    address = f"/book/{clean_draft.pk}/edit/"
    with time_machine.travel(clean_draft.started_at - timedelta(days=1), tick=False):
        browser = browser_of(owner)
        assert told in page(browser, address)
        assert "Notice before the work" in page(browser, "/deadlines/")
        assert "Notice before the work" in page(browser, "/")
        given = {**GIVEN, "kind": "notice before", "given_at": "2026-06-11T09:00"}
        assert browser.post(f"/book/{clean_draft.pk}/duties/", given).status_code == 302
        assert told not in page(browser, address)


def test_a_duty_that_may_not_bind_is_never_marked_as_a_breach(signed: Any) -> None:
    # 7 U.S.C. 136i-1(a)(2): whether the copy duty binds without 7 CFR 110 is not settled.
    facts = read_seal(signed.seal).snapshot
    (item, *_more) = owed.items(facts, (), recorded_at=None)
    late = NOW + timedelta(days=900)
    zone = facts.zone.key
    (settled,) = due_shown([item], zone=zone, now=late)
    (open_,) = due_shown([replace(item, obligation=Obligation.UNSETTLED)], zone=zone, now=late)
    assert (settled.mark.kind, open_.mark.kind) == ("breach", "undecided")
    assert open_.doubt == "not settled; confirm with your authority"
