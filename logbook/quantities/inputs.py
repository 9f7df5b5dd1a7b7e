"""The form field of an answer: a number, its unit or a word, and the reason when not measured."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.functional import lazy
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from calc.units import UNITS
from logbook.facts import quantity
from logbook.facts.quantity import (
    Absence,
    Answer,
    BadAnswer,
    Nothing,
    Quantity,
    make_quantity,
    number_and_unit,
    unit_meant,
)
from logbook.facts.units import Units, menu, usual_unit
from logbook.localization.compass import degrees_of
from logbook.localization.locale import format_number, localized, reading, translate_word

WHY = gettext_lazy("why not measured")


def plain_number(text: str) -> str:
    """Return a number as typed with the point as its decimal mark.

    What a page shows with its own mark it also takes back.
    Raises: BadAnswer, saying how to write it.
    """
    return quantity.plain_number(text, mark=reading().mark)


# Widgets are made once and read by many: their words wait for the reader.
_lazily = lazy(translate_word, str)


class AnswerWidget(forms.MultiWidget):
    """Number, unit or word, reason: three inputs that stand on one line of the book."""

    template_name = "forms/answer.html"

    def __init__(self, *, menu: list[str], words: bool) -> None:
        self.shown = menu
        choices: list[Any] = [("", gettext_lazy("unit")), *((code, code) for code in self.shown)]
        if words:
            choices.append(
                (gettext_lazy("or"), [(one.value, _lazily(one.value)) for one in Absence])
            )
        super().__init__(
            {
                "value": forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
                "unit": forms.Select(choices=choices),
                **({"reason": forms.TextInput(attrs={"placeholder": WHY})} if words else {}),
            }
        )

    offered = ""

    def get_context(self, name: str, value: Any, attrs: Any) -> dict[str, Any]:
        entered = value if isinstance(value, list) else self.decompress(value)
        unit = entered[1] if len(entered) > 1 else ""
        # A unit that is not offered here but was entered stays what it is.
        if unit in UNITS and unit not in self.shown:
            self.shown.append(unit)
            units: Any = self.widgets[1]
            units.choices = [*units.choices, (unit, unit)]
        context: dict[str, Any] = super().get_context(name, value, attrs)
        return context

    def value_omitted_from_data(self, data: Any, files: Any, name: str) -> bool:
        # A unit that came without its number says nothing; a word does.
        return f"{name}_value" not in data and data.get(f"{name}_unit") not in set(Absence)

    def decompress(self, value: Any) -> list[str]:
        if isinstance(value, Quantity):
            return [format_number(value.value), value.unit, ""]
        if isinstance(value, Nothing):
            return ["", value.kind.value, value.reason]
        return ["", self.offered, ""]


class StatementWidget(forms.MultiWidget):
    """A word or a text, on one line of the book."""

    template_name = "forms/statement.html"

    def __init__(self) -> None:
        words = [
            ("", gettext_lazy("in words")),
            *((one.value, _lazily(one.value)) for one in Absence),
        ]
        super().__init__(
            {"word": forms.Select(choices=words), "text": forms.TextInput(attrs={"maxlength": 500})}
        )

    def value_omitted_from_data(self, data: Any, files: Any, name: str) -> bool:
        return f"{name}_text" not in data and not data.get(f"{name}_word")

    def decompress(self, value: Any) -> list[str]:
        word, _, reason = str(value or "").partition(":")
        if word.strip().lower() in set(Absence):
            return [word.strip().lower(), reason.strip()]
        return ["", str(value or "")]


class StatementField(forms.Field):
    """Reads a word and a text into one statement: "none", "not measured: why", or the text."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(widget=StatementWidget(), required=False, **kwargs)

    def clean(self, value: Any) -> str:
        word, text = ((part or "").strip() for part in [*(value or []), "", ""][:2])
        if word == Absence.NOT_MEASURED and not text:
            raise ValidationError(_('"not measured" needs the reason why it was not measured.'))
        return ": ".join(part for part in (word, text) if part)


class Boxes(forms.CheckboxSelectMultiple):
    """Boxes to tick, with a hidden input that tells none ticked from none sent."""

    template_name = "forms/boxes.html"

    def value_omitted_from_data(self, data: Any, files: Any, name: str) -> bool:
        return name not in data and f"{name}-shown" not in data


