"""Writing a draft: begin it, save it. Input that cannot be taken is refused whole, by path."""

from __future__ import annotations

import zoneinfo
from collections.abc import Callable, Iterable
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import IntegrityError, models, transaction
from django.db.models import F
from django.utils.translation import gettext as _

from logbook.accounts.models import Person
from logbook.accounts.rights import Actor, Right
from logbook.catalog.models import Customer, Field, LabelEdition, NozzleSet, Planting, Product, Rig
from logbook.errors.exceptions import Conflict, Refused, RefusedInput
from logbook.facts.record import ProductFacts, WeatherFacts
from logbook.facts.sets import VALUES, columns_of
from logbook.facts.spec import Instant
from logbook.law.elements import refused_statements
from logbook.localization.locale import clock_time, format_day
from logbook.records.models import (
    ApplicationRecord,
    CrewMember,
    ProductLine,
    WeatherReading,
)
from logbook.records.reading.visible import the_one
from logbook.records.writing.loads import write_loads
from logbook.records.writing.saving import Refusals, Rows
from logbook.validators import FIRST_YEAR, LAST_YEAR

TENANT_REFERENCES: dict[str, type[models.Model]] = {
    "customer": Customer,
    "field": Field,
    "applicator": Person,
    "supervisor": Person,
    "rig": Rig,
    "nozzle_set": NozzleSet,
    "continues": ApplicationRecord,
}
PLAIN = (
    *(one.column for one in VALUES if not isinstance(one.kind, Instant)),
    *("statements", "amend_reason"),
)
"""Columns that are written as they come."""

MAX_LINES = 40
"""More products, loads or readings than this in one record is a slip, not a job."""


class Closed(Refused):
    """The record is signed or set aside: nothing is written into it."""


def begin_draft(*, actor: Actor, record_id: UUID) -> ApplicationRecord:
    """Return the empty draft with the id that the caller chose; asking twice makes one draft.

    Raises: NotAllowed; Conflict if the id is another business's.
    """
    actor.must(Right.DRAFT)
    record, _new = ApplicationRecord.objects.get_or_create(
        id=record_id,
        defaults={
            "business": actor.business,
            "time_zone": actor.business.time_zone,
            "created_by": actor.user,
        },
    )
    if record.business_id != actor.business.pk:
        raise Conflict(_("This id is taken; choose another."))
    return record


def save_draft(
    *, actor: Actor, record_id: UUID, revision: int, data: dict[str, Any]
) -> ApplicationRecord:
    """Return the draft with `data` written over it, one revision on.

    Args: data: column names to Python values (answers, aware or local naive datetimes, ids); the
    lists "products", "loads", "weather" and "crew" (ids of people) replace what stood there. A name
    that is absent keeps its value. A naive datetime is the clock on the wall at the field.
    What was taken over from another record counts so until its value changes or "confirmed" names
    it.
    Raises: NotAllowed; Refused if it is signed or not there; Conflict if it is no longer at
    `revision`; RefusedInput naming each path. Nothing is written then.
    """
    actor.must(Right.DRAFT)
    try:
        return _saved(actor, record_id, revision, data, Refusals())
    except IntegrityError:
        # The database holds the constraints of its tables; only when one of them refused is each
        # asked in turn, for its words and the path it is about.
        return _saved(actor, record_id, revision, data, Refusals(ask_constraints=True))


def _saved(
    actor: Actor, record_id: UUID, revision: int, data: dict[str, Any], errors: Refusals
) -> ApplicationRecord:
    rows = Rows(actor.business)
    with transaction.atomic():
        record = draft_for_change(actor=actor, record_id=record_id)
        if record.revision != revision:
            raise Conflict(
                _(
                    "This draft was changed elsewhere (now revision %(now)d, you had %(had)d). "
                    "Load it again; what you typed is still in your window."
                )
                % {"now": record.revision, "had": revision}
            )
        taken = _taken_over(record)
        _write_columns(rows, record, data, errors)
        record.carried = _still_carried(record, taken, data)
        errors.clean(record)
        if "finished_at" in errors:
            errors.pop("record", None)  # the table's own constraint says the same once more
        for path, why in refused_statements(record.statements).items():
            errors.add(path, why)
        lists: dict[str, Callable[[], None]] = {
            "products": lambda: _write_products(rows, record, data["products"], errors),
            "loads": lambda: write_loads(rows, record, data["loads"], errors),
            "weather": lambda: _write_weather(record, data["weather"], errors),
            "crew": lambda: _write_crew(rows, record, data["crew"], errors),
        }
        if "crew" not in data:
            _refuse_twice(record, errors)
        if errors:
            raise RefusedInput(errors)
        record.revision = F("revision") + 1
        record.save()
        for name, write in lists.items():
            if name not in data:
                continue
            if len(data[name]) > MAX_LINES:
                errors[name] = [
                    _("%(count)d lines are too many; at most %(most)d.")
                    % {"count": len(data[name]), "most": MAX_LINES}
                ]
            else:
                write()
        if "products" not in data:
            refresh_labels(record)
        if errors:
            raise RefusedInput(errors)
    record.refresh_from_db()
    return record


