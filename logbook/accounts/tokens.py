"""Tokens for programs: made and shown once, revoked, and who acts by one.

Of the libraries, the one that hashes and expires tokens knows no scopes, and the ones with scopes
bring a whole authorisation server. What is left to write is a random text, its hash and a date.
"""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Sequence
from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from logbook.accounts.models import ApiToken, Membership, User
from logbook.accounts.rights import SCOPES, Actor, Right, Role, Scope
from logbook.accounts.services import Confirmation
from logbook.errors.exceptions import NotAllowed, NotThere, Refused, RefusedInput
from logbook.errors.faults import by_the_way

PREFIX = "sblog_"
"""So that a secret left in a file is found by those who look for secrets in files."""

SECRET_BYTES = 32
SHOWN = len(PREFIX) + 4
MAX_DAYS = 365
MAX_STANDING = 50
"""So many tokens may stand for one person in one business."""

NOTED_EVERY = timedelta(minutes=1)
"""The last use is written down at most so often: a read shall not cost a write each time."""


def hashed(secret: str) -> str:
    """Return the hash under which a secret is kept: SHA-256 of 32 random bytes needs no salt."""
    return hashlib.sha256(secret.encode()).hexdigest()


def make_token(
    *,
    actor: Actor,
    name: str,
    scopes: Sequence[str],
    days: int,
    confirmation: Confirmation,
    now: datetime,
) -> tuple[ApiToken, str]:
    """Return a new token of the actor and its secret, which is shown this once.

    Args: days until it expires; confirmation that the person gave the password again: a token
    outlives the session it is made in.
    Raises: NotAllowed; Refused if too many stand; RefusedInput naming name, scopes and days.
    """
    actor.must(Right.SEE)
    if actor.only is not None:
        raise NotAllowed(_("A token makes no tokens; log in on the page."))
    if confirmation.user != actor.user:
        raise NotAllowed(_("The password was another person's."))
    errors: dict[str, list[str]] = {}
    name = name.strip()
    if not 1 <= len(name) <= 80:
        errors["name"] = [_("Say in 1 to 80 characters which program it is for.")]
    known = [scope.value for scope in Scope if scope.value in scopes]
    if not known or set(scopes) - set(known):
        allowed = ", ".join(scope.value for scope in Scope)
        errors["scopes"] = [_("Choose one or more of: %(allowed)s.") % {"allowed": allowed}]
    if not 1 <= days <= MAX_DAYS:
        errors["days"] = [
            _("%(days)s is not a number of days from 1 to %(most)s.")
            % {"days": days, "most": MAX_DAYS}
        ]
    if errors:
        raise RefusedInput(errors)
    secret = PREFIX + secrets.token_urlsafe(SECRET_BYTES)
    with transaction.atomic():
        standing = tokens_of(actor=actor).filter(revoked_at__isnull=True, expires_at__gt=now)
        if standing.count() >= MAX_STANDING:
            raise Refused(
                _("%(most)s tokens of yours stand already; revoke one first.")
                % {"most": MAX_STANDING}
            )
        token = ApiToken.objects.create(
            business=actor.business,
            user=actor.user,
            name=name,
            start=secret[:SHOWN],
            hashed=hashed(secret),
            scopes=known,
            made_at=now,
            expires_at=now + timedelta(days=days),
        )
    return token, secret


def revoke_token(*, actor: Actor, token_id: UUID, now: datetime) -> ApiToken:
    """Return the actor's token, which opens nothing any longer; asking twice changes nothing.

    Raises: NotThere if the actor has none of that id.
    """
    token = tokens_of(actor=actor).filter(pk=token_id).first()
    if token is None:
        raise NotThere(_("There is no such token."))
    if token.revoked_at is None:
        token.revoked_at = now
        token.save(update_fields=["revoked_at"])
    return token


def standing_tokens(*, user: User, now: datetime) -> QuerySet[ApiToken]:
    """Return the person's tokens that may still open something, in every business: all are theirs.

    Where somebody fears for their login, the business they act for at that moment does not matter.
    """
    return ApiToken.objects.select_related("business").filter(
        user=user, revoked_at__isnull=True, expires_at__gt=now
    )


def revoke_all(*, user: User, now: datetime) -> int:
    """Revoke every token of the person, in every business; return how many stood until now."""
    return standing_tokens(user=user, now=now).update(revoked_at=now)


def tokens_of(*, actor: Actor) -> QuerySet[ApiToken]:
    """Return the actor's own tokens in the business, the last made first, revoked ones too."""
    actor.must(Right.SEE)
    return ApiToken.objects.within(actor.business).filter(user=actor.user)


def actor_of_token(*, secret: str, now: datetime) -> Actor:
    """Return who acts by the token: its person, in the role of today, within the token's scopes.

    Raises: NotThere if it opens nothing: never made, expired, revoked, or its person is no longer
    an active member of the business.
    """
    token = (
        ApiToken.objects.select_related("user", "business")
        .filter(hashed=hashed(secret), revoked_at__isnull=True, expires_at__gt=now)
        .first()
    )
    if token is None or not token.user.is_active:
        raise NotThere(_("This token opens nothing: it is wrong, expired or revoked."))
    membership = Membership.objects.filter(user=token.user, business=token.business).first()
    if membership is None:
        raise NotThere(_("This token opens nothing: its person has left the business."))
    if token.last_used_at is None or token.last_used_at <= now - NOTED_EVERY:
        due = Q(last_used_at__isnull=True) | Q(last_used_at__lte=now - NOTED_EVERY)
        row = ApiToken.objects.filter(due, pk=token.pk)
        by_the_way(lambda: row.update(last_used_at=now))
    only: frozenset[Right] = frozenset().union(
        *(SCOPES[scope] for scope in Scope if scope.value in token.scopes)
    )
    return Actor(user=token.user, business=token.business, role=Role(membership.role), only=only)
