"""What every page draws alike: the navigation, a value with its unit, and a colour swatch."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

from django import template
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language, gettext
from django.utils.translation import gettext_lazy as _

from calc.droplets import CLASS_COLOURS, DropletClass
from calc.nozzle import SIZES
from calc.units import other_system
from logbook.checks.core import Run
from logbook.facts.quantity import Quantity
from logbook.facts.wording import three
from logbook.localization import locale
from logbook.localization.locale import READINGS
from logbook.records.names import Named
from logbook.sections.document import Document, Line, Row
from logbook.web import present

register = template.Library()
register.filter(present.heading)
register.filter(present.written)

# A page belongs to the question whose addresses begin like this.
_PAGES = (
    ("today", _("Today"), ("today", "deadlines")),
    ("book", _("Book"), ("book", "record", "keeping")),
    ("plan", _("Plan"), ("plan",)),
    ("season", _("Season"), ("season",)),
    ("shelf", _("Shelf"), ("shelf", "member")),
)


_PAGES_OF_GUESTS = (
    ("audit", _("Records"), ("audit", "record"), "read"),
    ("audit-log", _("Log"), ("audit-log",), "verify"),
)
"""What somebody from outside can use, with the right it needs."""


@register.simple_tag(takes_context=True)
def nav(context: template.Context) -> SafeString:
    """Return the five pages of the book and which of them is open."""
    request = context.get("request")
    match = getattr(request, "resolver_match", None)
    name = (match.url_name or "") if match else ""
    actor = getattr(request, "actor", None)
    if actor and actor.grant:
        open_to = [one for one in _PAGES_OF_GUESTS if actor.can[one[-1]]]
        shown = tuple((address, word, name in begins) for address, word, begins, _right in open_to)
    else:
        shown = tuple((address, word, name.startswith(begins)) for address, word, begins in _PAGES)
    return _nav(get_language() or "", shown)


@lru_cache(maxsize=256)
def _nav(_language: str, pages: tuple[tuple[str, str, bool], ...]) -> SafeString:
    """Return the same few lists of links, each drawn once in each language."""
    shown = [{"name": address, "word": word, "here": here} for address, word, here in pages]
    return render_to_string("partials/nav.html", {"pages": shown})


@register.inclusion_tag("partials/language.html", takes_context=True)
def language_form(context: template.Context, place: str) -> dict[str, Any]:
    """Return the form that chooses the language; `place` keeps its ids apart on one page.

    After the choice it comes back to the page it stands on, where that can be asked for again.
    """
    request = context.get("request")
    again = request is not None and request.method in ("GET", "HEAD")
    return {
        "place": place,
        "readings": _readings(get_language() or ""),
        "next": request.get_full_path() if request is not None and again else "",
        "csrf_token": context.get("csrf_token"),
    }


@lru_cache(maxsize=len(READINGS) + 1)
def _readings(now: str) -> SafeString:
    """Return the choices of the language; their names are the same whatever the page speaks."""
    return format_html_join(
        "\n    ",
        '<option value="{}" lang="{}"{}>{}</option>',
        (
            (code, code, mark_safe(" selected") if code == now else "", one.name)
            for code, one in READINGS.items()
        ),
    )


@register.filter
def localized(text: Any) -> str | SafeString:
    """Return a sentence of the checks in the page's language; one read from a seal as sealed."""
    if locale.is_sealed_english(text):
        return format_html('<span lang="en">{}</span>', text)
    return locale.localized(text)


@register.filter
def term(text: Any) -> str:
    """Return a word of the data (severity, state, droplet class) in the page's language."""
    return locale.translate_word(str(text))


@register.filter
def now(name: Named) -> SafeString | str:
    """Return by what a row of the shelf goes today, where a sealed record calls it otherwise."""
    if not name.now:
        return ""
    words = gettext("now called %(name)s") % {"name": name.now}
    return format_html(' <span class="quiet">{}</span>', words)


@register.filter
def named(name: Named) -> SafeString:
    """Return a name of a record, as sealed; beside it the one of today where that is another."""
    return format_html("{}{}", name.name, now(name))


@register.filter
def figure(value: Any) -> str:
    """Return a number, or its text, with the decimal mark of the page's language."""
    return (
        locale.format_value(value) if isinstance(value, Quantity) else locale.format_number(value)
    )


@register.filter
def day(value: Any) -> str:
    """Return a day as the page's language writes it; empty for none."""
    return locale.format_day(value)


@register.filter
def days(value: Any) -> str:
    """Return the first and the last day of a work, or its one day."""
    return locale.format_days(value)


@register.filter
def at(value: Any, zone: Any) -> str:
    """Return an instant as the clock in `zone` (a zone or its name) showed it."""
    return locale.instant(value, ZoneInfo(zone) if isinstance(zone, str) else zone)


@register.filter
def weekday(value: date) -> str:
    """Return a day with its weekday before it."""
    return locale.format_weekday(value)


