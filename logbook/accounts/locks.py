"""By which name and address failed attempts are counted; the counting of those that are no login.

django-axes counts and locks. A wrong code, a wrong link, a request for a reset and a sign-up are
told to it under a name of their own, so that one limit and one cool-off hold for every way in.

Guessing is stopped twice. `AXES_FAILURE_LIMIT` failures of one name from one network close that
name there. Failures of `LOCK_AFTER_NAMES` names close the network to every name, or one common
password could be tried on name after name. Many people may share a network (an office, a mobile
carrier), and one of them shall not keep the others from their work: whoever is logged in, or has
logged in from that network within `KNOWN_FOR`, is only under the first limit, and attempts that
find the door closed are not counted, so that it opens again by itself.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from ipaddress import IPv6Address, IPv6Network, ip_address
from typing import Any

from axes.attempts import get_cool_off_threshold
from axes.handlers.database import AxesDatabaseHandler
from axes.handlers.proxy import AxesProxyHandler
from axes.models import AccessAttempt, AccessLog
from django.conf import settings
from django.contrib.auth.signals import user_login_failed
from django.http import HttpRequest
from django.utils.translation import gettext as _

from logbook.errors.exceptions import Refused

RESET = "(password reset)"
SIGN_UP = "(sign-up)"
LINK = "(invitation link)"
"""Names that no e-mail address has."""

KNOWN_FOR = timedelta(days=30)


class Locked(Refused):
    """Too many attempts; the answer becomes the page that says for how long."""


def username(request: HttpRequest | None, credentials: Mapping[str, Any] | None) -> str:
    """Return the e-mail address that was tried, in lower case: "" when there is none."""
    given = (credentials or {}).get("username") or (request.POST.get("username") if request else "")
    return str(given or "").strip().lower()


def address(request: HttpRequest) -> str | None:
    """Return the network address that a request came from.

    Behind a proxy it is the last one that the proxy itself wrote down; without one, a header says
    what its sender likes.
    """
    if settings.BEHIND_PROXY:
        forwarded: str = request.META.get("HTTP_X_FORWARDED_FOR", "").rpartition(",")[2].strip()
        if forwarded:
            return forwarded
    peer: str | None = request.META.get("REMOTE_ADDR") or None
    return peer


def network(request: HttpRequest) -> str | None:
    """Return where attempts are counted: the address; of IPv6 its first 64 bits, one line.

    Who is given a line may use any of its 2**64 addresses (RFC 6177), each for one attempt.
    """
    found = address(request)
    try:
        read = ip_address(found or "")
    except ValueError:
        return found
    if isinstance(read, IPv6Address) and read.ipv4_mapped is None:
        return str(IPv6Network((read, 64), strict=False).network_address)
    return found


class Handler(AxesDatabaseHandler):  # type: ignore[misc]
    """Closes a name at a network, as axes does, and a network from which many names are tried."""

    def is_locked(self, request: HttpRequest, credentials: dict[str, Any] | None = None) -> bool:
        return super().is_locked(request, credentials) or _tries_many_names(request, credentials)


def _tries_many_names(request: Any, credentials: Mapping[str, Any] | None) -> bool:
    """Return whether the network is closed to who asks, because many names failed there lately."""
    name, tried_at = username(request, credentials), request.axes_ip_address
    if name in (RESET, SIGN_UP, LINK):
        return False
    failed = (
        AccessAttempt.objects.filter(
            ip_address=tried_at, attempt_time__gte=get_cool_off_threshold(request)
        )
        .exclude(username__in=(RESET, SIGN_UP, LINK, name))
        .order_by()
        .values("username")
        .distinct()
    )
    if failed.count() < settings.LOCK_AFTER_NAMES:
        return False
    user = getattr(request, "user", None)
    if user is not None and user.is_authenticated and user.get_username().lower() == name:
        return False
    lately = request.axes_attempt_time - KNOWN_FOR
    known = AccessLog.objects.filter(ip_address=tried_at, attempt_time__gte=lately)
    return not known.filter(username__iexact=name).exists()


def must_be_open(request: HttpRequest, name: str) -> None:
    """Raise Locked where `name` was tried too often from this address."""
    credentials = {"username": name}
    if getattr(settings, "AXES_ENABLED", True) and not AxesProxyHandler.is_allowed(
        request, credentials
    ):
        request.axes_locked_out = True  # type: ignore[attr-defined]
        request.axes_credentials = credentials  # type: ignore[attr-defined]
        raise Locked(_("There were too many attempts from here. Wait a quarter of an hour."))


def count(request: HttpRequest, name: str) -> None:
    """Count one attempt of `name` from this address."""
    user_login_failed.send(sender=__name__, request=request, credentials={"username": name})
