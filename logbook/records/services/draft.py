"""Writing a draft: begin it, save it. Input that cannot be taken is refused whole, by path."""

from __future__ import annotations

import zoneinfo
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.db.models import F, Max
from django.utils.translation import gettext as _

from logbook.accounts.models import Person
from logbook.accounts.rights import Actor, Right
from logbook.base.locale import clock, day, shown, word
from logbook.base.refusals import Conflict, NotThere, Refused, RefusedInput
from logbook.catalog.models import Customer, Field, LabelEdition, NozzleSet, Planting, Product, Rig
from logbook.records.models import (
    ApplicationRecord,
    CrewMember,
    Load,
    LoadPart,
    LoadUse,
    ProductLine,
    WeatherReading,
)
from logbook.rules.duties.elements import refused_statements
from logbook.rules.quantity import Absence, Nothing
from logbook.rules.said import marked

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
    "growth_stage",
    "purpose",
    "pattern",
    "band_width",
    "row_spacing",
    "nozzles_per_row",
    "treated_area",
    "planned_carrier",
    "pressure",
    "speed",
    "boom_height",
    "duty",
    "density",
    "distance",
    "mix_used",
    "note",
    "statements",
    "amend_reason",
)
WEATHER = (
    "height",
    "wind_from",
    "wind_speed",
    "gust",
    "temperature",
    "humidity",
    "cloud",
    "signs",
)
NAMES = (
    marked("customer"),
    marked("field"),
    marked("person"),
    marked("rig"),
    marked("nozzle set"),
    marked("application record"),
    marked("planting"),
    marked("product"),
    marked("load"),
)
"""What a refusal calls the rows that a draft names."""

