"""Looking at a record: its snapshot, what the checks say, and what was computed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import partial
from uuid import UUID

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from logbook.accounts.rights import Actor, Right
from logbook.checks.assessment import Assessment, assess
from logbook.checks.causes import Recent, told
from logbook.checks.core import FACT_MISSING, Finding, Report, run_all
from logbook.checks.estimates import number
from logbook.checks.registry import CHECKS
from logbook.facts.record import Snapshot
from logbook.localization.locale import format_day
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


@dataclass(frozen=True, kw_only=True)
class Standing:
    """What was said once, on the shelf, of the blanks of a row.

    Attributes: text, as a record takes it over; of, what the row is called; on, the day.
    """

    text: str
    of: str
    on: date


def standing(seen: Examination) -> dict[str, Standing]:
    """Return what the shelf says of blanks that this record has to explain, by finding key."""
    found = {}
    for finding in seen.report.findings:
        # A blank of the shelf is about "field.boundary" or "rig.line_loss".
        of, dot, _fact = finding.about.partition(".")
        row = getattr(seen.record, of) if dot and of in ("field", "rig") else None
        if finding.code == FACT_MISSING and row is not None and row.blank_because:
            said = {"reason": row.blank_because, "row": row, "day": format_day(row.blank_said_on)}
            found[finding.key] = Standing(
                text=_("%(reason)s (%(row)s, said on %(day)s)") % said,
                of=str(row),
                on=row.blank_said_on,
            )
    return found


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
    said = {*(one.finding for one in seen.record.explanations.all()), *standing(seen)}
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
        report=told(snapshot, run_all(snapshot, CHECKS), recent=partial(_recent, record)),
        assessment=assess(snapshot),
    )


RECENT = 3
"""So many earlier jobs of a rig are looked at for what it is usually set to."""


def _recent(record: ApplicationRecord) -> list[Recent]:
    """Return how the rig was set on its last sealed jobs, in one query.

    It says what may have been meant; it is in no seal, for those jobs are other customers'.
    """
    if record.rig_id is None:
        return []
    jobs = (
        ApplicationRecord.objects.filter(
            business_id=record.business_id, rig_id=record.rig_id, signed_at__isnull=False
        )
        .exclude(amendment__signed_at__isnull=False)
        .exclude(pk__in=[record.pk, *filter(None, [record.amends_id])])
    )
    return [
        Recent(speed=number(speed), pressure=number(pressure))
        for speed, pressure in jobs.order_by("-started_at", "-id").values_list("speed", "pressure")[
            :RECENT
        ]
    ]
