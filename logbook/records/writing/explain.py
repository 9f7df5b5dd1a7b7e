"""Keeping what a signer says about the findings of a draft until it is signed."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from uuid import UUID

from django.db import transaction

from logbook.accounts.rights import Actor, Right
from logbook.records.models import Explanation
from logbook.records.reading.examine import Examination
from logbook.records.sealing.sealed import read_seal
from logbook.records.writing.draft import draft_for_change

MAX_CHARACTERS = 2000


def keep_explanations(
    *, actor: Actor, record_id: UUID, explanations: dict[str, str], seen: Collection[str]
) -> dict[str, str]:
    """Write down what was said about the findings named, and return what stands of each now.

    An empty text takes back what the signer has seen there; what another wrote meanwhile stays.
    It is no change of the record: the revision stays, and signing takes what it is given.

    Args: seen, the keys of the findings beside which the signer was shown a text.
    Raises: NotAllowed; NotThere; Refused if the record is signed.
    """
    actor.must(Right.SIGN)
    said = {
        key[:200]: text.replace("\x00", "").strip()[:MAX_CHARACTERS]
        for key, text in explanations.items()
    }
    with transaction.atomic():
        record = draft_for_change(actor=actor, record_id=record_id)
        stands = dict(record.explanations.values_list("finding", "text"))
        said = {
            key: text or ("" if key in seen else stands.get(key, "")) for key, text in said.items()
        }
        Explanation.objects.filter(record=record, finding__in=list(said)).delete()
        Explanation.objects.bulk_create(
            Explanation(record=record, finding=key, text=text) for key, text in said.items() if text
        )
    return said


@dataclass(frozen=True, kw_only=True)
class Earlier:
    """That an explanation stands as in the record that is amended."""

    number: int
    sentence: str  # what it was said about, where the finding reads otherwise today; else ""


def taken_over(seen: Examination, said: Mapping[str, str]) -> dict[str, Earlier]:
    """Return which of the texts stand as in the amended record, by the key of their finding."""
    if seen.record.amends is None:
        return {}
    before = read_seal(seen.record.amends.seal)
    sentences = {finding.key: str(finding.sentence) for finding in before.findings}
    found = {}
    for finding in seen.report.findings:
        text, then = said.get(finding.key), sentences.get(finding.key, "")
        if text and text == before.explanations.get(finding.key):
            changed = then if then != str(finding.sentence) else ""
            found[finding.key] = Earlier(number=before.number, sentence=changed)
    return found
