"""The one door of every page: who acts, whether they may, and what a refusal looks like."""

from __future__ import annotations

from collections.abc import Callable
from functools import update_wrapper
from typing import Any, Concatenate, ParamSpec, cast

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import resolve_url
from django.utils.cache import patch_cache_control
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django_htmx.http import HttpResponseClientRedirect
from django_htmx.middleware import HtmxDetails

from logbook.accounts.rights import Actor, Right
from logbook.base.refusals import NotAllowed, NotThere, Refused

P = ParamSpec("P")


class BookRequest(HttpRequest):
    """A request behind the front door: somebody acts in a business."""

    actor: Actor
    htmx: HtmxDetails


View = Callable[Concatenate[BookRequest, P], HttpResponseBase]


def front_door(right: Right) -> Callable[[View[P]], View[P]]:
    """Return a decorator that lets in members whose role carries `right`.

    A service's refusal becomes a page: 403 for a right that is lacking, 404 for a row that is not
    in the business, and for every other refusal the page the person came from, with the sentence
    on it.
    """

    def decorate(view: View[P]) -> View[P]:
        def enter(request: BookRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
            if _holds_nul(request):
                return HttpResponse(
                    _(
                        "The entry holds a character that cannot be stored (NUL). Nothing was "
                        "saved."
                    ),
                    status=400,
                    content_type="text/plain; charset=utf-8",
                )
            if not request.actor:
                raise PermissionDenied(
                    _(
                        "This login belongs to no business yet; ask its owner. Access from outside "
                        "that was given to it may have ended."
                    )
                )
            try:
                request.actor.must(right)
                answer = view(request, *args, **kwargs)
                if "Cache-Control" not in answer:
                    # A shared cab computer must not show the pages of who logged out.
                    patch_cache_control(answer, private=True, no_cache=True)
                return answer
            except NotAllowed as refusal:
                raise PermissionDenied(str(refusal)) from None
            except NotThere as refusal:
                raise Http404(str(refusal)) from None
            except Refused as refusal:
                messages.error(request, str(refusal))
                return _back(request)

        return cast("View[P]", update_wrapper(enter, view))

    return decorate


def _holds_nul(request: HttpRequest) -> bool:
    """Return whether anything sent holds a NUL, which PostgreSQL cannot store or look for."""
    return any(
        "\x00" in text
        for sent in (request.GET, request.POST)
        for _name, texts in sent.lists()
        for text in texts
    )


def _back(request: Any) -> HttpResponse:
    """Return the way to the page the person came from; never to the very page that refused."""
    came_from = request.META.get("HTTP_REFERER", "")
    safe = url_has_allowed_host_and_scheme(
        came_from, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    loops = request.method == "GET" and came_from == request.build_absolute_uri()
    target = came_from if safe and not loops else resolve_url("today")
    if request.htmx:
        return HttpResponseClientRedirect(target)
    response = HttpResponse(status=303)
    response["Location"] = target
    return response
