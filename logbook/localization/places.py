"""States and provinces by their ISO 3166-2 codes, for people who know them by name."""

from __future__ import annotations

import unicodedata
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.validators import place_validator

_US = """
AL Alabama; AK Alaska; AZ Arizona; AR Arkansas; CA California; CO Colorado; CT Connecticut;
DE Delaware; DC District of Columbia; FL Florida; GA Georgia; HI Hawaii; ID Idaho; IL Illinois;
IN Indiana; IA Iowa; KS Kansas; KY Kentucky; LA Louisiana; ME Maine; MD Maryland; MA Massachusetts;
MI Michigan; MN Minnesota; MS Mississippi; MO Missouri; MT Montana; NE Nebraska; NV Nevada;
NH New Hampshire; NJ New Jersey; NM New Mexico; NY New York; NC North Carolina; ND North Dakota;
OH Ohio; OK Oklahoma; OR Oregon; PA Pennsylvania; RI Rhode Island; SC South Carolina;
SD South Dakota; TN Tennessee; TX Texas; UT Utah; VT Vermont; VA Virginia; WA Washington;
WV West Virginia; WI Wisconsin; WY Wyoming
"""
_CA = """
AB Alberta; BC British Columbia; MB Manitoba; NB New Brunswick; NL Newfoundland and Labrador;
NS Nova Scotia; NT Northwest Territories; NU Nunavut; ON Ontario; PE Prince Edward Island;
QC Quebec; SK Saskatchewan; YT Yukon
"""


def _coded(country: str, listed: str) -> dict[str, str]:
    pairs = (one.split(maxsplit=1) for one in listed.split(";"))
    return {f"{country}-{code}": " ".join(name.split()) for code, name in pairs}


PLACES: dict[str, str] = _coded("US", _US) | _coded("CA", _CA)
"""Codes and names that are offered; any other code of ISO 3166-2 may be written."""


class PlaceInput(forms.TextInput):
    """A text with the codes on offer; a browser shows them with their names."""

    template_name = "forms/place.html"

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        list_id = f"{context['widget']['attrs'].get('id', name)}_codes"
        context["widget"]["attrs"]["list"] = list_id
        return {**context, "list_id": list_id, "places": PLACES}


def code_of(text: str) -> str:
    """Return the code of a state or province by its name, or by its letters alone; "" if none is
    called so. Capitals, accents and full stops do not matter.
    """
    plain = unicodedata.normalize("NFKD", text.replace(".", " ").casefold())
    wanted = " ".join("".join(one for one in plain if not unicodedata.combining(one)).split())
    called = (
        code for code, name in PLACES.items() if wanted in (name.casefold(), code[3:].casefold())
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
