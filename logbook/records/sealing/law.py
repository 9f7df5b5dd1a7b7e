"""The law as it was read when a record was signed.

A seal names each duty set that spoke of the record, with the digest of the set's text; the text is
kept once under that digest. So a table of duties prints as it was sealed, though a set was changed
since; what a digest does not fit is never taken for it.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import lru_cache

from django.utils.translation import gettext as _

from logbook.facts.duty import DutySet
from logbook.facts.record import Snapshot
from logbook.facts.wording import listed
from logbook.law.applicability import applicable
from logbook.law.reader import BadDutySet, duty_sets, read_set, set_texts
from logbook.localization.locale import localized
from logbook.records.models import LawText
from logbook.records.sealing.sealed import SealedRecord


@dataclass(frozen=True, kw_only=True)
class LawOf:
    """By which duty sets the duties of a record are told, and what is to be said of them."""

    sets: tuple[DutySet, ...] | None  # None: those that are carried today
    note: str


def keep(s: Snapshot) -> list[dict[str, str]]:
    """Return the id and digest of each set that speaks of the record; their texts are kept.

    What labels add stands in the facts themselves.
    """
    texts = set_texts()
    ids = [one.duty_set.id for one in applicable(s) if one.duty_set.id in texts]
    kept = {one: _digest(texts[one]) for one in ids}
    standing = set(
        LawText.objects.filter(digest__in=kept.values()).values_list("digest", flat=True)
    )
    LawText.objects.bulk_create(
        [
            LawText(digest=digest, text=texts[one])
            for one, digest in kept.items()
            if digest not in standing
        ],
        ignore_conflicts=True,  # another signing may keep the same text at the same moment
    )
    return [{"id": one, "digest": digest} for one, digest in sorted(kept.items())]


def as_sealed(sealed: SealedRecord) -> LawOf:
    """Return the sets by which a sealed record was judged, and whether they read otherwise today.

    Where they cannot be had, by a seal of before they were kept, today's are told, and said to be.
    """
    if sealed.law is None:
        return LawOf(
            sets=None,
            note=_(
                "This seal is of before the law data were sealed with a record: the table is by "
                "the data of today, as each set was last read."
            ),
        )
    found = {one: _set_of(digest) for one, digest in sealed.law}
    if lost := [one for one, duty_set in found.items() if duty_set is None]:
        return LawOf(
            sets=None,
            note=_(
                "The law data of %(sets)s as sealed cannot be read any more: the table is by the "
                "data of today, as each set was last read."
            )
            % {"sets": localized(listed(lost))},
        )
    sets = tuple(one for one in found.values() if one is not None)
    today = {one.duty_set.id: one.duty_set for one in applicable(sealed.snapshot)}
    carried = {one.id for one in duty_sets()}
    stood = {one.id: one for one in sets}
    changed = sorted(
        one for one in stood.keys() | (today.keys() & carried) if stood.get(one) != today.get(one)
    )
    if not changed:
        return LawOf(sets=sets, note=_("By the law data as sealed with the record."))
    titles = listed((stood.get(one) or today[one]).title for one in changed)
    return LawOf(
        sets=sets,
        note=_(
            "By the law data as sealed with the record. Those that are carried today differ: "
            "%(titles)s. What is due and how long it is kept goes by those of today."
        )
        % {"titles": localized(titles)},
    )


def texts_that_hold() -> dict[str, bool]:
    """Return, by the digest under which each text is kept, whether the text still has it."""
    kept = LawText.objects.values_list("digest", "text").iterator()
    return {digest: _digest(text) == digest for digest, text in kept}


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


@lru_cache(maxsize=256)
def _set_of(digest: str) -> DutySet | None:
    """Return the set whose text has the digest; None where none is kept, or it was altered."""
    kept = LawText.objects.filter(digest=digest).first()
    if kept is None or _digest(kept.text) != digest:
        return None
    try:
        return read_set(kept.text, name=digest)
    except BadDutySet:
        return None
