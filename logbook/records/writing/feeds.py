"""The secret behind a person's calendar link: made, shown once, revoked."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from logbook.accounts.models import User
from logbook.accounts.rights import Actor, Right
from logbook.accounts.services import actor_for
from logbook.errors.exceptions import NotThere
from logbook.records.models import FeedKey

SECRET_BYTES = 32


def hashed(secret: str) -> str:
    """Return the hash under which a secret is kept: SHA-256 of 32 random bytes needs no salt."""
    return hashlib.sha256(secret.encode()).hexdigest()


def make_feed(*, actor: Actor, now: datetime) -> str:
    """Return the secret of a new link of the actor; an older link stops working at once.

    It is shown this once: what is kept is its hash.
    """
    actor.must(Right.SEE)
    secret = secrets.token_urlsafe(SECRET_BYTES)
    with transaction.atomic():
        revoke_feed(actor=actor, now=now)
        FeedKey.objects.create(business=actor.business, user=actor.user, hashed=hashed(secret))
    return secret


def revoke_feed(*, actor: Actor, now: datetime) -> bool:
    """Return whether a link of the actor stood; it opens nothing any longer."""
    actor.must(Right.SEE)
    standing = FeedKey.objects.within(actor.business).filter(
        user=actor.user, revoked_at__isnull=True
    )
    return bool(standing.update(revoked_at=now))


def has_feeds(*, user: User) -> bool:
    """Return whether a link of the person stands, in any business."""
    return FeedKey.objects.filter(user=user, revoked_at__isnull=True).exists()


def end_feeds(*, user: User, now: datetime) -> int:
    """Return how many links of the person stood, in all businesses; they open nothing any longer.

    Who could log in as that person could have made one.
    """
    return FeedKey.objects.filter(user=user, revoked_at__isnull=True).update(revoked_at=now)


def end_feeds_with_password(
    *, instance: Any, created: bool, raw: bool = False, **_more: Any
) -> None:
    """End the links of a person whose password was just changed, wherever that was done."""
    # Django holds a new password here until the row is saved, and none where it only hashes the
    # same one anew.
    changed = instance._password is not None or not instance.has_usable_password()
    if changed and not (created or raw):
        end_feeds(user=instance, now=timezone.now())


def feed_since(*, actor: Actor) -> datetime | None:
    """Return since when a link of the actor stands; None if there is none."""
    actor.must(Right.SEE)
    standing = FeedKey.objects.within(actor.business).filter(
        user=actor.user, revoked_at__isnull=True
    )
    return standing.values_list("created_at", flat=True).first()


def actor_of_feed(*, secret: str) -> Actor:
    """Return for whom the link of this secret shows a calendar, with the role of today.

    Raises: NotThere if the secret opens nothing: never made, revoked, or its person is no longer
    an active member of the business.
    """
    key = (
        FeedKey.objects.select_related("user")
        .filter(hashed=hashed(secret), revoked_at__isnull=True)
        .first()
    )
    if key is None or not key.user.is_active:
        raise NotThere(_("There is no such calendar."))
    actor = actor_for(key.user, business_id=key.business_id)
    if actor is None or actor.business.pk != key.business_id or not actor.may(Right.SEE):
        raise NotThere(_("There is no such calendar."))
    return actor
