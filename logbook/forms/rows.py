"""Forms of one row with the rows that hang on it; they read, `tenancy.rows.save_row` decides."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.db import models
from django.forms.formsets import INITIAL_FORM_COUNT, TOTAL_FORM_COUNT
from django.forms.utils import ErrorDict
from django.http import QueryDict
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.errors.exceptions import Refused, RefusedInput
from logbook.localization.locale import translate_word
from logbook.quantities.columns import asked
from logbook.quantities.inputs import AnswerFormField
from logbook.tenancy.models import TenantModel

ADD_ROW = "add-row-"
"""A button of this name and the name of a list asks for one more blank row."""

MAX_ROWS = 200
"""Rows of one list that a form takes: far more than a label or a data sheet has."""

Words = str | Promise

NOT_WHOLE = gettext_lazy(
    "The rows did not arrive whole, so none is touched. Open the page again and write what you "
    "changed."
)


@dataclass(frozen=True, kw_only=True)
class Fact:
    """One column of a saved row as a page reads it.

    Attributes: name of the column; label; value as stored; words, what a closed choice is called;
    question, what is asked about a number outside its usual range.
    """

    name: str
    label: str
    value: Any
    words: str = ""
    question: str = ""


if TYPE_CHECKING:
    _ModelForm = forms.ModelForm[Any]
    _InlineFormSet = forms.BaseInlineFormSet[Any, Any, Any]
else:  # The stubs make these generic; at run time they cannot be subscripted.
    _ModelForm = forms.ModelForm
    _InlineFormSet = forms.BaseInlineFormSet


class RowForm(_ModelForm):
    """Offers only rows of the business, the units of the person's system, and plain refusals."""

    sections: ClassVar[tuple[tuple[Words, tuple[str, ...]], ...]] = ()
    """Titles and the columns beneath them; without, the form is one list."""

    joined: ClassVar[dict[str, tuple[str, ...]]] = {}
    """By column, what naming a row of the choice needs besides the row."""

    def __init__(self, *args: Any, business: Any, system: str, **kwargs: Any) -> None:
        self.business, self.system = business, system
        super().__init__(*args, **kwargs)
        if isinstance(self.instance, TenantModel) and self.instance.business_id is None:
            self.instance.business = business
        for name, field in self.fields.items():
            self._make_plain(name, field)

    def _make_plain(self, name: str, field: forms.Field) -> None:
        label = field.label or name
        field.error_messages["required"] = _("%(label)s is needed.") % {"label": label}
        if isinstance(field, AnswerFormField):
            field.offer_unit(self.system)
        elif isinstance(field, forms.DateField):
            field.widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
            field.error_messages["invalid"] = _(
                "Write the day as year-month-day, such as 2026-05-14."
            )
        elif isinstance(field, forms.ModelChoiceField):
            field.queryset = self.choices_of(name, field.queryset).select_related(
                *self.joined.get(name, ())
            )
            field.empty_label = _("choose")
            field.error_messages["invalid_choice"] = _("There is no such %(noun)s here.") % {
                "noun": str(label).lower()
            }
        elif isinstance(field, forms.NullBooleanField):
            said = [("unknown", _("not said")), ("true", _("yes")), ("false", _("no"))]
            field.widget.choices = said
        elif isinstance(field, forms.TypedChoiceField):
            blank = _("choose") if field.required else _("not said")
            choices: Any = field.choices
            field.choices = [(value, words if value else blank) for value, words in choices]
        elif isinstance(field, forms.CharField) and isinstance(field.widget, forms.Textarea):
            field.widget.attrs["rows"] = 3

    def choices_of(self, name: str, rows: Any) -> Any:
        """Return the rows that the column `name` may point at."""
        return rows.within(self.business)

    def parts(self) -> list[tuple[Words, list[forms.BoundField]]]:
        """Return the fields by section."""
        if not self.sections:
            return [("", list(self.visible_fields()))]
        return [(title, [self[name] for name in names]) for title, names in self.sections]

    def data_for_service(self) -> dict[str, Any]:
        """Return the columns as `save_row` takes them."""
        return {name: self.cleaned_data[name] for name in self.columns()}

    @classmethod
    def columns(cls) -> list[str]:
        """Return the names of the row's own columns; in a list, the row above is not one."""
        columns = set(cls._meta.fields or ())
        return [name for name in cls.base_fields if name in columns]

    @classmethod
    def read(cls, row: models.Model) -> list[tuple[Words, list[Fact]]]:
        """Return the columns of a saved row by section."""
        everything: tuple[tuple[Words, tuple[str, ...]], ...] = (("", tuple(cls.columns())),)
        sections = cls.sections or everything
        questions = asked(row)
        return [
            (title, [_fact(cls, row, name, questions) for name in names])
            for title, names in sections
        ]


