"""What an amendment changed, named line by line: sealed in English, told in the page's language."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from typing import Any

from logbook.base.hashes import canonical, leaf_hash
from logbook.facts.messages import Figure, Said, joined, marked, say, told, with_unit
from logbook.facts.record import Snapshot
from logbook.facts.sets import declared_at
from logbook.facts.spec import Instant
from logbook.records.snapshot import to_json
from logbook.rules.duties.elements import ELEMENTS

# Facts of the book-keeping that differ by nature, and rows of the shelf that are not the record's.
_NOT_COMPARED = ("business", "amends", "earlier", "record.id")
BLANK = "blank"

FACTS = (
    marked("customer"),
    marked("field"),
    marked("crop"),
    marked("applicator"),
    marked("supervisor"),
    marked("rig"),
    marked("nozzle"),
    marked("nozzle mounted on"),
    marked("nozzle removed on"),
    marked("catch test"),
    marked("products"),
    marked("loads"),
    marked("weather"),
    marked("crew"),
    marked("continues"),
    marked("name"),
    marked("address"),
    marked("number"),
    marked("day"),
    marked("eppo code"),
    marked("planted on"),
    marked("growth stage bbch"),
    marked("place"),
    marked("time zone"),
    marked("locations"),
    marked("boundary"),
    marked("area ha"),
    marked("planted size"),
    marked("latitude"),
    marked("longitude"),
    marked("kind"),
    marked("text"),
    marked("tested on"),
    marked("tested by"),
    marked("pressure"),
    marked("time"),
    marked("volumes"),
    marked("volume unit"),
    marked("accuracy percent"),
    marked("droplet class"),
    marked("content"),
    marked("acid equivalent"),
    marked("label"),
    marked("edition"),
    marked("in force from"),
    marked("in force to"),
    marked("restricted use"),
    marked("supervised use allowed"),
    marked("required category"),
    marked("rate min"),
    marked("rate max"),
    marked("carrier min"),
    marked("carrier max"),
    marked("finest class"),
    marked("coarsest class"),
    marked("wind min"),
    marked("wind max"),
    marked("temperature min"),
    marked("temperature max"),
    marked("boom height max"),
    marked("minutes after sunrise"),
    marked("minutes before sunset"),
    marked("inversion forbidden"),
    marked("reentry hours"),
    marked("preharvest days"),
    marked("season max"),
    marked("applications max"),
    marked("interval days"),
    marked("no drift reducer with air induction"),
    marked("required adjuvants"),
    marked("forbidden adjuvants"),
    marked("ingredients"),
    marked("classes"),
    marked("asks"),
    marked("deadlines"),
    marked("retention"),
    marked("worker warning"),
    marked("training"),
    marked("licences"),
    marked("authority"),
    marked("categories"),
    marked("certified"),
    marked("valid from"),
    marked("expires on"),
    marked("trainings"),
    marked("trained on"),
    marked("trainer"),
    marked("order"),
    marked("mixed volume"),
    marked("used here"),
    marked("parts"),
    marked("amount"),
    marked("shared"),
    marked("places elsewhere"),
    marked("size"),
    marked("angle"),
    marked("rated flow"),
    marked("rated pressure"),
    marked("exponent"),
    marked("flow accuracy percent"),
    marked("pressure min"),
    marked("pressure max"),
    marked("class table"),
    marked("registration number"),
    marked("registrant"),
    marked("adjuvant functions"),
    marked("planned rate"),
    marked("total used"),
    marked("target"),
    marked("started at"),
    marked("finished at"),
    marked("purpose"),
    marked("pattern"),
    marked("band width"),
    marked("row spacing"),
    marked("nozzles per row"),
    marked("treated area"),
    marked("planned carrier"),
    marked("speed"),
    marked("boom height"),
    marked("duty"),
    marked("density"),
    marked("distance"),
    marked("mix used"),
    marked("note"),
    marked("statements"),
    marked("plate"),
    marked("tank"),
    marked("spacing"),
    marked("nozzle count"),
    marked("gauge accuracy"),
    marked("speed accuracy"),
    marked("spacing accuracy percent"),
    marked("tank accuracy percent"),
    marked("line loss"),
    marked("line loss flow"),
    marked("read at"),
    marked("height"),
    marked("wind from"),
    marked("wind speed"),
    marked("gust"),
    marked("temperature"),
    marked("humidity"),
    marked("cloud"),
    marked("signs"),
)
"""Names of facts, as a line has them."""

CHOSEN = ("pattern", "signs", "kind")
"""Facts that are a word of a closed list, not of a person."""


def changes_between(before: Snapshot, after: Snapshot) -> Iterator[str]:
    """Yield one line per fact that differs: "Ground speed: 6.0 mph, now 5.0 mph"."""
    old, new = dict(_flat(to_json(before))), dict(_flat(to_json(after)))
    for path in dict.fromkeys([*old, *new]):
        if path.startswith(_NOT_COMPARED) or path.endswith((".id", "_id")):
            continue
        if old.get(path, BLANK) != new.get(path, BLANK):
            yield say(
                "{fact:begin}: {before}, now {after}",
                fact=_words(path, after, before),
                before=_value(path, old, before),
                after=_value(path, new, after),
            )


def _value(path: str, flat: Mapping[str, str], facts: Snapshot) -> str:
    text = flat.get(path, told(BLANK))
    fact = declared_at(path)
    if fact is None or not isinstance(fact.kind, Instant) or text == BLANK:
        return text
    # As the form shows it: the clock at the field.
    local = datetime.fromisoformat(text).astimezone(facts.zone)
    clock = "%H:%M:%S" if local.second else "%H:%M"
    written = {"day": local.date(), "time": local, "zone": f"{local:%Z}"}
    return Said(f"{{day}} {{time:{clock}}} {{zone}}", written)


def _words(path: str, *either: Snapshot) -> str:
    """Return a fact in the words of the form: "product 1 (Example 250), planned rate"."""
    fact = declared_at(path)
    label = fact.label if fact else ""
    match path.split("."):
        case ["record", "statements", name] if name in ELEMENTS:
            return told(ELEMENTS[name].title)
        case ["products", place, "name"]:
            return say("product {number}", number=int(place) + 1)
        case ["products", place, *rest]:
            names = [s.products[int(place)].name for s in either if int(place) < len(s.products)]
            row = say("product {number} ({name})", number=int(place) + 1, name=names[0])
        case ["loads", load, "parts", part, "amount"]:
            row = say("load {number}", number=int(load) + 1)
            put_in = say("{product} put in", product=_part_name(int(load), int(part), either))
            return joined(", ", (row, put_in))
        case ["loads", place, *rest]:
            row = say("load {number}", number=int(place) + 1)
        case ["weather", place, *rest]:
            row = say("reading {number}", number=int(place) + 1)
        case _:
            return told(label) if label else _plain_words(path.removeprefix("record.").split("."))
    return joined(", ", (row, told(label) if label else _plain_words(rest)))


def _part_name(load: int, part: int, either: Iterable[Snapshot]) -> str:
    for s in either:
        names = {product.product_id: product.name for product in s.products}
        if load < len(s.loads) and part < len(s.loads[load].parts):
            return names.get(s.loads[load].parts[part].product_id) or say("another product")
    return say("another product")


def _plain_words(parts: Iterable[str]) -> str:
    return joined(
        " ",
        (
            say("no. {number}", number=int(part) + 1)
            if part.isdigit()
            else told(part.replace("_", " "))
            for part in parts
        ),
    )


def _flat(value: Any, path: str = "") -> Iterator[tuple[str, str]]:
    if isinstance(value, dict) and {"value", "unit"} == value.keys():
        yield path, with_unit(Figure(value["value"]), value["unit"])
    elif isinstance(value, dict) and {"nothing", "reason"} == value.keys():
        word, reason = told(value["nothing"]), value["reason"]
        yield path, joined(": ", (word, reason)) if reason else word
    elif isinstance(value, dict) and "coordinates" in value:
        digest = leaf_hash(canonical(value))[:8]
        yield path, say("an outline (digest {digest})", digest=digest)
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from _flat(item, f"{path}.{key}" if path else key)
    elif isinstance(value, (list, tuple)):
        for place, item in enumerate(value):
            yield from _flat(item, f"{path}.{place}")
    else:
        yield path, _plain(value, path)


def _plain(value: Any, path: str) -> str:
    if value in (None, ""):
        return told(BLANK)
    if isinstance(value, bool):
        return told(marked("True") if value else marked("False"))
    if isinstance(value, int | float):
        return Figure(value)
    named = [part for part in path.split(".") if not part.isdigit()]
    return told(str(value)) if named[-1] in CHOSEN else str(value)
