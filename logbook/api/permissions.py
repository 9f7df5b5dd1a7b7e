"""Deny by default: a view names the right to read and the right to write, or nobody enters."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework.permissions import SAFE_METHODS, BasePermission
from rest_framework.request import Request

from logbook.accounts.rights import Actor


class HasRight(BasePermission):
    """Lets in a member of a business whose role carries the view's right.

    A view says `right_to_read` and `right_to_write`; one that says nothing is closed.
    """

    message = _("Your role in this business does not carry this right.")

    def has_permission(self, request: Request, view: Any) -> bool:
        safe = request.method in SAFE_METHODS
        right = getattr(view, "right_to_read" if safe else "right_to_write", None)
        actor = actor_of(request)
        if actor is not None and actor.only is not None and right not in actor.only:
            self.message = _("This token's scopes do not carry this right.")
        return right is not None and actor is not None and actor.may(right)


def actor_of(request: Request) -> Actor | None:
    """Return who acts in this request, or None for a visitor."""
    actor: Actor | None = request._request.actor  # type: ignore[attr-defined]
    return actor or None