@register.simple_tag
def clock_at(value: datetime, zone: str, now: datetime) -> str:
    """Return the time of an instant by the clock in `zone`, with its day if that is not today."""
    local, here = value.astimezone(ZoneInfo(zone)), now.astimezone(ZoneInfo(zone))
    clock = locale.clock_time(local)
    same = local.date() == here.date()
    return clock if same else f"{locale.format_day(local.date())} {clock}"


@register.filter
def day_at(value: Any, zone: str) -> str:
    """Return the day of an instant by the clock in `zone`."""
    return locale.format_day(value.astimezone(ZoneInfo(zone)).date())


@register.filter
def moment(value: Any) -> str:
    """Return an instant in UTC where the words beside it say so."""
    return locale.instant(value, ZoneInfo("UTC")).removesuffix(" UTC")


@register.filter
def other(value: Any) -> str:
    """Return a quantity in the other unit system, three figures; empty where that says nothing."""
    if not isinstance(value, Quantity):
        return ""
    unit = other_system(value.unit)
    return "" if unit == value.unit else f"{locale.format_number(three(value.to(unit)))} {unit}"


@register.simple_tag
def both_units(value: Any) -> SafeString:
    """Return a quantity as entered, its unit in quiet ink, and the other system beneath."""
    if not isinstance(value, Quantity):
        return format_html("{}", "" if value is None else value)
    return format_html(
        '{} <span class="unit">{}</span>{}',
        locale.format_number(value.value),
        value.unit,
        format_html(' <span class="other">{}</span>', other(value)) if other(value) else "",
    )


@register.simple_tag
def mark_beside(shown: Document, *lines: Line | Row) -> present.Mark | None:
    """Return the heaviest mark beside a line of a record, or beside a row and its first cell."""
    return present.mark_at(shown.margin, *(path for line in lines for path in line.about))


@register.simple_tag
def as_sealed() -> SafeString:
    """Return the line that says how what is sealed is written, where the page writes otherwise."""
    if not locale.reads_english():
        said = gettext(
            "What the check found stands here as sealed: in English, with days as year-month-day; "
            "an explanation, as the signer wrote it."
        )
    elif locale.reading().cldr:
        said = gettext("What the check found stands here as sealed, with days as year-month-day.")
    else:
        return SafeString("")
    return format_html('<p class="quiet">{}</p>', said)


@register.simple_tag
def size_swatch(size: str) -> SafeString:
    """Return a nozzle size with its ISO 10625 colour as a swatch and as a word."""
    if size not in SIZES:
        return format_html("{}", size)
    colour = SIZES[size].colour
    return format_html(
        '<span class="swatch iso-{}" aria-hidden="true"></span>{} {}',
        colour.replace(" ", "-"),
        size,
        locale.translate_word(colour),
    )


@register.simple_tag
def class_swatch(symbol: str) -> SafeString:
    """Return a droplet class with its ASABE S572 colour as a swatch, and its word."""
    if symbol not in DropletClass.__members__:
        return format_html("{}", symbol)
    words = locale.translate_word(CLASS_COLOURS[DropletClass[symbol]].words).lower()
    return format_html(
        '<span class="swatch s572-{}" aria-hidden="true"></span>{} ({})', symbol, words, symbol
    )


@register.filter
def silence(runs: Iterable[Run], to_fill: Sequence[Any] = ()) -> present.Silence:
    """Return what it means that these runs of the checks had nothing to say.

    Where what is still to fill in stands on the page, checks that wait for it go without saying.
    """
    return present.silence(run for run in runs if not (to_fill and run.needs))


_SHELF_OF = {
    "customer": "customers",
    "product": "products",
    "nozzle": "nozzles",
    "rig": "rigs",
    "nozzle_set": "nozzle-sets",
}
"""Columns that point at a row with a page of its own."""

_ENDS = ("in_force_to", "removed_on", "expires_on")
"""Days that a blank leaves open."""


@register.simple_tag
def shown(value: Any, name: str = "", words: str = "") -> Any:
    """Return a stored value as a page shows it; a blank is said in words, never left empty."""
    if value is None or value == "" or value == []:
        said = gettext("no end yet") if name in _ENDS else gettext("not said")
        return format_html('<span class="quiet">{}</span>', said)
    if name == "size":
        return size_swatch(value)
    if name.endswith("_class"):
        return class_swatch(value)
    if name in _SHELF_OF:
        address = reverse("shelf-item", args=[_SHELF_OF[name], value.pk])
        return format_html('<a href="{}">{}</a>', address, value)
    if isinstance(value, bool):
        return gettext("yes") if value else gettext("no")
    if isinstance(value, list):
        return ", ".join(map(locale.format_value, value))
    if isinstance(value, date):
        return format_html(
            '<time datetime="{}">{}</time>', value.isoformat(), locale.format_day(value)
        )
    if words:
        return words
    return locale.format_number(value) if isinstance(value, (int, Decimal)) else both_units(value)
