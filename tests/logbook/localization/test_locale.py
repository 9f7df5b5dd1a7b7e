"""Numbers, days, times and sentences as each locale reads them, and as none may leak.

The ways of writing are CLDR's (through Babel): en-US "Nov 25, 2026" and "4:05 PM", en-GB "25 Nov
2026", Spanish "25 nov 2026"; Mexico has the decimal point, Spain and Argentina the comma.
"""

from __future__ import annotations

import json
import pickle
from datetime import UTC, date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.utils import translation

from calc.droplets import DropletClass
from calc.errors import OutOfRange, within
from calc.nozzle import SIZES
from logbook.facts.messages import Figure, Message, joined, msg, term, with_unit
from logbook.facts.quantity import Absence, BadAnswer, Nothing, Quantity
from logbook.facts.wording import listed
from logbook.localization import locale
from logbook.quantities.inputs import plain_number

DAY = date(2026, 11, 25)
INSTANT = datetime(2026, 11, 25, 22, 5, tzinfo=UTC)
CHICAGO = ZoneInfo("America/Chicago")


@pytest.mark.parametrize(
    ("header", "code"),
    [
        ("", "en"),
        ("*", "en"),
        ("nonsense;;q=x", "en"),
        ("en", "en"),
        ("en-US,en;q=0.9", "en-us"),
        ("en-AU", "en-gb"),
        ("es", "es"),
        ("es-MX,es;q=0.9", "es"),
        ("es-US", "es"),
        ("es-419", "es"),
        ("es-AR", "es-es"),
        ("es-ES", "es-es"),
        ("es-abcd-12345678", "es"),
        ("fr-CA, es-MX;q=0.5, en;q=0.3", "es"),
        ("en;q=0.2, es-es;q=0.9", "es-es"),
        ("de", "en"),
    ],
)
def test_a_browser_gets_the_language_and_the_decimal_mark_of_its_country(
    header: str, code: str
) -> None:
    assert locale.negotiated(header) == code


@pytest.mark.parametrize(
    ("code", "day", "instant", "figure"),
    [
        ("en", "2026-11-25", "2026-11-25 16:05 CST", "15.0"),
        ("en-us", "Nov 25, 2026", "Nov 25, 2026 4:05 PM CST", "15.0"),
        ("en-gb", "25 Nov 2026", "25 Nov 2026 16:05 CST", "15.0"),
        ("es", "25 nov 2026", "25 nov 2026 16:05 CST", "15.0"),
        ("es-es", "25 nov 2026", "25 nov 2026 16:05 CST", "15,0"),
    ],
)
def test_days_instants_and_figures_read_as_their_locale_writes_them(
    code: str, day: str, instant: str, figure: str
) -> None:
    with translation.override(code):
        assert locale.format_day(DAY) == day
        assert locale.instant(INSTANT, CHICAGO) == instant
        assert locale.format_number(Decimal("15.0")) == figure
        assert locale.format_value(Quantity(Decimal("15.0"), "gal/ac")) == f"{figure} gal/ac"


def test_every_code_of_the_settings_is_one_that_a_person_can_choose(settings: object) -> None:
    assert [code for code, _ in settings.LANGUAGES] == list(locale.READINGS)  # type: ignore[attr-defined]


class TestSaid:
    def test_it_is_plain_english_to_everything_but_a_page(self) -> None:
        said = msg("Used {mix} of mix.", mix=Quantity(Decimal("15.0"), "gal"))
        assert said == "Used 15.0 gal of mix."
        assert json.dumps({said: said}) == '{"Used 15.0 gal of mix.": "Used 15.0 gal of mix."}'
        assert f"{said}" == "Used 15.0 gal of mix."
        with translation.override("es-es"):
            assert str(said) == "Used 15.0 gal of mix."

    def test_a_page_tells_it_with_its_values_in_its_own_language(self) -> None:
        rate = with_unit(Figure("17.6"), "gal/ac")
        spread = msg("at this accuracy between {low} and {high}", low=Figure("16.9"), high=18)
        said = msg(
            "{delivered}, label asks {limits}; {spread}.",
            delivered=msg("Delivered {rate}", rate=rate),
            limits=msg("at least {low}", low=Quantity(Decimal("18.0"), "gal/ac")),
            spread=spread,
        )
        assert said == (
            "Delivered 17.6 gal/ac, label asks at least 18.0 gal/ac; at this accuracy between "
            "16.9 and 18."
        )
        with translation.override("es-es"):
            assert locale.localized(said) == (
                "Se entregaron 17,6 gal/ac; la etiqueta pide como mínimo 18,0 gal/ac; con "
                "esta exactitud entre 16,9 y 18."
            )
        with translation.override("es"):
            assert "17.6 gal/ac" in locale.localized(said)

    def test_days_and_times_in_it_are_written_as_the_locale_does(self) -> None:
        said = msg("The catch test of {day} was {age} days old, more than {most}",
                   day=DAY, age=400, most=365)  # fmt: skip
        assert said == "The catch test of 2026-11-25 was 400 days old, more than 365"
        with translation.override("en-us"):
            assert "of Nov 25, 2026 was" in locale.localized(said)
        with translation.override("es"):
            assert locale.localized(said).startswith("La prueba de aforo del 25 nov 2026 tenía 400")

    def test_what_a_person_entered_is_never_translated(self) -> None:
        said = msg("the planned rate of {name}", name="mist")
        with translation.override("es"):
            assert locale.localized(term("mist")) == "neblina"
            assert locale.localized(said) == "la dosis prevista de mist"

    def test_lists_and_sums_keep_how_their_parts_were_made(self) -> None:
        both = listed([term("mist"), term("dew or frost")]) + "." + msg(" in bands")
        assert both == "mist and dew or frost. in bands"
        with translation.override("es"):
            assert locale.localized(both) == "neblina y rocío o escarcha. en bandas"
            assert locale.localized("x: " + term("mist")) == "x: neblina"
            assert locale.localized(joined("{} ", ["a", term("mist")])) == "a{} neblina"

    def test_a_capital_at_the_beginning_is_given_after_translation(self) -> None:
        said = Message("{basis:begin}.", {"basis": msg("cloud")})
        assert said == "Cloud."
        with translation.override("es"):
            assert locale.localized(said) == "Nubosidad."

    def test_it_survives_a_copy_through_pickle(self) -> None:
        said = pickle.loads(pickle.dumps(msg("Drive {speed}", speed="9 km/h")))
        with translation.override("es"):
            assert locale.localized(said) == "Avance a 9 km/h"

    def test_a_text_without_values_may_hold_braces(self) -> None:
        with translation.override("es"):
            assert "{" in locale.localized(
                msg('Give one object of settings, or {"settings": [ … ]}.')
            )

    def test_a_text_read_from_a_seal_comes_back_as_sealed_and_is_known_as_english(self) -> None:
        sealed = str(msg("Drive {speed}", speed="9 km/h"))
        with translation.override("es"):
            assert locale.localized(sealed) == "Drive 9 km/h"
            assert locale.is_sealed_english(sealed)
            assert not locale.is_sealed_english(msg("no wind"))
        assert not locale.is_sealed_english(sealed)


