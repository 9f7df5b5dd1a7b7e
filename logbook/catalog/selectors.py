"""Every list and look-up of the shelf."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.db.models import (
    Case,
    IntegerChoices,
    IntegerField,
    Max,
    OuterRef,
    Prefetch,
    Q,
    QuerySet,
    Subquery,
    When,
)
from django.utils.translation import gettext as _

from logbook.catalog import models
from logbook.catalog.services import SHELVES
from logbook.errors.exceptions import NotThere


def begun_with(*, business: Any, shelf: str) -> dict[str, Any]:
    """Return what a page lets a new row of the shelf begin with, for the person to look at.

    A field begins in the place that all fields of the business are in; where there are several,
    whoever works on both sides of a border chooses, for the law of the place decides. A sheet has
    nobody who looks: there a blank place is refused.
    """
    if shelf != "fields":
        return {}
    places = models.Field.objects.within(business).order_by().values_list("place", flat=True)
    found = list(places.distinct()[:2])
    return {"place": found[0]} if len(found) == 1 else {}


_SEARCHED = {
    "customers": ("name", "address"),
    "fields": ("name", "customer__name"),
    "places": ("name", "note"),
    "products": ("name", "registration_number"),
    "labels": ("product__name", "edition"),
    "nozzles": ("name",),
    "rigs": ("name", "plate"),
    "nozzle-sets": ("nozzle__name", "rig__name"),
    "catch-tests": ("nozzle_set__nozzle__name", "nozzle_set__rig__name", "tested_by"),
}
_JOINED = {
    "fields": ("customer",),
    "labels": ("product",),
    "nozzle-sets": ("nozzle", "rig"),
    "catch-tests": ("nozzle_set__nozzle", "nozzle_set__rig"),
}


def on_shelf(*, business: Any, shelf: str, search: str = "") -> QuerySet[Any]:
    """Return the rows of a shelf in its order, with what hangs on them, narrowed by `search`."""
    rows = SHELVES[shelf].model.objects.within(business)
    rows = rows.select_related(*_JOINED.get(shelf, ()))
    rows = rows.prefetch_related(*SHELVES[shelf].children)
    if shelf == "products":
        editions = models.LabelEdition.objects.prefetch_related("ingredients", "asks", "deadlines")
        rows = rows.prefetch_related(Prefetch("editions", editions))
    if search:
        wanted = Q()
        for column in _SEARCHED[shelf]:
            wanted |= Q(**{f"{column}__icontains": search})
        rows = rows.filter(wanted)
    return rows


def from_shelf(*, business: Any, shelf: str, row_id: UUID) -> Any:
    """Return one row of a shelf.

    Raises: Refused if the business has none of that id.
    """
    row = on_shelf(business=business, shelf=shelf).filter(pk=row_id).first()
    if row is None:
        raise NotThere(_("There is no such %(noun)s.") % {"noun": SHELVES[shelf].noun})
    return row


class Standing(IntegerChoices):
    """How a label edition stands on a day; the order in which they are offered."""

    IN_FORCE = 0
    NOT_YET = 1
    NO_LONGER = 2


def labels_by_standing(*, business: Any, today: date) -> QuerySet[models.LabelEdition]:
    """Return the label editions, each with its `standing` today; those no longer in force last.

    Of a product one edition is in force: the newest that has begun and not ended.
    """
    begun = models.LabelEdition.objects.filter(
        product=OuterRef("product"), in_force_from__lte=today
    )
    newest = begun.exclude(in_force_to__lt=today).order_by("-in_force_from", "-created_at")
    rows: QuerySet[models.LabelEdition] = models.LabelEdition.objects.within(business)
    standing = Case(
        When(pk=Subquery(newest.values("pk")[:1]), then=Standing.IN_FORCE),
        When(in_force_from__gt=today, then=Standing.NOT_YET),
        default=Standing.NO_LONGER,
        output_field=IntegerField(),
    )
    return (
        rows.select_related("product")
        .annotate(standing=standing)
        .order_by("standing", "product__name", "-in_force_from", "-created_at")
    )


def places_of_fields(*, business: Any) -> list[str]:
    """Return the ISO 3166-2 codes of the states in which fields lie."""
    rows = models.Field.objects.within(business).order_by("place")
    return list(rows.values_list("place", flat=True).distinct())


def plantings_of(*, business: Any, field_id: UUID) -> QuerySet[models.Planting]:
    """Return the plantings of a field, the newest season first."""
    return models.Planting.objects.filter(field__business=business, field_id=field_id)


@dataclass(frozen=True, kw_only=True)
class StaleNozzles:
    """Mounted nozzles whose last catch test no longer holds, or that have none."""

    nozzle_set: models.NozzleSet
    last_test: date | None


def mounted_sets(*, business: Any, today: date, rig_id: UUID | None = None) -> dict[Any, list[Any]]:
    """Return the nozzle sets mounted today by the id of their model, on one rig or on all."""
    rows = models.NozzleSet.objects.within(business).select_related("rig", "nozzle")
    rows = rows.filter(Q(removed_on__isnull=True) | Q(removed_on__gt=today), mounted_on__lte=today)
    if rig_id:
        rows = rows.filter(rig_id=rig_id)
    found: dict[Any, list[Any]] = {}
    for row in rows:
        found.setdefault(row.nozzle_id, []).append(row)
    return found


def stale_catch_tests(*, business: Any, today: date) -> list[StaleNozzles]:
    """Return the mounted nozzles whose catch test is older than the business lets one hold."""
    mounted = (
        models.NozzleSet.objects.within(business)
        .filter(Q(removed_on__isnull=True) | Q(removed_on__gt=today))
        .select_related("nozzle", "rig")
        .annotate(last_test=Max("catch_tests__tested_on"))
    )
    oldest = today - timedelta(days=business.catch_test_max_days)
    return [
        StaleNozzles(nozzle_set=row, last_test=row.last_test)
        for row in mounted
        if row.last_test is None or row.last_test < oldest
    ]