def draft_for_change(*, actor: Actor, record_id: UUID) -> ApplicationRecord:
    """Return the draft, locked.

    Raises: NotThere if there is none of that id in the business; Closed.
    """
    record = locked_record(actor=actor, record_id=record_id)
    if why := why_closed(record):
        raise Closed(why)
    return record


def locked_record(*, actor: Actor, record_id: UUID) -> ApplicationRecord:
    """Return the record, its row locked on databases that lock rows.

    Raises: NotThere if there is none of that id in the business.
    """
    rows = ApplicationRecord.objects.within(actor.business).select_for_update(of=("self",))
    # What a save reads of them: asked for at once, not one by one.
    rows = rows.select_related(
        "customer", "field__customer", "planting", "nozzle_set__rig", "applicator"
    )
    return the_one(rows.filter(id=record_id))


def why_closed(record: ApplicationRecord) -> str:
    """Return why nothing can be written into the record any more, "" where it can."""
    if record.signed_at:
        return _("This record is signed and sealed; begin an amendment to correct it.")
    if record.set_aside_at:
        return _("This draft is set aside; bring it back to go on with it.")
    return ""


def _taken_over(record: ApplicationRecord) -> dict[str, Any]:
    """Return what stands under each name that was taken over from another record."""
    found: dict[str, Any] = {}
    for name in record.carried:
        if name == "crew":
            found[name] = {str(member.person_id) for member in record.crew.all()}
        elif name == "products":
            found[name] = [
                (str(line.product_id), line.planned_rate, line.target)
                for line in record.products.all()
            ]
        else:
            found[name] = getattr(record, name)
    return found


def _still_carried(
    record: ApplicationRecord, taken: dict[str, Any], data: dict[str, Any]
) -> dict[str, Any]:
    """Return what was taken over and is neither changed by `data` nor confirmed in it."""
    confirmed = data.get("confirmed") or ()
    now: dict[str, Any] = {}
    for name, stood in taken.items():
        if name == "crew":
            now[name] = {str(one) for one in data["crew"]} if "crew" in data else stood
        elif name == "products" and "products" in data:
            now[name] = [
                (str(item.get("product")), item.get("planned_rate"), item.get("target") or "")
                for item in data["products"]
            ]
        else:
            now[name] = stood if name == "products" else getattr(record, name)
    return {
        name: source
        for name, source in record.carried.items()
        if name not in confirmed and now[name] == taken[name]
    }


def _write_columns(
    rows: Rows, record: ApplicationRecord, data: dict[str, Any], errors: Refusals
) -> None:
    stood_on, stood_for = record.field_id, record.customer_id
    for name, model in TENANT_REFERENCES.items():
        if name in data and str(data[name]) != str(getattr(record, f"{name}_id")):
            setattr(record, name, rows.find(model, data[name], name, errors))
    moved = record.field_id != stood_on
    if moved:
        record.planting = None  # the crop of another field
    if "planting" in data and str(data["planting"]) != str(record.planting_id):
        record.planting = rows.find(Planting, data["planting"], "planting", errors)
    for name in PLAIN:
        if name in data:
            setattr(record, name, data[name])
    if record.nozzle_set and not data.get("rig"):
        record.rig = record.nozzle_set.rig
    if record.field:
        record.time_zone = record.field.time_zone
        # The field says for whom the work is, on the day it is chosen; a field that is sold later
        # takes no record with it.
        if record.customer is None or (moved and not data.get("customer")):
            record.customer = record.field.customer
        chosen = moved or record.customer_id != stood_for
        if chosen and record.customer_id != record.field.customer_id:
            errors.add(
                "field",
                _("%(field)s is not a field of %(customer)s.")
                % {"field": record.field, "customer": record.customer},
            )
    zone = zoneinfo.ZoneInfo(record.time_zone)
    if "started_at" in data:
        # A job is resumed after it was broken off, also in the hour that the clocks repeat.
        broken_off = record.continues.finished_at if record.continues else None
        record.started_at = at_field(
            data["started_at"], zone, "started_at", errors, not_before=broken_off
        )
    if "finished_at" in data:
        record.finished_at = at_field(
            data["finished_at"], zone, "finished_at", errors, not_before=record.started_at
        )
    if _ends_before_it_starts(record):
        errors.add("finished_at", _("The spraying cannot end before it starts."))


