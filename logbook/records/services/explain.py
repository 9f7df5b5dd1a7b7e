"""Keeping what a signer says about the findings of a draft until it is signed."""

from __future__ import annotations

from uuid import UUID

from django.db import transaction

from logbook.accounts.rights import Actor, Right
from logbook.records.models import Explanation
from logbook.records.services.draft import draft_for_change

MOST_CHARACTERS = 2000


def keep_explanations(*, actor: Actor, record_id: UUID, explanations: dict[str, str]) -> None:
    """Write down what was said about the findings named; an empty text takes it back.

    It is no change of the record: the revision stays, and signing takes what it is given.

    Raises: NotAllowed; NotThere; Refused if the record is signed.
    """
    actor.must(Right.SIGN)
    said = {
        key[:200]: text.replace("\x00", "").strip()[:MOST_CHARACTERS]
        for key, text in explanations.items()
    }
    with transaction.atomic():
        record = draft_for_change(actor=actor, record_id=record_id)
        Explanation.objects.filter(record=record, finding__in=list(said)).delete()
        Explanation.objects.bulk_create(
            Explanation(record=record, finding=key, text=text) for key, text in said.items() if text
        )
