"""The points of the compass in the language in use. The Spanish ones: O is oeste, west (Real
Academia Española, "Diccionario de la lengua española", entries noroeste, oeste; from memory)."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django import forms
from django.utils import translation
from django.utils.translation import trans_real

from calc.wind import SECTORS
from logbook.documents.sketch import wind_words
from logbook.localization.compass import NAMES, POINTS, degrees_of, point_of
from logbook.localization.locale import plain_english
from logbook.quantities.inputs import AnswerFormField

SPANISH = dict(
    zip(
        SECTORS,
        (
            *("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE"),
            *("S", "SSO", "SO", "OSO", "O", "ONO", "NO", "NNO"),
        ),
        strict=True,
    )
)


@pytest.fixture
def spanish(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Spanish, with its points whether or not the catalogue holds them yet."""
    with translation.override("es-es"):
        known = trans_real.translation("es-es").gettext

        def told(message: str) -> str:
            context, between, name = message.partition("\x04")
            return SPANISH[name] if context == "compass point" and between else known(message)

        monkeypatch.setattr(trans_real.translation("es-es"), "gettext", told)
        yield


def test_every_point_has_its_direction_and_name() -> None:
    assert tuple(NAMES) == tuple(POINTS) == SECTORS
    assert [str(name) for name in NAMES.values()] == list(SECTORS)
    assert (POINTS["N"], POINTS["W"], POINTS["NNW"]) == ("0", "270", "337.5")


def test_a_direction_is_named_in_the_language_in_use(spanish: None) -> None:
    assert [point_of(22.5 * place) for place in range(16)] == list(SPANISH.values())
    assert "NO (315°)" in wind_words(315.0)
    # What leaves the house stays English.
    assert plain_english()(point_of)(315.0) == "NW"


@pytest.mark.parametrize(("typed", "degrees"), [("no", "315"), ("NW", "315"), ("ssO", "202")])
def test_a_point_typed_for_degrees_is_told_its_degrees(
    spanish: None, typed: str, degrees: str
) -> None:
    field = AnswerFormField(dimensions=("angle",), words=True)
    with pytest.raises(forms.ValidationError, match=degrees):
        field.clean([typed, "°", ""])


def test_what_is_no_point_of_the_language_is_none() -> None:
    assert degrees_of("O") is degrees_of("") is degrees_of("NNN") is None
