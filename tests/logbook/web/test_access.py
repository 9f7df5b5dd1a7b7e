"""The pages of access from outside, and what a guest finds on the pages of an audit."""

from __future__ import annotations

import re
import uuid
from datetime import timedelta
from io import BytesIO
from typing import Any

import pytest
from django.core import mail
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from logbook.accounts import invitations
from logbook.accounts.grants import give_grant
from logbook.accounts.models import Grant, Invitation, Visit
from logbook.accounts.rights import Role
from logbook.law import applicability as apply
from logbook.records.writing.amend import begin_amendment
from logbook.records.writing.draft import save_draft
from tests import factories as make
from tests.conftest import NOW, sealed_by


def text(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def logged_in(user: Any) -> Client:
    client = Client()
    client.force_login(user)
    return client


@pytest.fixture
def desk(office: Any) -> Client:
    return logged_in(office.user)


@pytest.fixture
def outsider(db: None) -> Any:
    return make.UserFactory(name="Fern Aldous", email="fern@farm.test")


def let_in(owner: Any, user: Any, role: Role = Role.FARM_MANAGER, **scope: Any) -> Grant:
    now = timezone.now()
    inspecting = role is Role.INSPECTOR
    return give_grant(
        actor=owner,
        email=user.email,
        role=role,
        reason="A complaint about drift" if inspecting else "",
        ends_on=(now + timedelta(days=20)).date() if inspecting else None,
        now=now,
        **scope,
    )


def test_an_inspector_is_told_each_record_by_the_law_sealed_with_it(
    owner: Any, outsider: Any, signed: Any, monkeypatch: Any
) -> None:
    let_in(owner, outsider, Role.INSPECTOR, every_customer=True)
    monkeypatch.setattr(apply, "_at", lambda place: ())  # nothing of it is carried any more
    page = text(logged_in(outsider).get("/audit/?year=2026"))
    assert "Those that are carried today differ: " in page
    assert "North Dakota: " in page


@pytest.mark.parametrize(
    "asked",
    ["year=1850", "year=the last", "field=x", "field=7b1f0f9e-0000-4000-8000-000000000000"],
)
def test_an_audit_of_what_cannot_be_told_shows_nothing_and_says_why(
    owner: Any, outsider: Any, signed: Any, asked: str
) -> None:
    let_in(owner, outsider, Role.INSPECTOR, every_customer=True)
    browser = logged_in(outsider)
    assert "Open no. 1" in text(browser.get("/audit/?year=2026"))
    answer = browser.get(f"/audit/?{asked}")
    assert answer.status_code == 422
    assert "is not taken for" in text(answer)
    assert "Open no. 1" not in text(answer)


class TestTheBusiness:
    def test_the_office_gives_access_and_withdraws_it(
        self, desk: Client, outsider: Any, yard: Any
    ) -> None:
        form = {"email": "fern@farm.test", "role": "farm manager", "customers": yard.customer.pk}
        answer = desk.post(reverse("access-give"), form, follow=True)
        assert "Fern Aldous has access now." in text(answer)
        grant = Grant.objects.get()
        answer = desk.post(reverse("access-withdraw", args=[grant.pk]), follow=True)
        assert "The access of Fern Aldous is withdrawn" in text(answer)
        assert "withdrawn by The office" in text(answer)
        assert "No customer" not in text(answer)

    def test_the_page_sent_again_with_other_terms_is_refused_and_what_was_typed_stays(
        self, desk: Client, outsider: Any, yard: Any
    ) -> None:
        form = {"id": str(uuid.uuid4()), "email": "fern@farm.test", "role": "farm manager"}
        form["customers"] = yard.customer.pk
        desk.post(reverse("access-give"), form)
        answer = desk.post(reverse("access-give"), {**form, "reason": "For the audit"})
        assert answer.status_code == 422
        assert "This page was sent before and said something else" in text(answer)
        assert 'value="For the audit"' in text(answer)
        assert form["id"] not in text(answer)
        assert Grant.objects.get().reason == ""

    def test_the_form_stays_where_no_more_may_be_invited_today(
        self, desk: Client, yard: Any, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(invitations, "A_DAY", 0)
        form = {"email": "new@farm.test", "role": "farm manager", "customers": yard.customer.pk}
        answer = desk.post(reverse("access-give"), {**form, "reason": "For the audit"})
        assert answer.status_code == 422
        assert "0 invitations were sent within a day; go on tomorrow." in text(answer)
        assert 'value="For the audit"' in text(answer)

    def test_what_only_an_inspector_is_given_stands_apart(
        self, desk: Client, outsider: Any, yard: Any
    ) -> None:
        page = desk.get(reverse("access-give")).content.decode()
        found = re.search(r'<fieldset class="block inspector-only">.*?</fieldset>', page, re.S)
        assert found
        apart = found[0]
        assert "For an inspector only" in apart
        names = set(re.findall(r' name="(\w+)"', apart))
        assert names == {"every_customer", "fields_only", "day_from", "day_to"}
        rest = page.replace(apart, "")
        assert {"email", "role", "customers", "reason", "begins_on", "ends_on"} <= set(
            re.findall(r' name="(\w+)"', rest)
        )
        # Each of them is refused for a farm manager, so nothing that counts is set apart.
        form = {"email": "fern@farm.test", "role": "farm manager", "customers": yard.customer.pk}
        for name, value in (
            ("every_customer", "on"),
            ("fields_only", yard.field.pk),
            ("day_from", "2026-05-01"),
            ("day_to", "2026-05-01"),
        ):
            assert desk.post(reverse("access-give"), {**form, name: value}).status_code == 422
        assert not Grant.objects.exists()

    def test_what_cannot_be_given_stands_beside_its_input_and_what_was_typed_stays(
        self, desk: Client, outsider: Any, yard: Any
    ) -> None:
        form = {"email": "fern@farm.test", "role": "inspector", "customers": yard.customer.pk}
        answer = desk.post(reverse("access-give"), {**form, "day_from": "2026-05-01"})
        assert answer.status_code == 422
        assert "Say for what the inspector gets access." in text(answer)
        assert 'value="fern@farm.test"' in text(answer)
        assert 'value="2026-05-01"' in text(answer)
        assert not Grant.objects.exists()

    def test_who_has_no_login_is_invited_and_is_in_by_the_link(
        self, desk: Client, yard: Any, signed: Any
    ) -> None:
        form = {"email": "fern@farm.test", "role": "farm manager", "customers": yard.customer.pk}
        page = text(desk.post(reverse("access-give"), form, follow=True))
        assert "fern@farm.test has no login yet and is invited by e-mail." in page
        assert "Invited, not yet taken up" in page
        assert yard.customer.name in page
        assert "fern@farm.test" not in text(desk.get(reverse("members")))
        link = next(line for line in mail.outbox[0].body.splitlines() if "://" in line)
        visitor = Client()
        assert "farm manager" in text(visitor.get(link))
        password = "long-boom-over-wheat"
        login = {"name": "Fern", "unit_system": "us", "password": password, "password2": password}
        page = text(visitor.post(link, login, follow=True))
        assert "Long Furrow Spraying has opened its records to you." in page
        assert visitor.get(reverse("record", args=[signed.pk])).status_code == 200
        assert visitor.get(reverse("book")).status_code == 403
        page = text(desk.get(reverse("access")))
        assert "Invited, not yet taken up" not in page
        assert "fern@farm.test, farm manager" in page

    def test_what_was_offered_is_withdrawn_on_the_page(self, desk: Client, yard: Any) -> None:
        form = {"email": "fern@farm.test", "role": "farm manager", "customers": yard.customer.pk}
        desk.post(reverse("access-give"), form)
        address = reverse("member-invitation-withdraw", args=[Invitation.objects.get().pk])
        answer = desk.post(address, {"back": "access"}, follow=True)
        assert answer.redirect_chain == [(reverse("access"), 302)]
        assert "The invitation of fern@farm.test is withdrawn." in text(answer)
        assert "Invited, not yet taken up" not in text(answer)

    def test_the_rows_of_another_business_are_not_on_offer(
        self, desk: Client, other_business: Any, yard: Any
    ) -> None:
        make.CustomerFactory(business=other_business, name="Not ours at all")
        make.FieldFactory(business=other_business, name="Nor is this")
        page = text(desk.get(reverse("access-give")))
        assert yard.customer.name in page
        assert "Not ours at all" not in page
        assert "Nor is this" not in page

    def test_the_visits_are_paged_and_cost_the_same_queries(
        self,
        desk: Client,
        owner: Any,
        outsider: Any,
        yard: Any,
        django_assert_max_num_queries: Any,
    ) -> None:
        grant = let_in(owner, outsider, customer_ids=[yard.customer.pk])
        Visit.objects.bulk_create(
            Visit(
                business=owner.business,
                grant=grant,
                user=outsider,
                at=timezone.now() - timedelta(minutes=n),
                method="GET",
                path=f"/audit/?page={n}",
                page="audit",
                status=200,
                address="192.0.2.7",
            )
            for n in range(120)
        )
        with django_assert_max_num_queries(10):
            page = text(desk.get(reverse("access-visits"), {"grant": grant.pk, "page": 2}))
        assert "Page 2 of 3" in page
        assert f"?grant={grant.pk}&amp;page=3" in page
        assert "192.0.2.7" in page

    def test_the_visits_of_a_grant_of_another_business_are_not_there(
        self, desk: Client, stranger: Any, outsider: Any
    ) -> None:
        theirs = make.CustomerFactory(business=stranger.business)
        grant = let_in(stranger, outsider, customer_ids=[theirs.pk])
        assert desk.get(reverse("access-visits"), {"grant": grant.pk}).status_code == 404


class TestAFarmManager:
    @pytest.fixture
    def fern(self, owner: Any, outsider: Any, yard: Any) -> Client:
        let_in(owner, outsider, customer_ids=[yard.customer.pk])
        return logged_in(outsider)

    def test_the_first_page_leads_to_what_was_sprayed(self, fern: Client, signed: Any) -> None:
        answer = fern.get("/", follow=True)
        page = text(answer)
        assert answer.redirect_chain == [(reverse("audit"), 302)]
        assert "gave you this access" in page
        assert "until it is withdrawn" in page
        for closed in ("Shelf", "Plan", "Season", "Book"):
            assert f">{closed}</a>" not in page

    def test_rates_totals_intervals_and_the_paper_of_a_record(
        self, fern: Client, signed: Any
    ) -> None:
        page = text(fern.get(reverse("audit"), {"year": "2026"}))
        # 5940 × 0.40 gal/min / (7.9 mph × 20 in) = 15.04 gal/ac (computed, see conftest).
        assert "Delivered 15.0 gal/ac" in page
        assert "label asks 10 to 20" in page
        assert "2752 fl oz" in page
        # Twelve hours after noon in Chicago; thirty days after 12 June (computed).
        assert "2026-06-13 00:00 CDT" in page
        assert "2026-07-12" in page
        assert reverse("record-pdf", args=[signed.pk]) in page
        assert fern.get(reverse("record-pdf", args=[signed.pk]))["Content-Type"] == (
            "application/pdf"
        )

    def test_another_year_says_that_there_is_nothing(self, fern: Client, signed: Any) -> None:
        assert "No sealed record of 1999" in text(fern.get(reverse("audit"), {"year": "1999"}))

    def test_the_record_offers_nothing_that_is_closed(self, fern: Client, signed: Any) -> None:
        page = text(fern.get(reverse("record", args=[signed.pk])))
        for name in ("record-amend", "record-resume", "record-duties"):
            assert reverse(name, args=[signed.pk]) not in page

    def test_a_withdrawn_grant_closes_the_next_page(
        self, fern: Client, desk: Client, signed: Any
    ) -> None:
        grant = Grant.objects.get()
        desk.post(reverse("access-withdraw", args=[grant.pk]))
        assert fern.get(reverse("audit")).status_code == 403
        assert "Nothing: this login is a member of no business" in text(fern.get("/acting/"))


class TestAnInspector:
    @pytest.fixture
    def ives(self, owner: Any, outsider: Any, yard: Any) -> Client:
        let_in(owner, outsider, Role.INSPECTOR, every_customer=True)
        return logged_in(outsider)

    def test_what_the_law_asks_stands_on_the_page(self, ives: Client, signed: Any) -> None:
        page = text(ives.get(reverse("audit"), {"year": "2026"}))
        assert "A complaint about drift" in page
        assert "Asked for by law" in page
        assert "North Dakota" in page or "US-ND" in page

    def test_the_log_is_verified(self, ives: Client, signed: Any) -> None:
        page = text(ives.get(reverse("audit-log")))
        assert "The log holds: 1 entries read whole" in page
        assert signed.seal.link in page

    def test_the_log_is_told_by_the_clock_of_the_business(self, ives: Client, signed: Any) -> None:
        # The records are sealed at NOW, 20:00 UTC: 15:00 CDT in Chicago (tz database).
        page = text(ives.get(reverse("audit-log")))
        assert ">2026-06-12 15:00 CDT</time>" in page
        assert re.search(r"read whole at \S+ \S+ C[DS]T,", page)
        assert "UTC" not in page

    def test_a_broken_log_is_said(self, ives: Client, signed: Any) -> None:
        from logbook.records.sealing import freeze

        freeze.remove(connection)
        type(signed.seal).objects.update(text="{}")
        page = text(ives.get(reverse("audit-log")))
        assert "The log does not hold" in page
        assert re.search(r"Read whole at \S+ \S+ C[DS]T\.", page)
        assert "no. 1" in page

    def test_a_broken_journal_is_said_beside_seals_that_hold(
        self, ives: Client, signed: Any
    ) -> None:
        from logbook.records.sealing import freeze

        page = text(ives.get(reverse("audit-log")))
        assert "The journal holds: 3 entries on notices" in page
        freeze.remove(connection)
        Grant.objects.update(reason="Another")
        page = text(ives.get(reverse("audit-log")))
        assert "The log holds" not in page
        assert "all 1 seals say what was sealed" in page
        assert "The journal does not hold. Its first entry that breaks is 2: the grant" in page


class TestActing:
    def test_a_member_here_is_a_guest_there_after_choosing(
        self, owner: Any, stranger: Any, yard: Any, signed: Any
    ) -> None:
        grant = let_in(owner, stranger.user, customer_ids=[yard.customer.pk])
        client = logged_in(stranger.user)
        assert client.get(reverse("record", args=[signed.pk])).status_code == 404
        answer = client.post("/acting/", {"as": f"grant-{grant.pk}"}, follow=True)
        assert f"farm manager of Long Furrow Spraying for {yard.customer.name}." in text(answer)
        assert client.get(reverse("record", args=[signed.pk])).status_code == 200
        assert client.get(reverse("book")).status_code == 403
        client.post("/acting/", {"as": f"member-{stranger.business.pk}"})
        assert client.get(reverse("book")).status_code == 200

    def test_two_accesses_of_one_business_are_told_apart_by_their_customers(
        self, owner: Any, outsider: Any, yard: Any
    ) -> None:
        other = make.CustomerFactory(business=owner.business, name="Ash & Sons")
        let_in(owner, outsider, customer_ids=[yard.customer.pk])
        second = let_in(owner, outsider, customer_ids=[other.pk])
        third = let_in(owner, outsider, Role.INSPECTOR, every_customer=True)
        client = logged_in(outsider)
        # The first is the one that acts, so it has no button.
        page = text(client.get("/acting/"))
        assert "Act as farm manager of Long Furrow Spraying for Ash &amp; Sons</button>" in page
        assert "Act as inspector of Long Furrow Spraying for every customer</button>" in page
        page = text(client.post("/acting/", {"as": f"grant-{second.pk}"}, follow=True))
        assert "You now act as farm manager of Long Furrow Spraying for Ash &amp; Sons." in page
        page = text(client.post("/acting/", {"as": f"grant-{third.pk}"}, follow=True))
        assert "You now act as inspector of Long Furrow Spraying for every customer." in page

    @pytest.mark.parametrize("address", ["/acting/", "/audit/"])
    def test_more_accesses_and_customers_cost_no_more_queries(
        self, owner: Any, outsider: Any, yard: Any, address: str
    ) -> None:
        client = logged_in(outsider)

        def cost() -> int:
            with CaptureQueriesContext(connection) as asked:
                assert client.get(address).status_code == 200
            return len(asked)

        let_in(owner, outsider, customer_ids=[yard.customer.pk])
        let_in(owner, outsider, customer_ids=[yard.customer.pk])
        client.get(address)  # writes the row of the device
        before = cost()
        for number in range(4):
            more = make.CustomerFactory(business=owner.business, name=f"Customer {number}")
            let_in(owner, outsider, customer_ids=[yard.customer.pk, more.pk])
        assert cost() == before

    def test_a_guest_is_told_of_what_else_the_login_opens(
        self, owner: Any, stranger: Any, outsider: Any, yard: Any
    ) -> None:
        let_in(owner, outsider, customer_ids=[yard.customer.pk])
        client = logged_in(outsider)
        assert "You also have access" not in text(client.get("/audit/"))
        other = make.CustomerFactory(business=owner.business, name="Ash & Sons")
        let_in(owner, outsider, customer_ids=[other.pk])
        make.MembershipFactory(user=outsider, business=stranger.business, role="helper")
        client.post("/acting/", {"as": f"grant-{Grant.objects.order_by('begins_at')[0].pk}"})
        assert (
            f"You also have access as helper of {stranger.business}; farm manager of Long Furrow "
            'Spraying for Ash &amp; Sons: <a class="touch" href="/acting/">look at it</a>.'
        ) in text(client.get("/audit/"))

    def test_an_access_that_ended_is_not_told_of(
        self, owner: Any, outsider: Any, desk: Client, yard: Any
    ) -> None:
        let_in(owner, outsider, customer_ids=[yard.customer.pk])
        over = let_in(owner, outsider, customer_ids=[yard.customer.pk])
        client = logged_in(outsider)
        assert "You also have access" in text(client.get("/audit/"))
        desk.post(reverse("access-withdraw", args=[over.pk]))
        assert "You also have access" not in text(client.get("/audit/"))

    def test_what_one_does_not_belong_to_is_no_choice(self, owner: Any, stranger: Any) -> None:
        client = logged_in(stranger.user)
        for key in (f"member-{owner.business.pk}", "grant-x", ""):
            assert client.post("/acting/", {"as": key}).status_code == 404


class TestPrintingAll:
    def test_the_audit_leads_to_it_with_field_and_year(
        self, owner: Any, outsider: Any, yard: Any, signed: Any
    ) -> None:
        let_in(owner, outsider, customer_ids=[yard.customer.pk])
        client = logged_in(outsider)
        page = text(client.get("/audit/", {"year": 2026, "field": yard.field.pk}))
        address = f"{reverse('book-print')}?year=2026&field={yard.field.pk}"
        assert f'href="{address.replace("&", "&amp;")}"' in page
        offer = text(client.get(address))
        assert "1 signed record" in offer
        assert f'href="{reverse("book")}"' not in offer
        assert f'href="{reverse("book")}?' not in offer

    def test_nothing_outside_the_scope_is_printed_and_it_is_written_down(
        self, owner: Any, outsider: Any, yard: Any, signed: Any, sealed_for_another: Any
    ) -> None:
        client = logged_in(outsider)
        let_in(owner, outsider, customer_ids=[yard.customer.pk])
        assert "1 signed record" in text(client.get(reverse("book-print")))
        printed = printed_text(client.get(reverse("book-print-pdf")).content)
        assert "North L" in printed
        assert "Not for them" not in printed
        assert sealed_for_another.seal.link not in printed
        answer = client.get(reverse("book-print"), {"field": sealed_for_another.field_id})
        assert answer.status_code == 422
        assert "Not for them" not in text(answer)
        pages = list(Visit.objects.order_by("at").values_list("page", "status"))
        assert pages == [("book-print", 200), ("book-print-pdf", 200), ("book-print", 422)]
        both = logged_in(owner.user).get(reverse("book-print-pdf")).content
        assert "Not for them" in printed_text(both)

    @pytest.mark.parametrize("name", ["book-print-pdf", "record-pdf", "record-copy"])
    def test_a_correction_outside_the_scope_is_named_by_its_number_alone(
        self,
        owner: Any,
        outsider: Any,
        yard: Any,
        signed: Any,
        entry: Any,
        name: str,
    ) -> None:
        field = make.FieldFactory(business=owner.business, name="Not for them")
        make.FieldLocationFactory(field=field)
        draft = begin_amendment(
            actor=owner,
            record_id=signed.pk,
            new_id=uuid.uuid4(),
            reason="It was on the field of another farm",
        )
        data = {
            **entry,
            "customer": field.customer.pk,
            "field": field.pk,
            "planting": make.PlantingFactory(field=field).pk,
        }
        draft = save_draft(actor=owner, record_id=draft.pk, revision=draft.revision, data=data)
        sealed_by(owner, draft, now=NOW)
        let_in(owner, outsider, customer_ids=[yard.customer.pk])
        args = [] if name == "book-print-pdf" else [signed.pk]
        printed = printed_text(logged_in(outsider).get(reverse(name, args=args)).content)
        assert "record no. 2, which is outside what is opened to the reader" in printed
        assert "another farm" not in printed
        whole = printed_text(logged_in(owner.user).get(reverse(name, args=args)).content)
        assert "It was on the field of another farm" in whole


def printed_text(pdf: bytes) -> str:
    reader = PdfReader(BytesIO(pdf))
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())
