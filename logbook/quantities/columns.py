"""Model columns for answers: the text as entered, and beside it the value in the reference unit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.functional import lazy
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from calc.units import convert, reference_unit
from logbook.facts.messages import Figure, gettext_noop, msg, term, with_unit
from logbook.facts.quantity import Answer, BadAnswer, Nothing, Quantity, parse_answer
from logbook.facts.spec import (
    Amount,
    Choice,
    Computed,
    Count,
    Day,
    Fact,
    Flag,
    Instant,
    Kind,
    Number,
    Outline,
    Text,
    Values,
    declared,
)
from logbook.facts.units import Units
from logbook.facts.usual import likely, question
from logbook.facts.wording import either
from logbook.localization.locale import localized, translate_word

DIMENSIONS = (
    gettext_noop("length"),
    gettext_noop("area"),
    gettext_noop("volume"),
    gettext_noop("mass"),
    gettext_noop("flow"),
    gettext_noop("speed"),
    gettext_noop("pressure"),
    gettext_noop("temperature"),
    gettext_noop("fraction"),
    gettext_noop("angle"),
    gettext_noop("time"),
    gettext_noop("volume rate"),
    gettext_noop("mass rate"),
    gettext_noop("mass per volume"),
    gettext_noop("mass per mass"),
    gettext_noop("volume per volume"),
)
"""Kinds of quantity, as a refusal names them."""

if TYPE_CHECKING:
    _TextColumn = models.CharField[Any, Any]
    _FloatColumn = models.FloatField[Any, Any]
else:  # The stubs make these generic; at run time they cannot be subscripted.
    _TextColumn, _FloatColumn = models.CharField, models.FloatField


class ReferenceValueField(_FloatColumn):
    """The value of a quantity column in the reference unit of its dimension; written, never set."""

    def __init__(self, *, source: str = "", **kwargs: Any) -> None:
        self.source = source
        super().__init__(**{"null": True, "editable": False, **kwargs})

    def deconstruct(self) -> Any:
        name, path, args, kwargs = super().deconstruct()
        return name, path, args, {**kwargs, "source": self.source}

    def pre_save(self, model_instance: models.Model, add: bool) -> float | None:
        answer = getattr(model_instance, self.source)
        value = answer.si if isinstance(answer, Quantity) else None
        setattr(model_instance, self.attname, value)
        return value


@lru_cache(maxsize=4096)
def _read(stored: str, dimensions: tuple[str, ...]) -> Answer:
    """Return the answer of a stored text; a book holds the same few many times over."""
    return parse_answer(stored, dimensions=dimensions)


class QuantityField(_TextColumn):
    """An answer as entered, stored as its own text ("15.0 gal/ac", "not measured: no meter").

    A text keeps every digit that a person wrote on both databases, which a numeric column does
    not. Beside it `<name>_si` holds the float that constraints and sorting use.

    Args: dimensions a number may have; words: whether none, not applicable and not measured are
    answers here; above, at_least, at_most: bounds in the reference unit of the dimension; units,
    those in use, where the dimension has others too.
    """

    if TYPE_CHECKING:
        _pyi_private_set_type: Any
        _pyi_private_get_type: Any

    def __init__(
        self,
        *args: Any,
        dimensions: Iterable[str] = (),
        words: bool = True,
        above: float | None = None,
        at_least: float | None = None,
        at_most: float | None = None,
        units: Units | None = None,
        **kwargs: Any,
    ) -> None:
        self.dimensions = tuple(dimensions)
        self.words = words
        self.units = units  # of the form alone, so no migration knows of them
        self.above, self.at_least, self.at_most = above, at_least, at_most
        self.fact: Fact | None = None  # the declared fact whose column it is
        super().__init__(*args, **{"max_length": 200, "null": True, "blank": True, **kwargs})

    def deconstruct(self) -> Any:
        name, path, args, kwargs = super().deconstruct()
        kwargs |= {"dimensions": self.dimensions, "words": self.words, "null": self.null}
        kwargs |= {"above": self.above, "at_least": self.at_least, "at_most": self.at_most}
        return name, path, args, kwargs

    def contribute_to_class(
        self, cls: type[models.Model], name: str, private_only: bool = False
    ) -> None:
        super().contribute_to_class(cls, name, private_only)
        # Historical models of migrations list the companion column themselves.
        if not cls._meta.abstract and cls.__module__ != "__fake__":
            ReferenceValueField(source=name).contribute_to_class(cls, f"{name}_si")

    def from_db_value(self, value: str | None, *_: Any) -> Answer:
        return _read(value, self.dimensions) if value else None

    def to_python(self, value: Any) -> Answer:
        if value is None or isinstance(value, (Quantity, Nothing)):
            return value
        try:
            return parse_answer(str(value), dimensions=self.dimensions, words=self.words)
        except BadAnswer as bad:
            raise ValidationError(localized(bad), code="answer") from None

    def get_prep_value(self, value: Any) -> str | None:
        answer = self.to_python(value)
        return None if answer is None else str(answer)

    def value_to_string(self, obj: models.Model) -> str:
        answer = self.value_from_object(obj)
        return "" if answer is None else str(answer)

    def validate(self, value: Any, model_instance: models.Model | None) -> None:
        if value is None:
            if not self.blank:
                raise ValidationError(self.error_messages["blank"], code="blank")
            return
        if isinstance(value, Nothing):
            if not self.words:
                raise ValidationError(_("A number with its unit is needed here."), code="answer")
            return
        if value.dimension not in self.dimensions:
            allowed = either(term(name.replace("_", " ")) for name in self.dimensions)
            raise ValidationError(
                localized(msg("{value} is not a {allowed}.", value=value, allowed=allowed)),
                code="dimension",
            )
        if self.above is not None and value.si <= self.above:
            self._refuse(value, (gettext_noop("more than {limit}"), self.above))
        if self.at_least is not None and value.si < self.at_least:
            self._refuse(value, (gettext_noop("at least {limit}"), self.at_least))
        if self.at_most is not None and value.si > self.at_most:
            self._refuse(value, (gettext_noop("at most {limit}"), self.at_most))

    def _refuse(self, value: Quantity, bound: tuple[str, float]) -> None:
        words, limit = bound
        shown = convert(limit, from_unit=reference_unit(value.dimension), to_unit=value.unit)
        allowed = msg(words, limit=with_unit(Figure(f"{float(shown):.4g}"), value.unit))
        said = msg("{value} is not possible; it must be {allowed}.", value=value, allowed=allowed)
        if meant := self.fact and likely(value, self.fact.kind):
            said = msg("{said} Was {meant} meant?", said=said, meant=meant)
        raise ValidationError(localized(said), code="bound")

    def run_validators(self, value: Any) -> None:
        super().run_validators("" if value is None else str(value))

    def formfield(self, **kwargs: Any) -> Any:
        from logbook.quantities.inputs import AnswerFormField

        return AnswerFormField(
            dimensions=self.dimensions,
            words=self.words,
            units=self.units,
            required=not self.blank,
            label=kwargs.get("label", _capitalized(self.verbose_name)),
            help_text=kwargs.get("help_text", self.help_text),
        )


def _in_the_page(name: Any) -> str:
    return translate_word(str(name).capitalize())


_capitalized = lazy(_in_the_page, str)
"""A column's name at the beginning of its line, in the language of who reads it; one that Django
made of the attribute's name is found by its English."""