class BoxesField(forms.MultipleChoiceField):
    """Boxes to tick, and one that says that none of them holds; none ticked is None: not said.

    Args: words of a closed list, each with how it is put; none, how the last box is put.
    """

    widget = Boxes
    NONE = "none"

    def __init__(self, *, words: Mapping[str, str], none: str, **kwargs: Any) -> None:
        self.shown = {word: _lazily(said) for word, said in {**words, self.NONE: none}.items()}
        super().__init__(choices=[*self.shown.items()], required=False, **kwargs)

    def prepare_value(self, value: Any) -> Any:
        return [self.NONE] if value == [] else value

    def bound_data(self, data: Any, initial: Any) -> Any:
        return data or None  # an empty list would be drawn as the last box, ticked

    def clean(self, value: Any) -> list[str] | None:
        ticked = super().clean(value)
        if self.NONE in ticked and len(ticked) > 1:
            raise ValidationError(
                _("“%(none)s” is ticked beside %(others)s; take the tick away from one of them.")
                % {
                    "none": self.shown[self.NONE],
                    "others": ", ".join(
                        f"“{self.shown[one]}”" for one in ticked if one != self.NONE
                    ),
                }
            )
        return [] if ticked == [self.NONE] else ticked or None

    def has_changed(self, initial: Any, data: Any) -> bool:
        return super().has_changed(self.prepare_value(initial), data)


class AnswerFormField(forms.Field):
    """Reads the three inputs into an answer; a number without a unit is refused, never guessed."""

    def __init__(
        self, *, dimensions: Iterable[str], words: bool, units: Units | None = None, **kwargs: Any
    ) -> None:
        self.dimensions = tuple(dimensions)
        self.words, self.units = words, units
        widget = AnswerWidget(menu=menu(self.dimensions, units), words=words)
        super().__init__(widget=widget, **kwargs)

    def offer_unit(self, system: str) -> None:
        """Let a blank answer stand ready in the usual unit of a system, "us" or "metric"."""
        self.widget.offered = usual_unit(self.dimensions, system=system, units=self.units)

    def clean(self, value: Any) -> Answer:
        number, unit, reason = ((part or "").strip() for part in [*(value or []), "", "", ""][:3])
        if "\x00" in reason:
            raise ValidationError(_("The reason holds a character that cannot be stored (NUL)."))
        if self.dimensions == ("angle",) and (degrees := degrees_of(number)):
            raise ValidationError(
                _("Write the direction in degrees: %(point)s is %(degrees)s.")
                % {"point": number, "degrees": format_number(degrees)}
            )
        if unit in set(Absence):
            if number:
                raise ValidationError(
                    _('Give either the number %(number)s or "%(word)s", not both.')
                    % {"number": number, "word": translate_word(unit)}
                )
            try:
                return Nothing(Absence(unit), reason)
            except BadAnswer as bad:
                raise ValidationError(localized(bad)) from None
        if reason:
            raise ValidationError(
                _(
                    "“%(reason)s” stands where the reason goes: choose “not measured” for it to "
                    "count."
                )
                % {"reason": reason}
            )
        if not number:
            if self.required:
                raise ValidationError(self.error_messages["required"], code="required")
            return None
        alone, behind = number_and_unit(number)
        if alone and unit_meant(behind) in UNITS:
            # A unit typed behind the number is read; the one that stands beside it may not differ.
            if unit and unit_meant(unit) != unit_meant(behind):
                raise ValidationError(
                    _("%(number)s has another unit than the %(unit)s beside it; choose one.")
                    % {"number": number, "unit": unit}
                )
            number, unit = alone, behind
        if not unit:
            raise ValidationError(_("%(number)s needs its unit.") % {"number": number})
        try:
            return make_quantity(number, unit, dimensions=self.dimensions, mark=reading().mark)
        except BadAnswer as bad:
            raise ValidationError(localized(bad)) from None

    def has_changed(self, initial: Any, data: Any) -> bool:
        # The unit alone is a ready-made choice, not an entry.
        number, unit, _ = [*(data or []), "", "", ""][:3]
        return bool(number or unit in set(Absence)) or initial is not None
