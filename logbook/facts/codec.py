"""Values from plain data (JSON, TOML) and back, by the types of their dataclasses.

A `Layout` says how each type is written in one kind of text. What is read by it comes back as the
dataclass, or with everything that is wrong, each with its path. pydantic-core does the walk.
"""

from __future__ import annotations

import dataclasses
import types
import typing
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from pydantic_core import SchemaSerializer, SchemaValidator, ValidationError, core_schema
from pydantic_core.core_schema import CoreSchema

from logbook.facts.messages import Message, from_data, gettext_noop, to_data
from logbook.facts.quantity import Answer, Nothing, Quantity
from logbook.facts.spec import Choice, Count, declared
from logbook.facts.strict_json import Path, from_root

Scalar = CoreSchema
"""What reads, and perhaps writes, a value that is not walked into; see `by` and pydantic-core."""

_PLAIN: dict[Any, Scalar] = {
    str: core_schema.str_schema(strict=True),
    int: core_schema.int_schema(strict=True),
    float: core_schema.float_schema(strict=True),  # whole numbers too
    bool: core_schema.bool_schema(strict=True),
}

QUANTITY, WORD = -1, -2
"""The two forms of an answer; they are no place in a text, and are left out of paths."""


@dataclass(frozen=True)
class Problem:
    """One place that cannot be taken: where, what stands there, and what is allowed.

    allowed: a message, or the ValueError that says it.
    """

    path: Path
    value: Any
    allowed: str | ValueError
    missing: bool = False  # nothing stands there, and something is needed
    unknown: bool = False  # nobody knows the member


