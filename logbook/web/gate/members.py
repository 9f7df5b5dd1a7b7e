"""Who logs in to the business as what, and who is invited."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.cache import add_never_cache_headers
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from logbook import mail
from logbook.accounts import invitations
from logbook.accounts import members as service
from logbook.accounts.loginforms import InviteForm, RoleForm
from logbook.accounts.rights import Right, Role
from logbook.errors.exceptions import RefusedInput
from logbook.localization.locale import translate_word
from logbook.web.gate.entering import invitation_link
from logbook.web.viewbase import BookRequest, front_door

PER_PAGE = 50


@require_http_methods(["GET", "HEAD", "POST"])
@front_door(Right.PEOPLE)
def members(request: BookRequest) -> HttpResponse:
    """List members and open invitations; posting invites."""
    actor, now = request.actor, timezone.now()
    roles = service.roles_to_give(actor)
    form = InviteForm(request.POST or None, roles=roles, initial={"role": Role.APPLICATOR.value})
    if request.method == "POST" and form.is_valid():
        try:
            made = invitations.invite(
                actor=actor,
                email=form.cleaned_data["email"],
                role=Role(form.cleaned_data["role"]),
                link=invitation_link(request),
                now=now,
            )
        except RefusedInput as refusal:
            form.take(refusal)
        except invitations.TooMany as refusal:
            form.add_error(None, str(refusal))
        except invitations.NoMail as unsent:
            return hand_over(request, unsent)
        except invitations.NotSent as refusal:
            messages.error(request, str(refusal))
            return redirect("members")
        else:
            messages.success(request, _("%(email)s is invited.") % {"email": made.email})
            return redirect("members")
    open_ones = invitations.open_invitations(actor=actor)
    return render(
        request,
        "members/members.html",
        {
            "form": form,
            "page": Paginator(service.members(actor=actor), PER_PAGE).get_page(
                request.GET.get("page")
            ),
            "waiting": Paginator(open_ones, PER_PAGE).get_page(request.GET.get("waiting")),
            "roles": roles,
            "now": now,
            "mail_is_sent": mail.is_sent(),
        },
        status=422 if form.is_bound else 200,
    )


def hand_over(request: BookRequest, made: invitations.NoMail) -> HttpResponse:
    """Show the link of an invitation, this once, to who invites; a redirect would have to keep it.

    No cache keeps the page either.
    """
    context = {"invitation": made.invitation, "address": made.address}
    answer = render(request, "members/hand_over.html", context)
    add_never_cache_headers(answer)
    return answer


@require_http_methods(["GET", "HEAD", "POST"])
@front_door(Right.PEOPLE)
def member(request: BookRequest, member_id: int) -> HttpResponse:
    """Show one member; posting gives another role."""
    found = service.member(actor=request.actor, member_id=member_id)
    form = RoleForm(
        request.POST or None,
        roles=service.roles_to_give(request.actor),
        initial={"role": found.role},
    )
    if request.method == "POST" and form.is_valid():
        role = Role(form.cleaned_data["role"])
        service.change_role(actor=request.actor, member_id=member_id, role=role)
        messages.success(
            request,
            _("%(name)s is %(role)s now.")
            % {"name": found.user, "role": translate_word(role.value)},
        )
        # Who has just given up this right cannot see the list any more.
        own = found.user == request.user
        return redirect("today" if own else "members")
    return render(request, "members/member.html", {"member": found, "form": form})


@require_POST
@front_door(Right.PEOPLE)
def member_out(request: BookRequest, member_id: int) -> HttpResponse:
    """Take a member out."""
    gone = service.take_out(actor=request.actor, member_id=member_id, now=timezone.now())
    messages.success(
        request,
        _("%(name)s is no member any more. What was signed stays signed.") % {"name": gone.user},
    )
    return redirect("you" if gone.user == request.user else "members")


@require_POST
@front_door(Right.PEOPLE)
def invitation_again(request: BookRequest, invitation_id: UUID) -> HttpResponse:
    """Send an invitation again with a new link."""
    return _done(
        request,
        lambda: invitations.send_again(
            actor=request.actor,
            invitation_id=invitation_id,
            link=invitation_link(request),
            now=timezone.now(),
        ),
        _("%(email)s is invited again; the earlier link opens nothing any more."),
    )


@require_POST
@front_door(Right.PEOPLE)
def invitation_withdraw(request: BookRequest, invitation_id: UUID) -> HttpResponse:
    """Withdraw an invitation."""
    return _done(
        request,
        lambda: invitations.withdraw(
            actor=request.actor, invitation_id=invitation_id, now=timezone.now()
        ),
        _("The invitation of %(email)s is withdrawn."),
    )


def _done(request: BookRequest, deed: Any, said: str) -> HttpResponse:
    back = "access" if request.POST.get("back") == "access" else "members"
    try:
        messages.success(request, said % {"email": deed().email})
    except invitations.NoMail as unsent:
        return hand_over(request, unsent)
    except invitations.NotSent as refusal:
        messages.error(request, str(refusal))
    return redirect(back)
