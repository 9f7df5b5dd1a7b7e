"""Shows on every page, in one place, the marks of a text that cannot be seen."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from django.http import HttpRequest

from logbook.localization.invisible import made_visible, may_hold_invisible

# Django writes every ">" that somebody typed as "&gt;", so that a tag ends at the first.
_PARTS = re.compile(r"<textarea\b.*?</textarea>|<[^>]*>|[^<]+", re.DOTALL)
_READ = re.compile(r'\s(?:aria-label|title|alt|placeholder|label|data-label)="[^"]*"')


class InvisibleMiddleware:
    """Writes such a mark as its number wherever a page is read: in text, and in what is read out.

    The value of an input stays as it was entered: sent back, a number would have changed it.
    """

    def __init__(self, get_response: Callable[[HttpRequest], Any]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> Any:
        response = self.get_response(request)
        if not response.get("Content-Type", "").startswith("text/html"):
            return response
        if response.streaming:
            response.streaming_content = map(_shown, response.streaming_content)
        else:
            response.content = _shown(response.content)
        return response


def _shown(page: bytes) -> bytes:
    # Nearly every page has none, and goes as it is.
    return _PARTS.sub(_part, page.decode()).encode() if may_hold_invisible(page) else page


def _part(found: re.Match[str]) -> str:
    part = found[0]
    if part.startswith("<textarea"):
        return part
    if part.startswith("<"):
        return _READ.sub(lambda said: made_visible(said[0]), part)
    return made_visible(part)
