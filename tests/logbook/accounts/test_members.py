"""Opening a business and letting people into it."""

from __future__ import annotations

from typing import Any

import pytest

from logbook.accounts.models import Business, Membership, User
from logbook.accounts.rights import INSIDE, Role
from logbook.accounts.services import actor_for, add_member, open_business
from logbook.errors.exceptions import NotAllowed, RefusedInput

BUSINESS = {"name": "New Field Spraying", "address": "Box 1", "time_zone": "America/Chicago"}
LOGIN = {"email": "own@farm.test", "name": "O. Wner", "password": "long-boom-over-wheat"}


def test_a_business_is_opened_with_its_owner(db: None) -> None:
    actor = open_business(data=BUSINESS, **{**LOGIN, "email": "own@FARM.test"})
    assert actor.role is Role.OWNER
    assert actor.business.name == "New Field Spraying"
    assert actor.user.email == "own@farm.test"
    assert actor.user.check_password(LOGIN["password"])
    assert not actor.user.is_staff
    assert actor_for(actor.user) == actor


@pytest.mark.parametrize(
    ("changed", "path"),
    [
        ({"data": {**BUSINESS, "name": ""}}, "name"),
        ({"data": {**BUSINESS, "time_zone": "Somewhere"}}, "time_zone"),
        ({"data": {**BUSINESS, "look_again_percent": 20}}, "__all__"),
        ({"email": "nobody"}, "email"),
        ({"name": ""}, "name"),
        ({"password": "1234567890"}, "password"),
        ({"unit_system": "furlongs"}, "unit_system"),
    ],
)
def test_bad_input_opens_nothing(db: None, changed: dict[str, Any], path: str) -> None:
    with pytest.raises(RefusedInput) as refusal:
        open_business(**{"data": BUSINESS, **LOGIN, **changed})
    assert path in refusal.value.errors
    assert not Business.objects.exists()
    assert not User.objects.exists()


def test_an_e_mail_address_has_one_login(db: None) -> None:
    open_business(data=BUSINESS, **LOGIN)
    with pytest.raises(RefusedInput, match="email: There is a login of this e-mail"):
        open_business(data=BUSINESS, **{**LOGIN, "email": "OWN@farm.test"})
    assert Business.objects.count() == 1


@pytest.mark.parametrize("role", INSIDE)
def test_an_owner_adds_a_member_of_any_role(owner: Any, role: Role) -> None:
    member = add_member(actor=owner, role=role, unit_system="metric", **LOGIN)
    assert member.business == owner.business
    assert member.role is role
    assert member.user.unit_system == "metric"
    assert actor_for(member.user) == member


def test_the_office_adds_members_but_no_owner(office: Any) -> None:
    with pytest.raises(NotAllowed, match="As office you may not make an owner"):
        add_member(actor=office, role=Role.OWNER, **LOGIN)
    assert add_member(actor=office, role=Role.HELPER, **LOGIN).role is Role.HELPER


@pytest.mark.parametrize("who", ["applicator", "helper"])
def test_others_add_nobody(request: pytest.FixtureRequest, who: str) -> None:
    actor = request.getfixturevalue(who)
    before = Membership.objects.count()
    with pytest.raises(NotAllowed, match=f"As {who} you may not change people"):
        add_member(actor=actor, role=Role.HELPER, **LOGIN)
    assert Membership.objects.count() == before


def test_a_weak_password_adds_nobody(owner: Any) -> None:
    with pytest.raises(RefusedInput, match="too short"):
        add_member(actor=owner, role=Role.HELPER, **{**LOGIN, "password": "spray"})
    assert not User.objects.filter(email=LOGIN["email"]).exists()
