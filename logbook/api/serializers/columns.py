"""Fields of the API from the columns of a model: its bounds, default, choices and help."""

from __future__ import annotations

from collections.abc import Container
from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from rest_framework import serializers

from logbook.api.fields import (
    AnswerField,
    BoundaryField,
    DayField,
    EmailAddress,
    Flag,
    OneOf,
    ReferenceField,
    Text,
    Whole,
)
from logbook.facts import spec
from logbook.facts.record import ANY_COUNT
from logbook.quantities.columns import QuantityField, ReferenceValueField

MAX_LETTERS = 2000
"""Of a text whose column has no bound."""


def fields_of_columns(model: type[models.Model], *, without: Container[str]) -> dict[str, Any]:
    """Return the field of each column of a model but those `without`, by its name."""
    return {
        column.name: _field_of(column, **_blank(column), help_text=_meaning(column))
        for column in model._meta.concrete_fields
        if column.name not in without and not isinstance(column, ReferenceValueField)
    }


def _meaning(column: Any) -> str:
    if fact := getattr(column, "fact", None):
        return str(fact.meaning)
    named = f"{str(column.verbose_name).capitalize()}." if column._verbose_name else ""
    return f"{named} {column.help_text}".strip()


def _blank(column: Any) -> dict[str, Any]:
    """Return what stands where the field is not given: the default, null or an empty text."""
    if not column.editable:
        return {"read_only": True, "allow_null": column.null}
    if column.has_default():
        default = column.default
        return {"default": str(default) if column.choices else default}
    if column.null and column.blank:
        return {"allow_null": True, "default": None}
    return {"allow_blank": True, "default": ""} if column.blank else {}


def _field_of(column: Any, **kwargs: Any) -> Any:
    kind = column.fact.kind if hasattr(column, "fact") else None
    if column.choices:
        return OneOf(column.choices, **kwargs)
    match column:
        case QuantityField():
            return AnswerField(*column.dimensions, words=column.words, **kwargs)
        case models.ForeignKey():
            return ReferenceField(**kwargs)
        case models.BooleanField():
            return Flag(**kwargs)
        case models.DateField():
            return DayField(**kwargs)
        case models.EmailField():
            return EmailAddress(max_length=column.max_length, **kwargs)
        case models.DecimalField():
            kwargs = {**_bounds(column), **kwargs}
            return serializers.DecimalField(column.max_digits, column.decimal_places, **kwargs)
        case models.IntegerField():
            bounds = _bounds(column)
            most = min(bounds.get("max_value", ANY_COUNT), ANY_COUNT)
            return Whole(**bounds | {"max_value": most}, **kwargs)
        case models.FloatField():
            return serializers.FloatField(**kwargs)
        case models.TextField() if isinstance(kind, spec.Text):
            return Text(max_length=kind.max_length, **kwargs)
        case models.TextField() | models.CharField():
            return Text(max_length=column.max_length or MAX_LETTERS, **kwargs)
    match kind:
        case spec.Outline():
            return BoundaryField(**kwargs)
        case spec.Choice(words=words) | spec.Values(words=words) if words:
            child = OneOf([*words.items()])
            return serializers.ListField(child=child, max_length=20, **kwargs)
    raise TypeError(f"{column} has no field of its own; write one out.")


def _bounds(column: Any) -> dict[str, Any]:
    """Return the bounds of a number."""
    low = [one.limit_value for one in column.validators if isinstance(one, MinValueValidator)]
    high = [one.limit_value for one in column.validators if isinstance(one, MaxValueValidator)]
    return {"min_value": max(low), "max_value": min(high)} if high else {"min_value": max(low)}
