"""Access from outside: who gets it, to what, until when; every use of it is written down."""

from __future__ import annotations

import uuid
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.models import ProtectedError
from django.test import Client

from logbook.accounts.grants import belongings, give_grant, grants, visits, withdraw_grant
from logbook.accounts.models import Grant, Membership, Visit
from logbook.accounts.rights import Actor, Right, Role
from logbook.accounts.services import actor_for, add_member
from logbook.errors.exceptions import Conflict, NotAllowed, NotThere, Refused, RefusedInput
from tests import factories as make

NOW = datetime(2026, 6, 12, 20, 0, tzinfo=UTC)
"""15:00 of 12 June by the clock of the business."""


@pytest.fixture
def farm(business: Any) -> Any:
    return make.CustomerFactory(business=business, name="Kettle Farm")


@pytest.fixture
def outsider(db: None) -> Any:
    return make.UserFactory(email="fern@farm.test")


def asked(farm: Any, **changed: Any) -> dict[str, Any]:
    return {
        "email": "Fern@farm.test",
        "role": Role.FARM_MANAGER,
        "customer_ids": [farm.pk],
        "now": NOW,
        **changed,
    }


INSPECTION = {
    "role": Role.INSPECTOR,
    "reason": "A complaint about drift",
    "ends_on": date(2026, 6, 30),
}


