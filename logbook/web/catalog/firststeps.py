"""What a new business writes down before its first record, and how far it is."""

from __future__ import annotations

from dataclasses import dataclass

from logbook.accounts.rights import Actor, Right
from logbook.records.reading.selectors import book
from logbook.web.catalog.kinds import KINDS, Kind

ORDER = (
    *("customers", "fields", "products", "labels", "nozzles"),
    *("rigs", "nozzle-sets", "catch-tests", "people"),
)
"""Each stands on those before it."""


@dataclass(frozen=True)
class Step:
    """One shelf: whether something stands on it, and whether it is the next to be filled."""

    kind: Kind
    done: bool
    next: bool


def first_steps(*, actor: Actor) -> list[Step]:
    """Return the steps while no record is signed and a shelf is empty; else none."""
    if not actor.may(Right.SHELF) or book(actor=actor, state="signed").exists():
        return []
    filled = {slug: KINDS[slug].rows(actor=actor).exists() for slug in ORDER}
    following = next((slug for slug in ORDER if not filled[slug]), None)
    if following is None:
        return []
    return [Step(KINDS[slug], filled[slug], next=slug == following) for slug in ORDER]


def next_step(*, actor: Actor) -> Step | None:
    """Return the step that comes next, or None where nothing is lacking."""
    return next((step for step in first_steps(actor=actor) if step.next), None)
