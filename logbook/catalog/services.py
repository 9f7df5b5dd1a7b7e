"""Changing the shelf: customers, fields, products with labels, nozzles, rigs, catch tests."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from logbook.catalog import models
from logbook.tenancy.models import TenantModel
from logbook.tenancy.rows import Shape, save_row

SHELVES: dict[str, Shape] = {
    "customers": Shape(model=models.Customer),
    "fields": Shape(
        model=models.Field,
        children={"locations": models.FieldLocation, "plantings": models.Planting},
    ),
    "places": Shape(model=models.SensitivePlace),
    "products": Shape(model=models.Product),
    "labels": Shape(
        model=models.LabelEdition,
        children={
            "ingredients": models.Ingredient,
            "asks": models.LabelAsk,
            "deadlines": models.LabelDeadline,
        },
    ),
    "nozzles": Shape(model=models.NozzleModel, children={"class_rows": models.NozzleClassRow}),
    "rigs": Shape(model=models.Rig),
    "nozzle-sets": Shape(model=models.NozzleSet),
    "catch-tests": Shape(model=models.CatchTest),
}


def save_on_shelf(
    *,
    business: Any,
    shelf: str,
    row_id: UUID,
    data: dict[str, Any],
    create: bool = True,
    seen: str | None = None,
) -> TenantModel:
    """Return the saved row of the named shelf; see `tenancy.rows.save_row` for what is raised.

    The caller has asked for the right to change the shelf: roles live in accounts, not here.
    """
    return save_row(
        shape=SHELVES[shelf],
        business=business,
        row_id=row_id,
        data=data,
        create=create,
        seen=seen,
    )
