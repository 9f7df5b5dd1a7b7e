"""Pages of what became of the shelf: of one row with what hangs on it, of the business, of all."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any
from uuid import UUID

from django.apps import apps
from django.db import models
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext, ngettext
from django.views.decorators.http import require_safe

from calc.errors import OutOfRange
from calc.geometry import area_ha
from logbook.accounts.forms import BusinessForm
from logbook.accounts.history import changes
from logbook.accounts.rights import Right
from logbook.errors.exceptions import NotThere
from logbook.forms.rows import RowForm
from logbook.localization.locale import translate_word
from logbook.pagination import Key, page_of
from logbook.quantities.columns import QuantityField
from logbook.web.catalog.kinds import KINDS, kind_of
from logbook.web.catalog.present import areas
from logbook.web.listing import pages
from logbook.web.viewbase import BookRequest, front_door

PER_PAGE = 50
KEYS: tuple[Key, ...] = (("created_at", datetime), ("id", UUID))


@dataclass(frozen=True, kw_only=True)
class Told:
    """One column of a change: its label, and what stood there before and after."""

    label: str
    name: str
    before: Any
    after: Any
    before_words: str = ""  # what a closed choice is called
    after_words: str = ""


@require_safe
@front_door(Right.SEE)
def of_all(request: BookRequest) -> HttpResponse:
    """Show every change of the shelf, the last first."""
    return _shown(request, changes(actor=request.actor))


@require_safe
@front_door(Right.SEE)
def of_business(request: BookRequest) -> HttpResponse:
    """Show what became of the business itself."""
    business = request.actor.business
    rows = changes(actor=request.actor, of=business.pk)
    return _shown(request, rows.filter(model="accounts.business"), name=str(business))


@require_safe
@front_door(Right.SEE)
def of_row(request: BookRequest, kind: str, row_id: UUID) -> HttpResponse:
    """Show what became of one row and of what hangs on it; of one that is gone, too."""
    found = kind_of(kind)
    rows = changes(actor=request.actor, of=row_id)
    gone = False
    try:
        name = str(found.get(actor=request.actor, row_id=row_id))
    except NotThere:
        model = found.form._meta.model._meta.label_lower
        last = rows.filter(model=model, deed="removed").first()
        if last is None:
            raise
        name, gone = last.name, True
    return _shown(request, rows, kind=found, row_id=None if gone else row_id, name=name)


def _shown(request: BookRequest, rows: Any, **context: Any) -> HttpResponse:
    page = page_of(rows, keys=KEYS, descending=True, query=request.GET, size=PER_PAGE)
    context |= {
        "page": page,
        "pages": pages(request, page),
        "changes": [
            (one, _noun(one.model), list(_columns(one, request.actor.user.unit_system)))
            for one in page.rows
        ],
        "zone": request.actor.business.time_zone,
    }
    return render(request, "shelf/history.html", context)


@cache
def _forms() -> Mapping[str, type[RowForm]]:
    """Return the form of each model of the shelf, which has the words for its columns."""
    forms: list[type[RowForm]] = [BusinessForm]
    for kind in KINDS.values():
        forms += [kind.form, *(rows.form for rows in kind.lists.values())]
    return {form._meta.model._meta.label_lower: form for form in forms}


def _noun(label: str) -> str:
    return translate_word(str(apps.get_model(label)._meta.verbose_name))


def _columns(change: Any, system: str) -> Iterator[Told]:
    form = _forms().get(change.model)
    model = apps.get_model(change.model)
    for name in dict.fromkeys((*change.before, *change.after)):
        column = next((one for one in model._meta.concrete_fields if one.name == name), None)
        field = form.base_fields.get(name) if form else None
        label = (
            field.label
            if field and field.label
            else column and translate_word(str(column.verbose_name))
        )
        before, after = change.before.get(name), change.after.get(name)
        yield Told(
            label=str(label or name),
            name=name,
            before=_value(column, before, system),
            after=_value(column, after, system),
            before_words=_choice(column, before),
            after_words=_choice(column, after),
        )


def _choice(column: Any, value: Any) -> str:
    choices = dict(column.flatchoices) if column is not None else {}
    return str(choices[value]) if isinstance(value, str) and value in choices else ""


def _value(column: Any, value: Any, system: str) -> Any:
    """Return what was kept as the page of the row shows it; a shape by its points and area."""
    if isinstance(value, dict):
        count = _points(value.get("coordinates"))
        said = ngettext("a shape of %(count)d point", "a shape of %(count)d points", count)
        with suppress(OutOfRange):
            return f"{said % {'count': count}}, {areas(area_ha(shape=value), system=system)}"
        return said % {"count": count}
    if value and isinstance(column, QuantityField | models.DateField):
        return column.to_python(value)
    if isinstance(value, list):
        return [translate_word(one) if isinstance(one, str) else one for one in value]
    return gettext("no") if value is False else value


def _points(coordinates: Any) -> int:
    if not isinstance(coordinates, list):
        return 0
    if coordinates and not isinstance(coordinates[0], list):
        return 1
    return sum(map(_points, coordinates))
