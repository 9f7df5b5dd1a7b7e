"""The doors that need no business: for whoever is logged in, and for visitors."""

from __future__ import annotations

from collections.abc import Callable
from functools import update_wrapper
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.cache import add_never_cache_headers

from logbook.accounts.locks import Locked
from logbook.errors.exceptions import NotAllowed, NotThere, Refused

View = Callable[..., Any]


def own_door(view: View) -> View:
    """Let in whoever is logged in, member or not; what it shows is kept in no cache."""

    def enter(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        try:
            answer: HttpResponse = view(request, *args, **kwargs)
        except Locked as refusal:
            # The middleware of axes answers with the page that says for how long.
            answer = HttpResponse(str(refusal), status=429)
        except NotAllowed as refusal:
            raise PermissionDenied(str(refusal)) from None
        except NotThere as refusal:
            raise Http404(str(refusal)) from None
        except Refused as refusal:
            messages.error(request, str(refusal))
            answer = redirect("you")
        add_never_cache_headers(answer)
        return answer

    return update_wrapper(enter, view)


def visitors_door(view: View) -> View:
    """Let in everybody; what it shows is kept in no cache."""
    return login_not_required(own_door(view))