def column_of(holder: type, name: str, **options: Any) -> Any:
    """Return the column of a declared fact: its label, kind and bounds are those declared.

    Args: options of the Django field beyond that, such as a default.
    """
    one = declared(holder)[name]
    label = gettext_lazy(one.label)
    if one.help and one.section is None:
        options = {"help_text": gettext_lazy(one.help), **options}
    column = _column_of(one.kind, label, options)
    column.fact = one
    return column


def _column_of(kind: Kind, label: Any, options: dict[str, Any]) -> Any:
    match kind:
        case Amount():
            names = ("dimensions", "words", "units", "above", "at_least", "at_most")
            options = {name: getattr(kind, name) for name in names} | options
            return QuantityField(label, **options)
        case Text(max_length=length, lines=lines):
            if lines:
                return models.TextField(label, **{"blank": True, **options})
            return models.CharField(label, max_length=length, **{"blank": True, **options})
        case Count(at_least=least, at_most=most):
            validators = [MinValueValidator(least), MaxValueValidator(most)]
            options = {"null": True, "blank": True, **options}
            whole = models.SmallIntegerField if least < 0 else models.PositiveSmallIntegerField
            return whole(label, validators=validators, **options)
        case Number(digits=digits, places=places, at_least=low, at_most=high):
            validators = [MinValueValidator(low), MaxValueValidator(high)]
            options = {"max_digits": digits, "decimal_places": places, **options}
            return models.DecimalField(label, validators=validators, **options)
        case Choice(many=True, none=none):
            unsaid = {"null": True} if none else {"default": list}
            return models.JSONField(label, blank=True, **unsaid, **options)
        case Choice(words=words, blank=blank):
            options = {"max_length": 10, "blank": blank, **options}
            return models.CharField(label, choices=choices_of(words), **options)
        case Flag():
            return models.BooleanField(label, null=True, blank=True, **options)
        case Day():
            return models.DateField(label, **options)
        case Instant():
            return models.DateTimeField(label, **options)
        case Values():
            return models.JSONField(label, **options)
        case Outline():
            return models.JSONField(label, null=True, blank=True, **options)
        case Computed():
            return models.FloatField(label, null=True, editable=False, **options)
    raise TypeError(f"{label} is not a column of its own.")


def asked(row: models.Model) -> dict[str, str]:
    """Return what is asked about the quantities of a row outside their usual range, by column."""
    found = {
        column.name: localized(question(getattr(row, column.name), column.fact))
        for column in row._meta.concrete_fields
        if isinstance(column, QuantityField) and column.fact
    }
    return {name: said for name, said in found.items() if said}


def choices_of(words: Mapping[str, str]) -> list[tuple[str, Any]]:
    """Return the words of a closed list as choices, shown in the language of who reads them."""
    return [(word, gettext_lazy(shown)) for word, shown in words.items()]


def bounds_of(model_name: str, holder: type) -> list[models.BaseConstraint]:
    """Return the database's own bounds on the quantities that `holder` declares."""
    amounts = [
        (one.column, one.kind) for one in declared(holder).values() if isinstance(one.kind, Amount)
    ]
    return bounded(
        model_name,
        positive=" ".join(name for name, kind in amounts if _is_positive(kind)),
        not_negative=" ".join(name for name, kind in amounts if kind.at_least == 0),
    )


def _is_positive(kind: Amount) -> bool:
    return kind.above is not None or (kind.at_least or 0) > 0


def bounded(
    model_name: str, *, positive: str = "", not_negative: str = ""
) -> list[models.BaseConstraint]:
    """Return the database's own bounds on the reference values of the named quantity columns."""
    rules = [(name, "gt", "is more than zero") for name in positive.split()]
    rules += [(name, "gte", "is not negative") for name in not_negative.split()]
    return [
        models.CheckConstraint(
            name=f"{model_name}_{name}_{operator}_0",
            condition=Q(**{f"{name}_si__isnull": True}) | Q(**{f"{name}_si__{operator}": 0}),
            violation_error_message=f"{name.replace('_', ' ').capitalize()} {words}.",
        )
        for name, operator, words in rules
    ]
