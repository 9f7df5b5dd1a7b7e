"""Who logs in to a business as what; at least one owner always stays."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from logbook.accounts.models import Business, Membership
from logbook.accounts.rights import INSIDE, Actor, Right, Role
from logbook.accounts.services import must_let_in
from logbook.accounts.tokens import standing_tokens
from logbook.errors.exceptions import NotAllowed, NotThere, Refused
from logbook.localization.locale import translate_word


def members(*, actor: Actor) -> QuerySet[Membership]:
    """Return the members of the business with their logins, by name."""
    actor.must(Right.PEOPLE)
    rows = Membership.objects.filter(business=actor.business).select_related("user")
    return rows.order_by("user__name", "id")


def member(*, actor: Actor, member_id: int) -> Membership:
    """Return one member.

    Raises: NotAllowed; NotThere if the business has none of that id.
    """
    found = members(actor=actor).filter(pk=member_id).first()
    if found is None:
        raise NotThere(_("There is no such member."))
    return found


def roles_to_give(actor: Actor) -> list[Role]:
    """Return the roles that `actor` may give; only an owner makes an owner."""
    return [role for role in INSIDE if role is not Role.OWNER or actor.role is Role.OWNER]


def change_role(*, actor: Actor, member_id: int, role: Role) -> Membership:
    """Return the member in the new role.

    Raises: NotAllowed (an owner is touched by an owner alone), NotThere, Refused (the last owner).
    """
    must_let_in(actor, role)
    with transaction.atomic():
        found = _to_change(actor, member_id, stays_owner=role is Role.OWNER)
        found.role = role.value
        found.save(update_fields=["role"])
    return found


def take_out(*, actor: Actor, member_id: int, now: datetime) -> Membership:
    """Return the member that was taken out; the login and all that it signed stay.

    Its tokens for the business are revoked: they would open it again to a member taken back.

    Raises: NotAllowed (an owner is touched by an owner alone), NotThere, Refused (the last owner).
    """
    actor.must(Right.PEOPLE)
    with transaction.atomic():
        found = _to_change(actor, member_id, stays_owner=False)
        Membership.objects.filter(pk=found.pk).delete()
        standing_tokens(user=found.user, now=now).filter(business=actor.business).update(
            revoked_at=now
        )
    return found


def _to_change(actor: Actor, member_id: int, *, stays_owner: bool) -> Membership:
    """Return the row, with the business locked, so that two owners cannot take out each other."""
    Business.objects.select_for_update().get(pk=actor.business.pk)
    found = member(actor=actor, member_id=member_id)
    if found.role == Role.OWNER:
        if actor.role is not Role.OWNER:
            raise NotAllowed(
                _("As %(role)s you may not change an owner.")
                % {"role": translate_word(actor.role.value)}
            )
        owners = members(actor=actor).filter(role=Role.OWNER.value, user__is_active=True)
        if not stays_owner and not owners.exclude(pk=found.pk).exists():
            raise Refused(
                _("%(name)s is the last owner. Make somebody else an owner first.")
                % {"name": found.user}
            )
    return found