class TestGiving:
    def test_a_farm_manager_acts_from_outside_until_withdrawn(
        self, owner: Any, farm: Any, outsider: Any
    ) -> None:
        grant = give_grant(actor=owner, **asked(farm))
        actor = actor_for(outsider, now=NOW)
        assert actor is not None
        assert (actor.role, actor.grant, actor.business) == (
            Role.FARM_MANAGER,
            grant,
            owner.business,
        )
        assert grant.given_by == owner.user
        assert actor_for(outsider, now=NOW + timedelta(days=4000)) is not None

    def test_an_inspection_ends_with_its_last_day_by_the_clock_of_the_business(
        self, office: Any, farm: Any, outsider: Any
    ) -> None:
        grant = give_grant(actor=office, **asked(farm, **INSPECTION))
        # Midnight in Chicago in summer is 05:00 UTC (IANA time zone data).
        last = datetime(2026, 7, 1, 4, 59, 59, tzinfo=UTC)
        assert actor_for(outsider, now=last) is not None
        assert actor_for(outsider, now=last + timedelta(seconds=1)) is None
        assert grant.last_day == date(2026, 6, 30)

    def test_access_that_begins_later_opens_nothing_before(
        self, owner: Any, farm: Any, outsider: Any
    ) -> None:
        give_grant(actor=owner, **asked(farm, begins_on=date(2026, 6, 14)))
        assert actor_for(outsider, now=NOW) is None
        assert actor_for(outsider, now=datetime(2026, 6, 14, 5, 0, tzinfo=UTC)) is not None

    def test_asking_twice_with_one_id_gives_one(self, owner: Any, farm: Any, outsider: Any) -> None:
        one = uuid.uuid4()
        first = give_grant(actor=owner, grant_id=one, **asked(farm))
        assert give_grant(actor=owner, grant_id=one, **asked(farm)) == first
        assert Grant.objects.count() == 1
        later = asked(farm, now=NOW + timedelta(hours=1))
        assert give_grant(actor=owner, grant_id=one, **later) == first

    @pytest.mark.parametrize(
        "change",
        [
            {"role": Role.FARM_MANAGER, "ends_on": None},
            {"customer_ids": [], "every_customer": True},
            {"customer_ids": [uuid.uuid4()]},
            {"field_ids": [uuid.uuid4()]},
            {"day_from": date(2026, 6, 1)},
            {"day_to": date(2026, 6, 20)},
            {"reason": "Another complaint"},
            {"begins_on": date(2026, 6, 14)},
            {"ends_on": date(2026, 7, 1)},
            {"email": "nobody@farm.test"},
        ],
    )
    def test_the_same_id_with_other_terms_is_refused(
        self, owner: Any, farm: Any, outsider: Any, change: dict[str, Any]
    ) -> None:
        one = uuid.uuid4()
        first = give_grant(actor=owner, grant_id=one, **asked(farm, **INSPECTION))
        assert give_grant(actor=owner, grant_id=one, **asked(farm, **INSPECTION)) == first
        with pytest.raises(Conflict, match="says something else"):
            give_grant(actor=owner, grant_id=one, **asked(farm, **{**INSPECTION, **change}))

    def test_the_same_id_with_another_first_day_is_refused(
        self, owner: Any, farm: Any, outsider: Any
    ) -> None:
        one = uuid.uuid4()
        later = asked(farm, begins_on=date(2026, 6, 14))
        first = give_grant(actor=owner, grant_id=one, **later)
        assert give_grant(actor=owner, grant_id=one, **later) == first
        with pytest.raises(Conflict, match="says something else"):
            give_grant(actor=owner, grant_id=one, **asked(farm))

    @pytest.mark.parametrize(
        ("changed", "path", "said"),
        [
            ({"email": "nobody@farm.test"}, "email", 'Nobody logs in as "nobody@farm.test" yet'),
            ({"role": Role.OWNER}, "role", '"owner" is no role of access from outside'),
            ({"customer_ids": []}, "customers", "at least one customer"),
            ({"customer_ids": [uuid.uuid4()]}, "customers", "not on the shelf"),
            ({"every_customer": True, "customer_ids": []}, "every_customer", "named customers"),
            ({"day_from": date(2026, 1, 1)}, "day_from", "whole customers"),
            ({**INSPECTION, "reason": " "}, "reason", "for what the inspector"),
            ({**INSPECTION, "ends_on": None}, "ends_on", "on which day"),
            ({**INSPECTION, "every_customer": True}, "customers", "not both"),
            ({**INSPECTION, "ends_on": date(2026, 6, 11)}, "ends_on", "before it begins"),
            # 90 days from 12 June, that day counted, end on 9 September (computed).
            ({**INSPECTION, "ends_on": date(2026, 9, 10)}, "ends_on", "until 2026-09-09"),
            ({"begins_on": date(2026, 6, 11)}, "begins_on", "2026-06-11 is over"),
            ({"begins_on": date.max}, "begins_on", "9999-12-31 is not possible"),
            ({**INSPECTION, "day_to": date.max}, "day_to", "the year must be 1990 to 2200"),
            ({**INSPECTION, "day_from": date.min}, "day_from", "the year must be 1990 to 2200"),
            (
                {**INSPECTION, "day_from": date(2026, 5, 2), "day_to": date(2026, 5, 1)},
                "day_to",
                "2026-05-01, is before the first",
            ),
        ],
    )
    def test_what_cannot_be_given_is_said_and_nothing_is_written(
        self, owner: Any, farm: Any, outsider: Any, changed: dict[str, Any], path: str, said: str
    ) -> None:
        with pytest.raises(RefusedInput) as refusal:
            give_grant(actor=owner, **asked(farm, **changed))
        assert said in " ".join(refusal.value.errors[path])
        assert not Grant.objects.exists()

    def test_an_inspection_of_ninety_days_is_given(
        self, owner: Any, farm: Any, outsider: Any
    ) -> None:
        give_grant(actor=owner, **asked(farm, **{**INSPECTION, "ends_on": date(2026, 9, 9)}))

    def test_a_field_of_a_customer_not_chosen_is_refused(
        self, owner: Any, farm: Any, outsider: Any
    ) -> None:
        strange = make.FieldFactory(business=owner.business, name="Far piece")
        with pytest.raises(RefusedInput, match="Far piece: of none of the customers"):
            give_grant(actor=owner, **asked(farm, **INSPECTION, field_ids=[strange.pk]))

    def test_the_customer_of_another_business_is_not_there(
        self, owner: Any, other_business: Any, outsider: Any
    ) -> None:
        theirs = make.CustomerFactory(business=other_business)
        with pytest.raises(RefusedInput, match="not on the shelf"):
            give_grant(actor=owner, **asked(theirs))

    def test_a_member_needs_no_grant(self, owner: Any, farm: Any, helper: Any) -> None:
        with pytest.raises(RefusedInput, match="is a member of this business already"):
            give_grant(actor=owner, **asked(farm, email=helper.user.email))

    def test_owner_and_office_alone_give_and_look(
        self, applicator: Any, helper: Any, farm: Any, outsider: Any
    ) -> None:
        for actor in (applicator, helper):
            with pytest.raises(NotAllowed):
                give_grant(actor=actor, **asked(farm))
            with pytest.raises(NotAllowed):
                grants(actor=actor, now=NOW)
            with pytest.raises(NotAllowed):
                visits(actor=actor)

    def test_a_guest_is_no_member(self, owner: Any) -> None:
        with pytest.raises(NotAllowed, match="is no member"):
            add_member(
                actor=owner, email="a@b.test", name="A", password="long-boom", role=Role.INSPECTOR
            )
        with pytest.raises(IntegrityError), transaction.atomic():
            Membership.objects.create(
                user=make.UserFactory(), business=owner.business, role="inspector"
            )

    def test_no_role_from_outside_acts_without_a_grant(self, owner: Any) -> None:
        with pytest.raises(ValueError, match="a grant"):
            Actor(user=owner.user, business=owner.business, role=Role.INSPECTOR)


