"""States and provinces by their ISO 3166-2 codes, for people who know them by name."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.base.validators import place_validator

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


class PlaceField(forms.CharField):
    """An ISO 3166-2 code; a name is answered with its code, for the law of this place decides."""

    widget = PlaceInput

    def __init__(self, **kwargs: Any) -> None:
        words: dict[str, Any] = {
            "label": gettext_lazy("State or province"),
            "help_text": gettext_lazy(
                "The code of ISO 3166-2: US-ND for North Dakota, CA-SK for Saskatchewan."
            ),
        }
        super().__init__(**{**words, **kwargs})

    def to_python(self, value: Any) -> str:
        return (super().to_python(value) or "").upper()

    def run_validators(self, value: str) -> None:
        super().run_validators(value)
        if not value:
            return
        wanted = " ".join(value.replace(".", " ").casefold().split())
        for code, name in PLACES.items():
            if wanted in (name.casefold(), code[3:].casefold()):
                raise ValidationError(
                    _("Write the code: %(name)s is %(code)s.") % {"name": name, "code": code}
                )
        place_validator(value)
