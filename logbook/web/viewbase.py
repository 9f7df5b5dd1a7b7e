"""The one door of every page: who acts, whether they may, and what a refusal looks like."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from functools import update_wrapper
from typing import Any, Concatenate, ParamSpec, cast
from urllib.parse import urlsplit

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import resolve_url
from django.urls import Resolver404, resolve
from django.utils.cache import patch_cache_control
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django_htmx.http import HttpResponseClientRedirect
from django_htmx.middleware import HtmxDetails

from logbook.accounts.rights import Actor, Right
from logbook.errors.exceptions import NotAllowed, NotThere, Refused

P = ParamSpec("P")

SENT_BEFORE = gettext_lazy(
    "This page was sent before and said something else; what it wrote then stands. Look this over, "
    "and send it again to write it too."
)
"""What a person is told whose page, gone back to, brings an id that stands for something else."""


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


def _takes_get(path: str) -> bool:
    """Return whether a page can be asked for at the path; one that refused a form may stand at an
    address that takes nothing but forms.
    """
    try:
        view: Any = resolve(path).func
    except Resolver404:
        return False
    while view is not None:
        # Django's `require_http_methods` says nowhere else what it lets in.
        methods = inspect.getclosurevars(view).nonlocals.get("request_method_list")
        if methods is not None:
            return "GET" in methods
        view = getattr(view, "__wrapped__", None)
    return True


def _back(request: Any) -> HttpResponse:
    """Return the way to the page the person came from; never to the very page that refused."""
    came_from = request.META.get("HTTP_REFERER", "")
    safe = url_has_allowed_host_and_scheme(
        came_from, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    loops = request.method != "POST" and came_from == request.build_absolute_uri()
    leads = safe and not loops and _takes_get(urlsplit(came_from).path)
    target = came_from if leads else resolve_url("today")
    if request.htmx:
        return HttpResponseClientRedirect(target)
    response = HttpResponse(status=303)
    response["Location"] = target
    return response
