"""Puts the actor on the request, so that no view decides for itself who acts for whom."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils.functional import SimpleLazyObject

from logbook.accounts.services import actor_for


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
    return actor_for(user) if user.is_authenticated else None
