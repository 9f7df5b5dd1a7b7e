"""Acting as a member of a business, and proving again who is at the keyboard."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.contrib.auth import authenticate
from django.db.models import QuerySet
from django.http import HttpRequest

from logbook.accounts.models import Licence, Membership, Person, Training, User
from logbook.accounts.rights import Actor, Right, Role
from logbook.base.refusals import NotThere, RefusedInput
from logbook.base.rows import Shape, save_row


def actor_for(user: User, *, business_id: int | None = None) -> Actor | None:
    """Return the actor that `user` is, in the chosen or else the first business; None if in none."""
    memberships = Membership.objects.select_related("business").filter(user=user).order_by("id")
    chosen = memberships.filter(business_id=business_id).first() if business_id else None
    membership = chosen or memberships.first()
    if membership is None:
        return None
    return Actor(user=user, business=membership.business, role=Role(membership.role))


@dataclass(frozen=True)
class Confirmation:
    """Proof that the user gave the password again; only `confirm_password` makes one."""

    user: User


def confirm_password(request: HttpRequest, *, user: User, password: str) -> Confirmation:
    """Return the proof that `user` is at the keyboard; a wrong password counts as a failed login.

    Raises: RefusedInput naming the password.
    """
    # DRF wraps the request; the login backends want Django's own.
    plain = getattr(request, "_request", request)
    if authenticate(plain, username=user.email, password=password) != user:
        raise RefusedInput({"password": ["This is not your password."]})
    return Confirmation(user=user)


PEOPLE = Shape(model=Person, children={"licences": Licence, "trainings": Training})


def save_person(*, actor: Actor, person_id: UUID, data: dict[str, Any]) -> Any:
    """Return the saved person with licences and trainings; see `base.rows.save_row`.

    Raises: NotAllowed, Refused, RefusedInput.
    """
    actor.must(Right.PEOPLE)
    return save_row(shape=PEOPLE, business=actor.business, row_id=person_id, data=data, create=True)


def people(*, actor: Actor, search: str = "") -> QuerySet[Person]:
    """Return the people of the business with their licences and trainings."""
    actor.must(Right.SEE)
    rows = Person.objects.within(actor.business).prefetch_related("licences", "trainings")
    return rows.filter(name__icontains=search) if search else rows


def person(*, actor: Actor, person_id: UUID) -> Person:
    """Return one person of the business.

    Raises: Refused if there is none of that id.
    """
    found = people(actor=actor).filter(pk=person_id).first()
    if found is None:
        raise NotThere("There is no such person.")
    return found


def expiring_licences(*, actor: Actor, today: date, within_days: int = 60) -> QuerySet[Licence]:
    """Return the licences that have expired this year or expire within the days named."""
    actor.must(Right.SEE)
    return Licence.objects.filter(
        person__business=actor.business,
        expires_on__gte=date(today.year, 1, 1),
        expires_on__lte=today + timedelta(days=within_days),
    ).select_related("person")
