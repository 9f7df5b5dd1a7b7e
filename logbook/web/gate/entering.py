"""Sign-up, the two steps of a login, resetting a password, and following an invitation."""

from __future__ import annotations

import time
from typing import Any
from urllib.parse import urlencode

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import get_user_model, login, views
from django.core.exceptions import PermissionDenied
from django.http import (
    Http404,
    HttpRequest,
    HttpResponse,
    HttpResponseBase,
    HttpResponseRedirect,
    JsonResponse,
)
from django.shortcuts import redirect, render, resolve_url
from django.urls import reverse, reverse_lazy
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from logbook import mail
from logbook.accounts import devices, invitations, locks, passkeys, second_factor, tokens
from logbook.accounts.grants import belongings
from logbook.accounts.loginforms import CodeForm, NewLoginForm, QuietResetForm, SignUpForm
from logbook.accounts.middleware import ACTING
from logbook.accounts.services import open_business
from logbook.errors.exceptions import NotThere, Refused, RefusedInput
from logbook.web.gate.viewbase import visitors_door

BACKEND = "django.contrib.auth.backends.ModelBackend"
HALF_IN = "half_in"
HALF_IN_SECONDS = 600


def site_address(request: HttpRequest, path: str) -> str:
    """Return the full address of a page, for an e-mail; SITE_ADDRESS goes before what was asked."""
    if settings.SITE_ADDRESS:
        return f"{settings.SITE_ADDRESS}{path}"
    return request.build_absolute_uri(path)


def invitation_link(request: HttpRequest) -> invitations.Link:
    """Return what makes the full address of an invitation from its token."""
    return lambda token: site_address(request, reverse("invitation", args=[token]))


class Login(views.LoginView):
    """The first step: address and password. With a second factor, nobody is logged in by it yet."""

    redirect_authenticated_user = True

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(**kwargs) | {"open_sign_up": settings.OPEN_SIGN_UP}

    def form_valid(self, form: Any) -> HttpResponse:
        user = form.get_user()
        if not second_factor.stands(user):
            return super().form_valid(form)
        self.request.session[HALF_IN] = {
            "user": user.pk,
            "password": user.get_session_auth_hash(),
            "until": time.time() + HALF_IN_SECONDS,
            "next": self.get_success_url(),
        }
        return redirect("login-code")


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
@visitors_door
def login_code(request: HttpRequest) -> HttpResponse:
    """Ask for code or passkey, the second step; only then is somebody logged in."""
    user, target = _half_in(request)
    if user is None:
        messages.error(request, _("Log in with your password first; it holds for ten minutes."))
        return redirect("login")
    answer = request.POST.get("passkey", "")
    form = CodeForm(None if answer else request.POST or None)
    has_app = second_factor.has_app(user)
    if not has_app:
        form.fields["code"].help_text = _("One of your recovery codes.")
    refused = ""
    if request.method == "POST" and (answer or form.is_valid()):
        try:
            if answer:
                passkeys.confirm_passkey(
                    request, user=user, purpose=passkeys.ENTERING, answer=answer
                )
            else:
                second_factor.check_code(request, user=user, code=form.cleaned_data["code"])
        except locks.Locked:
            request.session.pop(HALF_IN, None)
            raise
        except RefusedInput as refusal:
            refused = " ".join(refusal.errors.get("passkey", []))
            if not refused:
                form.take(refusal)
        else:
            del request.session[HALF_IN]
            login(request, user, backend=BACKEND)
            _say_codes_left(request, user)
            return HttpResponseRedirect(target)
    context = {
        "form": form,
        "refused": refused,
        "has_app": has_app,
        "has_passkey": passkeys.passkeys(user).exists(),
    }
    return render(request, "registration/login_code.html", context)


@require_POST
@visitors_door
def login_passkey(request: HttpRequest) -> HttpResponse:
    """Return what the device needs for the second step of a login."""
    user, _target = _half_in(request)
    if user is None:
        raise Http404
    return JsonResponse(passkeys.ask(request, user=user, purpose=passkeys.ENTERING))


def _half_in(request: HttpRequest) -> tuple[Any, str]:
    """Return who has given the password but no code yet, and where to; None when nobody has."""
    held = request.session.get(HALF_IN) or {}
    if held.get("until", 0) < time.time():
        return None, ""
    user = get_user_model().objects.filter(pk=held["user"], is_active=True).first()
    if user is None or not constant_time_compare(held["password"], user.get_session_auth_hash()):
        return None, ""
    return user, held["next"]


def _say_codes_left(request: HttpRequest, user: Any) -> None:
    left = second_factor.codes_left(user)
    if left <= 3:
        messages.warning(
            request,
            _("You have %(left)s recovery codes left; make new ones on your page.")
            % {"left": left},
        )


