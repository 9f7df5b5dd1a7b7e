"""What an amendment changed, named line by line."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from logbook.records.seals import canonical, leaf_hash
from logbook.records.snapshot import to_json
from logbook.rules.facts import Snapshot

# Facts of the book-keeping that differ by nature, and rows of the shelf that are not the record's.
_NOT_COMPARED = ("business", "amends", "earlier", "record.id")
BLANK = "blank"


def changes_between(before: Snapshot, after: Snapshot) -> Iterator[str]:
    """Yield one line per fact that differs: "ground speed: 6.0 mph, now 5.0 mph"."""
    old, new = dict(_flat(to_json(before))), dict(_flat(to_json(after)))
    for path in dict.fromkeys([*old, *new]):
        if path.startswith(_NOT_COMPARED) or path.endswith((".id", "_id")):
            continue
        if old.get(path, BLANK) != new.get(path, BLANK):
            yield f"{_words(path)}: {old.get(path, BLANK)}, now {new.get(path, BLANK)}"


def _words(path: str) -> str:
    parts = path.removeprefix("record.").split(".")
    return " ".join(
        f"no. {int(part) + 1}" if part.isdigit() else part.replace("_", " ") for part in parts
    )


def _flat(value: Any, path: str = "") -> Iterator[tuple[str, str]]:
    if isinstance(value, dict) and {"value", "unit"} == value.keys():
        yield path, f"{value['value']} {value['unit']}"
    elif isinstance(value, dict) and {"nothing", "reason"} == value.keys():
        yield path, ": ".join(part for part in value.values() if part)
    elif isinstance(value, dict) and "coordinates" in value:
        digest = leaf_hash(canonical(value))[:8]
        yield path, f"an outline (digest {digest})"
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from _flat(item, f"{path}.{key}" if path else key)
    elif isinstance(value, (list, tuple)):
        for place, item in enumerate(value):
            yield from _flat(item, f"{path}.{place}")
    else:
        yield path, BLANK if value in (None, "") else str(value)