class NotRead(ValueError):
    """Data that cannot be taken, and all that is wrong with it."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        first = problems[0]
        super().__init__(f"{from_root(first.path)}: {first.allowed}")
        self.problems = problems


class Layout:
    """How values are written in one kind of text.

    Args: scalars, by type, beside or instead of the plain ones; items, the least and the most that
    a list may have; words, of the texts of a closed list, by class and field, where the fact itself
    does not declare them (None: all texts are free); bounds, whether whole numbers keep to those
    that are declared with their type.
    """

    def __init__(
        self,
        scalars: Mapping[Any, Scalar],
        *,
        items: tuple[int, int | None] = (0, None),
        words: Mapping[tuple[type, str], tuple[str, ...]] | None = None,
        bounds: bool = False,
    ) -> None:
        self.scalars = {**_PLAIN, **scalars}
        self.items, self.words, self.bounds = items, words, bounds
        self._validators: dict[Any, SchemaValidator] = {}
        self._serializers: dict[type, SchemaSerializer] = {}

    def read(self, kind: Any, data: Any) -> Any:
        """Return the data as a value of the type.

        Raises: NotRead; a member that nobody knows is a problem too.
        """
        try:
            return self._validator(kind).validate_python(data, extra="forbid")
        except ValidationError as bad:
            raise NotRead(tuple(map(_problem, bad.errors(include_url=False)))) from None

    def read_known(self, kind: Any, data: Any) -> tuple[Any, list[Path]]:
        """Return the data as a value of the type, and the paths of members that nobody knows.

        Raises: NotRead.
        """
        try:
            return self.read(kind, data), []
        except NotRead as bad:
            if not all(one.unknown for one in bad.problems):
                raise
            unknown = [one.path for one in bad.problems]
        return self._validator(kind).validate_python(data, extra="ignore"), unknown

    def write(self, value: Any) -> Any:
        """Return plain data of a value of the facts, or of a list of them."""
        if isinstance(value, list | tuple):
            return [self.write(one) for one in value]
        if value is None or isinstance(value, str | int | float | dict):
            return value
        kind = type(value)
        if kind not in self._serializers:
            self._serializers[kind] = SchemaSerializer(self._schema(kind))
        return self._serializers[kind].to_python(value, mode="json", by_alias=True)

    def _validator(self, kind: Any) -> SchemaValidator:
        if kind not in self._validators:
            self._validators[kind] = SchemaValidator(self._schema(kind))
        return self._validators[kind]

    def _schema(self, kind: Any, words: tuple[str, ...] = ()) -> CoreSchema:
        origin, args = typing.get_origin(kind), typing.get_args(kind)
        if kind in self.scalars and not words:
            return self.scalars[kind]
        if kind is str:
            return _words(core_schema.literal_schema(list(words)), words)
        if origin is typing.Annotated:
            (count,) = kind.__metadata__
            if self.bounds and isinstance(count, Count):
                return core_schema.int_schema(strict=True, ge=count.at_least, le=count.at_most)
            return self._schema(args[0], words)
        if kind == Answer:
            forms = {QUANTITY: self._object(Quantity), WORD: self._object(Nothing)}
            return core_schema.nullable_schema(core_schema.tagged_union_schema(forms, _form_of))
        if kind is Quantity:
            return core_schema.tagged_union_schema({QUANTITY: self._object(kind)}, _form_of)
        if origin is types.UnionType or origin is typing.Union:
            inner = next(one for one in args if one is not types.NoneType)
            return core_schema.nullable_schema(self._schema(inner, words))
        if origin is tuple and args[-1] is ...:
            least, most = self.items
            return core_schema.tuple_schema(
                [self._schema(args[0], words)],
                variadic_item_index=0,
                min_length=least or None,
                max_length=most,
            )
        if origin is tuple:
            return core_schema.tuple_schema([self._schema(one) for one in args])
        if origin is dict:
            return core_schema.dict_schema(*map(self._schema, args))
        if dataclasses.is_dataclass(kind):
            return self._object(typing.cast("type", kind))
        return _words(core_schema.enum_schema(kind, list(kind), sub_type="str"), kind)

    def _object(self, kind: type) -> CoreSchema:
        hints = typing.get_type_hints(kind, include_extras=True)
        members = []
        for field in dataclasses.fields(kind):
            schema = self._schema(hints[field.name], self.words_of(kind, field.name))
            if field.default_factory is not dataclasses.MISSING:
                schema = core_schema.with_default_schema(
                    schema, default_factory=field.default_factory
                )
            elif field.default is not dataclasses.MISSING:
                schema = core_schema.with_default_schema(schema, default=field.default)
            alias = _ALIASES.get((kind, field.name))
            members.append(
                core_schema.dataclass_field(
                    field.name,
                    schema,
                    kw_only=True,
                    validation_alias=alias,
                    serialization_alias=alias,
                )
            )
        return core_schema.dataclass_schema(
            kind,
            core_schema.dataclass_args_schema(kind.__name__, members),
            [field.name for field in dataclasses.fields(kind)],
            post_init=hasattr(kind, "__post_init__"),
            slots=hasattr(kind, "__slots__"),
        )

    def words_of(self, kind: type, name: str) -> tuple[str, ...]:
        """Return the words that a text, or each text of a list, may be; () where it is free."""
        if self.words is None:
            return ()
        fact = declared(kind).get(name)
        if fact and isinstance(fact.kind, Choice):
            return fact.kind.allowed
        return self.words.get((kind, name), ())


_ALIASES: dict[tuple[type, str], str] = {(Nothing, "kind"): "nothing"}
"""Members that are written otherwise than they are named."""


def is_needed(field: dataclasses.Field[Any]) -> bool:
    """Return whether a member may not be absent: a fact that came later has a default."""
    unset = dataclasses.MISSING
    return field.default is unset and field.default_factory is unset


# --- what is wrong -------------------------------------------------------------------------------

_SENTENCES = {
    "missing": gettext_noop("this member is missing."),
    "unexpected_keyword_argument": gettext_noop("there is no such member."),
    "dataclass_type": gettext_noop("an object is needed here."),
    "dict_type": gettext_noop("an object is needed here."),
    "tuple_type": gettext_noop("a list is needed here."),
    "too_short": gettext_noop("a list that is not empty is needed here."),
    "too_long": gettext_noop("{length} items are too many; at most {max_length} stand here."),
    "string_type": gettext_noop("a text is needed here."),
    "string_too_long": gettext_noop(
        "{length} characters are too many; at most {max_length} stand here."
    ),
    "int_type": gettext_noop("a whole number is needed here."),
    "greater_than_equal": gettext_noop("at least {ge} is possible here."),
    "less_than_equal": gettext_noop("at most {le} is possible here."),
    "float_type": gettext_noop("a number is needed here."),
    "bool_type": gettext_noop("true or false is needed here."),
    "words": gettext_noop("allowed are {words}."),
}
"""What to say of the errors of pydantic-core; what they hold besides stands in the sentence."""

_SENTENCES |= dict.fromkeys(
    ("union_tag_not_found", "union_tag_invalid"),
    gettext_noop(
        'a quantity is written {"value": "12.5", "unit": "gal/ac"}, a word '
        '{"nothing": "not measured", "reason": "no meter"}, blank null.'
    ),
)
_TOLD = ("max_length", "ge", "le", "words")


def _problem(error: Any) -> Problem:
    kind, value, context = error["type"], error["input"], error.get("ctx", {})
    values = {name: context[name] for name in _TOLD if name in context}
    if "max_length" in values:
        values["length"] = len(value)
    return Problem(
        tuple(part for part in error["loc"] if part not in (QUANTITY, WORD)),
        value,
        allowed=context.get("error") or Message(_SENTENCES.get(kind, error["msg"]), values),
        missing=kind == "missing",
        unknown=kind == "unexpected_keyword_argument",
    )


# --- forms of values -----------------------------------------------------------------------------


def by(read: Callable[[Any], Any], write: Callable[[Any], Any] | None = None) -> Scalar:
    """Return what reads a value by a function, which raises ValueError saying what is allowed."""
    serialization = write and core_schema.plain_serializer_function_ser_schema(write)
    return core_schema.no_info_plain_validator_function(read, serialization=serialization)


def _words(schema: CoreSchema, words: Iterable[str]) -> CoreSchema:
    """Return the schema with a refusal that lists the words."""
    return core_schema.custom_error_schema(
        schema,
        custom_error_type="words",
        custom_error_message="",
        custom_error_context={"words": ", ".join(filter(None, words))},
    )


def _form_of(answer: Any) -> int | None:
    """Return which form an answer has, read or to be written; None where it has neither."""
    members = answer if isinstance(answer, dict) else ()
    if isinstance(answer, Nothing) or "nothing" in members:
        return WORD
    return QUANTITY if isinstance(answer, Quantity) or {"value", "unit"} <= {*members} else None


# --- as facts are sealed -------------------------------------------------------------------------

SEALED = Layout(
    {
        dict[str, Any]: core_schema.any_schema(),
        Decimal: by(Decimal, lambda value: f"{value:f}"),
        date: by(date.fromisoformat, date.isoformat),
        datetime: by(datetime.fromisoformat, datetime.isoformat),
        Message: by(from_data, to_data),
    }
)
"""Decimals as text with every digit, times in ISO 8601: what stands in a seal, never to change."""


def to_json(value: Any) -> Any:
    """Return plain JSON of any value of the facts, as it is sealed."""
    return SEALED.write(value)


def from_json(data: Any, kind: Any) -> Any:
    """Return the value of type `kind` that `to_json` was given.

    Raises: NotRead when the text is of another format than the type.
    """
    return SEALED.read(kind, data)
