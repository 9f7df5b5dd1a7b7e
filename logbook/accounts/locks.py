"""By which name failed logins are counted."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest


def username(request: HttpRequest | None, credentials: Mapping[str, Any] | None) -> str:
    """Return the e-mail address that was tried, in lower case: "" when there is none."""
    given = (credentials or {}).get("username") or (request.POST.get("username") if request else "")
    return str(given or "").strip().lower()
