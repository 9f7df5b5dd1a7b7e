"""What is not carried of the law of a place, said out loud: not carried is not "no rule"."""

from __future__ import annotations

from collections.abc import Iterable

from logbook.facts.duty import DutySet
from logbook.facts.messages import joined, msg, term
from logbook.facts.record import Snapshot
from logbook.facts.wording import listed
from logbook.law.applicability import applicable
from logbook.law.places import Carried, place_of

ASK = msg("Ask your authority.")


def lacking(place: str) -> str:
    """Return that the rules of a place are not carried, or in part alone; "" where they are.

    Args: place, ISO 3166-2; "" for none.
    """
    found = place_of(place)
    if not place or found.carried is Carried.FULL:
        return ""
    if found.carried is Carried.PART:
        return msg(
            "Of the rules of {place} a part is carried here; the law says more than is shown.",
            place=found.name,
        )
    return msg("The rules of {place} are not carried here.", place=found.name)


def lacking_of(places: Iterable[str]) -> tuple[str, ...]:
    """Return what is to be said of each place of a list, each once."""
    said = (lacking(place) for place in sorted(set(places)))
    return tuple(joined(" ", (one, ASK)) for one in said if one)


def coverage(s: Snapshot, sets: tuple[DutySet, ...] | None = None, *, note: bool = True) -> str:
    """Return what of the law of a record's place is not carried, and what stands in its stead.

    Args: sets, as they were sealed; None: those that are carried today; note, whether what the
    table of places has to add is said too.
    """
    place = s.field.place if s.field else ""
    said = lacking(place)
    if not said:
        return ""
    found = place_of(place)
    titles = [one.duty_set.title for one in applicable(s, sets=sets) if one.duty_set.place]
    if found.carried is Carried.NONE and titles:
        said = msg(
            "The rules of {place} are not carried here; only {sets} stand below.",
            place=found.name,
            sets=listed(term(title) for title in titles),
        )
    return joined(" ", (said, ASK, *([term(found.note)] if note and found.note else [])))


def no_set_words(s: Snapshot, sets: tuple[DutySet, ...] | None = None) -> str:
    """Return why no set speaks of a record; "" where one does, or `coverage` has said it.

    Args: sets, as they were sealed; None: those that are carried today.
    """
    if s.field is None or s.local_day() is None:
        return msg("Which law asks for what is said once field and day of the work are entered.")
    if applicable(s, sets=sets) or place_of(s.field.place).carried is Carried.NONE:
        return ""
    return msg("No set that is carried for this place speaks of this record.")
