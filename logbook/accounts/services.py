"""Acting as a member of a business, and proving again who is at the keyboard."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Literal
from uuid import UUID

from django.contrib.auth import authenticate
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext as _

from logbook.accounts.grants import guest_for
from logbook.accounts.models import (
    Business,
    Licence,
    Membership,
    Person,
    Training,
    UnitSystem,
    User,
)
from logbook.accounts.rights import INSIDE, Actor, Right, Role
from logbook.errors.exceptions import NotAllowed, NotThere, RefusedInput
from logbook.localization.locale import READINGS, translate_word
from logbook.tenancy.rows import Shape, save_row


def actor_for(
    user: User,
    *,
    business_id: int | None = None,
    grant_id: UUID | None = None,
    now: datetime | None = None,
) -> Actor | None:
    """Return the actor that `user` is, by the chosen or else the first of what it belongs to.

    Memberships come before grants: a person who is both acts as a member until it chooses. None
    for a user of no business whom no standing grant lets in.
    Args: now, at which a grant has to stand; the clock's if None.
    """
    instant = now or timezone.now()
    if grant_id and (guest := guest_for(user, now=instant, grant_id=grant_id)):
        return guest
    # Put in order here: an order in the query costs more than the few rows there are.
    rows = Membership.objects.select_related("business").filter(user=user)
    memberships = sorted(rows, key=lambda one: one.pk)
    chosen = next((one for one in memberships if one.business_id == business_id), None)
    if business_id and chosen is None:
        guest = guest_for(user, now=instant, business_id=business_id)
        if guest is not None:
            return guest
    membership = chosen or next(iter(memberships), None)
    if membership is None:
        return guest_for(user, now=instant)
    return Actor(user=user, business=membership.business, role=Role(membership.role))


@dataclass(frozen=True)
class Confirmation:
    """Proof of who is at the keyboard; `confirm_password` and `confirm_passkey` alone make one."""

    user: User
    by: Literal["password", "passkey"] = "password"


def confirm_password(request: HttpRequest, *, user: User, password: str) -> Confirmation:
    """Return the proof that `user` is at the keyboard; a wrong password counts as a failed login.

    Raises: RefusedInput naming the password.
    """
    # DRF wraps the request; the login backends want Django's own.
    plain = getattr(request, "_request", request)
    if authenticate(plain, username=user.email, password=password) != user:
        raise RefusedInput({"password": [_("This is not your password.")]})
    return Confirmation(user=user)


def open_business(
    *, data: dict[str, Any], email: str, name: str, password: str, unit_system: str = UnitSystem.US
) -> Actor:
    """Return the owner of a new business, both just made.

    Args: data: columns of the business; email, name, password, unit_system: of the owner's login.
    Raises: RefusedInput naming each column; nothing is written then.
    """
    business = Business(**{"unit_system": unit_system, **data})
    _clean(business)
    with transaction.atomic():
        business.save()
        user = new_user(email, name, password, unit_system)
        return join(user, business, Role.OWNER)


def add_member(
    *,
    actor: Actor,
    email: str,
    name: str,
    password: str,
    role: Role,
    unit_system: str = UnitSystem.US,
) -> Actor:
    """Return the new member, with a login of its own, in the business of `actor`.

    Raises: NotAllowed (only an owner makes an owner); RefusedInput naming each column.
    """
    must_let_in(actor, role)
    with transaction.atomic():
        return join(new_user(email, name, password, unit_system), actor.business, role)


def must_let_in(actor: Actor, role: Role) -> None:
    """Raise NotAllowed unless `actor` may make somebody a `role` of the business."""
    actor.must(Right.PEOPLE)
    if role not in INSIDE:
        raise NotAllowed(
            _("A %(role)s is no member; give access from outside.")
            % {"role": translate_word(role.value)}
        )
    if role is Role.OWNER and actor.role is not Role.OWNER:
        raise NotAllowed(
            _("As %(role)s you may not make an owner.") % {"role": translate_word(actor.role.value)}
        )


def new_user(email: str, name: str, password: str, unit_system: str) -> User:
    """Return a new saved login.

    Raises: RefusedInput naming each column.
    """
    email = User.objects.normalize_email(email)
    if User.objects.filter(email__iexact=email).exists():
        raise RefusedInput({"email": [_("There is a login of this e-mail address already.")]})
    user = User(email=email, name=name, unit_system=unit_system)
    user.set_password(password)
    _clean(user)
    try:
        validate_password(password, user)
    except ValidationError as bad:
        raise RefusedInput({"password": bad.messages}) from None
    user.save()
    return user


def join(user: User, business: Business, role: Role) -> Actor:
    """Return `user` as a member of the business, which it just became."""
    Membership.objects.create(user=user, business=business, role=role.value)
    return Actor(user=user, business=business, role=role)


def _clean(row: models.Model) -> None:
    try:
        row.full_clean()
    except ValidationError as bad:
        raise RefusedInput(bad.message_dict) from None


def save_user(*, user: User, name: str, unit_system: str) -> None:
    """Write how a person is called and in which units forms are offered.

    Raises: RefusedInput naming each column; nothing is written then.
    """
    user.name, user.unit_system = name, unit_system
    try:
        _clean(user)
    except RefusedInput:
        user.refresh_from_db()
        raise
    user.save(update_fields=["name", "unit_system"])


def save_business(*, actor: Actor, data: dict[str, Any]) -> Business:
    """Return the actor's business with the columns of `data`; signed records keep their copy.

    Raises: NotAllowed; RefusedInput naming each column; nothing is written then.
    """
    actor.must(Right.BUSINESS)
    with transaction.atomic():
        business = Business.objects.select_for_update().get(pk=actor.business.pk)
        for name, value in data.items():
            setattr(business, name, value)
        _clean(business)
        business.save()
    return business


PEOPLE = Shape(model=Person, children={"licences": Licence, "trainings": Training})


def save_person(
    *, actor: Actor, person_id: UUID, data: dict[str, Any], seen: str | None = None
) -> Any:
    """Return the saved person with licences and trainings; see `tenancy.rows.save_row`.

    Raises: NotAllowed, Refused, RefusedInput.
    """
    actor.must(Right.PEOPLE)
    return save_row(
        shape=PEOPLE,
        business=actor.business,
        row_id=person_id,
        data=data,
        create=True,
        seen=seen,
    )


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
        raise NotThere(_("There is no such person."))
    return found


def expiring_licences(*, actor: Actor, today: date, within_days: int = 60) -> list[Licence]:
    """Return the licences that have expired this year or expire within the days named.

    An expired one is left out where the same person holds another in the same place that is valid.
    """
    actor.must(Right.SEE)
    held = Licence.objects.filter(person__business=actor.business)
    valid = {
        (licence.person_id, licence.place)
        for licence in held.filter(valid_from__lte=today, expires_on__gte=today)
    }
    ending = held.filter(
        expires_on__gte=date(today.year, 1, 1),
        expires_on__lte=today + timedelta(days=within_days),
    )
    return [
        licence
        for licence in ending.select_related("person")
        if licence.expires_on >= today or (licence.person_id, licence.place) not in valid
    ]


def choose_language(*, user: User, code: str) -> None:
    """Keep the language in which `user` reads the pages.

    Raises: RefusedInput if there is no such language.
    """
    if code not in READINGS:
        said = _("“%(code)s” is not a language of this book; allowed are %(allowed)s.")
        raise RefusedInput({"language": [said % {"code": code, "allowed": ", ".join(READINGS)}]})
    user.language = code
    user.save(update_fields=["language"])