def _fact(form: type[RowForm], row: models.Model, name: str, questions: Mapping[str, str]) -> Fact:
    words = getattr(row, f"get_{name}_display", str)()
    label = str(form.base_fields[name].label or name)
    value = getattr(row, name)
    if isinstance(value, list):
        value = [translate_word(one) if isinstance(one, str) else one for one in value]
    return Fact(name=name, label=label, value=value, words=words, question=questions.get(name, ""))


class RowList(_InlineFormSet):
    """The rows that hang on a row: what stands there, and blanks to write on."""

    one: ClassVar[Words] = gettext_lazy("row")
    many: ClassVar[Words] = gettext_lazy("rows")
    default_error_messages: ClassVar[dict[str, Any]] = {
        **_InlineFormSet.default_error_messages,
        "missing_management_form": NOT_WHOLE,
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.initial_form_count():
            self.extra = 1

    def clean(self) -> None:
        """Refuse counts that disagree with the rows: a row not named would be taken away."""
        super().clean()
        counted = self.management_form.cleaned_data
        # A count that did not arrive is 0 here.
        total, standing = counted[TOTAL_FORM_COUNT] or 0, counted[INITIAL_FORM_COUNT] or 0
        named = {form.cleaned_data["id"].pk for form in self.initial_forms if _names_a_row(form)}
        expected = {row.pk for row in self.get_queryset()}
        if not 0 <= standing <= total or standing != len(expected) or named != expected:
            raise ValidationError(NOT_WHOLE)

    def data_for_service(self) -> list[dict[str, Any]]:
        """Return the rows as `save_row` takes them, in their order, those taken away left out."""
        found = []
        for form in self.forms:
            standing = form.cleaned_data.get("id")
            if form.cleaned_data.get("DELETE") or not (form.has_changed() or standing):
                continue
            # The id as sent: the service refuses one that does not hang on this row.
            found.append({"id": standing and standing.pk, **form.data_for_service()})
        return found


def _names_a_row(form: Any) -> bool:
    return bool(form.cleaned_data.get("id"))


def row_list(
    parent: type[models.Model], form: type[RowForm], *, one: Words, many: Words
) -> type[RowList]:
    """Return the class of a list of rows on `parent`; `one` and `many` are what rows are called."""
    made: type[Any] = forms.inlineformset_factory(
        parent,
        form._meta.model,
        form=form,
        formset=RowList,
        extra=0,
        can_delete=True,
        can_delete_extra=False,
        max_num=MAX_ROWS,
        # One more is read, so that it is seen and refused; a thousand more are not.
        absolute_max=MAX_ROWS + 1,
        validate_max=True,
    )
    return type(made.__name__, (made,), {"one": one, "many": many})


class Sheet:
    """A form and its lists as one: read together, refused together.

    Args: form and lists, what it is made of; business and system of the person; row, what stands;
    data and files as sent; initial, to begin with; new, whether the page was for a new row: no row
    hangs on it yet, even where an earlier sending of the same page has made it since.
    """

    def __init__(
        self,
        form: type[RowForm],
        lists: Mapping[str, type[RowList]],
        *,
        business: Any,
        system: str,
        row: Any = None,
        data: QueryDict | None = None,
        files: Any = None,
        initial: dict[str, Any] | None = None,
        new: bool = False,
    ) -> None:
        shared: dict[str, Any] = {"business": business, "system": system}
        self._adding = _list_asked_for(data, lists)
        if data is not None and self._adding:
            data = _with_one_more(data, self._adding, lists[self._adding].form, shared)
        self.form = form(data, files, instance=row, initial=initial, **shared)
        self.lists: dict[str, RowList] = {
            name: made(
                data,
                files,
                instance=self.form.instance,
                prefix=name,
                form_kwargs=shared,
                queryset=_none_of(made) if new else None,
            )
            for name, made in lists.items()
        }
        if self._adding:
            self.hush()

    def hush(self) -> None:
        """Take no verdict on what was typed: it is drawn again as it was sent."""
        for each in self._all_forms():
            _without_complaint(each)

    @property
    def adds_a_row(self) -> bool:
        """Whether the person asked for one more blank row, not to save."""
        return bool(self._adding)

    def is_valid(self) -> bool:
        """Return whether everything can be read; every part is looked at."""
        found = [self.form.is_valid(), *(rows.is_valid() for rows in self.lists.values())]
        return all(found)

    def data_for_service(self) -> dict[str, Any]:
        """Return what was read as `save_row` takes it."""
        rows = {name: rows.data_for_service() for name, rows in self.lists.items()}
        return {**self.form.data_for_service(), **rows}

    def take(self, refusal: Refused) -> None:
        """Put what a service refused beside the fields it speaks of, or else above them all."""
        if not isinstance(refusal, RefusedInput):
            self.form.add_error(None, str(refusal))
            return
        for path, texts in refusal.errors.items():
            if path in self.form.fields:
                self.form.add_error(path, texts)
            else:
                name = " ".join(translate_word(part.replace("_", " ")) for part in path.split("."))
                self.form.add_error(None, [f"{name}: {text}" for text in texts])

    def has_errors(self) -> bool:
        """Return whether anything cannot be taken."""
        if self._adding:
            return False
        return any(form.errors for form in self._all_forms()) or any(
            rows.non_form_errors() for rows in self.lists.values()
        )

    def _all_forms(self) -> Iterator[Any]:
        yield self.form
        for rows in self.lists.values():
            yield from rows.forms


def _none_of(made: Any) -> Any:
    return made.model.objects.none()


def _list_asked_for(data: QueryDict | None, lists: Mapping[str, Any]) -> str:
    return next((name for name in lists if data and f"{ADD_ROW}{name}" in data), "")


def _with_one_more(
    data: QueryDict, name: str, form: type[Any], shared: dict[str, Any]
) -> QueryDict:
    """Return what was sent with one more row, which stands as blank as a first one does."""
    data = data.copy()
    count = data.get(f"{name}-TOTAL_FORMS", "0")
    # A count that is none is left as it came: the list refuses it when the page is to be saved.
    rows = int(count) if re.fullmatch(r"[0-9]{1,3}", count) else MAX_ROWS
    if rows >= MAX_ROWS:
        return data
    data[f"{name}-TOTAL_FORMS"] = str(rows + 1)
    for bound in form(prefix=f"{name}-{rows}", **shared):
        if isinstance(bound.field, AnswerFormField):
            data[f"{bound.html_name}_unit"] = bound.field.widget.offered
        elif bound.initial:
            data[bound.html_name] = str(bound.initial)
    return data


def _without_complaint(form: Any) -> None:
    """Let a half-written form be drawn again as it was typed: nobody asked for a verdict yet."""
    form._errors = ErrorDict()
    form.cleaned_data = {}
