"""Fields of the API: answers with their units, references, days and instants, closed lists."""

from __future__ import annotations

import math
import re
import uuid
from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from typing import Any, NoReturn

from django.utils.dateparse import parse_date, parse_datetime
from django.utils.translation import gettext as _
from drf_spectacular.extensions import OpenApiSerializerFieldExtension
from rest_framework import serializers

from calc.units import reference_unit, units_of
from logbook.facts.quantity import (
    Absence,
    Answer,
    BadAnswer,
    Nothing,
    Quantity,
    example,
    make_quantity,
    parse_answer,
)
from logbook.facts.record import PRODUCT_RATE
from logbook.localization.locale import localized

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)\Z")
SAME_VALUE = 1e-9
"""How near a sent `si` must be to the value beside it, relative: float text, not measurement."""

FIRST_YEAR, LAST_YEAR = 1900, 2200

MAX_OFFSET = timedelta(hours=14)
"""No clock is set farther from UTC (+14:00, the zone database); PostgreSQL takes less than 16 h."""


class AnswerField(serializers.Field[Any, Any, Any, Any]):
    """A quantity as entered, or a word with its reason; null is blank: not yet said.

    Reads {"value": "15.0", "unit": "gal/ac"}, {"nothing": "not measured", "reason": "no meter"} and
    the text form of either; serves the first two, and beside the value as entered its `si`.
    """

    def __init__(self, *dimensions: str, words: bool = False, **kwargs: Any) -> None:
        self.dimensions = dimensions
        self.words = words
        super().__init__(**kwargs)

    @property
    def units(self) -> tuple[str, ...]:
        """The unit codes that a value may have here."""
        return tuple(unit for dimension in self.dimensions for unit in units_of(dimension))

    def to_internal_value(self, data: Any) -> Answer:
        try:
            answer = self._read(data)
        except BadAnswer as bad:
            raise serializers.ValidationError(localized(bad)) from None
        if answer is None and not self.allow_null:
            raise serializers.ValidationError(
                _("An answer is needed; give %(allowed)s.") % {"allowed": self._allowed()}
            )
        return answer

    def to_representation(self, value: Quantity | Nothing) -> dict[str, Any]:
        if isinstance(value, Nothing):
            return {"nothing": value.kind.value, "reason": value.reason}
        si = {"value": value.si, "unit": reference_unit(value.dimension)}
        return {"value": f"{value.value:f}", "unit": value.unit, "si": si}

    def _read(self, data: Any) -> Answer:
        if isinstance(data, str):
            return parse_answer(data, dimensions=self.dimensions, words=self.words)
        if isinstance(data, Mapping):
            names = set(data)
            if {"value", "unit"} <= names <= {"value", "unit", "si"}:
                return self._quantity(data)
            if self.words and {"nothing"} <= names <= {"nothing", "reason"}:
                return self._nothing(data)
        raise self._no_answer()

    def _quantity(self, data: Mapping[str, Any]) -> Quantity:
        value, unit = data["value"], data["unit"]
        # repr() of a float is the shortest text that reads back as the same number.
        number = repr(value) if isinstance(value, (int, float)) else value
        if isinstance(value, bool) or not isinstance(number, str) or not isinstance(unit, str):
            raise self._no_answer()
        quantity = make_quantity(number, unit, dimensions=self.dimensions)
        if "si" in data:
            own = self.to_representation(quantity)["si"]
            said = data["si"]
            same = isinstance(said, Mapping) and said.get("unit") == own["unit"]
            number = said.get("value") if same else None
            if not _same_number(number, own["value"]):
                raise BadAnswer(
                    _(
                        "si contradicts the value: %(quantity)s is %(value)s %(unit)s."
                        " It is computed; leave it out."
                    )
                    % {
                        "quantity": quantity,
                        "value": f"{own['value']:.6g}",
                        "unit": own["unit"],
                    }
                )
        return quantity

    def _nothing(self, data: Mapping[str, Any]) -> Nothing:
        kind, reason = data["nothing"], data.get("reason", "")
        if kind not in [word.value for word in Absence] or not isinstance(reason, str):
            raise self._no_answer()
        return Nothing(Absence(kind), reason.strip())

    def _no_answer(self) -> BadAnswer:
        return BadAnswer(_("This is no answer; give %(allowed)s.") % {"allowed": self._allowed()})

    def _allowed(self) -> str:
        forms = [
            _('{"value": "12.5", "unit": one of %(units)s}') % {"units": ", ".join(self.units)},
            _('the text "%(example)s"') % {"example": example(self.dimensions)},
        ]
        if self.words:
            words = ", ".join(word.value for word in Absence)
            forms.append(_('{"nothing": one of %(words)s, "reason": "…"}') % {"words": words})
        if self.allow_null:
            forms.append(_("null for blank"))
        return _("%(most)s or %(last)s") % {"most": ", ".join(forms[:-1]), "last": forms[-1]}


