"""Saving one row of the shelf with the rows that hang on it: all of it, or nothing."""

from __future__ import annotations

import logging
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction
from django.db.models import ProtectedError

from logbook.base.refusals import Conflict, NotThere, Refused, RefusedInput
from logbook.base.tenancy import TenantModel

logger = logging.getLogger(__name__)


@dataclass(frozen=True, kw_only=True)
class Shape:
    """How a kind of row is saved: its model and the lists of rows that hang on it."""

    model: type[TenantModel]
    children: dict[str, type[models.Model]] = field(default_factory=dict)

    @property
    def noun(self) -> str:
        """What one is called in a sentence."""
        return str(self.model._meta.verbose_name)


def save_row(
    *, shape: Shape, business: Any, row_id: UUID, data: dict[str, Any], create: bool
) -> TenantModel:
    """Return the saved row. A list in `data` replaces what stood there; rows with an id are kept.

    Args: data: column names to Python values, references as ids; create: whether a row that is not
    there yet is made with this id (asking twice makes one row).
    Raises: Refused if there is no such row; RefusedInput naming each path. Nothing is written then.
    """
    errors: dict[str, list[str]] = {}
    try:
        with transaction.atomic():
            row = _row(shape, business, row_id, create)
            _fill(row, business, data, errors)
            _clean(row, errors, skip={"business"})
            if errors:
                raise RefusedInput(errors)
            row.save()
            for name, model in shape.children.items():
                if name in data:
                    _save_children(row, name, model, data[name], errors)
            if errors:
                raise RefusedInput(errors)
    except ProtectedError as bad:
        kept = next(iter(bad.protected_objects))
        raise Refused(f"It is used by a record ({kept}) and stays.") from None
    except IntegrityError as bad:
        logger.warning("The database refused a %s: %s", shape.noun, bad)
        raise Conflict(
            f"This {shape.noun} contradicts what is there already; load it again and look."
        ) from None
    return row


def _row(shape: Shape, business: Any, row_id: UUID, create: bool) -> TenantModel:
    row: TenantModel | None = shape.model.objects.within(business).filter(pk=row_id).first()
    if row is not None:
        return row
    if not create:
        raise NotThere(f"There is no such {shape.noun}.")
    if shape.model.objects.filter(pk=row_id).exists():
        raise Conflict("This id is taken; choose another.")
    return shape.model(id=row_id, business=business)


def _fill(
    row: models.Model, business: Any, data: dict[str, Any], errors: dict[str, list[str]]
) -> None:
    for column in row._meta.concrete_fields:
        if column.name not in data or not column.editable or column.name in ("id", "business"):
            continue
        value = data[column.name]
        if column.is_relation and value is not None and not isinstance(value, models.Model):
            value = _reference(column, business, value, errors)
        setattr(row, column.name, value)


def _reference(column: Any, business: Any, given: Any, errors: dict[str, list[str]]) -> Any:
    """Return the row of the same business that `given` names, or note that there is none."""
    model = column.related_model
    rows = (
        model.objects.within(business) if issubclass(model, TenantModel) else model.objects.none()
    )
    try:
        row = rows.filter(pk=given).first()
    except (ValueError, ValidationError):
        row = None
    if row is None:
        errors[column.name] = [f"There is no such {column.verbose_name}: {given}."]
    return row


def _clean(
    row: models.Model, errors: dict[str, list[str]], *, skip: set[str], prefix: str = ""
) -> None:
    try:
        row.full_clean(exclude=skip | {path.removeprefix(prefix) for path in errors})
    except ValidationError as bad:
        for name, texts in bad.message_dict.items():
            path = f"{prefix}{name}" if name != "__all__" else prefix.rstrip(".") or "row"
            errors.setdefault(path, []).extend(texts)


def _save_children(
    row: TenantModel,
    name: str,
    model: type[models.Model],
    items: list[dict[str, Any]],
    errors: dict[str, list[str]],
) -> None:
    parent = next(
        column.name for column in model._meta.concrete_fields if column.related_model is type(row)
    )
    standing = {child.pk: child for child in getattr(row, name).all()}
    kept, ready = set(), []
    for place, item in enumerate(items):
        prefix = f"{name}.{place}."
        child = standing.get(item.get("id"))
        if item.get("id") and child is None:
            errors[f"{prefix}id"] = [f"There is no such row here: {item['id']}."]
            continue
        child = child or model()
        setattr(child, parent, row)
        _fill(child, row.business, {k: v for k, v in item.items() if k != "id"}, errors)
        _clean(child, errors, skip={parent}, prefix=prefix)
        if child.pk:
            kept.add(child.pk)
        ready.append(child)
    if errors:
        return
    for gone in standing.keys() - kept:
        standing[gone].delete()
    for child in ready:
        child.save()