@require_safe
@visitors_door
def admin_login(request: HttpRequest) -> HttpResponse:
    """Lead to the one login there is, so that the admin asks for the second factor too."""
    if request.user.is_authenticated:
        raise PermissionDenied(_("This login may not enter the admin."))
    target = request.GET.get("next", reverse("admin:index"))
    return redirect(f"{resolve_url('login')}?{_query(target)}")


def _query(target: str) -> str:
    return urlencode({"next": target})


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
@visitors_door
def sign_up(request: HttpRequest) -> HttpResponse:
    """Open a business with its first owner, where the installation lets visitors do so."""
    if not settings.OPEN_SIGN_UP:
        raise Http404
    if request.user.is_authenticated:
        return redirect("today")
    form = SignUpForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        locks.must_be_open(request, locks.SIGN_UP)
        try:
            actor = open_business(
                data=form.business(), email=form.cleaned_data["email"], **form.login()
            )
        except Refused as refusal:
            form.take(refusal)
        else:
            login(request, actor.user, backend=BACKEND)
            locks.count(request, locks.SIGN_UP)
            messages.success(
                request, _("%(business)s has its book.") % {"business": actor.business}
            )
            return redirect("today")
        locks.count(request, locks.SIGN_UP)
    return render(request, "registration/sign_up.html", {"form": form})


class Reset(views.PasswordResetView):
    """Ask for the e-mail. The answer is the same whether the address has a login or not.

    Where no e-mail goes out there is nothing to ask for: no link is made, and the page says so.
    """

    form_class = QuietResetForm
    template_name = "registration/reset.html"
    email_template_name = "registration/reset_mail.txt"
    subject_template_name = "registration/reset_subject.txt"
    success_url = reverse_lazy("reset-sent")

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if not mail.is_sent():
            return render(request, "registration/no_reset.html")
        return super().dispatch(request, *args, **kwargs)

    def form_valid(self, form: Any) -> HttpResponse:
        locks.must_be_open(self.request, locks.RESET)
        locks.count(self.request, locks.RESET)
        self.extra_email_context = {"site": site_address(self.request, "/").rstrip("/")}
        return super().form_valid(form)


class ResetSent(views.PasswordResetDoneView):
    template_name = "registration/reset_sent.html"


class ResetConfirm(views.PasswordResetConfirmView):
    """Take the new password; every session and every token of the person ends."""

    template_name = "registration/reset_confirm.html"
    success_url = reverse_lazy("login")

    def form_valid(self, form: Any) -> HttpResponse:
        answer = super().form_valid(form)
        devices.sign_out_others(user=form.user, session_key=None)
        # Who had the old password could have made one with it.
        tokens.revoke_all(user=form.user, now=timezone.now())
        messages.success(self.request, _("Your password is changed. Log in with the new one."))
        return answer


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
@visitors_door
def invitation(request: HttpRequest, token: str) -> HttpResponse:
    """Show what somebody is invited to; posting accepts it: as who is logged in, or anew."""
    now = timezone.now()
    locks.must_be_open(request, locks.LINK)
    try:
        found = invitations.invitation_of(token=token, now=now)
    except NotThere as refusal:
        locks.count(request, locks.LINK)
        return render(request, "members/invitation_gone.html", {"reason": str(refusal)}, status=404)
    if request.user.is_authenticated:
        return _join(request, found, token)
    known = invitations.has_login(found)
    form = NewLoginForm(request.POST or None)
    if request.method == "POST" and not known and form.is_valid():
        try:
            user, _business = invitations.accept_anew(token=token, now=now, **form.login())
        except Refused as refusal:
            form.take(refusal)
        else:
            login(request, user, backend=BACKEND)
            return _welcome(request, found)
    return render(
        request,
        "members/invitation.html",
        {"invitation": found, "form": form, "known": known, "login": _query(request.path)},
    )


def _join(request: HttpRequest, found: Any, token: str) -> HttpResponse:
    user: Any = request.user
    if request.method == "POST":
        invitations.accept(user=user, token=token, now=timezone.now())
        return _welcome(request, found)
    fits = found.email.lower() == user.email.lower()
    return render(
        request, "members/invitation.html", {"invitation": found, "fits": fits, "joining": True}
    )


def _welcome(request: HttpRequest, found: Any) -> HttpResponse:
    user: Any = request.user
    business, inside = found.business, found.terms is None
    for one in belongings(user=user, now=timezone.now()):
        if one.business == business and (one.grant is None) is inside:
            request.session[ACTING] = one.key
    said = (
        _("You have joined %(business)s.")
        if inside
        else _("%(business)s has opened its records to you.")
    )
    messages.success(request, said % {"business": business})
    return redirect("today")
