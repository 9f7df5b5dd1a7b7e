"""Giving members another role and taking them out; an owner always stays."""

from __future__ import annotations

from typing import Any

import pytest

from logbook.accounts.members import change_role, members, take_out
from logbook.accounts.models import Membership, User
from logbook.accounts.rights import Role
from logbook.accounts.services import actor_for
from logbook.errors.exceptions import NotAllowed, NotThere, Refused
from tests import factories as make
from tests.conftest import NOW

pytestmark = pytest.mark.django_db


def of(actor: Any) -> int:
    return Membership.objects.get(user=actor.user, business=actor.business).pk


def role_of(actor: Any) -> str:
    return Membership.objects.get(user=actor.user, business=actor.business).role


def test_an_owner_gives_another_role(owner: Any, helper: Any) -> None:
    change_role(actor=owner, member_id=of(helper), role=Role.OWNER)
    assert role_of(helper) == "owner"


def test_the_office_gives_roles_but_makes_and_touches_no_owner(
    office: Any, owner: Any, helper: Any
) -> None:
    change_role(actor=office, member_id=of(helper), role=Role.APPLICATOR)
    assert role_of(helper) == "applicator"
    with pytest.raises(NotAllowed, match="may not make an owner"):
        change_role(actor=office, member_id=of(helper), role=Role.OWNER)
    make.MembershipFactory(business=owner.business)
    for deed in (
        lambda: change_role(actor=office, member_id=of(owner), role=Role.HELPER),
        lambda: take_out(actor=office, member_id=of(owner), now=NOW),
    ):
        with pytest.raises(NotAllowed, match="may not change an owner"):
            deed()
    assert role_of(owner) == "owner"


def test_the_last_owner_stays_one(owner: Any, office: Any) -> None:
    make.MembershipFactory(business=owner.business, user=make.UserFactory(is_active=False))
    with pytest.raises(Refused, match="is the last owner"):
        change_role(actor=owner, member_id=of(owner), role=Role.OFFICE)
    with pytest.raises(Refused, match="is the last owner"):
        take_out(actor=owner, member_id=of(owner), now=NOW)
    assert role_of(owner) == "owner"
    change_role(actor=owner, member_id=of(owner), role=Role.OWNER)


def test_an_owner_beside_another_may_go(owner: Any) -> None:
    make.MembershipFactory(business=owner.business)
    take_out(actor=owner, member_id=of(owner), now=NOW)
    assert actor_for(owner.user) is None
    assert User.objects.filter(pk=owner.user.pk).exists()


@pytest.mark.parametrize("who", ["applicator", "helper"])
def test_others_see_and_change_nobody(request: pytest.FixtureRequest, who: str, owner: Any) -> None:
    actor = request.getfixturevalue(who)
    for deed in (
        lambda: members(actor=actor),
        lambda: take_out(actor=actor, member_id=of(actor), now=NOW),
        lambda: change_role(actor=actor, member_id=of(actor), role=Role.OFFICE),
    ):
        with pytest.raises(NotAllowed):
            deed()


def test_a_member_of_another_business_is_not_there(owner: Any, stranger: Any) -> None:
    assert [row.user for row in members(actor=owner)] == [owner.user]
    with pytest.raises(NotThere):
        change_role(actor=owner, member_id=of(stranger), role=Role.HELPER)
    with pytest.raises(NotThere):
        take_out(actor=owner, member_id=of(stranger), now=NOW)
    assert role_of(stranger) == "owner"