def _same_number(said: Any, own: float) -> bool:
    if isinstance(said, bool) or not isinstance(said, (int, float)):
        return False
    try:
        return math.isclose(said, own, rel_tol=SAME_VALUE, abs_tol=SAME_VALUE)
    except OverflowError:  # A whole number that no float can hold.
        return False


class AnswerSchema(OpenApiSerializerFieldExtension):  # type: ignore[no-untyped-call]
    """Describes an answer once for each set of dimensions, with its units listed."""

    target_class = "logbook.api.fields.AnswerField"

    def get_name(self) -> str:
        if self.target.dimensions == PRODUCT_RATE:
            return f"ProductRate{'Answer' if self.target.words else 'Quantity'}"
        dimensions = "Or".join(
            "".join(part.capitalize() for part in dimension.split("_"))
            for dimension in self.target.dimensions
        )
        return f"{dimensions}{'Answer' if self.target.words else 'Quantity'}"

    def _text_pattern(self, units: list[str]) -> str:
        """Return the pattern of an answer written as text."""
        codes = "|".join(re.escape(unit).replace(r"\ ", " ") for unit in units)
        words = "|none|not applicable|not measured: .+" if self.target.words else ""
        return rf"^\s*([+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)\s*({codes}){words})\s*$"

    def map_serializer_field(self, auto_schema: Any, direction: Any) -> dict[str, Any]:
        units = list(self.target.units)
        dimensions = self.target.dimensions
        said = ", ".join(dimension.replace("_", " ") for dimension in dimensions)
        forms: list[dict[str, Any]] = [
            {
                "type": "object",
                "title": "as entered",
                "required": ["value", "unit"],
                "properties": {
                    "value": {
                        "type": ["string", "number"],
                        "pattern": r"^[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)$",
                        "description": "Decimal; a text keeps every digit as entered. Served as "
                        "a text.",
                    },
                    "unit": {"type": "string", "enum": units},
                    "si": {
                        "type": "object",
                        "readOnly": True,
                        "required": ["value", "unit"],
                        "properties": {
                            "value": {"type": "number"},
                            "unit": {
                                "type": "string",
                                "enum": [reference_unit(dimension) for dimension in dimensions],
                            },
                        },
                        "additionalProperties": False,
                        "description": "The same in the reference unit; computed, never stored "
                        "over the entry.",
                    },
                },
                "additionalProperties": False,
            },
            {
                "type": "string",
                "title": "as text",
                "writeOnly": True,
                "description": "Number, space, unit; read but never served. A decimal comma, units "
                "in capitals and 6½ are read too; “1,234” is refused, for it may be two numbers.",
                "pattern": self._text_pattern(units),
                "examples": [example(dimensions)],
            },
        ]
        if self.target.words:
            forms.append(
                {
                    "type": "object",
                    "title": "a word",
                    "required": ["nothing"],
                    "properties": {
                        "nothing": {"type": "string", "enum": [word.value for word in Absence]},
                        "reason": {
                            "type": "string",
                            "description": "Needed for “not measured”.",
                        },
                    },
                    "additionalProperties": False,
                }
            )
        return {
            "description": f"A quantity of {said}. Units: {', '.join(units)}.",
            "anyOf": forms,
            "examples": [{"value": "12.5", "unit": units[0]}],
        }


class ReferenceField(serializers.UUIDField):
    """The id of another row of the business."""

    def to_internal_value(self, data: Any) -> uuid.UUID:
        if not isinstance(data, str) or len(data) > 60:
            self.fail("invalid", value=repr(data)[:60])
        return super().to_internal_value(data)

    def get_attribute(self, instance: Any) -> Any:
        if isinstance(instance, Mapping) or self.source != self.field_name:
            return super().get_attribute(instance)
        return getattr(instance, f"{self.source}_id", None) or getattr(instance, str(self.source))


class Whole(serializers.IntegerField):
    """A whole number, and no text that might be read as one."""

    def to_internal_value(self, data: Any) -> int:
        if isinstance(data, (str, bool)):
            self.fail("invalid")
        return int(super().to_internal_value(data))


