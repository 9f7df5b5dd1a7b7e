"""States and provinces by their ISO 3166-2 codes, for people who know them by name."""

from __future__ import annotations

import unicodedata
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.law.places import places
from logbook.validators import place_validator


def offered() -> dict[str, str]:
    """Return the codes and names on offer; any other code of ISO 3166-2 may be written."""
    return {code: one.name for code, one in places().items() if code.startswith(("US-", "CA-"))}


class PlaceInput(forms.TextInput):
    """A text with the codes on offer; a browser shows them with their names."""

    template_name = "forms/place.html"

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        list_id = f"{context['widget']['attrs'].get('id', name)}_codes"
        context["widget"]["attrs"]["list"] = list_id
        return {**context, "list_id": list_id, "places": offered()}


def code_of(text: str) -> str:
    """Return the code of a state or province by its name, or by its letters alone; "" if none is
    called so. Capitals, accents and full stops do not matter.
    """
    plain = unicodedata.normalize("NFKD", text.replace(".", " ").casefold())
    wanted = " ".join("".join(one for one in plain if not unicodedata.combining(one)).split())
    called = (
        code for code, name in offered().items() if wanted in (name.casefold(), code[3:].casefold())
    )
    return next(called, "")


class PlaceField(forms.CharField):
    """A state or province by its name or its ISO 3166-2 code; the code is what is kept."""

    widget = PlaceInput

    def __init__(self, **kwargs: Any) -> None:
        words: dict[str, Any] = {
            "label": gettext_lazy("State or province"),
            "help_text": gettext_lazy(
                "Its name or its code of ISO 3166-2: North Dakota or US-ND, Saskatchewan or CA-SK."
            ),
        }
        super().__init__(**{**words, **kwargs})

    def to_python(self, value: Any) -> str:
        text = super().to_python(value) or ""
        return code_of(text) or text.upper()

    def clean(self, value: Any) -> str:
        place: str = super().clean(value)
        try:
            if place:
                place_validator(place)
        except ValidationError:
            said = _(
                "“%(value)s” is no state or province that is known here; write its name, such as "
                "North Dakota, or its code of ISO 3166-2, such as US-ND or CA-AB."
            )
            typed = str(value).strip()
            shown = typed if len(typed) <= 60 else f"{typed[:60]}…"
            raise ValidationError(said % {"value": shown}, code="place") from None
        return place
