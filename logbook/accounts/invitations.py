"""Inviting an e-mail address by a link that works once and for seven days: into a business, or to
access from outside.
"""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import QuerySet
from django.template.loader import render_to_string
from django.utils import translation
from django.utils.translation import gettext as _

from logbook import mail
from logbook.accounts.grants import give_grant, must_be_givable, names_of
from logbook.accounts.models import Business, Grant, Membership, User
from logbook.accounts.models import Invitation as Invitation  # the pages tell it from a grant
from logbook.accounts.rights import TABLE, Actor, Right, Role
from logbook.accounts.services import join, must_let_in, new_user
from logbook.errors.exceptions import NotAllowed, NotThere, Refused, RefusedInput
from logbook.localization.locale import PLAIN
from logbook.localization.today import today_of

HOLDS = timedelta(days=7)

# Invitations go to whoever is named: nobody's letter box is to be filled by them.
A_DAY = 50
PAUSE = timedelta(minutes=10)
DAY = timedelta(days=1)

IDS = ("customer_ids", "field_ids")
DAYS = ("day_from", "day_to", "begins_on", "ends_on")
"""Terms of access that JSON holds as text."""

Link = Callable[[str], str]
"""Gives the full address of the page that a token opens."""


class NotSent(Refused):
    """The invitation is written down, but its e-mail did not go out."""


class NoMail(NotSent):
    """The invitation is written down, and who invites hands its link over: no e-mail goes out here.

    The link is in `address` alone, not in the sentence, which may end in a log.
    """

    def __init__(self, invitation: Invitation, address: str) -> None:
        self.invitation, self.address = invitation, address
        super().__init__(_("This service sends no e-mail."))


class TooMany(Refused):
    """As many invitations were sent within a day as may be; nothing is written."""


def open_invitations(*, actor: Actor) -> QuerySet[Invitation]:
    """Return the invitations into the business that wait, those that ran out among them."""
    actor.must(Right.PEOPLE)
    return _waiting(actor.business).filter(terms__isnull=True)


def _waiting(business: Business) -> QuerySet[Invitation]:
    rows = Invitation.objects.within(business).select_related("invited_by")
    return rows.filter(accepted_at__isnull=True, withdrawn_at__isnull=True)


@dataclass(frozen=True, kw_only=True)
class Offer:
    """Access from outside that nobody has taken up yet, its terms in words."""

    invitation: Invitation
    customers: list[str]  # empty: every customer
    fields: list[str]
    reason: str
    days: tuple[date | None, date | None]  # of the work that it opens
    begins_on: date | None
    ends_on: date | None


def offers(*, actor: Actor) -> list[Offer]:
    """Return the access from outside that waits to be taken up, the last sent first."""
    actor.must(Right.GRANTS)
    rows = [(row, _terms(row)) for row in _waiting(actor.business).filter(terms__isnull=False)]
    names = names_of(
        business=actor.business,
        customer_ids=[pk for _row, terms in rows for pk in terms["customer_ids"]],
        field_ids=[pk for _row, terms in rows for pk in terms["field_ids"]],
    )
    return [
        Offer(
            invitation=row,
            customers=[names[pk] for pk in terms["customer_ids"] if pk in names],
            fields=[names[pk] for pk in terms["field_ids"] if pk in names],
            reason=terms["reason"],
            days=(terms["day_from"], terms["day_to"]),
            begins_on=terms["begins_on"],
            ends_on=terms["ends_on"],
        )
        for row, terms in rows
    ]


def _terms(invitation: Invitation) -> dict[str, Any]:
    """Return the terms as `give_grant` takes them."""
    kept = dict(invitation.terms or {})
    for name in IDS:
        kept[name] = [UUID(text) for text in kept[name]]
    for name in DAYS:
        kept[name] = date.fromisoformat(kept[name]) if kept[name] else None
    return kept


def _kept(terms: dict[str, Any]) -> dict[str, Any]:
    """Return the terms as the invitation keeps them."""
    return {
        **terms,
        "reason": terms["reason"].strip(),
        **{name: [str(one) for one in terms[name]] for name in IDS},
        **{name: terms[name] and terms[name].isoformat() for name in DAYS},
    }


def invite(*, actor: Actor, email: str, role: Role, link: Link, now: datetime) -> Invitation:
    """Return the invitation, once its e-mail is sent.

    Raises: NotAllowed (only an owner makes an owner); RefusedInput naming the address; TooMany
    after `A_DAY`; NotSent, of which NoMail brings the link.
    """
    must_let_in(actor, role)
    return _invite(actor=actor, email=email, role=role, terms=None, link=link, now=now)


