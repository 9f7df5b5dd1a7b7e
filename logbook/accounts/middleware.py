"""Puts the actor on the request, so that no view decides for itself who acts for whom; and writes
down on which device a session is in use.
"""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.functional import SimpleLazyObject

from logbook.accounts import devices
from logbook.accounts.services import actor_for

CHOSEN_BUSINESS = "business"
"""Where the session keeps the id of the business that the person acts for."""


class ActorMiddleware:
    """Sets `request.actor`: an Actor, or None for a visitor or a user of no business."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        # One query, and only where a view asks.
        request.actor = SimpleLazyObject(lambda: _actor(request))  # type: ignore[attr-defined]
        return self.get_response(request)


def _actor(request: HttpRequest) -> object:
    user = request.user
    if not user.is_authenticated:
        return None
    # The business chosen on the page "You", if the person is in several; asked anew each time.
    return actor_for(user, business_id=request.session.get(CHOSEN_BUSINESS))


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
