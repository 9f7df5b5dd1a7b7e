"""Letting old records go: the text and the rows are deleted, the chain still verifies.

A record goes together with its amendments and with the records of the same job, and only when all
of them may: their days of keeping are over, no hold stands, none is a draft.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from logbook.accounts import journal
from logbook.accounts.rights import Actor, Right
from logbook.accounts.services import Confirmation
from logbook.errors.exceptions import NotAllowed, NotThere, Refused, RefusedInput
from logbook.facts.duty import Kind
from logbook.facts.messages import gettext_noop
from logbook.law.retention import years_after
from logbook.localization.locale import (
    format_day,
    format_days,
    localized,
    plain_english,
    translate_word,
)
from logbook.records.models import (
    ApplicationRecord,
    Chain,
    DueSheet,
    DutyEntry,
    LegalHold,
    Load,
    LoadUse,
    Purge,
    Seal,
)
from logbook.records.reading import duesheets, keeping, related
from logbook.records.sealing.journaled import DUTY_ENTRY, PURGE
from logbook.records.writing.pictures import throw_away_after

LEAST_REASON = 5
MOST_YEARS = 100
CHILDREN = ("products", "weather", "explanations", "crew", "pictures")


@dataclass(frozen=True, kw_only=True)
class Stated:
    """How long records are kept where the sets leave it in doubt, as the owner states it."""

    years: int  # from the day on which each was signed
    source: str  # the law or the authority that says so

    def __post_init__(self) -> None:
        """Raises: RefusedInput naming the years or the source."""
        wrong = {}
        if not 1 <= self.years <= MOST_YEARS:
            wrong["years"] = [
                _("%(years)s years; allowed is a whole number from 1 to %(most)d.")
                % {"years": self.years, "most": MOST_YEARS}
            ]
        if len(self.source.strip()) < LEAST_REASON:
            wrong["source"] = [_("Name the law or the authority that says so, and where.")]
        if wrong:
            raise RefusedInput(wrong)


def purge(
    *,
    actor: Actor,
    record_id: UUID,
    reason: str,
    confirmation: Confirmation,
    now: datetime,
    stated: Stated | None = None,
) -> list[Purge]:
    """Return what says that the record, and those that go with it, were purged.

    A purged seal keeps its number, leaf, previous and link, by which the log still verifies.

    Args: stated, how long they are kept, where the rules of the place are not carried or the period
    was read in a summary or from memory; it is written down with the purge.
    Raises: NotAllowed; NotThere; RefusedInput naming the reason; Refused while a set asks to keep
    one of them, none says how long, that is in doubt and nothing is stated, a hold stands, or one
    is a draft.
    """
    actor.must(Right.PURGE)
    if confirmation.user != actor.user:
        raise NotAllowed(_("Only the person who gave the password can purge."))
    reason = reason.strip()
    if len(reason) < LEAST_REASON:
        raise RefusedInput({"reason": [_("Say why it goes, in a sentence.")]})
    # durable: when this returns, what went is gone from the disk, and what says so is on it.
    with transaction.atomic(durable=True):
        # The chain's row is the lock: nothing is signed while records go.
        Chain.objects.select_for_update().filter(business=actor.business).first()
        return _purge(actor, record_id, reason, stated, now)


def _purge(
    actor: Actor, record_id: UUID, reason: str, stated: Stated | None, now: datetime
) -> list[Purge]:
    record = ApplicationRecord.objects.within(actor.business).filter(id=record_id).first()
    if record is None:
        raise NotThere(_("There is no such record."))
    together = related.together(record)
    seals = {seal.record_id: seal for seal in Seal.objects.filter(record__in=together)}
    _refuse_what_is_not_signed(together, seals)
    _refuse_what_is_held(actor, seals)
    doubts = {one.record.pk: one.doubt for one in keeping.periods(record)}
    kept = {one.pk: _kept(one, doubts[one.pk], stated, now) for one in together}
    purges = []
    for one in together:
        seal = seals[one.pk]
        until, by = kept[one.pk]
        row = Purge.objects.create(
            business=actor.business,
            seal=seal,
            purged_at=now,
            purged_by=actor.user,
            reason=reason,
            keep_until=until,
            allowed_by=by,
        )
        purges.append(row)
        seal.text, seal.purged_at = "", now
        seal.save(update_fields=["text", "purged_at"])
    told_again = _reports_told_again(actor, together)
    _delete(together)
    for entry in told_again:
        duesheets.refresh(record_id=entry.record_id)
        journal.append(DUTY_ENTRY, entry)
    for row in purges:
        journal.append(PURGE, row)
    return purges


def _reports_told_again(actor: Actor, together: list[ApplicationRecord]) -> list[DutyEntry]:
    """Return the entries by which a report of a period, sent for many records, stays written down
    with one that remains, though the record goes at which it stood.
    """
    entries = DutyEntry.objects.filter(record__in=together, kind=Kind.REPORT)
    entries = entries.filter(strikes__isnull=True, struck_by__isnull=True)
    made = []
    for entry in entries.exclude(record__due_sheet__report_of="").select_related(
        "record__due_sheet", "record__seal"
    ):
        others = DueSheet.objects.filter(
            record__business=actor.business, report_of=entry.record.due_sheet.report_of
        )
        other = others.exclude(record__in=together).order_by("record__seal__number").first()
        if other is None:
            continue
        note = _("Written down again: it stood with no. %(number)s, which was purged. %(note)s") % {
            "number": entry.record.seal.number,
            "note": entry.note,
        }
        made.append(
            DutyEntry.objects.create(
                business=actor.business,
                record=other.record,
                kind=entry.kind,
                to_whom=entry.to_whom,
                how=entry.how,
                given_at=entry.given_at,
                consent_on=entry.consent_on,
                note=note.strip(),
                by=actor.user,
            )
        )
    return made


def _refuse_what_is_not_signed(together: list[ApplicationRecord], seals: dict[UUID, Seal]) -> None:
    drafts = [one for one in together if one.pk not in seals]
    for one in drafts:
        if one.set_aside_at:
            named = str(one.field or _("no field yet")) + (
                f", {format_days(one.days)}" if one.days else ""
            )
            raise Refused(
                _(
                    "A draft that is set aside belongs to it (%(draft)s) and would be lost with "
                    "it, so both are kept. Bring the draft back and sign it, then both can go "
                    "together."
                )
                % {"draft": named}
            )
    if drafts:
        raise Refused(_("A draft belongs to it; sign the draft first, then both can go together."))


def _refuse_what_is_held(actor: Actor, seals: dict[UUID, Seal]) -> None:
    holds = LegalHold.objects.within(actor.business).filter(lifted_at__isnull=True)
    for hold in holds.select_related("seal"):
        if hold.seal_id is None:
            raise Refused(_("The whole book is held: %(reason)s") % {"reason": hold.reason})
        if hold.seal_id in {seal.pk for seal in seals.values()}:
            number = hold.seal.number if hold.seal else ""
            raise Refused(
                _("No. %(number)s is held: %(reason)s") % {"number": number, "reason": hold.reason}
            )


def _kept(
    record: ApplicationRecord, doubt: str, stated: Stated | None, now: datetime
) -> tuple[date, str]:
    """Return until when the record was kept, and by which set, or by whose statement.

    The days are computed anew from the seal: what stands on the sheet may be of older law. The day
    that was sealed with the record is the least; the database itself holds to it.
    """
    sheet = duesheets.refresh(record_id=record.pk)
    number, sealed = record.seal.number, record.seal.keep_until
    if sheet is None or sheet.keep_until is None or sealed is None:
        raise Refused(
            _("No set says how long no. %(number)s is kept, so it is kept.") % {"number": number}
        )
    if now < record.seal.sealed_at:
        raise Refused(
            _("No. %(number)s was sealed at a later time than now; let the clock be set right.")
            % {"number": number}
        )
    until, by = sheet.keep_until, sheet.kept_by
    if sealed > until:
        until, by = sealed, gettext_noop("the day that was sealed with the record")
    if doubt and stated is None:
        raise Refused(
            _("%(doubt)s State how long no. %(number)s is kept and who says so, or keep it.")
            % {"doubt": localized(doubt), "number": number}
        )
    if doubt and stated is not None:
        signed = record.seal.sealed_at.astimezone(related.zone_of(record)).date()
        by = _as_stated(stated, until, by)
        until = max(until, years_after(signed, stated.years))
    # The database knows no zone of a field and counts in UTC; the day must be over by both.
    today = min(now.astimezone(related.zone_of(record)).date(), now.astimezone(UTC).date())
    if today <= until:
        raise Refused(
            _("No. %(number)s is kept until %(day)s (%(law)s).")
            % {"number": number, "day": format_day(until), "law": translate_word(by)}
        )
    return until, by


@plain_english()
def _as_stated(stated: Stated, until: date, by: str) -> str:
    """Return what the purge says of a stated period, beside the one that was known."""
    return (
        f"{stated.years} years from the day it was signed, as stated by the owner; source: "
        f"{stated.source.strip()}. Known here: until {until}, {by}"
    )


def _delete(together: list[ApplicationRecord]) -> None:
    """Delete the rows; the triggers let through what hangs on a purged seal, and nothing else."""
    loads = set(LoadUse.objects.filter(record__in=together).values_list("load_id", flat=True))
    LoadUse.objects.filter(record__in=together).delete()
    still_used = set(LoadUse.objects.filter(load__in=loads).values_list("load_id", flat=True))
    _delete_loads(loads - still_used)
    entries = DutyEntry.objects.filter(record__in=together)
    entries.filter(strikes__isnull=False).delete()
    entries.delete()
    # A record goes before the one it amends or continues.
    for record in together:
        throw_away_after(record, list(record.pictures.values_list("pk", flat=True)))
        for name in CHILDREN:
            getattr(record, name).all().delete()
    for record in related.last_first(together):
        record.delete()


def _delete_loads(pks: set[UUID]) -> None:
    """Delete loads that no record uses any longer; a copy goes before what it was copied from."""
    while pks:
        copied = set(Load.objects.filter(copy_of__in=pks).values_list("copy_of_id", flat=True))
        # Were each a copy of another, the database refuses: that is for a person to look at.
        free = pks - copied or pks
        Load.objects.filter(pk__in=free).delete()
        pks -= free
