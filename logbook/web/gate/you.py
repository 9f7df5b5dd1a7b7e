"""A person's own page: name and units, password, second factor, passkeys, devices, tokens."""

from __future__ import annotations

import time
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth import views
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse_lazy
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from logbook.accounts import devices, locks, passkeys, second_factor, tokens
from logbook.accounts.loginforms import (
    CodeForm,
    NewPasskeyForm,
    PasskeyNameForm,
    PasswordForm,
    YouForm,
)
from logbook.accounts.services import confirm_password, save_user
from logbook.errors.exceptions import Refused, RefusedInput
from logbook.records.writing.feeds import end_feeds, has_feeds
from logbook.web.gate.viewbase import own_door

SETTING_UP = "setting_up_second_factor"
SET_UP_SECONDS = 900


@require_http_methods(["GET", "HEAD", "POST"])
@own_door
def you(request: HttpRequest) -> HttpResponse:
    """Show what a person settles for themselves; posting writes name and units."""
    user: Any = request.user
    now = timezone.now()
    form = YouForm(
        request.POST or None, initial={"name": user.name, "unit_system": user.unit_system}
    )
    if request.method == "POST" and form.is_valid():
        try:
            save_user(user=user, **form.cleaned_data)
        except RefusedInput as refusal:
            form.take(refusal)
        else:
            messages.success(request, _("Your settings are written down."))
            return redirect("you")
    return render(
        request,
        "you/you.html",
        {
            "form": form,
            "second_factor": second_factor.stands(user),
            "codes_left": second_factor.codes_left(user),
            "devices": devices.devices(user=user, session_key=request.session.session_key, now=now),
            "has_feeds": has_feeds(user=user),
            "tokens": tokens.standing_tokens(user=user, now=now),
        },
        status=422 if form.errors else 200,
    )


class ChangePassword(views.PasswordChangeView):
    """Take a new password for the old one; every other session of the person ends."""

    template_name = "you/password.html"
    success_url = reverse_lazy("you")

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        locks.must_be_open(request, self.request.user.get_username())
        return super().post(request, *args, **kwargs)

    def form_invalid(self, form: Any) -> HttpResponse:
        if "old_password" in form.errors:
            locks.count(self.request, self.request.user.get_username())
        return super().form_invalid(form)

    def form_valid(self, form: Any) -> HttpResponse:
        answer = super().form_valid(form)
        devices.sign_out_others(user=form.user, session_key=self.request.session.session_key)
        messages.success(
            self.request,
            _(
                "Your password is changed; other devices are logged out and calendar links have "
                "ended."
            ),
        )
        return answer


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
@own_door
def second(request: HttpRequest) -> HttpResponse:
    """Show how the second factor stands; posting begins, renews the codes, or switches it off."""
    user: Any = request.user
    form = PasswordForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            proof = confirm_password(request, user=user, password=form.cleaned_data["password"])
        except RefusedInput as refusal:
            form.take(refusal)
        else:
            return _do(request, proof, request.POST.get("deed", ""))
    return render(
        request,
        "you/second_factor.html",
        {
            "form": form,
            "stands": second_factor.stands(user),
            "has_app": second_factor.has_app(user),
            "passkeys": passkeys.passkeys(user),
            "codes_left": second_factor.codes_left(user),
            "tokens": tokens.standing_tokens(user=user, now=timezone.now()),
        },
        status=422 if form.errors else 200,
    )


def _do(request: HttpRequest, proof: Any, deed: str) -> HttpResponse:
    if deed == "begin":
        second_factor.begin(confirmation=proof)
        request.session[SETTING_UP] = time.time() + SET_UP_SECONDS
        return redirect("second-factor-set-up")
    if deed == "passkey":
        request.session[SETTING_UP] = time.time() + SET_UP_SECONDS
        return redirect("passkey-add")
    if deed == "codes":
        return _show_codes(request, second_factor.new_codes(confirmation=proof))
    if deed == "off":
        second_factor.switch_off(confirmation=proof)
        messages.success(request, _("The codes from your app are switched off."))
        return redirect("you")
    raise Refused(_("Choose what to do with the second factor."))


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
@own_door
def set_up(request: HttpRequest) -> HttpResponse:
    """Show what the app reads; a code from it makes the second factor count."""
    user: Any = request.user
    shown = second_factor.set_up(user)
    if shown is None or not _gave_password(request):
        return redirect("second-factor")
    form = CodeForm(request.POST or None)
    # There is no recovery code yet.
    form.fields["code"].help_text = _("Six figures.")
    if request.method == "POST" and form.is_valid():
        try:
            codes = second_factor.finish(request, user=user, code=form.cleaned_data["code"])
        except RefusedInput as refusal:
            form.take(refusal)
        else:
            del request.session[SETTING_UP]
            # They came in with a password alone.
            _out_everywhere_else(request)
            return _show_codes(request, codes)
    return render(
        request,
        "you/set_up.html",
        {"form": form, "shown": shown},
        status=422 if form.errors else 200,
    )


