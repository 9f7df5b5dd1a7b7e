"""The cells of a row, read by the fields of the pages' own forms and by the models' own columns.

So no rule stands twice. A form for each row would cost as much again as the whole rest; here one
form of each kind is made, and what was read from a cell once is kept, for most cells repeat.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms as django_forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxLengthValidator
from django.db.models import NOT_PROVIDED, CharField, TextField
from django.forms.utils import ErrorDict
from django.utils.translation import gettext as _

from logbook.catalog.sheets.kinds import Column, ListColumn, Part, folded, unit_of
from logbook.facts.quantity import BadAnswer
from logbook.facts.usual import question
from logbook.localization.locale import localized, plain_english
from logbook.quantities.columns import QuantityField
from logbook.quantities.inputs import AnswerFormField, plain_number
from logbook.readers import MAX_IN_A_CELL

_KEPT = 5_000
"""Readings of one column that are kept."""

_YES, _NO = frozenset(["yes", "y", "true", "1"]), frozenset(["no", "n", "false", "0"])

Reading = tuple[Any, tuple[str, ...], str]
"""What was read from a cell, what is wrong with it, and what is asked about it."""

Say = Callable[[str, str, str], None]
"""Takes what is said about a cell: the name of its column, what stands there, the words."""


class PartReader:
    """Reads the cells of one part of each row."""

    def __init__(self, part: Part, head: dict[str, int], business: Any) -> None:
        self.part, self.business = part, business
        self.form = part.form(business=business, system="us")
        self.form_cleans = part.form.clean is not django_forms.ModelForm.clean
        # Cleaned values are put in by hand, so nothing may be looked for among the data.
        self.form.cleaned_data = {}
        self.plain: list[tuple[Column, int, int, Any, Any, dict[Any, Reading]]] = []
        self.checked_by_form: set[str] = set()
        self.lists: list[tuple[ListColumn, int]] = []
        model = part.model
        for column in part.columns:
            at = head.get(column.name, -1)
            if isinstance(column, ListColumn):
                self.lists.append((column, at))
                continue
            unit_at = head.get(unit_of(column.name), -1) if part.is_quantity(column) else -1
            self.plain.append(
                (
                    column,
                    at,
                    unit_at,
                    self.form.fields[column.of],
                    model._meta.get_field(column.of),
                    {},
                )
            )
            if _says_all(self.form.fields[column.of], model._meta.get_field(column.of)):
                self.checked_by_form.add(column.of)
        places = [at for _c, at, *_rest in self.plain] + [at for _c, at in self.lists]
        self.places = [at for at in places if at >= 0]
        self.named = {column.of: column.name for column in part.columns}
        self.named |= {column.list: column.name for column, _at in self.lists}
        if part.reference:
            self.named[part.reference.column] = part.reference.names[0].name

    def is_blank(self, cells: list[str]) -> bool:
        """Return whether the row says nothing about this part."""
        return not any(at < len(cells) and cells[at].strip() for at in self.places)

    def read(self, cells: list[str], refuse: Say, ask: Say) -> dict[str, Any]:
        """Return the columns that the cells say something about; a blank says nothing."""
        found: dict[str, Any] = {}
        width = len(cells)
        for column, at, unit_at, form_field, model_field, kept in self.plain:
            text = cells[at].strip() if -1 < at < width else ""
            unit = cells[unit_at].strip() if -1 < unit_at < width else ""
            if not text and not unit:
                continue
            key: Any = text if unit_at < 0 else (text, unit)
            read = kept.get(key)
            if read is None:
                whole = column.of in self.checked_by_form
                read = _read(form_field, None if whole else model_field, text, unit)
                if len(kept) < _KEPT:
                    kept[key] = read
            value, faults, question = read
            for fault in faults:
                refuse(column.name, f"{text} {unit}".strip(), fault)
            if question:
                ask(column.name, f"{text} {unit}".strip(), question)
            found[column.of] = value
        return found

    def complete(self, found: dict[str, Any], refuse: Say) -> dict[str, Any]:
        """Return what a new row has where the cells are blank: what the form begins with."""
        whole: dict[str, Any] = {}
        for column, _at, _unit, form_field, model_field, _kept in self.plain:
            name = column.of
            if name in found:
                continue
            begun = self.form.get_initial_for_field(form_field, name)
            if begun not in (None, "", []):
                whole[name] = begun
            elif form_field.required:
                refuse(column.name, "", _("It is needed."))
            elif model_field.default is NOT_PROVIDED:
                whole[name] = form_field.empty_value if hasattr(form_field, "empty_value") else None
        return whole

    def cleaned(self, found: dict[str, Any], refuse: Say) -> dict[str, Any]:
        """Return the columns after what the form itself says of them together."""
        self.form.cleaned_data = dict(found)
        self.form._errors = ErrorDict()  # type: ignore[attr-defined]
        self.form.clean()
        for name, texts in self.form.errors.items():
            for text in texts:
                refuse(self.named.get(name, name), "", str(text))
        return {name: value for name, value in self.form.cleaned_data.items() if value is not None}


def _says_all(form_field: Any, model_field: Any) -> bool:
    """Return whether the form's field checks all that the model's column would of a plain text."""
    return (
        isinstance(model_field, (CharField, TextField))
        and not isinstance(model_field, QuantityField)
        and not model_field.choices
        and all(
            one in form_field.validators or isinstance(one, MaxLengthValidator)
            for one in model_field.validators
        )
    )


def _read(form_field: Any, model_field: Any, text: str, unit: str) -> Reading:
    """Return what a cell says by the form's field and the model's column."""
    try:
        value = form_field.clean(_input_of(form_field, text, unit))
        if model_field is not None:
            value = model_field.clean(value, None)
    except ValidationError as bad:
        return None, tuple(bad.messages), ""
    except BadAnswer as bad:
        return None, (localized(bad),), ""
    fact = getattr(model_field, "fact", None)
    return value, (), localized(question(value, fact)) if fact else ""


def _input_of(form_field: Any, text: str, unit: str) -> Any:
    """Return the text of a cell as the form's field takes it."""
    if "\0" in text or "\0" in unit:
        raise ValidationError(_("A character that cannot be stored (NUL) stands here."))
    if len(text) > MAX_IN_A_CELL:
        raise ValidationError(_("The cell is too long."))
    if isinstance(form_field, AnswerFormField):
        return [text, unit, ""]
    if isinstance(form_field, django_forms.MultipleChoiceField):
        return [_choice(form_field, one) for one in text.split(";") if one.strip()]
    if isinstance(form_field, django_forms.ChoiceField):
        return _choice(form_field, text)
    if isinstance(form_field, django_forms.BooleanField):
        if text.casefold() in _YES | _NO:
            return text.casefold() in _YES
        raise ValidationError(_("yes or no is needed here."))
    if isinstance(form_field, django_forms.DecimalField):
        return plain_number(text)
    return text


def _choice(form_field: Any, text: str) -> str:
    """Return the value of a closed list, which may be written by its words."""
    wanted = folded(text)
    with plain_english():
        english = {value: str(words).casefold() for value, words in form_field.choices}
    for value, words in form_field.choices:
        known = (str(value).casefold(), str(words).casefold(), english[value])
        if value and wanted in known:
            return str(value)
    raise ValidationError(
        _("“%(text)s” is not in the list; allowed are %(values)s.")
        % {
            "text": text[:60],
            "values": ", ".join(str(value) for value, _words in form_field.choices if value),
        }
    )
