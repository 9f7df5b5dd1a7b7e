"""Giving access from outside, withdrawing it, and the list of what it was used for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from rest_framework.throttling import BaseThrottle

from logbook.accounts import journal
from logbook.accounts.models import (
    Business,
    Grant,
    GrantedCustomer,
    GrantedField,
    Membership,
    User,
    Visit,
)
from logbook.accounts.rights import OUTSIDE, Actor, Right, Role
from logbook.errors.exceptions import Conflict, NotThere, Refused, RefusedInput
from logbook.errors.logs import without_secret
from logbook.localization.locale import format_day, translate_word
from logbook.localization.today import today_of

MAX_DAYS_OF_INSPECTION = 90
"""An inspection and its follow-up are over in a quarter; a longer one is given anew, so that
somebody looks at it again. Common practice, no source."""


def standing(now: datetime) -> Q:
    """Return the condition under which a grant opens something at `now`, as `Grant.stands`."""
    return Q(withdrawn_at__isnull=True, begins_at__lte=now) & (
        Q(ends_at__isnull=True) | Q(ends_at__gt=now)
    )


# --- what a person belongs to --------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Belonging:
    """One thing a person can act as: a member of a business, or a guest by one grant."""

    key: str  # "member-3", "grant-<id>"
    business: Business
    role: Role
    grant: Grant | None = None

    def __str__(self) -> str:
        """Such as "farm manager of Long Furrow Spraying for Ash Farm": one business may have given
        several accesses of one role, which the customers tell apart.
        """
        said = {"role": translate_word(self.role.value), "business": self.business}
        if self.grant is None:
            return _("%(role)s of %(business)s") % said
        customers = (str(one.customer) for one in self.grant.customers.all())
        said["customers"] = (
            _("every customer") if self.grant.every_customer else ", ".join(customers)
        )
        return _("%(role)s of %(business)s for %(customers)s") % said


def belongings(*, user: User, now: datetime) -> list[Belonging]:
    """Return what the user can act as: memberships first, then the grants that stand."""
    memberships = Membership.objects.select_related("business").filter(user=user).order_by("id")
    return [
        *(
            Belonging(key=f"member-{one.business_id}", business=one.business, role=Role(one.role))
            for one in memberships
        ),
        *(_belonging(one) for one in _of_user(user, now)),
    ]


def other_belongings(*, actor: Actor, now: datetime) -> list[Belonging]:
    """Return what else the person behind the actor can act as."""
    return [
        one
        for one in belongings(user=actor.user, now=now)
        if (one.business, one.grant) != (actor.business, actor.grant)
    ]


def belonging(*, user: User, key: str, now: datetime) -> Belonging:
    """Return what stands under `key` among the belongings of the user.

    Raises: NotThere.
    """
    for one in belongings(user=user, now=now):
        if one.key == key:
            return one
    raise NotThere(_("You have no such access; it may have ended."))


def guest_for(
    user: User, *, now: datetime, business_id: int | None = None, grant_id: UUID | None = None
) -> Actor | None:
    """Return the actor that a standing grant makes of the user: the one named, else the first."""
    rows = _of_user(user, now)
    if business_id is not None:
        rows = rows.filter(business_id=business_id)
    if grant_id is not None:
        rows = rows.filter(pk=grant_id)
    grant = rows.first()
    if grant is None:
        return None
    return Actor(user=user, business=grant.business, role=Role(grant.role), grant=grant)


def _of_user(user: User, now: datetime) -> QuerySet[Grant]:
    rows = Grant.objects.filter(standing(now), user=user).select_related("business", "given_by")
    return rows.prefetch_related("customers__customer", "fields__field").order_by("begins_at", "id")


def _belonging(grant: Grant) -> Belonging:
    return Belonging(
        key=f"grant-{grant.pk}", business=grant.business, role=Role(grant.role), grant=grant
    )


# --- giving and withdrawing ----------------------------------------------------------------------


def give_grant(
    *,
    actor: Actor,
    email: str,
    role: Role,
    customer_ids: Iterable[UUID] = (),
    every_customer: bool = False,
    field_ids: Iterable[UUID] = (),
    day_from: date | None = None,
    day_to: date | None = None,
    reason: str = "",
    begins_on: date | None = None,
    ends_on: date | None = None,
    grant_id: UUID | None = None,
    now: datetime,
) -> Grant:
    """Return the new grant to the login of `email`; asking twice with one id makes one.

    Days are those of the clock of the business; `ends_on` is the last day on which it stands.
    Raises: NotAllowed; RefusedInput naming each input; Conflict if the id is taken by a grant that
    says something else; nothing is written then.
    """
    actor.must(Right.GRANTS)
    user = User.objects.filter(email__iexact=email.strip(), is_active=True).first()
    zone = ZoneInfo(actor.business.time_zone)
    today = now.astimezone(zone).date()
    starts = begins_on or today
    asked = {
        "user_id": user and user.pk,
        "role": role.value,
        "every_customer": every_customer,
        "day_from": day_from,
        "day_to": day_to,
        "reason": reason.strip(),
    }
    begins_at = now if starts <= today else datetime.combine(starts, time.min, zone)
    if grant_id is not None:
        there: Grant | None = Grant.objects.within(actor.business).filter(pk=grant_id).first()
        if there is not None:
            days = (max(there.begins_at, now), there.last_day) == (begins_at, ends_on)
            if not days or not _says(there, asked, (set(customer_ids), set(field_ids))):
                raise Conflict(_("This access was given already, and says something else."))
            return there
    customers, fields, errors = _looked_at(
        business=actor.business,
        role=role,
        customer_ids=customer_ids,
        every_customer=every_customer,
        field_ids=field_ids,
        day_from=day_from,
        day_to=day_to,
        reason=reason,
        begins_on=starts,
        ends_on=ends_on,
        today=today,
    )
    if user is None:
        errors["email"] = _(
            'Nobody logs in as "%(email)s" yet; access is given to a login that stands.'
        ) % {"email": email.strip()}
    elif Membership.objects.filter(user=user, business=actor.business).exists():
        errors["email"] = _('"%(email)s" is a member of this business already.') % {
            "email": email.strip()
        }
    if errors or user is None:
        raise RefusedInput({name: [text] for name, text in errors.items()})
    grant = Grant(
        business=actor.business,
        begins_at=begins_at,
        ends_at=ends_on and datetime.combine(ends_on + timedelta(days=1), time.min, zone),
        given_by=actor.user,
        **asked,
    )
    if grant_id is not None:
        grant.pk = grant_id
    try:
        grant.full_clean()
    except ValidationError as bad:
        raise RefusedInput(bad.message_dict) from None
    with transaction.atomic():
        grant.save(force_insert=True)
        GrantedCustomer.objects.bulk_create(
            GrantedCustomer(grant=grant, customer=one) for one in customers
        )
        GrantedField.objects.bulk_create(GrantedField(grant=grant, field=one) for one in fields)
        journal.append(journal.GRANT, grant)
    return grant


def _says(there: Grant, asked: dict[str, Any], named: tuple[set[UUID], set[UUID]]) -> bool:
    """Return whether the grant has these columns, customers and fields."""
    customers = set(there.customers.values_list("customer_id", flat=True))
    fields = set(there.fields.values_list("field_id", flat=True))
    return (customers, fields) == named and all(
        getattr(there, name) == value for name, value in asked.items()
    )


def must_be_givable(*, actor: Actor, role: Role, now: datetime, **terms: Any) -> None:
    """Raise what `give_grant` would say of these terms, whoever they are for.

    Args: terms, all that `give_grant` takes beside the address and the id.
    Raises: NotAllowed; RefusedInput naming each input.
    """
    actor.must(Right.GRANTS)
    today = today_of(actor.business, now=now)
    terms["begins_on"] = terms["begins_on"] or today
    _, _, errors = _looked_at(business=actor.business, role=role, today=today, **terms)
    if errors:
        raise RefusedInput({name: [text] for name, text in errors.items()})


FIRST_YEAR, LAST_YEAR = 1990, 2200
"""The years of work, and of access to it; near the ends of a date its midnights are none."""


def _looked_at(
    *,
    business: Business,
    role: Role,
    customer_ids: Iterable[UUID],
    every_customer: bool,
    field_ids: Iterable[UUID],
    day_from: date | None,
    day_to: date | None,
    reason: str,
    begins_on: date,
    ends_on: date | None,
    today: date,
) -> tuple[list[Any], list[Any], dict[str, str]]:
    """Return the customers and fields named, and what is wrong with the terms."""
    customers = _rows(GrantedCustomer, "customer", business, customer_ids)
    fields = _rows(GrantedField, "field", business, field_ids)
    errors = _scope_errors(role, customers, every_customer, fields, day_from, day_to)
    errors |= _time_errors(role, reason, begins_on, ends_on, today)
    days = {"day_from": day_from, "day_to": day_to, "begins_on": begins_on, "ends_on": ends_on}
    for name, given in days.items():
        if given and not FIRST_YEAR <= given.year <= LAST_YEAR:
            errors[name] = _(
                "%(given)s is not possible; the year must be %(first)d to %(last)d."
            ) % {"given": format_day(given), "first": FIRST_YEAR, "last": LAST_YEAR}
    return customers, fields, errors


def names_of(
    *, business: Business, customer_ids: Iterable[UUID], field_ids: Iterable[UUID]
) -> dict[UUID, str]:
    """Return the names of customers and fields of the business by id."""
    found: dict[UUID, str] = {}
    for through, name, ids in (
        (GrantedCustomer, "customer", customer_ids),
        (GrantedField, "field", field_ids),
    ):
        model: Any = through._meta.get_field(name).related_model
        found |= dict(
            model.objects.within(business).filter(pk__in=set(ids)).values_list("pk", "name")
        )
    return found


def _rows(through: Any, name: str, business: Business, ids: Iterable[UUID]) -> list[Any]:
    """Return the rows of the business that are named; the shelf is reached by the key alone.

    Raises: RefusedInput if one is not there.
    """
    wanted = set(ids)
    rows = list(
        through._meta.get_field(name).related_model.objects.within(business).filter(pk__in=wanted)
    )
    if len(rows) != len(wanted):
        raise RefusedInput({f"{name}s": [_("One of those chosen is not on the shelf.")]})
    return rows


def _scope_errors(
    role: Role,
    customers: list[Any],
    every_customer: bool,
    fields: list[Any],
    day_from: date | None,
    day_to: date | None,
) -> dict[str, str]:
    errors: dict[str, str] = {}
    if role not in OUTSIDE:
        errors["role"] = _('"%(role)s" is no role of access from outside.') % {
            "role": translate_word(role.value)
        }
    if role is Role.FARM_MANAGER and every_customer:
        errors["every_customer"] = _("A farm manager sees named customers, not every one.")
    if role is Role.FARM_MANAGER and (fields or day_from or day_to):
        name = "fields" if fields else "day_from" if day_from else "day_to"
        errors[name] = _("A farm manager sees whole customers; leave fields and days blank.")
    if every_customer and customers:
        errors["customers"] = _("Choose either every customer or the ones named, not both.")
    if not every_customer and not customers:
        errors["customers"] = _("Choose at least one customer.")
    own = {one.pk for one in customers}
    strange = [one.name for one in fields if not every_customer and one.customer_id not in own]
    if strange:
        errors["fields"] = _("%(names)s: of none of the customers chosen.") % {
            "names": ", ".join(strange)
        }
    if day_from and day_to and day_to < day_from:
        errors["day_to"] = _("The last day of work, %(last)s, is before the first, %(first)s.") % {
            "last": format_day(day_to),
            "first": format_day(day_from),
        }
    return errors


def _time_errors(
    role: Role, reason: str, begins_on: date, ends_on: date | None, today: date
) -> dict[str, str]:
    errors: dict[str, str] = {}
    if role is Role.INSPECTOR and not reason.strip():
        errors["reason"] = _("Say for what the inspector gets access.")
    if begins_on < today:
        errors["begins_on"] = _("%(day)s is over; access begins today or later.") % {
            "day": format_day(begins_on)
        }
    if ends_on is None:
        if role is Role.INSPECTOR:
            errors["ends_on"] = _("Say on which day the access of the inspector ends.")
    elif ends_on < begins_on:
        errors["ends_on"] = _("It would end on %(last)s, before it begins on %(first)s.") % {
            "last": format_day(ends_on),
            "first": format_day(begins_on),
        }
    elif role is Role.INSPECTOR and (ends_on - begins_on).days >= MAX_DAYS_OF_INSPECTION:
        last = begins_on + timedelta(days=MAX_DAYS_OF_INSPECTION - 1)
        errors["ends_on"] = _(
            "%(day)s is too late: an inspector's access lasts at most %(most)s days, here until "
            "%(last)s. It can be given anew."
        ) % {"day": format_day(ends_on), "most": MAX_DAYS_OF_INSPECTION, "last": format_day(last)}
    return errors


def withdraw_grant(*, actor: Actor, grant_id: UUID, now: datetime) -> Grant:
    """Return the grant, withdrawn: it opens nothing from `now` on, and stays readable.

    Raises: NotAllowed; NotThere; Refused if it was withdrawn or is over.
    """
    actor.must(Right.GRANTS)
    with transaction.atomic():
        grant: Grant | None = (
            Grant.objects.within(actor.business)
            .select_for_update(of=("self",))
            .select_related("business", "user")
            .filter(pk=grant_id)
            .first()
        )
        if grant is None:
            raise NotThere(_("There is no such access."))
        if grant.withdrawn_at:
            raise Refused(_("This access was withdrawn already."))
        if grant.ends_at and grant.ends_at <= now:
            raise Refused(_("This access is over already."))
        grant.withdrawn_at, grant.withdrawn_by = now, actor.user
        grant.save(update_fields=["withdrawn_at", "withdrawn_by"])
        journal.append(journal.GRANT, grant)
    return grant


def grants(*, actor: Actor, now: datetime) -> QuerySet[Grant]:
    """Return every grant of the business, the newest first, those withdrawn last."""
    actor.must(Right.GRANTS)
    rows = Grant.objects.within(actor.business).select_related(
        "business", "user", "given_by", "withdrawn_by"
    )
    rows = rows.prefetch_related("customers__customer", "fields__field")
    return rows.order_by(F("withdrawn_at").asc(nulls_first=True), "-begins_at", "id")


# --- what it was used for ------------------------------------------------------------------------


def note_visit(
    *, request: HttpRequest, response: HttpResponse, actor: Actor, now: datetime
) -> None:
    """Write down one request of somebody from outside; a member's is not written down."""
    if actor.grant is None:
        return
    match = request.resolver_match
    kwargs = match.kwargs if match else {}
    record_id = kwargs.get("record_id")
    with transaction.atomic():
        visit = Visit.objects.create(
            business=actor.business,
            grant=actor.grant,
            user=actor.user,
            at=now,
            method=str(request.method)[:10],
            path=without_secret(request.get_full_path())[:500],
            page=((match.url_name or "") if match else "")[:60],
            record_id=record_id if isinstance(record_id, UUID) else None,
            status=response.status_code,
            # The peer's own address, or what our proxy says: as the rate limits count, NUM_PROXIES.
            address=str(BaseThrottle().get_ident(request) or "")[:64],  # type: ignore[arg-type]
        )
        journal.append(journal.VISIT, visit)


def visits(*, actor: Actor, grant_id: UUID | None = None) -> QuerySet[Visit]:
    """Return what guests of the business asked for, the last first; of one grant, or of all."""
    actor.must(Right.GRANTS)
    rows = Visit.objects.within(actor.business).select_related("user", "grant")
    return rows.filter(grant_id=grant_id) if grant_id else rows
