"""Access from outside for an address without a login: invited, taken up, and then a grant."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.core import mail

from logbook.accounts import invitations
from logbook.accounts.grants import withdraw_grant
from logbook.accounts.models import Grant, Invitation, Membership, User
from logbook.accounts.rights import Role
from logbook.accounts.services import actor_for
from logbook.errors.exceptions import NotAllowed, NotThere, RefusedInput
from tests import factories as make

NOW = datetime(2026, 6, 12, 20, 0, tzinfo=UTC)
"""15:00 of 12 June by the clock of the business."""

LOGIN = {"name": "Fern Aldous", "password": "long-boom-over-wheat", "unit_system": "metric"}


@pytest.fixture
def farm(business: Any) -> Any:
    return make.CustomerFactory(business=business, name="Kettle Farm")


def offered(actor: Any, farm: Any, **changed: Any) -> tuple[Any, str]:
    """Give access, and return what was made with the token of the e-mail, "" without one."""
    tokens = [""]

    def link(token: str) -> str:
        tokens.append(token)
        return f"https://book.test/invitation/{token}/"

    asked = {
        "email": "fern@farm.test",
        "role": Role.INSPECTOR,
        "customer_ids": [farm.pk],
        "every_customer": False,
        "field_ids": [],
        "day_from": date(2026, 5, 1),
        "day_to": None,
        "reason": "A complaint about drift",
        "begins_on": None,
        "ends_on": date(2026, 6, 30),
    }
    made = invitations.give_access(actor=actor, link=link, now=NOW, **asked | changed)
    return made, tokens[-1]


def taken_up(token: str, now: datetime = NOW) -> User:
    return invitations.accept_anew(token=token, now=now, **LOGIN)[0]


def test_taken_up_it_is_the_grant_on_the_terms_that_were_kept(office: Any, farm: Any) -> None:
    field = make.FieldFactory(business=office.business, customer=farm, name="North")
    made, token = offered(office, farm, field_ids=[field.pk])
    (letter,) = mail.outbox
    assert letter.to == ["fern@farm.test"]
    assert "opens spray records of Long Furrow Spraying to you, as inspector" in letter.body
    assert "A complaint about drift" in letter.body
    assert f"https://book.test/invitation/{token}/" in letter.body
    assert not Grant.objects.exists()
    later = NOW + timedelta(days=2)
    user = taken_up(token, later)
    grant = Grant.objects.get()
    assert (grant.user, grant.role, grant.given_by) == (user, "inspector", office.user)
    assert [one.customer for one in grant.customers.all()] == [farm]
    assert [one.field for one in grant.fields.all()] == [field]
    assert (grant.day_from, grant.day_to) == (date(2026, 5, 1), None)
    assert grant.reason == "A complaint about drift"
    assert (grant.begins_at, grant.last_day) == (later, date(2026, 6, 30))
    assert not Membership.objects.filter(user=user).exists()
    actor = actor_for(user, now=later)
    assert actor is not None
    assert actor.grant == grant
    made.refresh_from_db()
    assert made.accepted_by == user
    withdraw_grant(actor=office, grant_id=grant.pk, now=later)
    assert actor_for(user, now=later) is None


def test_a_day_to_begin_on_that_is_still_to_come_is_kept(owner: Any, farm: Any) -> None:
    _, token = offered(owner, farm, begins_on=date(2026, 6, 20))
    user = taken_up(token)
    assert actor_for(user, now=NOW) is None
    # Midnight in Chicago in summer is 05:00 UTC (IANA time zone data).
    assert actor_for(user, now=datetime(2026, 6, 20, 5, 0, tzinfo=UTC)) is not None


def test_an_address_with_a_login_gets_the_grant_at_once(owner: Any, farm: Any) -> None:
    make.UserFactory(email="fern@farm.test")
    made, _ = offered(owner, farm)
    assert isinstance(made, Grant)
    assert not mail.outbox


def test_a_link_works_once(owner: Any, farm: Any) -> None:
    _, token = offered(owner, farm)
    user = taken_up(token)
    with pytest.raises(NotThere, match="was used"):
        invitations.accept(user=user, token=token, now=NOW)
    assert Grant.objects.count() == 1


def test_a_link_that_ran_out_or_was_withdrawn_opens_nothing(owner: Any, farm: Any) -> None:
    made, token = offered(owner, farm)
    with pytest.raises(NotThere):
        taken_up(token, NOW + timedelta(days=7))
    invitations.withdraw(actor=owner, invitation_id=made.pk, now=NOW)
    with pytest.raises(NotThere):
        taken_up(token)
    assert not invitations.offers(actor=owner)
    assert not Grant.objects.exists()
    assert not User.objects.filter(email="fern@farm.test").exists()


def test_access_whose_last_day_is_over_is_not_taken_up(owner: Any, farm: Any) -> None:
    _, token = offered(owner, farm, ends_on=date(2026, 6, 13))
    with pytest.raises(RefusedInput, match="2026-06-13"):
        taken_up(token, NOW + timedelta(days=3))
    assert not Grant.objects.exists()
    assert not User.objects.filter(email="fern@farm.test").exists()


def test_a_link_does_not_work_for_another_address(owner: Any, stranger: Any, farm: Any) -> None:
    _, token = offered(owner, farm)
    with pytest.raises(NotAllowed, match=r"is for fern@farm\.test"):
        invitations.accept(user=stranger.user, token=token, now=NOW)
    assert not Grant.objects.exists()
    assert taken_up(token)


@pytest.mark.parametrize("lost", ["role", "membership", "login"])
def test_what_was_given_by_who_may_give_no_more_opens_nothing(
    office: Any, farm: Any, lost: str
) -> None:
    _, token = offered(office, farm)
    row = Membership.objects.filter(user=office.user)
    if lost == "role":
        row.update(role="helper")
    elif lost == "membership":
        row.delete()
    else:
        User.objects.filter(pk=office.user.pk).update(is_active=False)
    with pytest.raises(NotThere, match="may not give it any more"):
        taken_up(token)
    assert not Grant.objects.exists()
    assert not User.objects.filter(email="fern@farm.test").exists()


def test_who_became_a_member_meanwhile_gets_no_access_from_outside(owner: Any, farm: Any) -> None:
    _, token = offered(owner, farm)
    user = make.UserFactory(email="fern@farm.test")
    make.MembershipFactory(user=user, business=owner.business, role="helper")
    with pytest.raises(RefusedInput, match="is a member of this business already"):
        invitations.accept(user=user, token=token, now=NOW)
    assert not Grant.objects.exists()


@pytest.mark.parametrize(
    ("changed", "path"),
    [
        ({"reason": " "}, "reason"),
        ({"ends_on": None}, "ends_on"),
        ({"customer_ids": []}, "customers"),
        ({"role": Role.HELPER}, "role"),
        ({"email": "no address"}, "email"),
    ],
)
def test_what_cannot_be_given_is_said_before_anybody_is_written_to(
    owner: Any, farm: Any, changed: dict[str, Any], path: str
) -> None:
    with pytest.raises(RefusedInput) as refusal:
        offered(owner, farm, **changed)
    assert path in refusal.value.errors
    assert not mail.outbox
    assert not Invitation.objects.exists()


def test_the_customer_of_another_business_is_not_there(owner: Any, stranger: Any) -> None:
    theirs = make.CustomerFactory(business=stranger.business)
    with pytest.raises(RefusedInput, match="not on the shelf"):
        offered(owner, theirs)


def test_an_address_is_invited_once(owner: Any, farm: Any) -> None:
    offered(owner, farm)
    with pytest.raises(RefusedInput, match="invited already"):
        offered(owner, farm)
    assert len(mail.outbox) == 1


@pytest.mark.parametrize("who", ["applicator", "helper"])
def test_others_offer_nothing(request: pytest.FixtureRequest, farm: Any, who: str) -> None:
    actor = request.getfixturevalue(who)
    with pytest.raises(NotAllowed):
        offered(actor, farm)
    with pytest.raises(NotAllowed):
        invitations.offers(actor=actor)


def test_what_waits_is_listed_apart_from_the_members_to_be(
    owner: Any, stranger: Any, farm: Any, django_assert_num_queries: Any
) -> None:
    made, _ = offered(owner, farm)
    (offer,) = invitations.offers(actor=owner)
    assert (offer.invitation, offer.customers, offer.ends_on) == (
        made,
        ["Kettle Farm"],
        date(2026, 6, 30),
    )
    assert not invitations.open_invitations(actor=owner).exists()
    assert not invitations.offers(actor=stranger)
    with pytest.raises(NotThere):
        invitations.withdraw(actor=stranger, invitation_id=made.pk, now=NOW)
    offered(owner, farm, email="second@farm.test")
    with django_assert_num_queries(2):
        assert len(invitations.offers(actor=owner)) == 2
