"""The pages of the book: what a person sees, may do, and is refused."""

from __future__ import annotations

import re
import uuid
from datetime import UTC, datetime
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from logbook.records.models import ApplicationRecord, Seal
from logbook.records.reading.examine import examine
from logbook.records.writing.draft import begin_draft, save_draft
from tests import factories as make


def enter(actor: Any) -> Client:
    client = Client()
    client.force_login(actor.user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def typed(draft: Any, **values: str) -> dict[str, str]:
    """Return a posted form of a draft with nothing but these inputs."""
    draft.refresh_from_db()
    counts = {f"{name}-count": "0" for name in ("products", "loads", "weather")}
    return {"revision": str(draft.revision), "pattern": "broadcast", **counts, **values}


@pytest.fixture
def draft(owner: Any) -> Any:
    return begin_draft(actor=owner, record_id=uuid.uuid4())


PAGES = ("record", "record-edit", "record-sign", "record-amend", "record-pdf")


class TestDoors:
    @pytest.mark.parametrize("name", ["today", "book", "season", "plan"])
    def test_a_visitor_is_sent_to_the_login(self, db: None, client: Client, name: str) -> None:
        answer = client.get(reverse(name))
        assert answer.status_code == 302
        assert answer["Location"].startswith(reverse("login"))

    @pytest.mark.parametrize("name", PAGES)
    def test_another_business_finds_nothing(self, stranger: Any, signed: Any, name: str) -> None:
        assert enter(stranger).get(reverse(name, args=[signed.pk])).status_code == 404

    def test_another_business_changes_nothing(self, stranger: Any, draft: Any) -> None:
        for name in ("record-edit", "record-check"):
            answer = enter(stranger).post(
                reverse(name, args=[draft.pk]), typed(draft, note="not theirs")
            )
            assert answer.status_code == 404
        draft.refresh_from_db()
        assert draft.note == ""

    @pytest.mark.parametrize(("name", "status"), [("record-sign", 403), ("record-amend", 403)])
    def test_a_helper_may_not_sign_or_amend(
        self, helper: Any, signed: Any, name: str, status: int
    ) -> None:
        assert enter(helper).get(reverse(name, args=[signed.pk])).status_code == status

    @pytest.mark.parametrize("name", ["record-new", "record-check"])
    def test_a_get_changes_nothing(self, owner: Any, draft: Any, name: str) -> None:
        address = reverse(name, args=[] if name == "record-new" else [draft.pk])
        assert enter(owner).get(address).status_code == 405

    def test_a_user_of_no_business_is_told_so(self, db: None) -> None:
        client = Client()
        client.force_login(make.UserFactory(), backend="django.contrib.auth.backends.ModelBackend")
        answer = client.get(reverse("today"))
        assert answer.status_code == 403
        assert "belongs to no business" in answer.content.decode()


class TestForm:
    def test_new_under_one_id_twice_is_one_draft(self, owner: Any) -> None:
        client, wanted = enter(owner), str(uuid.uuid4())
        for _ in range(2):
            answer = client.post(reverse("record-new"), {"id": wanted})
            assert answer["Location"] == reverse("record-edit", args=[wanted])
        assert ApplicationRecord.objects.count() == 1

    def test_what_is_typed_is_saved_as_typed(self, owner: Any, draft: Any) -> None:
        answer = enter(owner).post(
            reverse("record-edit", args=[draft.pk]),
            typed(draft, speed_value="6.50", speed_unit="mph", note="gusty corner"),
        )
        assert answer.status_code == 302
        draft.refresh_from_db()
        assert (str(draft.speed), draft.note) == ("6.50 mph", "gusty corner")

    @pytest.mark.parametrize(
        ("value", "unit", "said"),
        [
            ("fast", "mph", "&quot;fast&quot; is not a number"),
            ("6", "psi", "is not a unit for this"),
            ("6", "", "6 needs its unit."),
            ("0", "mph", "it must be more than 0 mph"),
            ("1,200", "mph", "can be read in two ways; write 1200 or 1.200"),
            ("1_000", "mph", "is not a number"),
            ("٣", "mph", "is not a number"),
            ("6", "not measured", "Give either the number 6 or"),
            ("", "not measured", "needs the reason why it was not measured"),
        ],
    )
    def test_what_cannot_be_taken_stands_beside_its_input_and_nothing_is_saved(
        self, owner: Any, draft: Any, value: str, unit: str, said: str
    ) -> None:
        answer = enter(owner).post(
            reverse("record-edit", args=[draft.pk]),
            typed(draft, speed_value=value, speed_unit=unit, note="lost?"),
        )
        page = answer.content.decode()
        assert answer.status_code == 422
        assert said in page
        assert "lost?" in page
        draft.refresh_from_db()
        assert (draft.speed, draft.note) == (None, "")

    def test_the_page_saves_what_can_be_read_and_keeps_the_rest_in_the_window(
        self, owner: Any, draft: Any
    ) -> None:
        answer = enter(owner).post(
            reverse("record-check", args=[draft.pk]),
            typed(draft, speed_value="fast", speed_unit="mph", note="kept"),
        )
        page = answer.content.decode()
        assert "Saved, but for what is marked" in page
        assert "is not a number" in page
        draft.refresh_from_db()
        assert (draft.speed, draft.note) == (None, "kept")

    def test_an_end_before_the_start_is_marked_and_the_rest_is_saved(
        self, owner: Any, draft: Any
    ) -> None:
        times = {"started_at": "2026-06-12T09:00", "finished_at": "2026-06-12T08:00"}
        answer = enter(owner).post(
            reverse("record-check", args=[draft.pk]), typed(draft, note="kept", **times)
        )
        page = answer.content.decode()
        row = page[page.index('id="error-finished_at"') :][:200]
        assert "cannot end before it starts" in row
        draft.refresh_from_db()
        assert draft.note == "kept"
        assert draft.started_at is not None
        assert draft.finished_at is None

    def test_after_a_conflict_the_window_can_never_write_over_the_other(
        self, owner: Any, draft: Any
    ) -> None:
        client, address = enter(owner), reverse("record-check", args=[draft.pk])
        stale = typed(draft, note="office")
        client.post(address, typed(draft, note="cab"))
        for _ in range(2):
            page = client.post(address, stale).content.decode()
            assert "changed elsewhere" in page
            assert f'id="id_revision" value="{stale["revision"]}"' in page
        draft.refresh_from_db()
        assert draft.note == "cab"

    @pytest.mark.parametrize("count", [None, "-1", "x", "²", "5" * 5000, "61"])
    def test_a_page_that_lost_its_lines_takes_none_away(
        self, owner: Any, clean_draft: Any, count: str | None
    ) -> None:
        sent = typed(clean_draft)
        del sent["products-count"]
        if count is not None:
            sent["products-count"] = count
        answer = enter(owner).post(reverse("record-edit", args=[clean_draft.pk]), sent)
        assert answer.status_code == 422
        assert "arrived without all of its lines" in answer.content.decode()
        assert clean_draft.products.count() == 1

    @pytest.mark.parametrize("revision", [None, "", "²", "1.5"])
    def test_a_page_without_its_revision_says_so(
        self, owner: Any, draft: Any, revision: str | None
    ) -> None:
        sent = typed(draft, note="lost?")
        del sent["revision"]
        if revision is not None:
            sent["revision"] = revision
        answer = enter(owner).post(reverse("record-edit", args=[draft.pk]), sent)
        assert answer.status_code == 422
        assert "load it again" in answer.content.decode()

    def test_a_reason_that_would_be_dropped_is_refused(self, owner: Any, draft: Any) -> None:
        sent = typed(draft, pressure_value="", pressure_unit="psi", pressure_reason="gauge broken")
        answer = enter(owner).post(reverse("record-edit", args=[draft.pk]), sent)
        assert "choose “not measured” for it to count" in answer.content.decode()

    def test_a_nul_is_refused_everywhere(self, owner: Any, draft: Any) -> None:
        client = enter(owner)
        assert client.get(reverse("book"), {"q": "a\x00b"}).status_code == 400
        sent = typed(draft, note="a\x00b")
        assert client.post(reverse("record-edit", args=[draft.pk]), sent).status_code == 400

    def test_saving_the_page_keeps_the_seconds_and_the_pass_of_a_repeated_hour(
        self, owner: Any, draft: Any, yard: Any
    ) -> None:
        # US daylight time ended at 02:00 on 1 November 2026; 07:30:45 UTC is the second 01:30.
        started = datetime(2026, 11, 1, 7, 30, 45, tzinfo=UTC)
        save_draft(
            actor=owner,
            record_id=draft.pk,
            revision=draft.revision,
            data={"field": yard.field.pk, "started_at": started},
        )
        sent = typed(draft, note="only a note", started_at="2026-11-01T01:30")
        client = enter(owner)
        client.post(reverse("record-edit", args=[draft.pk]), sent | {"field": str(yard.field.pk)})
        draft.refresh_from_db()
        assert (draft.note, draft.started_at) == ("only a note", started)

    def test_another_field_leaves_the_crop_behind_and_saves(
        self, owner: Any, business: Any, clean_draft: Any, yard: Any
    ) -> None:
        other = make.FieldFactory(business=business)
        sent = typed(clean_draft, field=str(other.pk), planting=str(yard.planting.pk))
        answer = enter(owner).post(reverse("record-check", args=[clean_draft.pk]), sent)
        assert "There is no such choice" not in answer.content.decode()
        clean_draft.refresh_from_db()
        assert (clean_draft.field, clean_draft.planting) == (other, None)

    def test_a_bad_line_is_marked_in_its_own_row(self, owner: Any, draft: Any, yard: Any) -> None:
        answer = enter(owner).post(
            reverse("record-edit", args=[draft.pk]),
            typed(draft)
            | {
                "products-count": "2",
                "products-1-product": str(yard.product.pk),
                "products-1-planned_rate_value": "-1",
                "products-1-planned_rate_unit": "fl oz/ac",
            },
        )
        page = answer.content.decode()
        row = page[page.index('id="error-products-1-planned_rate"') :][:200]
        assert "must be more than 0" in row

    def test_a_row_ticked_to_be_struck_out_is_gone(
        self, owner: Any, clean_draft: Any, yard: Any
    ) -> None:
        enter(owner).post(
            reverse("record-edit", args=[clean_draft.pk]),
            typed(clean_draft)
            | {
                "products-count": "1",
                "products-0-product": str(yard.product.pk),
                "products-0-drop": "on",
            },
        )
        assert clean_draft.products.count() == 0

    def test_saving_an_amendment_keeps_the_loads_it_was_given(
        self, owner: Any, signed: Any
    ) -> None:
        client = enter(owner)
        wanted = uuid.uuid4()
        reason = {"reason": "The note was left out.", "id": str(wanted)}
        client.post(reverse("record-amend", args=[signed.pk]), reason)
        draft = ApplicationRecord.objects.get(pk=wanted)
        before = set(draft.load_uses.values_list("load_id", flat=True))
        page = client.get(reverse("record-edit", args=[wanted])).content.decode()
        assert all(f'value="{load}" selected' in page for load in before)

    def test_one_more_row_keeps_what_was_typed(self, owner: Any, draft: Any) -> None:
        answer = enter(owner).post(
            reverse("record-edit", args=[draft.pk]), typed(draft, note="kept", add="weather")
        )
        page = answer.content.decode()
        line = page[page.index('name="weather-0-read_at"') :]
        assert "autofocus" in line[: line.index(">")]
        assert "kept" in page

    def test_a_stale_form_is_refused_and_says_so(self, owner: Any, draft: Any) -> None:
        client = enter(owner)
        stale = typed(draft, note="second")
        client.post(reverse("record-edit", args=[draft.pk]), typed(draft, note="first"))
        answer = client.post(reverse("record-edit", args=[draft.pk]), stale)
        assert answer.status_code == 422
        assert "changed elsewhere" in answer.content.decode()
        draft.refresh_from_db()
        assert draft.note == "first"

    def test_the_recheck_answers_with_findings_and_the_new_revision(
        self, owner: Any, clean_draft: Any
    ) -> None:
        answer = enter(owner).post(
            reverse("record-check", args=[clean_draft.pk]),
            typed(clean_draft, speed_value="7.9", speed_unit="mph"),
        )
        page = answer.content.decode()
        clean_draft.refresh_from_db()
        assert f'id="id_revision" value="{clean_draft.revision}"' in page
        assert 'id="check"' in page
        assert "12.7 km/h" in page

    def test_a_signed_record_has_no_form(self, owner: Any, signed: Any) -> None:
        answer = enter(owner).get(reverse("record-edit", args=[signed.pk]))
        assert answer["Location"] == reverse("record", args=[signed.pk])

    @pytest.mark.parametrize("name", ["record-edit", "record", "record-sign"])
    def test_its_queries_do_not_grow_with_rows(
        self, owner: Any, clean_draft: Any, django_assert_num_queries: Any, name: str
    ) -> None:
        client, address = enter(owner), reverse(name, args=[clean_draft.pk])
        client.get(address)

        def add(place: int) -> None:
            make.WeatherReadingFactory(record=clean_draft)
            line = make.ProductLineFactory(record=clean_draft, position=place)
            use = make.LoadUseFactory(record=clean_draft)
            make.LoadPartFactory(load=use.load, product=line.product)

        # With one more load the amounts disagree, and how the rig was set before is asked for.
        add(1)
        with CaptureQueriesContext(connection) as few:
            client.get(address)
        for place in range(2, 5):
            add(place)
        with django_assert_num_queries(len(few)):
            assert client.get(address).status_code == 200


class TestSigning:
    def sign(self, actor: Any, draft: Any, **changed: str) -> Any:
        draft.refresh_from_db()
        data = {"revision": str(draft.revision), "password": make.PASSWORD} | changed
        return enter(actor).post(reverse("record-sign", args=[draft.pk]), data)

    def test_the_right_password_seals(self, owner: Any, clean_draft: Any) -> None:
        answer = self.sign(owner, clean_draft)
        assert answer["Location"] == reverse("record", args=[clean_draft.pk])
        assert Seal.objects.get().record == clean_draft

    def test_a_wrong_password_does_not(self, owner: Any, clean_draft: Any) -> None:
        answer = self.sign(owner, clean_draft, password="wrong")
        assert answer.status_code == 422
        assert "This is not your password." in answer.content.decode()
        assert not Seal.objects.exists()

    def begun(self, owner: Any, draft: Any, yard: Any) -> Any:
        """Return what has to be explained of a draft with little in it."""
        sent = typed(draft, field=str(yard.field.pk), started_at="2026-06-12T09:00")
        enter(owner).post(
            reverse("record-edit", args=[draft.pk]),
            sent | {"products-count": "1", "products-0-product": str(yard.product.pk)},
        )
        return examine(actor=owner, record_id=draft.pk).report.must_be_explained()

    def test_what_was_explained_is_kept_when_the_password_is_wrong_or_one_goes_back(
        self, owner: Any, draft: Any, yard: Any
    ) -> None:
        found = self.begun(owner, draft, yard)
        said = {f"explain:{found[0].key}": "The gauge broke on the way."}
        self.sign(owner, draft, password="wrong", **said)
        address = reverse("record-sign", args=[draft.pk])
        assert "The gauge broke on the way." in enter(owner).get(address).content.decode()
        said = {f"explain:{found[0].key}": "It broke twice."}
        answer = self.sign(owner, draft, then="back", **said)
        assert answer["Location"] == reverse("record-edit", args=[draft.pk])
        assert "It broke twice." in enter(owner).get(address).content.decode()

    def test_what_another_signer_wrote_meanwhile_is_read_before_it_is_signed(
        self, owner: Any, draft: Any, yard: Any
    ) -> None:
        found = self.begun(owner, draft, yard)
        name = f"explain:{found[0].key}"
        self.sign(owner, draft, then="back", **{name: "The gauge broke."})
        # This window was opened before, with nothing beside the finding.
        answer = self.sign(owner, draft, **{name: ""})
        assert answer.status_code == 422
        page = answer.content.decode()
        assert "somebody else explained a finding after this page was opened" in page
        assert "The gauge broke." in page
        assert f'name="explained" value="{found[0].key}"' in page
        # Whoever has seen it may take it back.
        self.sign(owner, draft, then="back", explained=found[0].key, **{name: ""})
        assert not draft.explanations.exists()

    def test_a_fact_of_the_shelf_that_changed_since_it_was_read_is_not_signed(
        self, owner: Any, clean_draft: Any, yard: Any
    ) -> None:
        page = enter(owner).get(reverse("record-sign", args=[clean_draft.pk]))
        shown = page.context["shown"]
        yard.label.reentry_hours = 1
        yard.label.save()
        answer = self.sign(owner, clean_draft, shown=shown)
        assert "changed since you looked at it" in answer.content.decode()
        assert not Seal.objects.exists()

    @pytest.mark.parametrize("revision", ["", "abc", "²", "9" * 5000])
    def test_an_odd_revision_is_refused_not_a_fault(
        self, owner: Any, clean_draft: Any, revision: str
    ) -> None:
        assert self.sign(owner, clean_draft, revision=revision).status_code == 422

    def test_work_that_has_not_ended_says_so_before_anything_is_explained(
        self, owner: Any, draft: Any, yard: Any
    ) -> None:
        sent = typed(draft, field=str(yard.field.pk), started_at="2199-06-12T09:00")
        enter(owner).post(
            reverse("record-edit", args=[draft.pk]),
            sent | {"products-count": "1", "products-0-product": str(yard.product.pk)},
        )
        page = enter(owner).get(reverse("record-sign", args=[draft.pk])).content.decode()
        assert "The spraying has not ended yet" in page
        assert ">Sign and seal<" not in page

    def test_what_lacks_its_explanation_is_named(self, owner: Any, draft: Any, yard: Any) -> None:
        enter(owner).post(
            reverse("record-edit", args=[draft.pk]),
            typed(draft, field=str(yard.field.pk), started_at="2026-06-12T09:00")
            | {"products-count": "1", "products-0-product": str(yard.product.pk)},
        )
        answer = self.sign(owner, draft)
        assert answer.status_code == 422
        assert "Say in a sentence why" in answer.content.decode()
        assert not Seal.objects.exists()

    def test_a_record_of_nothing_is_refused_with_the_reason(self, owner: Any, draft: Any) -> None:
        answer = self.sign(owner, draft)
        assert "needs its field and at least one product" in answer.content.decode()


class TestRecord:
    def test_a_sealed_record_is_shown_as_it_was_sealed(
        self, owner: Any, signed: Any, yard: Any
    ) -> None:
        yard.product.name = "Renamed since"
        yard.product.save()
        page = enter(owner).get(reverse("record", args=[signed.pk])).content.decode()
        assert "Leafkill" in page
        assert "Renamed since" not in page
        assert signed.seal.link in page

    def test_its_paper_is_a_pdf(self, owner: Any, signed: Any) -> None:
        answer = enter(owner).get(reverse("record-pdf", args=[signed.pk]))
        assert answer["Content-Type"] == "application/pdf"
        assert answer.content.startswith(b"%PDF-")

    def test_a_draft_has_no_paper(self, owner: Any, draft: Any) -> None:
        assert enter(owner).get(reverse("record-pdf", args=[draft.pk])).status_code == 404

    def test_an_amendment_is_begun_with_its_reason(self, owner: Any, signed: Any) -> None:
        client, address = enter(owner), reverse("record-amend", args=[signed.pk])
        refused = client.post(address, {"reason": "typo"})
        assert refused.status_code == 422
        wanted = uuid.uuid4()
        answer = client.post(address, {"reason": "The area was misread.", "id": str(wanted)})
        assert answer["Location"] == reverse("record-edit", args=[wanted])
        page = client.get(answer["Location"]).content.decode()
        assert "Amendment of no. 1" in page

    def test_a_second_reason_is_not_dropped(self, owner: Any, signed: Any) -> None:
        client, address = enter(owner), reverse("record-amend", args=[signed.pk])
        client.post(address, {"reason": "The area was misread."})
        answer = client.post(address, {"reason": "The wind was left out."}, follow=True)
        page = answer.content.decode()
        assert "The wind was left out." in page
        assert "begun already" in page

    def test_an_id_that_is_taken_is_refused(self, owner: Any, signed: Any) -> None:
        answer = enter(owner).post(
            reverse("record-amend", args=[signed.pk]),
            {"reason": "The area was misread.", "id": str(signed.pk)},
        )
        assert answer.status_code == 303

    def test_the_pages_of_a_record_carry_a_strict_policy(self, owner: Any, signed: Any) -> None:
        answer = enter(owner).get(reverse("record", args=[signed.pk]))
        policy = answer["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "unsafe-inline" not in policy
        assert " style=" not in answer.content.decode()


class TestLists:
    def test_the_book_is_narrowed_by_word_state_and_customer(
        self, owner: Any, signed: Any, yard: Any
    ) -> None:
        begin_draft(actor=owner, record_id=uuid.uuid4())
        client = enter(owner)

        def rows(**asked: str) -> int:
            return len(client.get(reverse("book"), asked).context["page"].rows)

        assert rows() == 2
        assert rows(state="signed") == 1
        assert rows(state="draft") == 1
        assert rows(q="leafk") == 1
        assert rows(q="north l") == 1
        assert rows(q="nothing like it") == 0
        assert rows(customer=str(yard.customer.pk)) == 1

    def test_its_queries_do_not_grow_with_records(
        self, owner: Any, business: Any, django_assert_num_queries: Any
    ) -> None:
        client = enter(owner)
        make.ApplicationRecordFactory(business=business)
        client.get(reverse("book"))
        with CaptureQueriesContext(connection) as few:
            client.get(reverse("book"))
        make.ApplicationRecordFactory.create_batch(30, business=business)
        with django_assert_num_queries(len(few)):
            client.get(reverse("book"))

    def test_empty_pages_say_what_to_do_next(self, owner: Any) -> None:
        client = enter(owner)
        assert "The book is empty" in client.get(reverse("book")).content.decode()
        assert "No draft waits" in client.get(reverse("today")).content.decode()
        assert "No signed record" in client.get(reverse("season")).content.decode()

    def test_the_season_sums_what_was_entered(self, owner: Any, signed: Any) -> None:
        page = enter(owner).get(reverse("season"), {"year": "2026"}).content.decode()
        assert "2752 fl oz" in page
        assert "Leafkill" in page

    def test_today_names_what_waits(self, owner: Any, clean_draft: Any) -> None:
        page = enter(owner).get(reverse("today")).content.decode()
        assert "North L" in page


class TestPlan:
    ASKED = {  # noqa: RUF012
        "carrier_min_value": "10",
        "carrier_min_unit": "gal/ac",
        "carrier_max_value": "20",
        "carrier_max_unit": "gal/ac",
        "spacing_value": "20",
        "spacing_unit": "in",
        "speed_low_value": "6",
        "speed_low_unit": "mph",
        "speed_high_value": "9",
        "speed_high_unit": "mph",
        "purpose": "contact herbicide",
    }

    def test_a_nozzle_that_fits_is_shown_with_its_window(self, owner: Any, yard: Any) -> None:
        page = enter(owner).get(reverse("plan"), self.ASKED).content.decode()
        assert yard.nozzle.name in page
        assert "Set it to" in page
        assert "Usual for contact herbicide" in page
        assert "<svg" in page

    def test_one_that_does_not_fit_is_named_with_its_limit(self, owner: Any, yard: Any) -> None:
        # At 30 to 40 mph the 04 would need (40/7.9)² times its pressure: far beyond its range.
        fast = self.ASKED | {"speed_low_value": "30", "speed_high_value": "40"}
        page = enter(owner).get(reverse("plan"), fast).content.decode()
        assert "No nozzle on the shelf meets all of it" in page
        assert "more than its rated" in page

    def test_what_lacks_is_said(self, owner: Any) -> None:
        page = enter(owner).get(reverse("plan"), {"purpose": ""}).content.decode()
        assert "This is needed to choose a nozzle." in page

    def test_a_label_in_the_wrong_order_is_refused(self, owner: Any, yard: Any) -> None:
        odd = self.ASKED | {"carrier_min_value": "30"}
        page = enter(owner).get(reverse("plan"), odd).content.decode()
        assert "errorlist" in page

    def test_label_and_rig_fill_in_what_was_left_empty(self, owner: Any, yard: Any) -> None:
        asked = {
            "label": str(yard.label.pk),
            "rig": str(yard.rig.pk),
            "speed_low_value": "7",
            "speed_low_unit": "mph",
            "speed_high_value": "8",
            "speed_high_unit": "mph",
        }
        page = enter(owner).get(reverse("plan"), asked).content.decode()
        assert "What fits at" in page


def test_each_input_names_the_help_and_the_refusal_beside_it(owner: Any, clean_draft: Any) -> None:
    page = enter(owner).get(reverse("record-edit", args=[clean_draft.pk])).content.decode()
    described = {
        name: ids.split()
        for name, ids in re.findall(r'name="(\w[\w-]*)"[^>]* aria-describedby="([^"]+)"', page)
    }
    assert described["pressure_value"] == ["error-pressure"]
    assert described["started_at"] == ["error-started_at"]
    assert described["loads-0-order"] == ["error-loads-0-order"]
    standing = set(re.findall(r'\bid="([^"]+)"', page))
    assert {one for ids in described.values() for one in ids} <= standing
