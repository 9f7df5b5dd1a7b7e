"""The pages of access from outside, and what a guest finds on the pages of an audit."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from logbook.accounts.grants import give_grant
from logbook.accounts.models import Grant, Visit
from logbook.accounts.rights import Role
from tests import factories as make


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

    def test_a_broken_log_is_said(self, ives: Client, signed: Any) -> None:
        from django.db import connection

        from logbook.records import freeze

        freeze.remove(connection)
        type(signed.seal).objects.update(text="{}")
        page = text(ives.get(reverse("audit-log")))
        assert "The log does not hold" in page
        assert "no. 1" in page


class TestActing:
    def test_a_member_here_is_a_guest_there_after_choosing(
        self, owner: Any, stranger: Any, yard: Any, signed: Any
    ) -> None:
        grant = let_in(owner, stranger.user, customer_ids=[yard.customer.pk])
        client = logged_in(stranger.user)
        assert client.get(reverse("record", args=[signed.pk])).status_code == 404
        answer = client.post("/acting/", {"as": f"grant-{grant.pk}"}, follow=True)
        assert "You now act as farm manager of Long Furrow Spraying." in text(answer)
        assert client.get(reverse("record", args=[signed.pk])).status_code == 200
        assert client.get(reverse("book")).status_code == 403
        client.post("/acting/", {"as": f"member-{stranger.business.pk}"})
        assert client.get(reverse("book")).status_code == 200

    def test_what_one_does_not_belong_to_is_no_choice(self, owner: Any, stranger: Any) -> None:
        client = logged_in(stranger.user)
        for key in (f"member-{owner.business.pk}", "grant-x", ""):
            assert client.post("/acting/", {"as": key}).status_code == 404