def give_access(
    *,
    actor: Actor,
    email: str,
    role: Role,
    link: Link,
    now: datetime,
    grant_id: UUID | None = None,
    **terms: Any,
) -> Grant | Invitation:
    """Return the grant; for an address without a login, the invitation that becomes the grant.

    Args: terms, all else that `give_grant` takes.
    Raises: what `give_grant` and `invite` raise.
    """
    actor.must(Right.GRANTS)
    if User.objects.filter(email__iexact=email.strip()).exists():
        return give_grant(actor=actor, email=email, role=role, grant_id=grant_id, now=now, **terms)
    must_be_givable(actor=actor, role=role, now=now, **terms)
    return _invite(actor=actor, email=email, role=role, terms=_kept(terms), link=link, now=now)


def _invite(
    *,
    actor: Actor,
    email: str,
    role: Role,
    terms: dict[str, Any] | None,
    link: Link,
    now: datetime,
) -> Invitation:
    email = User.objects.normalize_email(email.strip())
    token = secrets.token_urlsafe(32)
    with transaction.atomic():
        Business.objects.select_for_update().get(pk=actor.business.pk)
        if Membership.objects.filter(business=actor.business, user__email__iexact=email).exists():
            raise RefusedInput({"email": [_("%(email)s is a member already.") % {"email": email}]})
        if _waiting(actor.business).filter(email__iexact=email).exists():
            raise RefusedInput(
                {
                    "email": [
                        _("%(email)s is invited already; see the invitations that wait.")
                        % {"email": email}
                        if terms is None
                        else _("%(email)s is invited already; withdraw that first.")
                        % {"email": email}
                    ]
                }
            )
        lately = Invitation.objects.within(actor.business).filter(sent_at__gt=now - DAY)
        if lately.count() >= A_DAY:
            raise TooMany(
                _("%(count)s invitations were sent within a day; go on tomorrow.")
                % {"count": A_DAY}
            )
        made = Invitation(
            business=actor.business,
            email=email,
            role=role.value,
            terms=terms,
            token_hash=_hashed(token),
            invited_by=actor.user,
            sent_at=now,
            expires_at=now + HOLDS,
        )
        try:
            made.full_clean()
        except ValidationError as bad:
            raise RefusedInput(bad.message_dict) from None
        made.save()
    _send(made, link(token))
    return made


def send_again(*, actor: Actor, invitation_id: UUID, link: Link, now: datetime) -> Invitation:
    """Return the invitation, sent with a new link for another seven days; the old link is dead.

    Raises: NotAllowed, NotThere, Refused within `PAUSE` of the last e-mail, NotSent.
    """
    token = secrets.token_urlsafe(32)
    with transaction.atomic():
        found = _to_change(actor, invitation_id)
        if mail.is_sent() and now < found.sent_at + PAUSE:
            raise Refused(
                _("%(email)s was written to less than ten minutes ago; wait a little.")
                % {"email": found.email}
            )
        found.token_hash, found.sent_at, found.expires_at = _hashed(token), now, now + HOLDS
        found.invited_by = actor.user
        found.save(update_fields=["token_hash", "sent_at", "expires_at", "invited_by"])
    _send(found, link(token))
    return found


def withdraw(*, actor: Actor, invitation_id: UUID, now: datetime) -> Invitation:
    """Return the invitation, whose link opens nothing any more.

    Raises: NotAllowed, NotThere.
    """
    with transaction.atomic():
        found = _to_change(actor, invitation_id)
        found.withdrawn_at = now
        found.save(update_fields=["withdrawn_at"])
    return found


def invitation_of(*, token: str, now: datetime) -> Invitation:
    """Return the open invitation of a link.

    Raises: NotThere if it opens nothing: never made, used, withdrawn, sent again or run out.
    """
    return _open(token, now=now)


def has_login(invitation: Invitation) -> bool:
    """Return whether the invited address has a login already."""
    return User.objects.filter(email__iexact=invitation.email).exists()


def accept_anew(
    *, token: str, name: str, password: str, unit_system: str, now: datetime
) -> tuple[User, Business]:
    """Return the login that was made for the invited address, and what it has joined.

    Raises: NotThere; RefusedInput naming each column; nothing is written then.
    """
    with transaction.atomic():
        found = _open(token, now=now, lock=True)
        user = new_user(found.email, name, password, unit_system)
        _use_up(found, user, now)
    return user, found.business


