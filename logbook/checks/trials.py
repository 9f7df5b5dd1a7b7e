"""A record with one entry changed, to see what would settle a finding before it is said."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from logbook.facts.quantity import Quantity
from logbook.facts.record import Snapshot


def entry(s: Snapshot, path: str) -> Quantity | None:
    """Return the quantity that stands at a path: "speed", "products.0.total_used"; else None."""
    found: Any = s
    for name in _whole(path):
        if name.isdigit():
            found = found[int(name)] if int(name) < len(found) else None
        else:
            found = getattr(found, name, None)
    return found if isinstance(found, Quantity) else None


def with_entry(s: Snapshot, path: str, value: Quantity) -> Snapshot:
    """Return the record with another quantity at a path."""
    changed: Snapshot = _put(s, _whole(path), value)
    return changed


def _whole(path: str) -> list[str]:
    """Return the steps to a fact; those of the record itself are named bare."""
    steps = path.split(".")
    return steps if len(steps) > 1 else ["record", *steps]


def _put(facts: Any, steps: list[str], value: Quantity) -> Any:
    name, *rest = steps
    if isinstance(facts, tuple):
        place = int(name)
        return (*facts[:place], _put(facts[place], rest, value), *facts[place + 1 :])
    return replace(facts, **{name: _put(getattr(facts, name), rest, value) if rest else value})