class TestWithdrawing:
    def test_it_opens_nothing_at_once_and_stays_readable(
        self, owner: Any, office: Any, farm: Any, outsider: Any
    ) -> None:
        grant = give_grant(actor=owner, **asked(farm))
        withdraw_grant(actor=office, grant_id=grant.pk, now=NOW + timedelta(hours=1))
        assert actor_for(outsider, now=NOW + timedelta(hours=1)) is None
        (kept,) = grants(actor=owner, now=NOW)
        assert (kept.withdrawn_by, kept.given_by) == (office.user, owner.user)
        with pytest.raises(Refused, match="withdrawn already"):
            withdraw_grant(actor=owner, grant_id=grant.pk, now=NOW)

    def test_another_business_finds_none(
        self, owner: Any, stranger: Any, farm: Any, outsider: Any
    ) -> None:
        grant = give_grant(actor=owner, **asked(farm))
        with pytest.raises(NotThere):
            withdraw_grant(actor=stranger, grant_id=grant.pk, now=NOW)
        assert list(grants(actor=stranger, now=NOW)) == []

    def test_what_is_over_cannot_be_withdrawn(self, owner: Any, farm: Any, outsider: Any) -> None:
        grant = give_grant(actor=owner, **asked(farm, **INSPECTION))
        with pytest.raises(Refused, match="is over already"):
            withdraw_grant(actor=owner, grant_id=grant.pk, now=NOW + timedelta(days=30))


class TestTheDatabase:
    @pytest.fixture
    def visit(self, owner: Any, farm: Any, outsider: Any) -> Visit:
        grant = give_grant(actor=owner, **asked(farm))
        return Visit.objects.create(
            business=owner.business,
            grant=grant,
            user=outsider,
            at=NOW,
            method="GET",
            path="/audit/",
            page="audit",
            status=200,
            address="192.0.2.7",
        )

    @pytest.mark.parametrize(
        ("sql", "said"),
        [
            ("UPDATE accounts_visit SET path = '/'", "belongs to a grant cannot be changed"),
            ("DELETE FROM accounts_visit", "belongs to a grant cannot be deleted"),
            ("UPDATE accounts_grant SET reason = 'x'", "can only be withdrawn, once"),
            ("UPDATE accounts_grant SET every_customer = TRUE", "can only be withdrawn|grant_farm"),
            ("DELETE FROM accounts_grant", "can only be withdrawn, once"),
            (
                "UPDATE accounts_grantedcustomer SET grant_id = grant_id",
                "to a grant cannot be changed",
            ),
            ("DELETE FROM accounts_grantedcustomer", "to a grant cannot be deleted"),
        ],
    )
    def test_it_refuses_to_change_or_delete(self, visit: Visit, sql: str, said: str) -> None:
        with (
            pytest.raises(IntegrityError, match=said),
            transaction.atomic(),
            connection.cursor() as cursor,
        ):
            cursor.execute(sql)

    def test_a_withdrawal_is_not_taken_back(self, owner: Any, visit: Visit) -> None:
        withdraw_grant(actor=owner, grant_id=visit.grant_id, now=NOW)
        with pytest.raises(IntegrityError, match="can only be withdrawn"), transaction.atomic():
            Grant.objects.update(withdrawn_at=None, withdrawn_by=None)

    def test_no_scope_widens_by_a_row_that_goes(self, visit: Visit, farm: Any) -> None:
        with pytest.raises(ProtectedError):
            farm.delete()

    def test_an_inspector_needs_reason_and_end_there_too(self, owner: Any, outsider: Any) -> None:
        with pytest.raises(IntegrityError, match="grant_inspector"), transaction.atomic():
            Grant.objects.create(
                business=owner.business,
                user=outsider,
                role="inspector",
                begins_at=NOW,
                given_by=owner.user,
            )


