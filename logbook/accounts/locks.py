"""By which name and address failed attempts are counted; the counting of those that are no login.

django-axes counts and locks. A wrong code, a wrong link, a request for a reset and a sign-up are
told to it under a name of their own, so that one limit and one cool-off hold for every way in.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from axes.handlers.proxy import AxesProxyHandler
from django.conf import settings
from django.contrib.auth.signals import user_login_failed
from django.http import HttpRequest
from django.utils.translation import gettext as _

from logbook.base.refusals import Refused

RESET = "(password reset)"
SIGN_UP = "(sign-up)"
LINK = "(invitation link)"
"""Names that no e-mail address has."""


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