FIRST_YEAR, LAST_YEAR = 1990, 2200
MOST_LINES = 40
"""More products, loads or readings than this in one record is a slip, not a job."""


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
            # The plain rig: water as the carrier, no pulse-width valves. Both stand in the form.
            "density": Nothing(Absence.NOT_APPLICABLE),
            "duty": Nothing(Absence.NOT_APPLICABLE),
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
        errors: dict[str, list[str]] = {}
        taken = _taken_over(record)
        _write_columns(actor, record, data, errors)
        record.carried = _still_carried(record, taken, data)
        with _collecting(errors):
            record.full_clean(validate_unique=False)
        if "finished_at" in errors:
            errors.pop("record", None)  # the table's own constraint says the same once more
        for path, why in refused_statements(record.statements).items():
            errors.setdefault(path, []).append(why)
        lists: dict[str, Callable[[], None]] = {
            "products": lambda: _write_products(actor, record, data["products"], errors),
            "loads": lambda: _write_loads(actor, record, data["loads"], errors),
            "weather": lambda: _write_weather(record, data["weather"], errors),
            "crew": lambda: _write_crew(actor, record, data["crew"], errors),
        }
        if errors:
            raise RefusedInput(errors)
        record.revision = F("revision") + 1
        record.save()
        for name, write in lists.items():
            if name not in data:
                continue
            if len(data[name]) > MOST_LINES:
                errors[name] = [
                    _("%(count)d lines are too many; at most %(most)d.")
                    % {"count": len(data[name]), "most": MOST_LINES}
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
    """Return the draft, its row locked on databases that lock rows.

    Raises: Refused if there is none of that id in the business, or it is signed or set aside.
    """
    record: ApplicationRecord | None = (
        ApplicationRecord.objects.within(actor.business)
        .select_for_update(of=("self",))
        .filter(id=record_id)
        .first()
    )
    if record is None:
        raise NotThere(_("There is no such record."))
    if record.signed_at:
        raise Refused(_("This record is signed and sealed; begin an amendment to correct it."))
    if record.set_aside_at:
        raise Refused(_("This draft is set aside; bring it back to go on with it."))
    return record


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


@contextmanager
def _collecting(errors: dict[str, list[str]], prefix: str = "") -> Iterator[None]:
    """Turn Django's ValidationError into errors by path."""
    try:
        yield
    except ValidationError as bad:
        by_name = bad.message_dict if hasattr(bad, "error_dict") else {"__all__": bad.messages}
        for name, texts in by_name.items():
            path = f"{prefix}{name}" if name != "__all__" else prefix.rstrip(".") or "record"
            errors.setdefault(path, []).extend(texts)


def _find(
    business: Any, model: Any, given: Any, path: str, errors: dict[str, list[str]]
) -> Any | None:
    """Return the row of the business that `given` names, or note that there is none."""
    if given in (None, ""):
        return None
    rows = model.objects.all()
    if hasattr(rows, "within"):
        rows = rows.within(business)
    elif model is Planting:
        rows = rows.filter(field__business=business)
    try:
        row = rows.filter(pk=given).first()
    except (ValueError, ValidationError):
        row = None
    if row is None:
        what = {"what": word(str(model._meta.verbose_name)), "given": given}
        errors.setdefault(path, []).append(_("There is no such %(what)s: %(given)s.") % what)
    return row


def _write_columns(
    actor: Actor, record: ApplicationRecord, data: dict[str, Any], errors: dict[str, list[str]]
) -> None:
    stood_on = record.field_id
    for name, model in TENANT_REFERENCES.items():
        if name in data:
            setattr(record, name, _find(actor.business, model, data[name], name, errors))
    moved = record.field_id != stood_on
    if moved:
        record.planting = None  # the crop of another field
    if "planting" in data:
        record.planting = _find(actor.business, Planting, data["planting"], "planting", errors)
    for name in PLAIN:
        if name in data:
            setattr(record, name, data[name])
    if record.nozzle_set and not data.get("rig"):
        record.rig = record.nozzle_set.rig
    if record.field:
        record.time_zone = record.field.time_zone
        # The field says for whom the work is, on the day it is chosen; a field that is sold later
        # takes no record with it.
        if moved or record.customer is None:
            record.customer = record.field.customer
        if data.get("customer") and record.customer_id != record.field.customer_id:
            errors.setdefault("field", []).append(
                _("%(field)s is not a field of %(customer)s.")
                % {"field": record.field, "customer": record.customer}
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
        errors.setdefault("finished_at", []).append(_("The spraying cannot end before it starts."))


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
    if not FIRST_YEAR <= given.year <= LAST_YEAR:
        errors.setdefault(path, []).append(
            _("%(given)s is not possible; the year must be %(first)d to %(last)d.")
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


def _clock(given: datetime) -> str:
    return f"{day(given.date())} {clock(given)}"


def _utc(instant: datetime) -> datetime:
    return instant.astimezone(zoneinfo.ZoneInfo("UTC"))


def _local_day(record: ApplicationRecord) -> date | None:
    instant = record.finished_at or record.started_at
    return instant.astimezone(zoneinfo.ZoneInfo(record.time_zone)).date() if instant else None


def _label_in_force(product: Product, day: date | None) -> LabelEdition | None:
    """Return the newest edition in force on the day (the newest of all while no day is given)."""
    editions = LabelEdition.objects.filter(product=product).order_by(
        "-in_force_from", "-created_at"
    )
    if day:
        editions = editions.filter(in_force_from__lte=day).exclude(in_force_to__lt=day)
    return editions.first()


def refresh_labels(record: ApplicationRecord) -> None:
    """A draft moved to another day stands under the edition of that day."""
    for line in record.products.select_related("product"):
        label = _label_in_force(line.product, _local_day(record))
        if line.label != label:
            line.label = label
            line.save(update_fields=["label"])


def _write_products(
    actor: Actor,
    record: ApplicationRecord,
    given: list[dict[str, Any]],
    errors: dict[str, list[str]],
) -> None:
    record.products.all().delete()
    lines, seen = [], set()
    for place, item in enumerate(given):
        path = f"products.{place}."
        product = _find(actor.business, Product, item.get("product"), f"{path}product", errors)
        if product is None:
            errors.setdefault(f"{path}product", [_("Choose the product.")])
            continue
        if product.pk in seen:
            errors.setdefault(f"{path}product", []).append(
                _("%(product)s is there twice.") % {"product": product}
            )
        seen.add(product.pk)
        line = ProductLine(
            record=record,
            position=place,
            product=product,
            label=_label_in_force(product, _local_day(record)),
            planned_rate=item.get("planned_rate"),
            total_used=item.get("total_used"),
            target=item.get("target") or "",
        )
        with _collecting(errors, path):
            line.full_clean(exclude=["record", "product", "label"], validate_unique=False)
        lines.append(line)
    if not errors:
        ProductLine.objects.bulk_create(lines)


def _write_crew(
    actor: Actor, record: ApplicationRecord, given: list[Any], errors: dict[str, list[str]]
) -> None:
    record.crew.all().delete()
    people: dict[Any, Person] = {}
    for place, person_id in enumerate(given):
        path = f"crew.{place}"
        person = _find(actor.business, Person, person_id, path, errors)
        if person is None:
            errors.setdefault(path, [_("Choose the person.")])
        elif person.pk in people or person.pk in (record.applicator_id, record.supervisor_id):
            errors[path] = [_("%(person)s is named twice in this record.") % {"person": person}]
        else:
            people[person.pk] = person
    if not errors:
        CrewMember.objects.bulk_create(
            CrewMember(record=record, person=person) for person in people.values()
        )


def _write_loads(
    actor: Actor,
    record: ApplicationRecord,
    given: list[dict[str, Any]],
    errors: dict[str, list[str]],
) -> None:
    """Write the loads and what of each went on this field.

    A load that serves several records belongs to the one that mixed it: the others take from it,
    and what they say of its volume or products is refused where it differs, never written over it.
    """
    standing = {use.load_id: use for use in record.load_uses.select_related("load")}
    used: set[Any] = set()
    for place, item in enumerate(given):
        path = f"loads.{place}."
        load = _named_load(actor, record, item, path, errors)
        if load.pk not in standing and load.rig_id != record.rig_id:
            errors.setdefault(f"{path}load", []).append(_("This load was in another rig's tank."))
        if load.pk in used:
            errors.setdefault(f"{path}load", []).append(_("This load is there twice."))
        used.add(load.pk)
        use = standing.get(load.pk) or LoadUse(record=record, load=load)
        use.order = item.get("order") or (use.order if use.pk else _next_place(record, load))
        use.used = item.get("used")
        with _collecting(errors, path):
            use.full_clean(exclude=["record", "load"], validate_unique=False)
        parts = _parts(actor, load, item, path, errors)
        held_by = _held_by(load, use)
        if held_by:
            _refuse_to_rewrite(load, item, parts, held_by, path, errors)
        else:
            _mix(record, load, item, path, errors)
        if errors:
            continue
        if not held_by:
            load.save()
            _write_parts(load, parts)
            _tell_others(load, record)
        use.save()
    if errors:
        return
    for load_id in standing.keys() - used:
        standing[load_id].delete()
        # A load that no other record uses goes with the line that brought it.
        if not LoadUse.objects.filter(load_id=load_id).exists():
            Load.objects.filter(pk=load_id).delete()


def _named_load(
    actor: Actor,
    record: ApplicationRecord,
    item: dict[str, Any],
    path: str,
    errors: dict[str, list[str]],
) -> Load:
    """Return the load that the item names, its row locked, or a new one."""
    if not item.get("load"):
        return Load(business=actor.business, rig=record.rig)
    found: Load | None = _find(actor.business, Load, item["load"], f"{path}load", errors)
    if found is None:
        return Load(business=actor.business, rig=record.rig)
    # Signing reads the load; between its reading and its end nobody may change it.
    locked: Load = Load.objects.select_for_update().get(pk=found.pk)
    return locked


def _next_place(record: ApplicationRecord, load: Load) -> int:
    """Return the next free place in the order of the load's fields.

    Two records may hold the same place while they are written: whoever changes the order of two
    fields passes through it. What stands so at the end is a finding, never a refusal.
    """
    others = LoadUse.objects.filter(load_id=load.pk, record__set_aside_at__isnull=True)
    if record.field_id:
        # A job that goes on the next day is the same field once more.
        others = others.exclude(record__field_id=record.field_id)
    return (others.aggregate(last=Max("order"))["last"] or 0) + 1


def _held_by(load: Load, use: LoadUse) -> LoadUse | None:
    """Return the other record's use that keeps this one from changing the load, if there is one."""
    others = LoadUse.objects.filter(load_id=load.pk, record__set_aside_at__isnull=True)
    others = others.exclude(record_id=use.record_id)
    signed = others.filter(record__signed_at__isnull=False).first()
    earlier = others.filter(pk__lt=use.pk) if use.pk else others
    return signed or earlier.select_related("record__field").order_by("pk").first()


def _mix(
    record: ApplicationRecord,
    load: Load,
    item: dict[str, Any],
    path: str,
    errors: dict[str, list[str]],
) -> None:
    load.rig = record.rig
    if "mixed_volume" in item or load._state.adding:
        load.mixed_volume = item.get("mixed_volume")
    if load.mixed_volume is None:
        errors.setdefault(f"{path}mixed_volume", []).append(_("Enter the volume mixed."))
    with _collecting(errors, path):
        load.full_clean(exclude=["business"], validate_unique=False)


def _refuse_to_rewrite(
    load: Load,
    item: dict[str, Any],
    parts: dict[Any, LoadPart | None],
    held_by: LoadUse,
    path: str,
    errors: dict[str, list[str]],
) -> None:
    where = _("with a signed record")
    if not held_by.record.signed_at:
        where = _("on %(field)s") % {"field": held_by.record.field}
    if item.get("mixed_volume") not in (None, load.mixed_volume):
        errors.setdefault(f"{path}mixed_volume", []).append(
            _("This load stands %(where)s as %(volume)s; it cannot change here.")
            % {"where": where, "volume": shown(load.mixed_volume)}
        )
    mixed = {part.product_id: part.amount for part in load.parts.all()}
    for product_id, part in parts.items():
        stands = mixed.get(product_id)
        if (part.amount if part else None) != stands:
            errors.setdefault(f"{path}load", []).append(
                _(
                    "This load stands %(where)s with %(stands)s of a product for which %(said)s "
                    "is said here; it cannot change here."
                )
                % {
                    "where": where,
                    "stands": shown(stands) if stands else _("nothing"),
                    "said": shown(part.amount) if part else _("nothing"),
                }
            )


def _parts(
    actor: Actor,
    load: Load,
    item: dict[str, Any],
    path: str,
    errors: dict[str, list[str]],
) -> dict[Any, LoadPart | None]:
    """Return what is said of each product named; None takes it out, a product not named stays."""
    said: dict[Any, LoadPart | None] = {}
    for place, given in enumerate(item.get("parts") or []):
        part_path = f"{path}parts.{place}."
        product = _find(
            actor.business, Product, given.get("product"), f"{part_path}product", errors
        )
        if product is None:
            errors.setdefault(f"{part_path}product", [_("Choose the product.")])
            continue
        if given.get("amount") is None:
            said.setdefault(product.pk, None)
            continue
        part = LoadPart(load=load, product=product, amount=given["amount"])
        with _collecting(errors, part_path):
            part.full_clean(exclude=["load", "product"], validate_unique=False)
        said[product.pk] = part
    return said


def _write_parts(load: Load, said: dict[Any, LoadPart | None]) -> None:
    load.parts.filter(product_id__in=list(said)).delete()
    LoadPart.objects.bulk_create(part for part in said.values() if part)


def _tell_others(load: Load, record: ApplicationRecord) -> None:
    """Move on the revision of the other drafts on the load: what they were shown has changed."""
    others = ApplicationRecord.objects.filter(load_uses__load=load, signed_at__isnull=True)
    others.exclude(pk=record.pk).update(revision=F("revision") + 1)


def _write_weather(
    record: ApplicationRecord, given: list[dict[str, Any]], errors: dict[str, list[str]]
) -> None:
    record.weather.all().delete()
    readings = [
        _reading(record, item, f"weather.{place}.", errors) for place, item in enumerate(given)
    ]
    if not errors:
        WeatherReading.objects.bulk_create(readings)


def _reading(
    record: ApplicationRecord, item: dict[str, Any], path: str, errors: dict[str, list[str]]
) -> WeatherReading:
    zone = zoneinfo.ZoneInfo(record.time_zone)
    # Blank is refused by full_clean below, which names it.
    read_at: Any = at_field(item.get("read_at"), zone, f"{path}read_at", errors)
    reading = WeatherReading(
        record=record, read_at=read_at, **{name: item[name] for name in WEATHER if name in item}
    )
    with _collecting(errors, path):
        reading.full_clean(exclude=["record"], validate_unique=False)
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
        errors: dict[str, list[str]] = {}
        reading = _reading(record, data, "", errors)
        standing = list(record.weather.all())
        if len(standing) >= MOST_LINES:
            said = _("A record takes at most %(most)d readings.") % {"most": MOST_LINES}
            errors.setdefault("read_at", []).append(said)
        if errors:
            raise RefusedInput(errors)
        names = ("read_at", *WEATHER)
        if any(all(getattr(one, n) == getattr(reading, n) for n in names) for one in standing):
            return record
        reading.save()
        record.revision = F("revision") + 1
        record.save(update_fields=["revision", "updated_at"])
    record.refresh_from_db()
    return record
