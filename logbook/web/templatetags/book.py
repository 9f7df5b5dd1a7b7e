"""What every page draws alike: the navigation, a value with its unit, and a colour swatch."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from django import template
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from calc.droplets import CLASS_COLOURS, DropletClass
from calc.nozzle import SIZES
from calc.units import other_system
from logbook.rules.core import Run
from logbook.rules.quantity import Quantity
from logbook.rules.wording import three
from logbook.web.book import present

register = template.Library()

# A page belongs to the question whose addresses begin like this.
_PAGES = (
    ("today", "Today", ("today", "deadlines")),
    ("book", "Book", ("book", "record", "keeping")),
    ("plan", "Plan", ("plan",)),
    ("season", "Season", ("season",)),
    ("shelf", "Shelf", ("shelf", "member")),
)


@register.inclusion_tag("partials/nav.html", takes_context=True)
def nav(context: template.Context) -> dict[str, Any]:
    """Return the five pages of the book and which of them is open."""
    request = context.get("request")
    match = getattr(request, "resolver_match", None)
    name = (match.url_name or "") if match else ""
    return {
        "pages": [
            {"name": address, "word": word, "here": name.startswith(begins)}
            for address, word, begins in _PAGES
        ]
    }


@register.filter
def other(value: Any) -> str:
    """Return a quantity in the other unit system, three figures; empty where that says nothing."""
    if not isinstance(value, Quantity):
        return ""
    unit = other_system(value.unit)
    return "" if unit == value.unit else f"{three(value.to(unit))} {unit}"


@register.simple_tag
def both_units(value: Any) -> SafeString:
    """Return a quantity as entered, its unit in quiet ink, and the other system beneath."""
    if not isinstance(value, Quantity):
        return format_html("{}", "" if value is None else value)
    return format_html(
        '{} <span class="unit">{}</span>{}',
        f"{value.value:f}",
        value.unit,
        format_html(' <span class="other">{}</span>', other(value)) if other(value) else "",
    )


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
        colour,
    )


@register.simple_tag
def class_swatch(symbol: str) -> SafeString:
    """Return a droplet class with its ASABE S572 colour as a swatch, and its word."""
    if symbol not in DropletClass.__members__:
        return format_html("{}", symbol)
    words = CLASS_COLOURS[DropletClass[symbol]].words.lower()
    return format_html(
        '<span class="swatch s572-{}" aria-hidden="true"></span>{} ({})', symbol, words, symbol
    )


@register.filter
def silence(runs: Iterable[Run]) -> present.Silence:
    """Return what it means that these runs of the checks had nothing to say."""
    return present.silence(runs)


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
def shown(value: Any, name: str = "", words: str = "", silent: str = "not said") -> Any:
    """Return a stored value as a page shows it; a blank is said in words, never left empty."""
    if value is None or value == "" or value == []:
        said = "no end yet" if name in _ENDS else silent
        return format_html('<span class="quiet">{}</span>', said)
    if name == "size":
        return size_swatch(value)
    if name.endswith("_class"):
        return class_swatch(value)
    if name in _SHELF_OF:
        address = reverse("shelf-item", args=[_SHELF_OF[name], value.pk])
        return format_html('<a href="{}">{}</a>', address, value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(map(str, value))
    if isinstance(value, date):
        return format_html("<time>{}</time>", value.isoformat())
    return words or both_units(value)