def test_refusals_are_told_by_their_parts() -> None:
    with pytest.raises(OutOfRange) as refused:
        within("speed_km_h", 99.5, 0.0, 40.0, "km/h")
    assert str(refused.value) == "speed_km_h is 99.5; it must be between 0 and 40 km/h."
    with pytest.raises(BadAnswer) as bad:
        Quantity(Decimal(1), "furlong")
    assert locale.localized(bad.value) == str(bad.value)
    said = "ground speed is 99.5 km/h; it must be between 0 and 40 km/h."
    assert locale.localized(refused.value) == said
    with translation.override("es"):
        said = "velocidad de avance es 99.5 km/h; debe ser entre 0 y 40 km/h."
        assert locale.localized(refused.value) == said
        assert locale.localized(bad.value).startswith('"furlong" no es una unidad; se permiten ')


def test_every_word_of_the_standards_is_translated() -> None:
    with translation.override("es"):
        for word in [one.words for one in DropletClass] + [one.colour for one in SIZES.values()]:
            assert locale.translate_word(word) != word
        for word in Absence:
            assert locale.translate_word(word.value) != word.value
        assert (
            locale.format_value(Nothing(Absence.NOT_MEASURED, "no meter"))
            == "no se midió: no meter"
        )


class TestTyped:
    @pytest.mark.parametrize("code", list(locale.READINGS))
    @pytest.mark.parametrize("text", ["1.5", "1,5", "15", "0.25", "0,25", ".5", ",5", "1234.5"])
    def test_point_and_comma_are_both_decimal_marks(self, code: str, text: str) -> None:
        with translation.override(code):
            assert plain_number(text) == text.replace(",", ".")

    @pytest.mark.parametrize(
        ("code", "text", "said"),
        [
            ("en", "1,234", '"1,234" can be read in two ways; write 1234 or 1.234.'),
            ("en-us", "1,234", '"1,234" can be read in two ways; write 1234 or 1.234.'),
            ("es", "1,234", '"1,234" se puede leer de dos maneras; escriba 1234 o 1.234.'),
            ("es-es", "1.234", '"1.234" se puede leer de dos maneras; escriba 1234 o 1,234.'),
            ("en", "1,234.5", '"1,234.5" can be read in two ways; write 1234.5.'),
            ("es-es", "1.234,5", '"1.234,5" se puede leer de dos maneras; escriba 1234,5.'),
            ("es-es", "12a", '"12a" no es un número; escríbalo como 12,5.'),
        ],
    )
    def test_what_may_stand_for_thousands_is_refused_with_both_readings(
        self, code: str, text: str, said: str
    ) -> None:
        with translation.override(code), pytest.raises(BadAnswer) as refused:
            plain_number(text)
        with translation.override(code):
            assert locale.localized(refused.value) == said

    @pytest.mark.parametrize("code", list(locale.READINGS))
    @pytest.mark.parametrize("number", ["1.200", "15.0", "0.125", "1200", "999.999", "-1.500"])
    def test_what_a_page_shows_it_takes_back_to_the_last_digit(
        self, code: str, number: str
    ) -> None:
        with translation.override(code):
            assert plain_number(locale.format_number(number)) == number


def test_plain_english_holds_inside_and_gives_back_what_was() -> None:
    @locale.plain_english()
    def made() -> str:
        return locale.format_number("1.5") + locale.format_day(DAY) + translation.gettext("Log out")

    with translation.override("es-es"):
        assert made() == "1.52026-11-25Log out"
        assert translation.get_language() == "es-es"
        assert locale.format_number("1.5") == "1,5"
