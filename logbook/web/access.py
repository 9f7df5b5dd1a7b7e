"""Pages of access from outside: who was let in, what was looked at, and as what one acts."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from logbook import mail
from logbook.accounts import grants, invitations
from logbook.accounts.forms import GrantForm
from logbook.accounts.middleware import ACTING
from logbook.accounts.rights import Right
from logbook.errors.exceptions import Conflict, NotThere, RefusedInput
from logbook.web.gate.entering import invitation_link
from logbook.web.gate.members import hand_over
from logbook.web.viewbase import SENT_BEFORE, BookRequest, front_door

PER_PAGE = 50

WORDS = {
    "audit": gettext_lazy("the records in scope"),
    "audit-log": gettext_lazy("the log of seals, verified"),
    "record": gettext_lazy("a record"),
    "book-print": gettext_lazy("what can be printed in one go"),
    "book-print-pdf": gettext_lazy("print: the records in scope"),
    "record-picture": gettext_lazy("a picture of a record"),
    "record-pdf": gettext_lazy("print: a record"),
    "record-copy": gettext_lazy("print: the customer's copy"),
    "record-posting": gettext_lazy("print: the posting sheet"),
    "record-notice-before": gettext_lazy("print: the notice before spraying"),
    "record-notice-completed": gettext_lazy("print: the notice of completed application"),
    "today": gettext_lazy("the first page"),
    "acting": gettext_lazy("what the login belongs to"),
    "api-record-pdf": gettext_lazy("print by the API: a record"),
    "api-record-seal": gettext_lazy("a seal by the API"),
    "api-record-pictures": gettext_lazy("which pictures a record has, by the API"),
    "api-record-picture": gettext_lazy("a picture of a record by the API"),
}
"""What a guest asked for, in words; any other address is named as it is."""


def _id_or_none(text: str) -> uuid.UUID | None:
    try:
        return uuid.UUID(text)
    except ValueError:
        return None


@require_safe
@front_door(Right.GRANTS)
def access(request: BookRequest) -> HttpResponse:
    """Every grant of the business, those withdrawn too."""
    now = timezone.now()
    rows = grants.grants(actor=request.actor, now=now)
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    shown = [(grant, grant.stands(now), grant.begins_at > now) for grant in page]
    context = {
        "page": page,
        "grants": shown,
        "offers": invitations.offers(actor=request.actor) if page.number == 1 else [],
        "now": now,
        "mail_is_sent": mail.is_sent(),
    }
    return render(request, "access/access.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@front_door(Right.GRANTS)
def give(request: BookRequest) -> HttpResponse:
    """The form by which somebody from outside is let in."""
    actor = request.actor
    form = GrantForm(request.POST or None, business=actor.business)
    # The page brings the id, so that a double click gives one grant.
    new_id = _id_or_none(request.POST.get("id", "")) or uuid.uuid4()
    if request.method == "POST" and form.is_valid():
        try:
            grant = invitations.give_access(
                actor=actor,
                grant_id=new_id,
                link=invitation_link(request),
                now=timezone.now(),
                **form.for_service(),
            )
        except RefusedInput as refusal:
            form.take(refusal)
        except invitations.NoMail as unsent:
            return hand_over(request, unsent)
        except invitations.NotSent as refusal:
            messages.error(request, str(refusal))
            return redirect("access")
        except Conflict:
            new_id = uuid.uuid4()
            form.add_error(None, str(SENT_BEFORE))
        except invitations.TooMany as refusal:
            form.add_error(None, str(refusal))
        else:
            if isinstance(grant, invitations.Invitation):
                said = _("%(email)s has no login yet and is invited by e-mail.")
                messages.success(request, said % {"email": grant.email})
                return redirect("access")
            messages.success(
                request,
                _("%(name)s has access now.") % {"name": grant.user}
                if grant.begins_at <= timezone.now()
                else _("%(name)s will have access.") % {"name": grant.user},
            )
            return redirect("access")
    context = {"form": form, "new_id": new_id, "most_days": grants.MAX_DAYS_OF_INSPECTION}
    return render(request, "access/give.html", context, status=422 if form.errors else 200)


@require_POST
@front_door(Right.GRANTS)
def withdraw(request: BookRequest, grant_id: uuid.UUID) -> HttpResponse:
    """End a grant now."""
    grant = grants.withdraw_grant(actor=request.actor, grant_id=grant_id, now=timezone.now())
    messages.success(
        request, _("The access of %(name)s is withdrawn; it opens nothing.") % {"name": grant.user}
    )
    return redirect("access")


@require_safe
@front_door(Right.GRANTS)
def visits(request: BookRequest) -> HttpResponse:
    """What those from outside opened and printed, the last first."""
    actor, now = request.actor, timezone.now()
    grant_id = _id_or_none(request.GET.get("grant", ""))
    chosen: Any = None
    if grant_id:
        chosen = grants.grants(actor=actor, now=now).filter(pk=grant_id).first()
        if chosen is None:
            raise NotThere(_("There is no such access."))
    rows = grants.visits(actor=actor, grant_id=grant_id)
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "shown": [(visit, WORDS.get(visit.page, visit.page or visit.path)) for visit in page],
        "chosen": chosen,
        "kept": f"grant={grant_id}&" if grant_id else "",
    }
    return render(request, "access/visits.html", context)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def acting(request: HttpRequest) -> HttpResponse:
    """What the person can act as; the choice is remembered in the session.

    No right is asked for: it shows a login what that login itself belongs to.
    """
    user, now = request.user, timezone.now()
    if not user.is_authenticated:
        raise Http404
    if request.method == "POST":
        try:
            chosen = grants.belonging(user=user, key=request.POST.get("as", ""), now=now)
        except NotThere as refusal:
            raise Http404(str(refusal)) from None
        request.session[ACTING] = chosen.key
        messages.success(request, _("You now act as %(what)s.") % {"what": chosen})
        return redirect("today")
    context = {"belongings": grants.belongings(user=user, now=now)}
    return render(request, "access/acting.html", context)


urlpatterns = [
    path("access/", access, name="access"),
    path("access/give/", give, name="access-give"),
    path("access/<uuid:grant_id>/withdraw/", withdraw, name="access-withdraw"),
    path("access/visits/", visits, name="access-visits"),
    path("acting/", acting, name="acting"),
]
