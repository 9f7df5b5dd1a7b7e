"""The words that stand wherever duties are shown, on pages and on papers."""

from __future__ import annotations

from logbook.facts.duty import (
    Asked,
    Deadline,
    DutySet,
    HowRead,
    LocationRule,
    Obligation,
    Retention,
)
from logbook.facts.messages import joined, msg, term
from logbook.facts.wording import either

NOT_LEGAL_ADVICE = msg("This is a reading of the law for your convenience. It is not legal advice.")
AUTHORITY_PREVAILS = msg(
    "The text of the authority prevails, and the label in hand; a law may have changed since it "
    "was last read. Confirm with your authority before you rely on it."
)
CONFIRM = msg("confirm with your authority")
NOT_SETTLED = msg("not settled; confirm with your authority")
ONLY_WITHOUT_STATE_RULE = msg(
    "asked only where the state has no rule of its own; confirm with your authority"
)


def source_words(
    duty_set: DutySet, asked: Asked | LocationRule | Retention | Deadline | None = None
) -> str:
    """Return how a set, or one part of it, is cited: text, how it was read, and when."""
    how = term(asked.how_read.value) if asked else how_words(duty_set)
    return joined("", (duty_set.citation, " (", read_words(duty_set, how), ")"))


def read_words(duty_set: DutySet, how: str) -> str:
    """Return how a set was read, with the day of it where there is one."""
    if duty_set.dates_how_read is not None:
        how = msg("{how}, its dates {dates}", how=how, dates=term(duty_set.dates_how_read.value))
    if duty_set.last_read is None:
        return how
    return msg("{how}, last read {day}", how=how, day=duty_set.last_read)


def how_words(duty_set: DutySet) -> str:
    """Return how a set was read, and how those parts that its own mark would make look firmer."""
    if not duty_set.how_read.firm:
        return term(duty_set.how_read.value)
    parts: tuple[Asked | Deadline | Retention | LocationRule, ...]
    parts = (*duty_set.elements, *duty_set.deadlines, *duty_set.retention, *duty_set.locations)
    found = {one.how_read for one in parts}
    less = either(term(how.value) for how in HowRead if how in found and not how.firm)
    how = term(duty_set.how_read.value)
    return msg("{how}, in parts {less}", how=how, less=less) if less else how


def doubt_words(how_read: HowRead, obligation: Obligation = Obligation.REQUIRED) -> str:
    """Return what keeps a duty from being certain: that it may not bind, or how it was read."""
    return NOT_SETTLED if obligation is Obligation.UNSETTLED else firmness_words(how_read)


def firmness_words(how_read: HowRead) -> str:
    """Return "" for wording that was read in the law or at its authority, else to confirm it."""
    return "" if how_read.firm else CONFIRM