class TestBelonging:
    def test_a_member_of_one_business_is_a_guest_of_another_by_choice(
        self, owner: Any, stranger: Any, farm: Any
    ) -> None:
        grant = give_grant(actor=owner, **asked(farm, email=stranger.user.email))
        assert [one.key for one in belongings(user=stranger.user, now=NOW)] == [
            f"member-{stranger.business.pk}",
            f"grant-{grant.pk}",
        ]
        usual = actor_for(stranger.user, now=NOW)
        chosen = actor_for(stranger.user, grant_id=grant.pk, now=NOW)
        by_business = actor_for(stranger.user, business_id=owner.business.pk, now=NOW)
        assert usual is not None
        assert usual.role is Role.OWNER
        assert chosen is not None
        assert (chosen.business, chosen.role) == (owner.business, Role.FARM_MANAGER)
        assert by_business == chosen
        assert not chosen.may(Right.SEE)

    def test_the_grant_of_somebody_else_is_no_choice(
        self, owner: Any, farm: Any, outsider: Any
    ) -> None:
        grant = give_grant(actor=owner, **asked(farm))
        other = make.UserFactory()
        assert actor_for(other, grant_id=grant.pk, now=NOW) is None

    def test_the_calendar_link_of_a_member_who_became_a_guest_opens_nothing(
        self, owner: Any, applicator: Any, farm: Any
    ) -> None:
        from logbook.records.writing.feeds import actor_of_feed, make_feed

        secret = make_feed(actor=applicator, now=NOW)
        Membership.objects.filter(user=applicator.user).delete()
        give_grant(actor=owner, **asked(farm, email=applicator.user.email))
        with pytest.raises(NotThere):
            actor_of_feed(secret=secret)


class TestVisits:
    @pytest.fixture
    def guest(self, owner: Any, farm: Any, outsider: Any, client: Client) -> Client:
        from django.utils import timezone

        give_grant(actor=owner, **asked(farm, now=timezone.now()))
        client.force_login(outsider)
        return client

    def test_pages_prints_the_api_and_refusals_are_written_down(
        self, guest: Client, owner: Any, outsider: Any
    ) -> None:
        record = uuid.uuid4()
        guest.get("/audit/?year=2026", REMOTE_ADDR="192.0.2.7")
        guest.get(f"/book/{record}/record.pdf")
        guest.get("/api/v1/seals/")
        guest.get("/shelf/")
        found = [(one.page, one.status, one.record_id) for one in visits(actor=owner)]
        assert found == [
            ("shelf", 403, None),
            ("api-seals", 200, None),
            ("record-pdf", 404, record),
            ("audit", 200, None),
        ]
        first = visits(actor=owner).last()
        assert first is not None
        assert (first.user, first.address, first.path) == (
            outsider,
            "192.0.2.7",
            "/audit/?year=2026",
        )

    def test_a_forged_header_does_not_name_the_address(self, guest: Client, owner: Any) -> None:
        guest.get("/audit/", REMOTE_ADDR="192.0.2.7", headers={"X-Forwarded-For": "198.51.100.1"})
        assert visits(actor=owner).get().address == "192.0.2.7"

    def test_nothing_is_shown_that_cannot_be_written_down(
        self, guest: Client, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def broken(**_: Any) -> None:
            raise OSError("The disk is full.")

        monkeypatch.setattr(Visit.objects, "create", broken)
        guest.raise_request_exception = False
        assert guest.get("/audit/").status_code == 500

    def test_a_member_is_not_written_down(self, owner: Any, client: Client) -> None:
        client.force_login(owner.user)
        client.get("/book/")
        assert not Visit.objects.exists()

    def test_another_business_does_not_see_them(
        self, guest: Client, owner: Any, stranger: Any
    ) -> None:
        guest.get("/audit/")
        assert visits(actor=owner).count() == 1
        assert visits(actor=stranger).count() == 0
