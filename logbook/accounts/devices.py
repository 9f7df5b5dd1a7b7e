"""Where a person is logged in, and being logged out there."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

import ua_parser
from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends.base import UpdateError
from django.contrib.sessions.models import Session
from django.core.exceptions import ValidationError
from django.core.validators import validate_ipv46_address
from django.db import IntegrityError
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext as _

from logbook.accounts.locks import address
from logbook.accounts.models import Device, User
from logbook.errors.exceptions import NotThere
from logbook.errors.faults import by_the_way

EVERY = timedelta(minutes=5)
"""How often "last seen" is written; a row at every request would be a write at every request."""

SEEN = "device_seen"


@dataclass(frozen=True)
class LoggedIn:
    """A device as a page lists it."""

    id: UUID
    words: str
    address: str
    since: datetime
    last_seen: datetime
    this_one: bool


def seen(request: HttpRequest, *, now: datetime) -> None:
    """Write down that the session of `request` was in use, at most once in `EVERY`.

    A session whose key has changed, as it does with the password, gets its row anew.
    """
    session: Any = request.session
    if SESSION_KEY not in session:
        return
    key, _space, when = session.get(SEEN, "").partition(" ")
    if key == session.session_key and now < datetime.fromisoformat(when) + EVERY:
        return
    user: Any = request.user
    before = session.modified

    def write() -> None:
        _remember(request, user=user, now=now)
        session.save()

    # A session that was signed out while this request was under way is not brought back.
    if user.is_authenticated and session.exists(session.session_key):
        with suppress(IntegrityError, UpdateError):
            if not by_the_way(write):
                # Nothing of it is left to be saved with the answer either.
                session.modified = before


def _remember(request: HttpRequest, *, user: User, now: datetime) -> None:
    """Write the row of this session, from what the browser says of itself."""
    session: Any = request.session
    about = {
        "user": user,
        "agent": request.META.get("HTTP_USER_AGENT", "").replace("\x00", "")[:300],
        "address": _address(request),
        "last_seen": now,
    }
    Device.objects.update_or_create(
        session_id=session.session_key,
        defaults=about,
        create_defaults={**about, "since": now},
    )
    session[SEEN] = f"{session.session_key} {now.isoformat()}"


def on_login(*, request: HttpRequest, user: User, **_kwargs: Any) -> None:
    """Write the row of a session as soon as somebody logs in."""
    session: Any = request.session
    if not session.session_key or not session.exists(session.session_key):
        session.create()
    _remember(request, user=user, now=timezone.now())


def _address(request: HttpRequest) -> str | None:
    found = address(request)
    try:
        validate_ipv46_address(found or "")
    except ValidationError:
        return None
    return found


def devices(*, user: User, session_key: str | None, now: datetime) -> list[LoggedIn]:
    """Return where `user` is logged in, this session first, then the one seen last."""
    rows = Device.objects.filter(user=user, session__expire_date__gt=now)
    found = [
        LoggedIn(
            id=row.pk,
            words=in_words(row.agent),
            address=row.address or _("unknown"),
            since=row.since,
            last_seen=row.last_seen,
            this_one=row.session_id == session_key,
        )
        for row in rows
    ]
    return sorted(found, key=lambda device: not device.this_one)


def in_words(agent: str) -> str:
    """Return browser and system of a user agent: "Firefox on Android", "unknown browser"."""
    read = ua_parser.parse(agent)
    browser = read.user_agent.family if read.user_agent else _("unknown browser")
    if not read.os:
        return browser
    return _("%(browser)s on %(system)s") % {"browser": browser, "system": read.os.family}


def sign_out(*, user: User, device_id: UUID) -> None:
    """Log `user` out on one device.

    Raises: NotThere if the person is not logged in on it.
    """
    row = Device.objects.filter(user=user, pk=device_id).first()
    if row is None:
        raise NotThere(_("You are not logged in on this device any more."))
    row.session.delete()


def sign_out_others(*, user: User, session_key: str | None) -> int:
    """Log `user` out everywhere but in this session; return on how many devices that was."""
    others = Session.objects.filter(device__user=user).exclude(session_key=session_key)
    count = others.count()
    others.delete()
    return count
