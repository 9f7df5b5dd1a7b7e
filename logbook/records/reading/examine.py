"""Looking at a record: its snapshot, what the checks say, and what was computed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from django.db.models import QuerySet

from logbook.accounts.rights import Actor, Right
from logbook.checks.assessment import Assessment, assess
from logbook.checks.core import Finding, Report, run_all
from logbook.checks.registry import CHECKS
from logbook.facts.record import Snapshot
from logbook.records.models import ApplicationRecord
from logbook.records.reading.visible import the_one, visible
from logbook.records.sealing.snapshot import snapshot_of, with_everything


@dataclass(frozen=True, kw_only=True)
class Examination:
    """One look at a record as it stands."""

    record: ApplicationRecord
    snapshot: Snapshot
    report: Report
    assessment: Assessment


def examine(*, actor: Actor, record_id: UUID) -> Examination:
    """Return the examination of a record of the actor's business.

    Raises: NotAllowed; Refused if there is no such record.
    """
    actor.must(Right.SEE)
    rows = ApplicationRecord.objects.filter(visible(actor), id=record_id)
    return look_at(the_one(with_everything(rows)))


def facts_of_draft(*, actor: Actor, record_id: UUID) -> tuple[ApplicationRecord, Snapshot]:
    """Return a record as it stands, and its facts, unchecked.

    Raises: NotAllowed; NotThere.
    """
    actor.must(Right.SEE)
    rows = ApplicationRecord.objects.filter(visible(actor), id=record_id)
    record = the_one(with_everything(rows))
    return record, snapshot_of(record)


def examined(*, actor: Actor, drafts: Iterable[ApplicationRecord]) -> list[Examination]:
    """Return the examinations of those drafts whose work has begun, the oldest work first."""
    actor.must(Right.SEE)
    rows = ApplicationRecord.objects.within(actor.business)
    rows = rows.filter(pk__in=[draft.pk for draft in drafts], started_at__isnull=False)
    return _all(rows)


def unsaid(seen: Examination) -> list[Finding]:
    """Return the findings that have to be explained before signing and are not yet."""
    said = {one.finding for one in seen.record.explanations.all()}
    return [one for one in seen.report.must_be_explained() if one.key not in said]


def lacking_words(rows: QuerySet[ApplicationRecord]) -> list[tuple[ApplicationRecord, int]]:
    """Return the drafts among the rows that lack an explanation, and of how many findings."""
    return [(one.record, len(asked)) for one in _all(rows) if (asked := unsaid(one))]


def _all(rows: QuerySet[ApplicationRecord]) -> list[Examination]:
    """Return the examinations of the rows.

    Each is looked at with all checks, in a number of queries that does not depend on how many
    there are but for the earlier uses, the corrected loads and the catch test of each.
    """
    return [look_at(one) for one in with_everything(rows).order_by("book_at", "id")]


def look_at(record: ApplicationRecord) -> Examination:
    """Return the examination of a record fetched with everything."""
    snapshot = snapshot_of(record)
    return Examination(
        record=record,
        snapshot=snapshot,
        report=run_all(snapshot, CHECKS),
        assessment=assess(snapshot),
    )