def _ends_before_it_starts(record: ApplicationRecord) -> bool:
    # Two times of one zone compare by the clock on the wall, which is wrong in a repeated hour.
    return bool(
        record.started_at
        and record.finished_at
        and _utc(record.finished_at) < _utc(record.started_at)
    )


def at_field(
    given: datetime | None,
    zone: zoneinfo.ZoneInfo,
    path: str,
    errors: dict[str, list[str]],
    *,
    not_before: datetime | None = None,
) -> datetime | None:
    """Return the instant that a clock at the field showed as `given`; one with a zone stays."""
    if given is None:
        return None
    if not _possible(given, zone):
        errors.setdefault(path, []).append(
            _(
                "%(given)s is not possible; the year must be %(first)d to %(last)d, at the field "
                "and in UTC."
            )
            % {"given": _clock(given), "first": FIRST_YEAR, "last": LAST_YEAR}
        )
        return None
    if given.tzinfo is not None:
        return given
    instant = given.replace(tzinfo=zone, fold=0)
    back = instant.astimezone(zoneinfo.ZoneInfo("UTC")).astimezone(zone)
    if back.replace(tzinfo=None) != given:
        errors.setdefault(path, []).append(
            _("%(given)s does not exist in %(zone)s: the clocks went forward then.")
            % {"given": _clock(given), "zone": zone.key}
        )
        return None
    later = given.replace(tzinfo=zone, fold=1)
    # In the hour that the clocks repeat, what comes before `not_before` means the second pass.
    if not_before and _utc(instant) < _utc(not_before) <= _utc(later):
        return later
    return instant


def _possible(given: datetime, zone: zoneinfo.ZoneInfo) -> bool:
    """Return whether the year is taken as written, as stored (UTC) and as the form shows it."""
    if not FIRST_YEAR <= given.year <= LAST_YEAR:
        return False
    instant = given if given.tzinfo else given.replace(tzinfo=zone)
    read = (_utc(instant), instant.astimezone(zone))
    return all(FIRST_YEAR <= one.year <= LAST_YEAR for one in read)


def _clock(given: datetime) -> str:
    return f"{format_day(given.date())} {clock_time(given)}"


def _utc(instant: datetime) -> datetime:
    return instant.astimezone(zoneinfo.ZoneInfo("UTC"))


def _labels_in_force(products: Iterable[Product], day: date | None) -> dict[UUID, LabelEdition]:
    """Return, by product, the newest edition in force on the day (of all while no day is given)."""
    editions = LabelEdition.objects.filter(product__in=list(products)).order_by(
        "in_force_from", "created_at"
    )
    if day:
        editions = editions.filter(in_force_from__lte=day).exclude(in_force_to__lt=day)
    return {edition.product_id: edition for edition in editions}


def refresh_labels(record: ApplicationRecord) -> None:
    """A draft moved to another day stands under the edition of that day."""
    lines = list(record.products.select_related("product", "label"))
    labels = _labels_in_force((line.product for line in lines), record.day)
    for line in lines:
        label = labels.get(line.product_id)
        if line.label != label:
            line.label = label
            line.save(update_fields=["label"])


