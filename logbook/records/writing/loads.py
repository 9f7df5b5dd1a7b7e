"""The loads of a draft: what was mixed, of what, and what of it went on the field."""

from __future__ import annotations

from typing import Any

from django.db.models import F, Max
from django.utils.translation import gettext as _

from logbook.catalog.models import Product
from logbook.localization.locale import format_value
from logbook.records.models import ApplicationRecord, Load, LoadPart, LoadUse
from logbook.records.writing.saving import Refusals, Rows


def write_loads(
    rows: Rows, record: ApplicationRecord, given: list[dict[str, Any]], errors: Refusals
) -> None:
    """Write the loads and what of each went on this field.

    A load that serves several records belongs to the one that mixed it: the others take from it,
    and what they say of its volume or products is refused where it differs, never written over it.
    """
    uses = record.load_uses.select_related("load").prefetch_related("load__parts")
    standing = {use.load_id: use for use in uses}
    # Signing reads the loads; between its reading and its end nobody may change them.
    rows.fetch(Load, (item.get("load") for item in given), lock=True)
    parts_named = [part for item in given for part in item.get("parts") or []]
    rows.fetch(Product, (part.get("product") for part in parts_named))
    used: set[Any] = set()
    for place, item in enumerate(given):
        path = f"loads.{place}."
        load = _named_load(rows, record, item, path, errors)
        if load.pk not in standing and load.rig_id != record.rig_id:
            errors.add(f"{path}load", _("This load was in another rig's tank."))
        if load.pk in used:
            errors.add(f"{path}load", _("This load is there twice."))
        used.add(load.pk)
        use = standing.get(load.pk) or LoadUse(record=record, load=load)
        stood = repr((use.order, use.used))
        use.order = item.get("order") or (use.order if use.pk else _next_place(record, load))
        use.used = item.get("used")
        errors.clean(use, path)
        parts = _parts(rows, load, item, path, errors)
        mixed_anew = load.pk not in standing or _mixed_anew(record, use.load, item, parts)
        held_by = _held_by(load, use) if mixed_anew else None
        if held_by:
            _refuse_to_rewrite(load, item, parts, held_by, path, errors)
        elif mixed_anew:
            _mix(record, load, item, path, errors)
        if errors:
            continue
        if mixed_anew and not held_by:
            load.save()
            _write_parts(load, parts)
            _tell_others(load, record)
        if use.pk is None or stood != repr((use.order, use.used)):
            use.save()
    if errors:
        return
    for load_id in standing.keys() - used:
        standing[load_id].delete()
        # A load that no other record uses goes with the line that brought it.
        if not LoadUse.objects.filter(load_id=load_id).exists():
            Load.objects.filter(pk=load_id).delete()


def _mixed_anew(
    record: ApplicationRecord,
    load: Load,
    item: dict[str, Any],
    parts: dict[Any, LoadPart | None],
) -> bool:
    """Return whether the item says of the load anything else than what stands, to the digit."""
    stands = {part.product_id: repr(part.amount) for part in load.parts.all()}
    return (
        load.rig_id != record.rig_id
        or repr(item.get("mixed_volume", load.mixed_volume)) != repr(load.mixed_volume)
        or any(
            stands.get(product_id) != (repr(part.amount) if part else None)
            for product_id, part in parts.items()
        )
    )


def _named_load(
    rows: Rows, record: ApplicationRecord, item: dict[str, Any], path: str, errors: Refusals
) -> Load:
    """Return the load that the item names, its row locked, or a new one."""
    found: Load | None = rows.find(Load, item.get("load"), f"{path}load", errors)
    return found or Load(business=rows.business, rig=record.rig)


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
    errors: Refusals,
) -> None:
    load.rig = record.rig
    if "mixed_volume" in item or load._state.adding:
        load.mixed_volume = item.get("mixed_volume")
    if load.mixed_volume is None:
        errors.add(f"{path}mixed_volume", _("Enter the volume mixed."))
    errors.clean(load, path)


def _refuse_to_rewrite(
    load: Load,
    item: dict[str, Any],
    parts: dict[Any, LoadPart | None],
    held_by: LoadUse,
    path: str,
    errors: Refusals,
) -> None:
    where = _("with a signed record")
    if not held_by.record.signed_at:
        where = _("on %(field)s") % {"field": held_by.record.field}
    if item.get("mixed_volume") not in (None, load.mixed_volume):
        errors.add(
            f"{path}mixed_volume",
            _("This load stands %(where)s as %(volume)s; it cannot change here.")
            % {"where": where, "volume": format_value(load.mixed_volume)},
        )
    mixed = {part.product_id: part.amount for part in load.parts.all()}
    for product_id, part in parts.items():
        stands = mixed.get(product_id)
        if (part.amount if part else None) != stands:
            errors.add(
                f"{path}load",
                _(
                    "This load stands %(where)s with %(stands)s of a product for which %(said)s "
                    "is said here; it cannot change here."
                )
                % {
                    "where": where,
                    "stands": format_value(stands) if stands else _("nothing"),
                    "said": format_value(part.amount) if part else _("nothing"),
                },
            )


def _parts(
    rows: Rows, load: Load, item: dict[str, Any], path: str, errors: Refusals
) -> dict[Any, LoadPart | None]:
    """Return what is said of each product named; None takes it out, a product not named stays."""
    said: dict[Any, LoadPart | None] = {}
    for place, given in enumerate(item.get("parts") or []):
        part_path = f"{path}parts.{place}."
        product = rows.find(Product, given.get("product"), f"{part_path}product", errors)
        if product is None:
            errors.setdefault(f"{part_path}product", [_("Choose the product.")])
            continue
        if given.get("amount") is None:
            said.setdefault(product.pk, None)
            continue
        part = LoadPart(load=load, product=product, amount=given["amount"])
        errors.clean(part, part_path)
        if said.get(product.pk):
            errors.add(
                f"{part_path}product", _("%(product)s is there twice.") % {"product": product}
            )
        said[product.pk] = part
    return said


def _write_parts(load: Load, said: dict[Any, LoadPart | None]) -> None:
    load.parts.filter(product_id__in=list(said)).delete()
    LoadPart.objects.bulk_create(part for part in said.values() if part)


def _tell_others(load: Load, record: ApplicationRecord) -> None:
    """Move on the revision of the other drafts on the load: what they were shown has changed."""
    others = ApplicationRecord.objects.filter(load_uses__load=load, signed_at__isnull=True)
    others.exclude(pk=record.pk).update(revision=F("revision") + 1)