def accept(*, user: User, token: str, now: datetime) -> Business:
    """Return the business that `user` has joined.

    Raises: NotThere; NotAllowed if the invitation is for another address.
    """
    with transaction.atomic():
        found = _open(token, now=now, lock=True)
        if found.email.lower() != user.email.lower():
            raise NotAllowed(
                _("This invitation is for %(invited)s; you are logged in as %(email)s.")
                % {"invited": found.email, "email": user.email}
            )
        _use_up(found, user, now)
    return found.business


def admit(invitation: Invitation, user: User, now: datetime) -> None:
    """Give `user` what the invitation promises; the one place that knows what that can be.

    Who is a member already, by another way, keeps the role it has.
    Raises: NotThere if access from outside is promised by who may no longer give it; RefusedInput
    if its last day is over, or what it opens is gone.
    """
    business = invitation.business
    if invitation.terms is not None:
        _grant(invitation, user, now)
    elif not Membership.objects.filter(user=user, business=business).exists():
        join(user, business, Role(invitation.role))


def _grant(invitation: Invitation, user: User, now: datetime) -> None:
    business = invitation.business
    giver = Membership.objects.filter(
        user=invitation.invited_by, user__is_active=True, business=business
    ).first()
    if giver is None or Right.GRANTS not in TABLE[Role(giver.role)]:
        raise NotThere(
            _("Who gave this access may not give it any more. Ask %(business)s for a new one.")
            % {"business": business}
        )
    terms = _terms(invitation)
    today = today_of(business, now=now)
    if terms["begins_on"] and terms["begins_on"] <= today:
        terms["begins_on"] = None
    give_grant(
        actor=Actor(user=giver.user, business=business, role=Role(giver.role)),
        email=user.email,
        role=Role(invitation.role),
        now=now,
        **terms,
    )


def _use_up(invitation: Invitation, user: User, now: datetime) -> None:
    admit(invitation, user, now)
    invitation.accepted_at, invitation.accepted_by = now, user
    invitation.save(update_fields=["accepted_at", "accepted_by"])


def _open(token: str, *, now: datetime, lock: bool = False) -> Invitation:
    rows: Any = Invitation.objects.select_related("business", "invited_by")
    if lock:
        rows = rows.select_for_update(of=("self",))
    found: Invitation | None = rows.filter(
        token_hash=_hashed(token),
        accepted_at__isnull=True,
        withdrawn_at__isnull=True,
        expires_at__gt=now,
    ).first()
    if found is None:
        raise NotThere(
            _("This invitation was used, withdrawn, sent anew or has run out. Ask for a new one.")
        )
    return found


def _to_change(actor: Actor, invitation_id: UUID) -> Invitation:
    """Return the open invitation, locked; one to be an owner is an owner's to touch."""
    actor.must(Right.PEOPLE)
    rows = _waiting(actor.business).select_related(None).select_for_update()
    found: Invitation | None = rows.filter(pk=invitation_id).first()
    if found is None:
        raise NotThere(_("There is no such invitation."))
    if found.terms is None:
        must_let_in(actor, Role(found.role))
    else:
        actor.must(Right.GRANTS)
    return found


def _hashed(token: str) -> str:
    # The token is 256 random bits: there is nothing to guess that salt or slowness would hinder.
    return hashlib.sha256(token.encode()).hexdigest()


def _send(invitation: Invitation, address: str) -> None:
    if not mail.is_sent():
        raise NoMail(invitation, address)
    words = {"invitation": invitation, "business": invitation.business, "address": address}
    with translation.override(_language_of_reader(invitation)):
        subject = _("Invitation to the spray log of %(business)s") % {
            "business": invitation.business
        }
        letter = render_to_string("members/invitation_mail.txt", words)
    try:
        mail.send(subject=subject, letter=letter, to=invitation.email)
    except OSError as fault:  # SMTPException is one
        raise NotSent(
            _(
                "The invitation of %(email)s is written down, but the e-mail could not be sent. "
                "Send it again when the mail server answers."
            )
            % {"email": invitation.email}
        ) from fault


def _language_of_reader(invitation: Invitation) -> str:
    """Return the language that the invited person chose; of a stranger, that of who invites."""
    chosen = User.objects.filter(email__iexact=invitation.email).values_list("language", flat=True)
    return chosen.first() or translation.get_language() or PLAIN
