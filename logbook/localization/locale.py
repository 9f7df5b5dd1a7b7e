"""How numbers, days, times and sentences read on a page, in the language of who reads it.

Pages only. The printed record, seals, exports, the API's fields and stored sentences are English
with ISO dates and the decimal point, whoever makes them: `plain_english` holds that where a text of
this kind is built, because a seal's hash and a paper's bytes may not depend on who asked for them.

"en" writes days as 2026-11-25, as the paper does; a browser that names no country gets it.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ContextDecorator
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

from babel import Locale, UnknownLocaleError
from babel.dates import format_date, format_time
from django.utils import translation
from django.utils.translation import gettext
from django.utils.translation.trans_real import parse_accept_lang_header

from calc.errors import OutOfRange
from logbook.facts.messages import Message, is_day, is_number, rendered, term
from logbook.facts.quantity import Nothing, Quantity
from logbook.facts.terms import out_of_range


@dataclass(frozen=True)
class Reading:
    """One way to read the book: a language with its decimal mark and its way to write a day."""

    name: str  # in its own language
    cldr: str = ""  # whose dates and times are written; "" writes ISO 8601
    comma: bool = False  # whether the decimal mark is a comma

    @property
    def mark(self) -> str:
        return "," if self.comma else "."


READINGS = {
    "en": Reading("English (2026-11-25, 1.5)"),
    "en-us": Reading("English, US (Nov 25, 2026, 1.5)", "en_US"),
    "en-gb": Reading("English (25 Nov 2026, 1.5)", "en_GB"),
    "es": Reading("Español, punto (25 nov 2026, 1.5)", "es_MX"),
    "es-es": Reading("Español, coma (25 nov 2026, 1,5)", "es_ES", comma=True),
}
"""What a person can choose, by the code that stands in the user's row and in the cookie."""

PLAIN = "en"
COOKIE = "language"
API = "/api/"
"""Beneath it programs ask, which choose a language by Accept-Language alone."""


def reading() -> Reading:
    """Return how the page at hand is read."""
    return READINGS.get(translation.get_language() or PLAIN, READINGS[PLAIN])


def negotiated(accepted: str) -> str:
    """Return the code that serves an Accept-Language header best; "en" where none does.

    "es-AR" gets the decimal mark that CLDR has for Argentina, "en-AU" the day first.
    """
    for tag in parse_accept_lang_header(accepted.lower()):
        found = _by_tag(tag[0])
        if found:
            return found
    return PLAIN


@lru_cache(maxsize=256)
def _by_tag(tag: str) -> str:
    if tag in READINGS:
        return tag
    language, _, rest = tag.partition("-")
    if language not in READINGS:
        return ""
    if language == "en":
        return "en-gb" if rest else PLAIN
    try:
        spoken = Locale.parse(tag, sep="-")
    except (UnknownLocaleError, ValueError):
        return language
    return "es-es" if spoken.number_symbols["latn"]["decimal"] == "," else language


class plain_english(ContextDecorator):  # noqa: N801
    """Holds the active language at plain English: what is made inside is the same for everybody."""

    def __enter__(self) -> None:
        self._before = translation.get_language()
        translation.activate(PLAIN)

    def __exit__(self, *failure: object) -> None:
        if self._before is None:
            translation.deactivate_all()
        else:
            translation.activate(self._before)

    def _recreate_cm(self) -> plain_english:
        return plain_english()


def format_value(value: Any, how: str = "") -> str:
    """Return a value as the page at hand writes it; digits stay as they were entered.

    Args: how, a format of Python's own ("f", ".1f", "%H:%M"), applied before the decimal mark.
    """
    if isinstance(value, Message):
        return localized(value)
    if isinstance(value, Quantity):
        return f"{format_number(f'{value.value:f}')} {value.unit}"
    if isinstance(value, Nothing):
        word = gettext(value.kind.value)
        return f"{word}: {value.reason}" if value.reason else word
    if isinstance(value, datetime):
        return clock_time(value) if how == "%H:%M" else format(value, how)
    if is_day(value) and not how:
        return format_day(value)
    if is_number(value):
        return format_number(format(value, how))
    return format(value, how)


def format_number(number: float | Decimal | str) -> str:
    """Return a number, or its plain text, with the decimal mark of the page at hand."""
    text = f"{number:f}" if isinstance(number, Decimal) else str(number)
    return text.replace(".", reading().mark)


def count(number: int) -> str:
    """Return a whole number in groups of three: "20,000"; "20 000" where commas are decimal."""
    return f"{number:,}".replace(",", "\u202f" if reading().comma else ",")


def format_day(value: date | None) -> str:
    """Return a day: "2026-11-25", "Nov 25, 2026", "25 nov 2026"; the month is never a number alone
    except in ISO's own order, so that no reader takes it for the day.
    """
    if value is None:
        return ""
    cldr = reading().cldr
    if not cldr:
        return f"{value:%Y-%m-%d}"
    pattern = "medium" if cldr != "es_ES" else "d MMM y"
    return format_date(value, pattern, locale=cldr)


def format_days(days: Sequence[date]) -> str:
    """Return the days of a work: one, or the first and the last; "" for none."""
    if len(days) < 2:
        return format_day(next(iter(days), None))
    return gettext("%(first)s to %(last)s") % {
        "first": format_day(days[0]),
        "last": format_day(days[-1]),
    }


def format_weekday(value: date) -> str:
    """Return a day with its weekday before it: "Wednesday, 2026-11-25"."""
    name = format_date(value, "EEEE", locale=reading().cldr or "en")
    return f"{name[:1].upper()}{name[1:]}, {format_day(value)}"


def clock_time(value: datetime | time) -> str:
    """Return a time of day: "16:05", or "4:05 PM" where that is how it is said."""
    if reading().cldr != "en_US":
        return f"{value:%H:%M}"
    return format_time(value, "h:mm a", locale="en_US", tzinfo=getattr(value, "tzinfo", None))


def instant(value: datetime | None, zone: ZoneInfo) -> str:
    """Return an instant as the clock in `zone` showed it, with the zone's short name."""
    if value is None:
        return ""
    local = value.astimezone(zone)
    return f"{format_day(local.date())} {clock_time(local)} {local:%Z}"


def localized(text: object) -> str:
    """Return a sentence of the checks in the language of the page at hand.

    A refusal (`BadAnswer`, `OutOfRange`) is told by its parts. A text that is not a `Message`,
    such as one read back from a seal, comes back as it is.
    """
    if isinstance(text, OutOfRange):
        text = out_of_range(text)
    elif isinstance(text, ValueError):
        text = text.args[0] if text.args else ""
    # Plain English with ISO days is what the text is already.
    if not isinstance(text, str) or (translation.get_language() or PLAIN) == PLAIN:
        return str(text)
    return rendered(text, translate=gettext, show=format_value)


def is_sealed_english(text: object) -> bool:
    """Return whether a text is English on a page that is not: it needs lang="en"."""
    said = bool(text) and isinstance(text, str) and not isinstance(text, Message)
    return said and not reads_english()


def reads_english() -> bool:
    """Return whether the page at hand is in English, as all that is sealed is."""
    return (translation.get_language() or PLAIN).startswith("en")


def translate_word(text: str) -> str:
    """Return a word of the data (a severity, a state, a droplet class) as the page has it."""
    return localized(term(text))
