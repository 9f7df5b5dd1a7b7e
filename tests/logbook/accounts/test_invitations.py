"""An invitation opens once, for seven days, for the address that it was sent to."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from babel.dates import format_date
from django.core import mail
from django.utils import timezone, translation

from logbook import mail as mail_of_ours
from logbook.accounts import invitations
from logbook.accounts.models import Invitation, Membership, User
from logbook.accounts.rights import Role
from logbook.accounts.services import actor_for
from logbook.errors.exceptions import NotAllowed, NotThere, Refused, RefusedInput
from tests import factories as make

pytestmark = pytest.mark.django_db
NOW = timezone.now()
LOGIN = {"name": "New Hand", "password": "long-boom-over-wheat", "unit_system": "metric"}


def sent(actor: Any, email: str = "new@hand.test", role: Role = Role.APPLICATOR) -> tuple[Any, str]:
    """Invite, and return the invitation with the token that only the e-mail carries."""
    tokens: list[str] = []

    def link(token: str) -> str:
        tokens.append(token)
        return f"https://book.test/invitation/{token}/"

    made = invitations.invite(actor=actor, email=email, role=role, link=link, now=NOW)
    return made, tokens[0]


def accept(token: str, now: Any = NOW) -> Any:
    return invitations.accept_anew(token=token, now=now, **LOGIN)


def opens(token: str, now: Any = NOW) -> bool:
    try:
        invitations.invitation_of(token=token, now=now)
    except NotThere:
        return False
    return True


def test_the_link_makes_a_login_of_the_role(owner: Any) -> None:
    made, token = sent(owner)
    (letter,) = mail.outbox
    assert letter.to == ["new@hand.test"]
    assert f"https://book.test/invitation/{token}/" in letter.body
    user, business = accept(token)
    assert business == owner.business
    assert user.email == "new@hand.test"
    actor = actor_for(user)
    assert actor
    assert (actor.business, actor.role) == (owner.business, Role.APPLICATOR)
    made.refresh_from_db()
    assert (made.accepted_by, made.accepted_at) == (user, NOW)


def test_the_token_is_not_in_the_database(owner: Any) -> None:
    made, token = sent(owner)
    row = Invitation.objects.filter(pk=made.pk).values().get()
    assert token not in str(row)
    assert len(row["token_hash"]) == 64


def test_a_link_works_once(owner: Any) -> None:
    _, token = sent(owner)
    accept(token)
    assert not opens(token)
    with pytest.raises(NotThere, match="was used"):
        invitations.accept_anew(token=token, now=NOW, **LOGIN)


def test_a_link_holds_for_seven_days(owner: Any) -> None:
    _, token = sent(owner)
    assert opens(token, NOW + timedelta(days=7, seconds=-1))
    assert not opens(token, NOW + timedelta(days=7))
    with pytest.raises(NotThere):
        accept(token, NOW + timedelta(days=7))
    assert not User.objects.filter(email="new@hand.test").exists()


def test_a_withdrawn_link_opens_nothing(owner: Any) -> None:
    made, token = sent(owner)
    invitations.withdraw(actor=owner, invitation_id=made.pk, now=NOW)
    with pytest.raises(NotThere):
        accept(token)
    assert not invitations.open_invitations(actor=owner).exists()


def test_sent_again_the_new_link_opens_and_the_old_one_does_not(owner: Any) -> None:
    made, old = sent(owner)
    later = NOW + timedelta(days=8)
    tokens: list[str] = []
    invitations.send_again(
        actor=owner, invitation_id=made.pk, link=lambda t: tokens.append(t) or t, now=later
    )
    assert len(mail.outbox) == 2
    assert not opens(old, later)
    assert opens(tokens[0], later)


def test_who_has_a_login_joins_with_it(owner: Any, stranger: Any) -> None:
    _, token = sent(owner, email=stranger.user.email.upper(), role=Role.OFFICE)
    assert invitations.accept(user=stranger.user, token=token, now=NOW) == owner.business
    actor = actor_for(stranger.user, business_id=owner.business.pk)
    assert actor
    assert (actor.business, actor.role) == (owner.business, Role.OFFICE)


def test_a_link_does_not_work_for_another_address(owner: Any, stranger: Any) -> None:
    _, token = sent(owner)
    with pytest.raises(NotAllowed, match=r"is for new@hand\.test"):
        invitations.accept(user=stranger.user, token=token, now=NOW)
    assert opens(token)
    assert Membership.objects.filter(business=owner.business).count() == 1


def test_an_address_with_a_login_gets_no_second_one(owner: Any, stranger: Any) -> None:
    _, token = sent(owner, email=stranger.user.email)
    with pytest.raises(RefusedInput, match="There is a login"):
        accept(token)
    assert opens(token)


def test_who_became_a_member_meanwhile_keeps_that_role(owner: Any) -> None:
    user = make.UserFactory(email="new@hand.test")
    _, token = sent(owner, role=Role.OFFICE)
    make.MembershipFactory(user=user, business=owner.business, role="helper")
    invitations.accept(user=user, token=token, now=NOW)
    assert Membership.objects.get(user=user).role == "helper"


def test_a_bad_password_uses_nothing_up(owner: Any) -> None:
    _, token = sent(owner)
    with pytest.raises(RefusedInput, match="too short"):
        invitations.accept_anew(token=token, now=NOW, **{**LOGIN, "password": "spray"})
    assert opens(token)
    assert not User.objects.filter(email="new@hand.test").exists()


@pytest.mark.parametrize("email", ["new@hand.test", "NEW@hand.test"])
def test_an_address_is_invited_once(owner: Any, email: str) -> None:
    sent(owner)
    with pytest.raises(RefusedInput, match="invited already"):
        sent(owner, email=email)
    assert len(mail.outbox) == 1


def test_a_member_or_a_non_address_is_not_invited(owner: Any, helper: Any) -> None:
    with pytest.raises(RefusedInput, match="a member already"):
        sent(owner, email=helper.user.email.upper())
    with pytest.raises(RefusedInput, match="email"):
        sent(owner, email="no address")
    assert not Invitation.objects.exists()


def test_only_an_owner_invites_an_owner_or_touches_that(office: Any, owner: Any) -> None:
    with pytest.raises(NotAllowed, match="may not make an owner"):
        sent(office, role=Role.OWNER)
    made, _ = sent(owner, role=Role.OWNER)
    with pytest.raises(NotAllowed):
        invitations.withdraw(actor=office, invitation_id=made.pk, now=NOW)
    with pytest.raises(NotAllowed):
        invitations.send_again(actor=office, invitation_id=made.pk, link=str, now=NOW)
    assert len(mail.outbox) == 1


def test_nobodys_letter_box_is_filled(owner: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(invitations, "A_DAY", 3)
    made, token = sent(owner)
    soon = NOW + timedelta(minutes=9)
    with pytest.raises(Refused, match="less than ten minutes ago"):
        invitations.send_again(actor=owner, invitation_id=made.pk, link=str, now=soon)
    assert opens(token)
    # Withdrawing one makes no room for another.
    invitations.withdraw(actor=owner, invitation_id=made.pk, now=NOW)
    sent(owner, email="second@hand.test")
    sent(owner, email="third@hand.test")
    with pytest.raises(Refused, match="within a day"):
        sent(owner, email="fourth@hand.test")
    assert len(mail.outbox) == 3


@pytest.mark.parametrize("who", ["applicator", "helper"])
def test_others_invite_nobody(request: pytest.FixtureRequest, who: str) -> None:
    with pytest.raises(NotAllowed):
        sent(request.getfixturevalue(who), role=Role.HELPER)
    assert not mail.outbox


def test_another_business_sees_and_touches_nothing(owner: Any, stranger: Any) -> None:
    made, _ = sent(owner)
    assert not invitations.open_invitations(actor=stranger).exists()
    with pytest.raises(NotThere):
        invitations.withdraw(actor=stranger, invitation_id=made.pk, now=NOW)
    with pytest.raises(NotThere):
        invitations.send_again(actor=stranger, invitation_id=made.pk, link=str, now=NOW)


def test_a_mail_server_that_is_down_is_said_and_the_invitation_stands(
    owner: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def down(*_args: Any, **_kwargs: Any) -> None:
        raise ConnectionRefusedError

    monkeypatch.setattr(mail_of_ours, "send", down)
    with pytest.raises(invitations.NotSent, match="could not be sent"):
        sent(owner)
    assert invitations.open_invitations(actor=owner).count() == 1


@pytest.mark.parametrize(
    ("chosen", "page", "spanish"),
    [("es", "en", True), ("en", "es", False), ("", "es", True), (None, "es", True)],
    ids=["own choice", "own choice of English", "a login that chose none", "a stranger"],
)
def test_the_letter_is_written_for_who_reads_it(
    owner: Any, chosen: str | None, page: str, spanish: bool
) -> None:
    """A stranger's language is guessed: it is that of who invites."""
    if chosen is not None:
        make.UserFactory(email="new@hand.test", language=chosen)
    with translation.override(page):
        made, _ = sent(owner)
    (letter,) = mail.outbox
    # Days as CLDR has them for Mexico, read by babel.
    day = format_date(made.expires_at.date(), "d MMM y", locale="es_MX")
    assert (day in letter.body) is spanish
    assert (f"{made.expires_at:%Y-%m-%d %H:%M} (UTC)" in letter.body) is not spanish