class RowField(Whole):
    """The number of a row that hangs on another, such as a planting."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(min_value=1, max_value=2**63 - 1, **kwargs)

    def get_attribute(self, instance: Any) -> Any:
        return getattr(instance, f"{self.source}_id", None) or getattr(instance, str(self.source))


class DayField(serializers.DateField):
    """A calendar day, ISO 8601."""

    def to_internal_value(self, value: Any) -> date:
        try:
            day = parse_date(value) if isinstance(value, str) else None
        except ValueError:
            day = None
        if day is None or not FIRST_YEAR <= day.year <= LAST_YEAR:
            raise serializers.ValidationError(
                _("%(text)s is not a day between %(first)d and %(last)d; write it like 2026-05-14.")
                % {"text": _shown(value), "first": FIRST_YEAR, "last": LAST_YEAR}
            )
        return day


class InstantField(serializers.DateTimeField):
    """An instant, served in UTC. Without an offset it is the clock on the wall at the field."""

    def to_internal_value(self, value: Any) -> datetime:
        try:
            # A day alone is read as its midnight, an hour that nobody gave.
            timed = isinstance(value, str) and len(value) > len("2026-05-14")
            instant = parse_datetime(value) if timed else None
        except ValueError:
            instant = None
        if instant is None or not FIRST_YEAR <= instant.year <= LAST_YEAR:
            raise serializers.ValidationError(
                _(
                    "%(text)s is not an instant between %(first)d and %(last)d; write it like "
                    "2026-05-14T07:30:00-05:00, or without the offset for the clock at the field."
                )
                % {"text": _shown(value), "first": FIRST_YEAR, "last": LAST_YEAR}
            )
        offset = instant.utcoffset()
        if offset is not None and abs(offset) > MAX_OFFSET:
            raise serializers.ValidationError(
                _(
                    "%(text)s has an offset that no clock is set to; from -14:00 to +14:00 are "
                    "taken."
                )
                % {"text": _shown(value)}
            )
        if offset is not None and not FIRST_YEAR <= (instant - offset).year <= LAST_YEAR:
            # It is stored and served in UTC.
            raise serializers.ValidationError(
                _("%(text)s is in the year %(year)d UTC; from %(first)d to %(last)d are taken.")
                % {
                    "text": _shown(value),
                    "year": (instant - offset).year,
                    "first": FIRST_YEAR,
                    "last": LAST_YEAR,
                }
            )
        return instant

    def to_representation(self, value: datetime) -> str:
        return instant(value)


def instant(value: datetime) -> str:
    """Return an instant in UTC: "2026-05-14T12:30:00Z"."""
    return value.astimezone(UTC).isoformat().replace("+00:00", "Z")


_YEARS = r"^(19[0-9]{2}|2[01][0-9]{2}|2200)-"


class DaySchema(OpenApiSerializerFieldExtension):  # type: ignore[no-untyped-call]
    """Describes a day with the years that are taken."""

    target_class = "logbook.api.fields.DayField"

    def map_serializer_field(self, auto_schema: Any, direction: Any) -> dict[str, Any]:
        return {"type": "string", "format": "date", "pattern": _YEARS, "examples": ["2026-05-14"]}


class InstantSchema(OpenApiSerializerFieldExtension):  # type: ignore[no-untyped-call]
    """Describes an instant with the years that are taken."""

    target_class = "logbook.api.fields.InstantField"

    def map_serializer_field(self, auto_schema: Any, direction: Any) -> dict[str, Any]:
        return {
            "type": "string",
            "format": "date-time",
            "pattern": _YEARS,
            "examples": ["2026-05-14T07:30:00-05:00"],
        }


class OneOf(serializers.ChoiceField):
    """One of a closed list; the refusal says which there are."""

    def fail(self, key: str, **kwargs: Any) -> NoReturn:
        """Refuse; a word that is not in the list with those that are.

        Raises: ValidationError.
        """
        if key != "invalid_choice":
            super().fail(key, **kwargs)
        allowed = ", ".join(str(value) for value in self.choices)
        said = _("“%(text)s” is not one of: %(allowed)s.")
        raise serializers.ValidationError(
            said % {"text": kwargs["input"], "allowed": allowed}, code=key
        )

    def to_internal_value(self, data: Any) -> Any:
        if not isinstance(data, str):
            self.fail("invalid_choice", input=repr(data)[:60])
        if len(data) > 60:
            self.fail("invalid_choice", input=f"{data[:57]}…")
        return super().to_internal_value(data)


class Flag(serializers.BooleanField):
    """True or false, and no word or number that might mean it."""

    def to_internal_value(self, data: Any) -> bool:
        if not isinstance(data, bool):
            self.fail("invalid", input=repr(data)[:60])
        return data


class Text(serializers.CharField):
    """A text, and no number that would be turned into one."""

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str):
            self.fail("invalid")
        return str(super().to_internal_value(data))


class EmailAddress(serializers.EmailField):
    """An e-mail address, as a text."""

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str):
            self.fail("invalid")
        return str(super().to_internal_value(data))


class RowId(serializers.UUIDField):
    """The id that a client chooses: a text, as all ids are served."""

    def to_internal_value(self, data: Any) -> uuid.UUID:
        if not isinstance(data, str):
            self.fail("invalid", value=repr(data)[:60])
        return super().to_internal_value(data)


class Reading(serializers.CharField):
    """A number as it was read, kept as text with all its digits."""

    def to_internal_value(self, data: Any) -> str:
        text = repr(data) if isinstance(data, (int, float)) else data
        if isinstance(data, bool) or not isinstance(text, str) or not _NUMBER.match(text):
            raise serializers.ValidationError(
                _("%(text)s is not a number, such as 1514.") % {"text": _shown(data)}
            )
        if len(text) > 20:
            raise serializers.ValidationError(
                _("%(text)s has more than 20 digits.") % {"text": _shown(data)}
            )
        return text


class BoundaryField(serializers.JSONField):
    """A GeoJSON Polygon or MultiPolygon, WGS 84, longitude first (RFC 7946)."""

    most_positions = 20_000

    def to_internal_value(self, data: Any) -> dict[str, Any]:
        depths = {"Polygon": 2, "MultiPolygon": 3}
        kind = data.get("type") if isinstance(data, dict) else None
        if not isinstance(kind, str) or kind not in depths or set(data) != {"type", "coordinates"}:
            raise serializers.ValidationError(
                _(
                    'Give {"type": "Polygon" or "MultiPolygon", "coordinates": […]} and nothing '
                    "else."
                )
            )
        positions = _positions(data["coordinates"], depths[kind])
        if positions is None or len(positions) > self.most_positions:
            raise serializers.ValidationError(
                _(
                    "coordinates must be the rings of a %(kind)s, with at most %(most)d "
                    "positions of two or three numbers."
                )
                % {"kind": kind, "most": self.most_positions}
            )
        boundary: dict[str, Any] = data
        return boundary


class BoundarySchema(OpenApiSerializerFieldExtension):  # type: ignore[no-untyped-call]
    """Describes the two geometries that a boundary may be."""

    target_class = "logbook.api.fields.BoundaryField"

    def map_serializer_field(self, auto_schema: Any, direction: Any) -> dict[str, Any]:
        number = {"type": "number", "exclusiveMinimum": -1e6, "exclusiveMaximum": 1e6}
        position = {"type": "array", "items": number, "minItems": 2, "maxItems": 3}
        rings = {"type": "array", "items": {"type": "array", "items": position}}
        return {
            "type": "object",
            "required": ["type", "coordinates"],
            "oneOf": [
                {
                    "properties": {
                        "type": {"type": "string", "enum": [kind]},
                        "coordinates": coordinates,
                    },
                    "additionalProperties": False,
                }
                for kind, coordinates in (
                    ("Polygon", rings),
                    ("MultiPolygon", {"type": "array", "items": rings}),
                )
            ],
        }


def _positions(value: Any, depth: int) -> list[Any] | None:
    """Return all positions of nested rings, or None if something else stands among them."""
    if not isinstance(value, list):
        return None
    if depth == 0:
        plain = all(
            isinstance(number, (int, float)) and not isinstance(number, bool) and abs(number) < 1e6
            for number in value
        )
        return [value] if plain and len(value) in (2, 3) else None
    found: list[Any] = []
    for item in value:
        inner = _positions(item, depth - 1)
        if inner is None:
            return None
        found += inner
    return found


def _shown(value: Any) -> str:
    return f'"{value[:40]}"' if isinstance(value, str) else repr(value)[:40]


def line(most: int, **kwargs: Any) -> serializers.CharField:
    """Return a text that must be given."""
    return Text(max_length=most, **kwargs)


def maybe(most: int, **kwargs: Any) -> serializers.CharField:
    """Return a text that may be empty, and is where it is not given."""
    return Text(max_length=most, allow_blank=True, default="", **kwargs)


def number(low: int, high: int, **kwargs: Any) -> serializers.IntegerField:
    """Return a whole number within its bounds."""
    return Whole(min_value=low, max_value=high, **kwargs)


def count(low: int, high: int, **kwargs: Any) -> serializers.IntegerField:
    """Return a whole number that may be blank."""
    return number(low, high, allow_null=True, default=None, **kwargs)


def quantity(*dimensions: str, **kwargs: Any) -> AnswerField:
    """Return a number with its unit that may be blank."""
    return AnswerField(*dimensions, allow_null=True, default=None, **kwargs)
