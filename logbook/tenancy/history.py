"""Writes down every change of the rows of the shelf, through whatever door it comes.

Django's signals see the pages, the API, the admin and the commands alike. What is written at once
in bulk sends none: whoever does that calls `added`. Plain SQL is not seen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from decimal import Decimal
from typing import Any

from django.apps import apps
from django.db import models
from django.db.models.signals import post_delete, post_save, pre_save

from logbook.localization.locale import plain_english
from logbook.tenancy.models import TenantModel
from logbook.tenancy.rows import parent_column

_parents: dict[type[models.Model], str] = {}
"""The models whose rows are followed, and the column that leads to the row on which one hangs."""

_user: ContextVar[Callable[[], Any]] = ContextVar("user", default=lambda: None)


@contextmanager
def acting(user: Callable[[], Any]) -> Iterator[None]:
    """Say who changes rows meanwhile; asked only when something is changed."""
    token = _user.set(user)
    try:
        yield
    finally:
        _user.reset(token)


def follow(model: type[models.Model], children: Iterable[type[models.Model]] = ()) -> None:
    """Write down from now on what becomes of the rows of a model and of those that hang on them."""
    hanging = {child: parent_column(child, model) for child in children}
    for one, parent in {model: "", **hanging}.items():
        _parents[one] = parent
        pre_save.connect(_remember, sender=one, dispatch_uid="history")
        post_save.connect(_saved, sender=one, dispatch_uid="history")
        post_delete.connect(_removed, sender=one, dispatch_uid="history")


def added(rows: Iterable[models.Model]) -> None:
    """Write down that these rows were made, all at once."""
    _table().objects.bulk_create([_change(row, "added", {}, _all_of(row)) for row in rows])


def _remember(
    sender: type[models.Model], instance: models.Model, raw: bool = False, **_: Any
) -> None:
    if not raw and not instance._state.adding:
        instance.__dict__["_stood"] = sender._base_manager.filter(pk=instance.pk).first()


def _saved(
    sender: type[models.Model],
    instance: models.Model,
    raw: bool = False,
    update_fields: Iterable[str] | None = None,
    **_: Any,
) -> None:
    if raw:
        return
    stood = instance.__dict__.pop("_stood", None)
    if stood is None:
        _change(instance, "added", {}, _all_of(instance)).save()
        return
    changed = [
        column
        for column in _columns(sender)
        if update_fields is None or column.name in update_fields
        if _plain(stood, column) != _plain(instance, column)
    ]
    if changed:
        before = {column.name: _told(stood, column) for column in changed}
        after = {column.name: _told(instance, column) for column in changed}
        _change(instance, "changed", before, after).save()


def _removed(sender: type[models.Model], instance: models.Model, **_: Any) -> None:
    _change(instance, "removed", _all_of(instance), {}).save()


def _columns(model: type[models.Model]) -> list[Any]:
    """Return the columns that somebody writes."""
    own = ("business", _parents[model])
    columns = model._meta.concrete_fields
    return [one for one in columns if one.editable and not one.primary_key and one.name not in own]


def _all_of(row: models.Model) -> dict[str, Any]:
    told = {column.name: _told(row, column) for column in _columns(type(row))}
    return {name: value for name, value in told.items() if value not in (None, "", [], {})}


def _plain(row: models.Model, column: Any) -> Any:
    """Return what stands in a column as JSON has it; a quantity and a number as their texts."""
    value = column.to_python(column.value_from_object(row))
    if isinstance(value, Decimal):
        # A column of two decimals gives 5.00 back for the 5 that was typed.
        return f"{value.normalize():f}"
    if value is None or isinstance(value, bool | int | float | list | dict):
        return value
    return str(value)


@plain_english()
def _told(row: models.Model, column: Any) -> Any:
    """Return the same for a reader: of another row its name, for its id says nothing."""
    if not column.is_relation:
        return _plain(row, column)
    other = getattr(row, column.name)
    return None if other is None else str(other)


@plain_english()
def _change(row: models.Model, deed: str, before: dict[str, Any], after: dict[str, Any]) -> Any:
    parent = _parents[type(row)]
    top = getattr(row, parent) if parent else row
    user = _user.get()()
    return _table()(
        # The business is itself such a row.
        business_id=top.business_id if isinstance(top, TenantModel) else top.pk,
        by=user if user is not None and user.is_authenticated else None,
        of=str(top.pk),
        name=str(top)[:200],
        model=row._meta.label_lower,
        key=str(row.pk),
        deed=deed,
        before=before,
        after=after,
    )


def _table() -> Any:
    # This room is below that of the table, which names users.
    return apps.get_model("accounts", "ShelfChange")
