"""A person's tokens for programs: made and shown once, listed with their last use, revoked."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from logbook.accounts.forms import TokenForm
from logbook.accounts.rights import Right
from logbook.accounts.services import confirm_password
from logbook.accounts.tokens import make_token, revoke_token, tokens_of
from logbook.errors.exceptions import Refused, RefusedInput
from logbook.web.viewbase import BookRequest, front_door

PER_PAGE = 50


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@front_door(Right.SEE)
def tokens(request: BookRequest) -> HttpResponse:
    """The actor's tokens, and a form for a new one; its secret is on the answer, this once."""
    actor, now = request.actor, timezone.now()
    form = TokenForm(request.POST or None)
    made, secret = None, ""
    if request.method == "POST" and form.is_valid():
        given = dict(form.cleaned_data)
        try:
            confirmation = confirm_password(
                request, user=actor.user, password=given.pop("password")
            )
            made, secret = make_token(
                actor=actor,
                name=given["name"],
                scopes=given["scopes"],
                days=int(given["days"]),
                confirmation=confirmation,
                now=now,
            )
        except RefusedInput as refusal:
            form.take(refusal.errors)
        except Refused as refusal:
            form.take({"": [str(refusal)]})
        else:
            form = TokenForm()
    page = Paginator(tokens_of(actor=actor), PER_PAGE).get_page(request.GET.get("page"))
    context = {"form": form, "page": page, "made": made, "secret": secret, "now": now}
    return render(request, "you/tokens.html", context, status=422 if form.errors else 200)


@require_POST
@front_door(Right.SEE)
def revoke(request: BookRequest, token_id: uuid.UUID) -> HttpResponse:
    """Revoke one of the actor's tokens."""
    token = revoke_token(actor=request.actor, token_id=token_id, now=timezone.now())
    messages.success(
        request,
        _("Revoked: %(name)s. It opens nothing any longer.") % {"name": token.name},
    )
    return redirect("tokens")


urlpatterns = [
    path("you/tokens/", tokens, name="tokens"),
    path("you/tokens/<uuid:token_id>/revoke/", revoke, name="token-revoke"),
]
