"""What an amendment changed, named line by line: sealed in English, told in the page's language."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from typing import Any

from logbook.facts.codec import to_json
from logbook.facts.messages import Figure, Message, gettext_noop, joined, msg, term, with_unit
from logbook.facts.record import Snapshot
from logbook.facts.sets import declared_along
from logbook.facts.spec import Choice, Fact, Instant
from logbook.hashing import canonical, leaf_hash
from logbook.law.elements import ELEMENTS

# Facts of the book-keeping that differ by nature, and rows of the shelf that are not the record's.
_NOT_COMPARED = ("business", "amends", "earlier", "record.id")
BLANK = "blank"


def changes_between(before: Snapshot, after: Snapshot) -> Iterator[str]:
    """Yield one line per fact that differs: "Ground speed: 6.0 mph, now 5.0 mph"."""
    old, new = dict(_flat(to_json(before))), dict(_flat(to_json(after)))
    for path in dict.fromkeys([*old, *new]):
        if path.startswith(_NOT_COMPARED) or path.endswith((".id", "_id")):
            continue
        if old.get(path, BLANK) != new.get(path, BLANK):
            yield msg(
                "{fact:begin}: {before}, now {after}",
                fact=_words(path, after, before),
                before=_value(path, old, before),
                after=_value(path, new, after),
            )


def _value(path: str, flat: Mapping[str, str], facts: Snapshot) -> str:
    text = flat.get(path, term(BLANK))
    fact = _fact(path)
    if text == BLANK or fact is None:
        return text
    match fact.kind:
        case Choice(words=words):
            return term(words.get(text, text))
        case Instant():  # As the form shows it: the clock at the field.
            local = datetime.fromisoformat(text).astimezone(facts.zone)
            clock = "%H:%M:%S" if local.second else "%H:%M"
            written = {"day": local.date(), "time": local, "zone": f"{local:%Z}"}
            return Message(f"{{day}} {{time:{clock}}} {{zone}}", written)
    return text


def _fact(path: str) -> Fact | None:
    """Return the innermost declared fact of a path."""
    along = declared_along(path)
    return along[-1][0] if along else None


def _none_of(path: str) -> str:
    """Return what an empty list at a path says; "" where it says nothing."""
    fact = _fact(path)
    return fact.kind.none if fact and isinstance(fact.kind, Choice) else ""


def _words(path: str, *either: Snapshot) -> str:
    """Return a fact in the words of the form: "product 1 (Example 250), planned rate"."""
    match path.split("."):
        case ["record", "statements", name] if name in ELEMENTS:
            return term(ELEMENTS[name].title)
        case ["products", place, "name"]:
            return msg("product {number}", number=int(place) + 1)
        case ["products", place, *_]:
            names = [s.products[int(place)].name for s in either if int(place) < len(s.products)]
            row = msg("product {number} ({name})", number=int(place) + 1, name=names[0])
        case ["loads", load, "parts", part, "amount"]:
            row = msg("load {number}", number=int(load) + 1)
            put_in = msg("{product} put in", product=_part_name(int(load), int(part), either))
            return joined(", ", (row, put_in))
        case ["loads", place, *_]:
            row = msg("load {number}", number=int(place) + 1)
        case ["weather", place, *_]:
            row = msg("reading {number}", number=int(place) + 1)
        case ["pictures", place, *_]:
            row = msg("picture {number}", number=int(place) + 1)
        case _:
            return joined(", ", map(_label, declared_along(path)))
    return joined(", ", (row, *map(_label, declared_along(path)[1:])))


def _label(along: tuple[Fact, int | None]) -> str:
    fact, place = along
    if place is None:
        return term(fact.label)
    return msg("{fact} no. {number}", fact=term(fact.label), number=place + 1)


def _part_name(load: int, part: int, either: Iterable[Snapshot]) -> str:
    for s in either:
        names = {product.product_id: product.name for product in s.products}
        if load < len(s.loads) and part < len(s.loads[load].parts):
            return names.get(s.loads[load].parts[part].product_id) or msg("another product")
    return msg("another product")


def _flat(value: Any, path: str = "") -> Iterator[tuple[str, str]]:
    if isinstance(value, dict) and {"value", "unit"} == value.keys():
        yield path, with_unit(Figure(value["value"]), value["unit"])
    elif isinstance(value, dict) and {"nothing", "reason"} == value.keys():
        word, reason = term(value["nothing"]), value["reason"]
        yield path, joined(": ", (word, reason)) if reason else word
    elif isinstance(value, dict) and "coordinates" in value:
        digest = leaf_hash(canonical(value))[:8]
        yield path, msg("an outline (digest {digest})", digest=digest)
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from _flat(item, f"{path}.{key}" if path else key)
    elif value == [] and (none := _none_of(path)):
        yield path, term(none)
    elif isinstance(value, (list, tuple)):
        for place, item in enumerate(value):
            yield from _flat(item, f"{path}.{place}")
    else:
        yield path, _plain(value)


def _plain(value: Any) -> str:
    if value in (None, ""):
        return term(BLANK)
    if isinstance(value, bool):
        return term(gettext_noop("True") if value else gettext_noop("False"))
    if isinstance(value, int | float):
        return Figure(value)
    return str(value)
