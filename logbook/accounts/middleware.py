"""Puts the actor on the request, so that no view decides for itself who acts for whom; and writes
down on which device a session is in use.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.functional import SimpleLazyObject

from logbook.accounts import devices
from logbook.accounts.grants import note_visit
from logbook.accounts.rights import Actor
from logbook.accounts.services import actor_for
from logbook.tenancy.history import acting

ACTING = "acting"
"""Under this the session remembers as what a person acts: "member-3", "grant-<id>"."""


class ActorMiddleware:
    """Sets `request.actor`: an Actor, or None for a visitor or a user of no business.

    What a guest was answered is written down before the answer leaves, whatever the door: if it
    cannot be written down, the guest is shown nothing.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        asked: list[Actor | None] = []

        def actor() -> Actor | None:
            asked.append(_actor(request))
            return asked[0]

        # One query, and only where a view asks.
        lazy = SimpleLazyObject(actor)
        request.actor = lazy  # type: ignore[attr-defined]
        # A door of the API puts the person of its token there meanwhile.
        with acting(lambda: request.user):
            response = self.get_response(request)
        # A door with another proof than the session puts its own actor there.
        standing: Any = request.actor  # type: ignore[attr-defined]
        seen = (asked[0] if asked else None) if standing is lazy else standing
        if seen is not None and seen.grant is not None:
            note_visit(request=request, response=response, actor=seen, now=timezone.now())
        return response


def _actor(request: HttpRequest) -> Actor | None:
    user = request.user
    if not user.is_authenticated:
        return None
    kind, _, key = str(request.session.get(ACTING, "")).partition("-")
    return actor_for(
        user,
        business_id=int(key) if kind == "member" else None,
        grant_id=UUID(key) if kind == "grant" else None,
    )


class DeviceMiddleware:
    """Keeps the list of devices: a login there has its row, with the time it was last seen."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        # After the view, and only where it asked who it is: a page for everybody opens no session.
        if request.session.accessed:
            devices.seen(request, now=timezone.now())
        return response
