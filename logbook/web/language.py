"""The language and the locale: one form, on a page of its own and at the foot of every page."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils import translation
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from logbook.accounts.services import choose_language
from logbook.localization.locale import COOKIE, READINGS

A_YEAR = 365 * 24 * 3600


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def language(request: HttpRequest) -> HttpResponse:
    """Show the languages, or take one: into the person's row, and into the browser's cookie."""
    if request.method != "POST":
        return render(request, "you/language.html")
    code = request.POST.get("language", "")
    if code not in READINGS:
        allowed = ", ".join(READINGS)
        said = _("“%(code)s” is not a language of this book; allowed are %(allowed)s.")
        messages.error(request, said % {"code": code[:20], "allowed": allowed})
        return render(request, "you/language.html", status=422)
    if request.user.is_authenticated:
        choose_language(user=request.user, code=code)
    with translation.override(code):
        messages.success(request, _("Language: %(name)s.") % {"name": READINGS[code].name})
    back = request.POST.get("next", "")
    safe = url_has_allowed_host_and_scheme(back, {request.get_host()}, request.is_secure())
    response = HttpResponseRedirect(back if safe else reverse("language"))
    response.set_cookie(
        COOKIE,
        code,
        max_age=A_YEAR,
        httponly=True,
        secure=settings.SESSION_COOKIE_SECURE,
        samesite="Lax",
    )
    return response
