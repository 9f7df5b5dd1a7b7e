"""Saving one row of the shelf with the rows that hang on it: all of it, or nothing."""

from __future__ import annotations

import hashlib
import json
import logging
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction
from django.db.models import ProtectedError
from django.utils.translation import gettext as _

from logbook.errors.exceptions import Conflict, NotThere, Refused, RefusedInput
from logbook.localization.locale import translate_word
from logbook.tenancy.models import TenantModel

logger = logging.getLogger(__name__)


@dataclass(frozen=True, kw_only=True)
class Shape:
    """How a kind of row is saved: its model and the lists of rows that hang on it."""

    model: type[TenantModel]
    children: dict[str, type[models.Model]] = field(default_factory=dict)

    @property
    def noun(self) -> str:
        """What one is called in a sentence."""
        return translate_word(str(self.model._meta.verbose_name))


class Elsewhere(Conflict):
    """Somebody, or another window of the same person, has written this row in the meantime."""

    def __init__(self, noun: str, *, new: bool) -> None:
        words = (
            _("This page has already written down a %(noun)s, with other words. That one stays.")
            if new
            else _(
                "This %(noun)s was changed elsewhere after this page was opened. That change stays."
            )
        )
        super().__init__(words % {"noun": noun})


def fingerprint(row: models.Model, lists: Iterable[str]) -> str:
    """Return what stands in a row and in its `lists`, as a SHA-256 in hexadecimal.

    A page posts it back with what was typed, so that a window that was left open does not undo
    what was written after it was opened. The ids of hanging rows are no part of the content.
    """
    return _digest(row, {name: getattr(row, name).all() for name in lists})


def _digest(row: models.Model, children: Mapping[str, Iterable[models.Model]]) -> str:
    content = {
        "row": _content(row),
        **{name: sorted(map(_content, items)) for name, items in children.items()},
    }
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()


def _content(row: models.Model) -> str:
    """Return the columns a person may write, as one text: the same before and after saving."""
    values = {}
    for column in row._meta.concrete_fields:
        if not column.editable or column.primary_key or column.name == "business":
            continue
        value = getattr(row, column.attname)
        if isinstance(value, Decimal):
            # A column of two decimals gives 5.00 back for the 5 that was typed.
            value = f"{value.normalize():f}"
        values[column.name] = value if isinstance(value, (list, dict)) else str(value)
    return json.dumps(values, sort_keys=True)


def save_row(
    *,
    shape: Shape,
    business: Any,
    row_id: UUID,
    data: dict[str, Any],
    create: bool,
    seen: str | None = None,
) -> TenantModel:
    """Return the saved row. A list in `data` replaces what stood there; rows with an id are kept.

    Args: data: column names to Python values, references as ids; create: whether a row that is not
    there yet is made with this id (asking twice makes one row); seen: the fingerprint of the row
    that the person was shown, "" for a new one; without it nothing is compared.
    Raises: Refused if there is no such row; RefusedInput naming each path; Elsewhere if another
    content stands there than was shown, unless it is this one. Nothing is written then.
    """
    errors: dict[str, list[str]] = {}
    try:
        with transaction.atomic():
            row, standing = _row(shape, business, row_id, create)
            stood = fingerprint(row, shape.children) if standing and seen is not None else ""
            _fill(row, business, data, errors)
            _clean(row, errors, skip={"business"})
            children = {
                name: _children(row, name, model, data[name], errors)
                for name, model in shape.children.items()
                if name in data
            }
            if standing and seen is not None and stood != seen:
                sent = {name: getattr(row, name).all() for name in shape.children} | children
                if not errors and _digest(row, sent) == stood:
                    return _row(shape, business, row_id, create)[0]
                raise Elsewhere(shape.noun, new=create)
            if errors:
                raise RefusedInput(errors)
            row.save()
            for name, ready in children.items():
                _save_children(row, name, ready)
    except ProtectedError as bad:
        kept = next(iter(bad.protected_objects))
        raise Refused(
            _("It is used by a record (%(record)s) and stays.") % {"record": kept}
        ) from None
    except IntegrityError as bad:
        logger.warning("The database refused a %s: %s", shape.noun, bad)
        raise Conflict(
            _("This %(noun)s contradicts what is there already; load it again and look.")
            % {"noun": shape.noun}
        ) from None
    return row


def _row(shape: Shape, business: Any, row_id: UUID, create: bool) -> tuple[TenantModel, bool]:
    """Return the row, locked until it is saved, and whether it was there."""
    rows = shape.model.objects.within(business).select_for_update()
    row: TenantModel | None = rows.filter(pk=row_id).order_by("pk").first()
    if row is not None:
        return row, True
    if not create:
        raise NotThere(_("There is no such %(noun)s.") % {"noun": shape.noun})
    if shape.model.objects.filter(pk=row_id).exists():
        raise Conflict(_("This id is taken; choose another."))
    return shape.model(id=row_id, business=business), False


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
        errors[column.name] = [
            _("There is no such %(noun)s: %(given)s.")
            % {"noun": translate_word(str(column.verbose_name)), "given": given}
        ]
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


def parent_column(model: type[models.Model], parent: type[models.Model]) -> str:
    """Return the name of the column by which rows of `model` hang on a row of `parent`."""
    columns = model._meta.concrete_fields
    return next(column.name for column in columns if column.related_model is parent)


def _children(
    row: TenantModel,
    name: str,
    model: type[models.Model],
    items: list[dict[str, Any]],
    errors: dict[str, list[str]],
) -> list[models.Model]:
    """Return the rows of a list as they are to be saved; what cannot be taken is noted."""
    parent = parent_column(model, type(row))
    standing = {} if row._state.adding else {child.pk: child for child in getattr(row, name).all()}
    ready = []
    for place, item in enumerate(items):
        prefix = f"{name}.{place}."
        child = standing.get(item.get("id"))
        if item.get("id") and child is None:
            errors[f"{prefix}id"] = [
                _("There is no such row here: %(given)s.") % {"given": item["id"]}
            ]
            continue
        child = child or model()
        setattr(child, parent, row)
        _fill(child, row.business, {k: v for k, v in item.items() if k != "id"}, errors)
        _clean(child, errors, skip={parent}, prefix=prefix)
        ready.append(child)
    return ready


def _save_children(row: TenantModel, name: str, ready: list[models.Model]) -> None:
    kept = {child.pk for child in ready}
    for child in getattr(row, name).all():
        if child.pk not in kept:
            child.delete()
    for child in ready:
        child.save()