def _gave_password(request: HttpRequest) -> bool:
    """Return whether the password was given just now to set something up."""
    return bool(request.session.get(SETTING_UP, 0) >= time.time())


@require_http_methods(["GET", "HEAD", "POST"])
@own_door
def passkey_add(request: HttpRequest) -> HttpResponse:
    """Take the name of a new passkey and what the device answered."""
    user: Any = request.user
    if not _gave_password(request):
        return redirect("second-factor")
    device = devices.in_words(request.headers.get("User-Agent", ""))
    form = NewPasskeyForm(request.POST or None, initial={"name": device})
    if request.method == "POST" and form.is_valid():
        words = form.cleaned_data
        try:
            codes = passkeys.add(request, user=user, name=words["name"], answer=words["passkey"])
        except RefusedInput as refusal:
            form.take(refusal)
        else:
            del request.session[SETTING_UP]
            if codes:
                # They came in with a password alone.
                _out_everywhere_else(request)
                return _show_codes(request, codes)
            messages.success(request, _("The passkey “%(name)s” is added.") % words)
            return redirect("second-factor")
    return render(
        request, "you/passkey_add.html", {"form": form}, status=422 if form.errors else 200
    )


@require_POST
@own_door
def passkey_ask(request: HttpRequest) -> HttpResponse:
    """Return what the device needs to make a passkey."""
    if not _gave_password(request):
        return redirect("second-factor")
    user: Any = request.user
    return JsonResponse(passkeys.ask(request, user=user, purpose=passkeys.ADDING))


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
@own_door
def passkey(request: HttpRequest, passkey_id: int) -> HttpResponse:
    """Show one passkey; posting renames it or, with the password, removes it."""
    user: Any = request.user
    row = passkeys.passkey(user=user, passkey_id=passkey_id)
    removing = request.POST.get("deed") == "remove"
    named = PasskeyNameForm(None if removing else request.POST or None, initial={"name": row.name})
    form = PasswordForm(request.POST if removing else None)
    if named.is_bound and named.is_valid():
        passkeys.rename(user=user, passkey_id=passkey_id, name=named.cleaned_data["name"])
        return redirect("second-factor")
    if removing and form.is_valid():
        try:
            proof = confirm_password(request, user=user, password=form.cleaned_data["password"])
        except RefusedInput as refusal:
            form.take(refusal)
        else:
            passkeys.remove(confirmation=proof, passkey_id=passkey_id)
            messages.success(request, _("The passkey “%(name)s” is removed.") % {"name": row.name})
            return redirect("second-factor")
    return render(
        request,
        "you/passkey.html",
        {"passkey": row, "named": named, "form": form},
        status=422 if named.errors or form.errors else 200,
    )


def _show_codes(request: HttpRequest, codes: list[str]) -> HttpResponse:
    user: Any = request.user
    standing = tokens.standing_tokens(user=user, now=timezone.now()).count()
    return render(request, "you/codes.html", {"codes": codes, "tokens": standing})


@require_POST
@own_door
def device_out(request: HttpRequest, device_id: UUID) -> HttpResponse:
    """Log out on one other device."""
    devices.sign_out(user=request.user, device_id=device_id)  # type: ignore[arg-type]
    messages.success(request, _("You are logged out there."))
    return redirect("you")


@require_POST
@own_door
def devices_out(request: HttpRequest) -> HttpResponse:
    """Log out on all other devices, and end the calendar links."""
    count, ended = _out_everywhere_else(request)
    said = ngettext(
        "You are logged out on %(count)s other device.",
        "You are logged out on %(count)s other devices.",
        count,
    ) % {"count": count}
    messages.success(request, said)
    if ended:
        messages.success(request, _("Your calendar links have ended."))
    return redirect("you")


def _out_everywhere_else(request: HttpRequest) -> tuple[int, int]:
    """Return on how many other devices the person was logged in, and how many links have ended."""
    user: Any = request.user
    return (
        devices.sign_out_others(user=user, session_key=request.session.session_key),
        end_feeds(user=user, now=timezone.now()),
    )


@require_POST
@own_door
def tokens_out(request: HttpRequest) -> HttpResponse:
    """Revoke all tokens of the person, in every business."""
    count = tokens.revoke_all(user=request.user, now=timezone.now())  # type: ignore[arg-type]
    messages.success(
        request,
        ngettext("%(count)s token is revoked.", "%(count)s tokens are revoked.", count)
        % {"count": count},
    )
    return redirect("you")