def _write_products(
    rows: Rows, record: ApplicationRecord, given: list[dict[str, Any]], errors: Refusals
) -> None:
    rows.fetch(Product, (item.get("product") for item in given))
    lines: list[ProductLine] = []
    for place, item in enumerate(given):
        path = f"products.{place}."
        product = rows.find(Product, item.get("product"), f"{path}product", errors)
        if product is None:
            errors.setdefault(f"{path}product", [_("Choose the product.")])
            continue
        if any(line.product_id == product.pk for line in lines):
            errors.add(f"{path}product", _("%(product)s is there twice.") % {"product": product})
        line = ProductLine(
            record=record,
            position=place,
            product=product,
            **{name: item[name] for name in columns_of(ProductFacts) if item.get(name) is not None},
        )
        errors.clean(line, path)
        lines.append(line)
    labels = _labels_in_force((line.product for line in lines), record.day)
    for line in lines:
        line.label = labels.get(line.product_id)
    names = ("position", "product_id", "label_id", *columns_of(ProductFacts))
    _replace(record.products.all(), lines, names, errors)


def _replace(
    standing: models.QuerySet[Any], rows: list[Any], names: tuple[str, ...], errors: Refusals
) -> None:
    """Write the rows in the place of those that stand, unless they say the same to the last digit.

    A page that saves while a person types sends every list with every letter.
    """

    def said(row: Any) -> str:
        values = [getattr(row, name) for name in names]
        return repr([_utc(one) if isinstance(one, datetime) else one for one in values])

    if not errors and [said(row) for row in standing] != [said(row) for row in rows]:
        standing.delete()
        standing.model._default_manager.bulk_create(rows)


def _write_crew(rows: Rows, record: ApplicationRecord, given: list[Any], errors: Refusals) -> None:
    rows.fetch(Person, given)
    people: dict[Any, Person] = {}
    for place, person_id in enumerate(given):
        path = f"crew.{place}"
        person = rows.find(Person, person_id, path, errors)
        if person is None:
            errors.setdefault(path, [_("Choose the person.")])
        elif person.pk in people or person.pk in (record.applicator_id, record.supervisor_id):
            errors[path] = [_("%(person)s is named twice in this record.") % {"person": person}]
        else:
            people[person.pk] = person
    members = [CrewMember(record=record, person=person) for person in people.values()]
    _replace(record.crew.all(), members, ("person_id",), errors)


def _refuse_twice(record: ApplicationRecord, errors: Refusals) -> None:
    """Note who is to spray or supervise and stands in the crew already."""
    crew = set(record.crew.values_list("person_id", flat=True))
    for name in ("applicator", "supervisor"):
        if getattr(record, f"{name}_id") in crew:
            person = {"person": getattr(record, name)}
            errors.add(name, _("%(person)s is named twice in this record.") % person)


def _write_weather(
    record: ApplicationRecord, given: list[dict[str, Any]], errors: Refusals
) -> None:
    readings = [
        _reading(record, item, f"weather.{place}.", errors) for place, item in enumerate(given)
    ]
    _replace(record.weather.all(), readings, columns_of(WeatherFacts), errors)


def _reading(
    record: ApplicationRecord, item: dict[str, Any], path: str, errors: Refusals
) -> WeatherReading:
    zone = zoneinfo.ZoneInfo(record.time_zone)
    # Blank is refused by `clean` below, which names it.
    read_at: Any = at_field(item.get("read_at"), zone, f"{path}read_at", errors)
    reading = WeatherReading(
        record=record,
        read_at=read_at,
        **{
            name: item[name]
            for name in columns_of(WeatherFacts)
            if name in item and name != "read_at"
        },
    )
    errors.clean(reading, path)
    return reading


def add_reading(*, actor: Actor, record_id: UUID, data: dict[str, Any]) -> ApplicationRecord:
    """Return the draft with one weather reading more, one revision on.

    It is added to whatever stands, so no revision is asked for; one that stands there already, to
    the instant and in every value, is not added twice.
    Raises: NotAllowed; Refused if it is signed, set aside or not there; RefusedInput.
    """
    actor.must(Right.DRAFT)
    with transaction.atomic():
        record = draft_for_change(actor=actor, record_id=record_id)
        errors = Refusals(ask_constraints=True)
        reading = _reading(record, data, "", errors)
        standing = list(record.weather.all())
        if len(standing) >= MAX_LINES:
            said = _("A record takes at most %(most)d readings.") % {"most": MAX_LINES}
            errors.add("read_at", said)
        if errors:
            raise RefusedInput(errors)
        names = columns_of(WeatherFacts)
        if any(all(getattr(one, n) == getattr(reading, n) for n in names) for one in standing):
            return record
        reading.save()
        record.revision = F("revision") + 1
        record.save(update_fields=["revision", "updated_at"])
    record.refresh_from_db()
    return record
