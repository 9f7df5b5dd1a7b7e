"""Which language a page speaks: the person's choice, the browser's cookie, Accept-Language."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import translation
from django.utils.cache import patch_vary_headers

from logbook.localization.locale import API, COOKIE, READINGS, negotiated


class LanguageMiddleware:
    """Speaks to each request in its own language, and to nobody else in it.

    It stands behind authentication, because the person's own choice counts before the cookie of the
    browser. A program says what it reads by Accept-Language alone: the texts of its refusals follow
    that, and no field of an answer does.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        code = language_of(request)
        with translation.override(code):
            request.LANGUAGE_CODE = code
            response = self.get_response(request)
        patch_vary_headers(response, ("Accept-Language",))
        response.headers.setdefault("Content-Language", code)
        return response


def language_of(request: HttpRequest) -> str:
    """Return the code of the language that a request is answered in."""
    if not request.path_info.startswith(API):
        chosen = getattr(request.user, "language", "") or request.COOKIES.get(COOKIE, "")
        if chosen in READINGS:
            return chosen
    return negotiated(request.headers.get("Accept-Language", ""))
