"""Writing down what was done for a record: notices, copies, reports; and striking a mistake."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from logbook.accounts import journal
from logbook.accounts.rights import Actor, Right
from logbook.errors.exceptions import Conflict, NotThere, Refused, RefusedInput
from logbook.localization.locale import format_day, instant
from logbook.records.models import ApplicationRecord, DutyEntry, DutyKind
from logbook.records.reading import deadlines, duesheets, related
from logbook.records.sealing.journaled import DUTY_ENTRY
from logbook.records.writing.draft import at_field
from logbook.validators import FIRST_YEAR

COLUMNS = ("kind", "to_whom", "how", "given_at", "consent_on", "note")
LEAST_REASON = 5


def add_duty_entry(
    *, actor: Actor, record_id: UUID, entry_id: UUID, data: dict[str, Any], now: datetime
) -> DutyEntry:
    """Return the new entry; asking twice with one id makes one. It cannot be changed afterwards.

    Consent to electronic delivery is the true day of it: where the law wants it first, a delivery
    before that day stands and does not count. That somebody asked starts a clock. A
    notice before the work whose facts changed is written down again: the clock counts the last.

    Args: data: the columns of `COLUMNS`; a naive `given_at` is the clock at the field.
    Raises: NotAllowed; NotThere; Refused if the record was corrected by another; Conflict if the id
    is taken by an entry that says something else; RefusedInput naming each column, for example a
    time that is still to come.
    """
    actor.must(Right.DUTIES)
    with transaction.atomic():
        standing = _standing(actor, entry_id, {**data, "record_id": record_id, "strikes_id": None})
        if standing:
            return standing
        record = _record(actor, record_id)
        entry = DutyEntry(
            id=entry_id,
            business=actor.business,
            record=record,
            by=actor.user,
            **{name: data[name] for name in COLUMNS if name in data},
        )
        _save(entry, now)
    return entry


def strike_duty_entry(
    *,
    actor: Actor,
    record_id: UUID,
    entry_id: UUID,
    new_id: UUID,
    reason: str,
    now: datetime,
) -> DutyEntry:
    """Return the further entry that strikes a mistaken one of the record, or of one that it
    amends; both stay readable.

    Raises: NotAllowed; NotThere; Refused if it is struck already or strikes another itself;
    Conflict if the new id is taken by an entry that says something else; RefusedInput naming the
    reason.
    """
    actor.must(Right.DUTIES)
    reason = reason.strip()
    if len(reason) < LEAST_REASON:
        raise RefusedInput({"note": [_("Say in a sentence what was wrong with the entry.")]})
    with transaction.atomic():
        standing = _standing(actor, new_id, {"note": reason, "strikes_id": entry_id})
        if standing:
            return standing
        record = _locked(actor, record_id)
        mistaken = deadlines.entries_of(record).filter(id=entry_id).first() if record else None
        if mistaken is None:
            raise NotThere(_("There is no such entry of this record."))
        if mistaken.strikes_id or hasattr(mistaken, "struck_by"):
            raise Refused(_("This entry is struck already; write down what was done instead."))
        entry = DutyEntry(
            id=new_id,
            business=actor.business,
            record=mistaken.record,
            kind=mistaken.kind,
            to_whom=mistaken.to_whom,
            how=mistaken.how,
            given_at=now,
            note=reason,
            strikes=mistaken,
            by=actor.user,
        )
        _save(entry, now)
    return entry


def _standing(actor: Actor, entry_id: UUID, asked: dict[str, Any]) -> DutyEntry | None:
    """Return the entry that has the id already, None where there is none.

    Raises: Conflict if it is of another business, or says something else than is asked.
    """
    standing = DutyEntry.objects.select_related("record").filter(id=entry_id).first()
    if standing and standing.business_id != actor.business.pk:
        raise Conflict(_("This id is taken; choose another."))
    if standing and any(_differs(standing, name, asked[name]) for name in asked):
        raise Conflict(_("This id is there already and says something else; choose another."))
    return standing


def _differs(standing: DutyEntry, name: str, asked: Any) -> bool:
    if name == "given_at":
        asked = at_field(asked, ZoneInfo(standing.record.time_zone), name, {})
    return bool(getattr(standing, name) != asked)


def _record(actor: Actor, record_id: UUID) -> ApplicationRecord:
    record = _locked(actor, record_id)
    if record is None:
        raise NotThere(_("There is no such record."))
    if record.superseded_by:
        raise Refused(
            _("This record is corrected by no. %(number)s; write it there.")
            % {"number": record.superseded_by}
        )
    return record


def _locked(actor: Actor, record_id: UUID) -> ApplicationRecord | None:
    """Return the record, locked with all its versions; None where there is none.

    The sheet of each is written from all their entries: of two at once, the second waits, or its
    sheet would not know the first.
    """
    rows = ApplicationRecord.objects.within(actor.business).filter(id=record_id)
    linked = [one.pk for record in rows for one in related.versions(record)]
    versions = ApplicationRecord.objects.within(actor.business).filter(pk__in=linked)
    list(versions.select_for_update(of=("self",)).order_by("pk").values_list("pk"))
    found: ApplicationRecord | None = rows.select_related("amendment__seal").first()
    return found


AFTER_THE_START = (DutyKind.NOTICE_AFTER, DutyKind.COPY, DutyKind.REPORT)
"""What speaks of work that was done cannot have been given before the work began."""


def _before_the_work(entry: DutyEntry, given: datetime) -> str:
    """Return why a thing cannot have been given then, "" where it can."""
    started = entry.record.started_at
    if started is None or given >= started or not entry.gives or entry.strikes_id:
        return ""
    if entry.kind not in AFTER_THE_START:
        return ""
    zone = ZoneInfo(entry.record.time_zone)
    return _(
        "%(given)s is before the work started, %(started)s; “%(what)s” speaks of the work, and "
        "cannot have been given then."
    ) % {
        "given": instant(given, zone),
        "started": instant(started, zone),
        "what": entry.get_kind_display(),
    }


def _save(entry: DutyEntry, now: datetime) -> None:
    errors: dict[str, list[str]] = {}
    zone = ZoneInfo(entry.record.time_zone)
    given = at_field(entry.given_at, zone, "given_at", errors)
    if given is not None:
        entry.given_at = given
        if given > now:
            errors["given_at"] = [_("This is still to come; write down what was done, once it is.")]
        elif why := _before_the_work(entry, given):
            errors["given_at"] = [why]
    if entry.consent_on and entry.consent_on.year < FIRST_YEAR:
        errors["consent_on"] = [
            _("%(day)s is not possible; the year of a consent is %(year)d or later.")
            % {"day": format_day(entry.consent_on), "year": FIRST_YEAR}
        ]
    if entry.consent_on and entry.consent_on > now.astimezone(zone).date():
        errors["consent_on"] = [
            _("%(day)s is still to come; write the day on which the consent was given.")
            % {"day": format_day(entry.consent_on)}
        ]
    try:
        entry.full_clean(exclude=["by", "record", *errors])
    except ValidationError as bad:
        for name, texts in bad.message_dict.items():
            errors.setdefault(name, []).extend(texts)
    if errors:
        raise RefusedInput(errors)
    entry.save(force_insert=True)
    for version in related.versions(entry.record):
        duesheets.refresh(record_id=version.pk)
    journal.append(DUTY_ENTRY, entry)
