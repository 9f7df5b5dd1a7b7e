"""A token acts for its person within its scopes, until it expires or is revoked."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from logbook.accounts.grants import give_grant
from logbook.accounts.members import take_out
from logbook.accounts.models import ApiToken, Membership
from logbook.accounts.rights import INSIDE, SCOPES, TABLE, Right, Role, Scope
from logbook.accounts.services import actor_for
from logbook.accounts.tokens import (
    MAX_DAYS,
    MAX_STANDING,
    PREFIX,
    actor_of_token,
    make_token,
    revoke_token,
    tokens_of,
)
from logbook.errors.exceptions import NotAllowed, NotThere, Refused, RefusedInput
from tests import factories as make

DAY = timedelta(days=1)


@pytest.fixture
def make_one(confirmed: Any, now: Any) -> Any:
    def made(actor: Any, *scopes: str, **change: Any) -> Any:
        given = {"name": "weather station", "scopes": scopes or ("read",), "days": 30, "now": now}
        given["confirmation"] = confirmed(actor)
        return make_token(actor=actor, **{**given, **change})

    return made


def test_the_secret_is_nowhere_in_the_database(owner, make_one):
    token, secret = make_one(owner)
    assert secret.startswith(PREFIX)
    # 32 random bytes in base64url without padding (RFC 4648, 5): 43 characters.
    assert len(secret) - len(PREFIX) == 43
    (row,) = ApiToken.objects.values()
    assert not [value for value in row.values() if secret in str(value)]
    assert secret.startswith(token.start)
    assert len(token.start) <= len(PREFIX) + 4


@pytest.mark.parametrize("role", INSIDE)
@pytest.mark.parametrize("scope", list(Scope))
def test_a_token_may_what_role_and_scope_both_carry(business, make_one, now, role, scope):
    from tests.conftest import actor_of

    actor = actor_of(business, role.value)
    _, secret = make_one(actor, scope.value)
    by_token = actor_of_token(secret=secret, now=now)
    assert {right for right in Right if by_token.may(right)} == TABLE[role] & SCOPES[scope]


def test_no_scope_signs_holds_or_purges():
    for rights in SCOPES.values():
        assert not rights & {Right.SIGN, Right.HOLD, Right.PURGE, Right.BUSINESS}


def test_a_right_beyond_the_scopes_is_refused_in_words(owner, make_one, now):
    _, secret = make_one(owner, "read")
    with pytest.raises(NotAllowed, match="token does not let a program sign"):
        actor_of_token(secret=secret, now=now).must(Right.SIGN)


def test_the_role_of_today_counts(owner, make_one, now):
    _, secret = make_one(owner, "shelf")
    Membership.objects.filter(user=owner.user).update(role="helper")
    by_token = actor_of_token(secret=secret, now=now)
    assert not by_token.may(Right.SHELF)
    assert by_token.may(Right.SEE)


def test_it_ends_at_its_last_instant(owner, make_one, now):
    _, secret = make_one(owner, days=1)
    assert actor_of_token(secret=secret, now=now + DAY - timedelta(seconds=1))
    with pytest.raises(NotThere):
        actor_of_token(secret=secret, now=now + DAY)


def test_a_revoked_one_opens_nothing_and_stays_listed(owner, make_one, now):
    token, secret = make_one(owner)
    revoke_token(actor=owner, token_id=token.pk, now=now)
    again = revoke_token(actor=owner, token_id=token.pk, now=now + DAY)
    assert again.revoked_at == now
    with pytest.raises(NotThere):
        actor_of_token(secret=secret, now=now)
    assert [one.pk for one in tokens_of(actor=owner)] == [token.pk]


def test_who_is_gone_or_was_shut_out_acts_no_more(owner, make_one, now):
    _, secret = make_one(owner)
    owner.user.is_active = False
    owner.user.save()
    with pytest.raises(NotThere):
        actor_of_token(secret=secret, now=now)
    owner.user.is_active = True
    owner.user.save()
    Membership.objects.filter(user=owner.user).delete()
    with pytest.raises(NotThere, match="left the business"):
        actor_of_token(secret=secret, now=now)


def test_who_is_taken_out_and_back_in_needs_a_new_token(owner, applicator, make_one, now):
    """A token of before would act for somebody who was let in again for something else."""
    _, secret = make_one(applicator)
    membership = Membership.objects.get(user=applicator.user, business=owner.business)
    take_out(actor=owner, member_id=membership.pk, now=now)
    make.MembershipFactory(user=applicator.user, business=owner.business, role="helper")
    with pytest.raises(NotThere, match="opens nothing"):
        actor_of_token(secret=secret, now=now)


def test_a_member_who_becomes_a_guest_keeps_no_token_that_opens(owner, applicator, make_one, now):
    _, secret = make_one(applicator)
    Membership.objects.filter(user=applicator.user).delete()
    farm = make.CustomerFactory(business=owner.business)
    give_grant(
        actor=owner,
        email=applicator.user.email,
        role=Role.FARM_MANAGER,
        customer_ids=[farm.pk],
        now=now,
    )
    guest = actor_for(applicator.user, now=now)
    assert guest.role is Role.FARM_MANAGER
    with pytest.raises(NotThere, match="left the business"):
        actor_of_token(secret=secret, now=now)
    with pytest.raises(NotAllowed):
        make_one(guest)


@pytest.mark.parametrize("wrong", ["", "x", PREFIX, "\0", "é" * 5000])
def test_what_was_never_made_opens_nothing(owner, make_one, now, wrong):
    make_one(owner)
    with pytest.raises(NotThere):
        actor_of_token(secret=wrong, now=now)


def test_anothers_token_is_not_there(owner, office, stranger, make_one, now):
    token, _ = make_one(owner)
    for other in (office, stranger):
        assert not tokens_of(actor=other)
        with pytest.raises(NotThere):
            revoke_token(actor=other, token_id=token.pk, now=now)


def test_the_last_use_is_noted_at_most_once_a_minute(
    owner, make_one, now, django_assert_num_queries
):
    token, secret = make_one(owner)
    with django_assert_num_queries(5):  # the note is a transaction, a savepoint in this test
        actor_of_token(secret=secret, now=now)
    with django_assert_num_queries(2):
        actor_of_token(secret=secret, now=now + timedelta(seconds=59))
    token.refresh_from_db()
    assert token.last_used_at == now
    actor_of_token(secret=secret, now=now + timedelta(seconds=60))
    token.refresh_from_db()
    assert token.last_used_at == now + timedelta(seconds=60)


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"name": "  "}, "name"),
        ({"name": "x" * 81}, "name"),
        ({"scopes": []}, "scopes"),
        ({"scopes": ["read", "sign"]}, "scopes"),
        ({"days": 0}, "days"),
        ({"days": MAX_DAYS + 1}, "days"),
    ],
)
def test_what_cannot_be_made_is_named_and_makes_nothing(owner, make_one, change, name):
    with pytest.raises(RefusedInput) as refusal:
        make_one(owner, **change)
    assert list(refusal.value.errors) == [name]
    assert not ApiToken.objects.exists()


def test_a_token_makes_no_tokens(owner, make_one, now):
    _, secret = make_one(owner)
    with pytest.raises(NotAllowed):
        make_one(actor_of_token(secret=secret, now=now))


def test_the_password_of_another_makes_none(owner, office, make_one, confirmed):
    with pytest.raises(NotAllowed):
        make_one(owner, confirmation=confirmed(office))


def test_only_so_many_stand(owner, make_one, now):
    for _ in range(MAX_STANDING):
        token, _secret = make_one(owner)
    with pytest.raises(Refused, match="stand already"):
        make_one(owner)
    revoke_token(actor=owner, token_id=token.pk, now=now)
    assert make_one(owner)


def test_the_database_refuses_one_that_never_stood(owner, make_one, now):
    token, _ = make_one(owner)
    with pytest.raises(IntegrityError), transaction.atomic():
        ApiToken.objects.filter(pk=token.pk).update(expires_at=now)
