"""Duties as the pages say them: what each set asks and where it stands, what is due and done."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from logbook.facts.duty import DutySet, Kind, Obligation, Since
from logbook.facts.messages import term
from logbook.facts.record import Snapshot
from logbook.law.applicability import Applied, Outcome, Row, applicable, statement
from logbook.law.cautions import (
    AUTHORITY_PREVAILS,
    NOT_LEGAL_ADVICE,
    doubt_words,
    firmness_words,
    how_words,
    read_words,
    source_words,
)
from logbook.law.clocks import Standing, dues
from logbook.law.coverage import coverage, no_set_words
from logbook.law.elements import State
from logbook.law.retention import period_words
from logbook.localization import locale
from logbook.records.reading.deadlines import period_of
from logbook.records.reading.keeping import Period
from logbook.records.reading.owed import Item, items
from logbook.records.sealing.law import LawOf
from logbook.web.present import Mark

CAUTIONS = (NOT_LEGAL_ADVICE, AUTHORITY_PREVAILS)

KINDS = {
    "record": gettext_lazy("The record itself"),
    "notice before": gettext_lazy("Notice before the work"),
    "notice after": gettext_lazy("Notice of the completed work"),
    "display": gettext_lazy("Shown or posted for workers"),
    "copy": gettext_lazy("Copy to the customer"),
    "report": gettext_lazy("Report to the authority"),
}
"""What is due, in words."""

_MARK_OF_STANDING = {
    Standing.OVERDUE: "breach",
    Standing.LATE: "mismatch",
    Standing.OPEN: "caution",
    Standing.DONE: "agrees",
    Standing.NOT_COUNTED: "undecided",
}


@dataclass(frozen=True, kw_only=True)
class Line:
    """One element of one set: what stands in the record, where, and what follows."""

    element: str
    value: str
    where: str
    outcome: str
    how_read: str
    detail: str
    mark: Mark | None


@dataclass(frozen=True, kw_only=True)
class SetShown:
    """One duty set that speaks of the record."""

    id: str
    title: str
    why: str
    citation: str
    source: str
    note: str
    lines: list[Line] = field(default_factory=list)

    @property
    def tally(self) -> list[tuple[Mark, int]]:
        """How many elements stand, lack, or are to be confirmed."""
        counts = Counter(line.mark.kind for line in self.lines if line.mark)
        order = ("missing", "undecided", "agrees")
        return [(Mark(kind=kind), counts[kind]) for kind in order if counts[kind]]


def sets_of(snapshot: Snapshot, sets: tuple[DutySet, ...] | None = None) -> list[SetShown]:
    """Return every set that speaks of the record, with its elements; what is not asked left out.

    Args: sets, as they were sealed; None: those that are carried today.
    """
    rows: dict[str, list[Line]] = {}
    for row in statement(snapshot, sets=sets):
        if row.outcome is not Outcome.NOT_ASKED:
            rows.setdefault(row.applied.duty_set.id, []).append(_line(row))
    return [_set(one, rows.get(one.duty_set.id, [])) for one in applicable(snapshot, sets=sets)]


def not_carried(snapshot: Snapshot, sets: tuple[DutySet, ...] | None = None) -> list[str]:
    """Return what is said of the law that does not stand here, and where no set speaks.

    Args: sets, as they were sealed; None: those that are carried today.
    """
    said = (coverage(snapshot, sets), no_set_words(snapshot, sets))
    return [locale.localized(part) for part in said if part]


def _set(one: Applied, lines: list[Line]) -> SetShown:
    duty_set = one.duty_set
    return SetShown(
        id=duty_set.id,
        title=duty_set.title,
        why=one.why,
        citation=duty_set.citation,
        source=read_words(duty_set, how_words(duty_set)),
        note=duty_set.note,
        lines=lines,
    )


def _line(row: Row) -> Line:
    stand = row.stand
    value = locale.localized(stand.value)
    if stand.state is not State.GIVEN:
        value = ": ".join(
            part for part in (locale.translate_word(stand.state.value), value) if part
        )
    doubt = firmness_words(row.how_read)
    outcome = locale.translate_word(row.outcome.value)
    if row.outcome is Outcome.CONFIRM and not doubt:
        outcome = _("asked where it applies; %(outcome)s") % {"outcome": outcome}
    if row.mark == "missing" and row.outcome is not Outcome.MISSING:
        outcome = _("missing; %(outcome)s") % {"outcome": outcome}
    return Line(
        element=_without_article(locale.translate_word(row.element.title)),
        value=value,
        where="; ".join(dict.fromkeys(path_words(path) for path in stand.where)),
        outcome=outcome,
        how_read=locale.translate_word(row.how_read.value),
        detail=row.asked.detail,
        mark=Mark(kind=row.mark) if row.mark else None,
    )


_ARTICLES = ("the", "a", "el", "la", "los", "las", "un", "una")


def _without_article(title: str) -> str:
    first, _blank, rest = title.partition(" ")
    return rest if first in _ARTICLES else title


def path_words(path: str) -> str:
    """Return a path of the facts as a person says it: "products 1, total used"."""
    parts = path.removeprefix("record.").split(".")
    words = [
        f"{_part(parts[place])} {int(parts[place + 1]) + 1}"
        if place + 1 < len(parts) and parts[place + 1].isdigit()
        else _part(part)
        for place, part in enumerate(parts)
        if not part.isdigit()
    ]
    return ", ".join(words)


def _part(name: str) -> str:
    return locale.translate_word(name.replace("_", " ").replace("-", " "))


@dataclass(frozen=True, kw_only=True)
class DueShown:
    """One kind of duty of a record, with its time and how it stands."""

    kind: str
    words: str
    due: str
    clock: str
    title: str
    citation: str
    doubt: str
    detail: str
    done: str
    standing: str
    late_by: str
    mark: Mark
    overdue: bool = False
    called: str = ""  # who asked and when, or which case arose
    short: str = ""  # why what was given does not count
    period: str = ""  # of which it is one report for all records


def due_shown(found: Iterable[Item], *, zone: str, now: datetime) -> list[DueShown]:
    """Return what is due as a page shows it, times as the clock at the field shows them."""
    return [_due(item, zone, now) for item in found]


def _due(item: Item, zone: str, now: datetime) -> DueShown:
    standing = item.standing(now)
    late = ""
    if item.due and standing in (Standing.OVERDUE, Standing.LATE):
        late = span((item.done_at or now) - item.due)
    words = locale.translate_word(standing.value)
    if item.not_owed and not item.done_at:
        words = _("not owed: %(reason)s") % {"reason": item.not_owed}
    clock = ZoneInfo(zone)
    return DueShown(
        kind=item.kind,
        words=str(KINDS[item.kind]),
        called=_called(item, zone),
        short=locale.localized(item.short),
        due=locale.instant(item.due, clock),
        clock=locale.localized(item.clock),
        title=item.title,
        citation=item.citation,
        doubt=locale.localized(doubt_words(item.how_read, item.obligation)),
        detail=item.detail,
        done=locale.instant(item.done_at, clock),
        standing=words,
        late_by=late,
        mark=Mark(kind=_mark_of(item, standing)),
        overdue=standing is Standing.OVERDUE,
        period=period_of(item),
    )


def _mark_of(item: Item, standing: Standing) -> str:
    """Return the mark beside a duty; of one that may not bind nothing late is a breach."""
    kind = _MARK_OF_STANDING[standing]
    unsettled = item.obligation is Obligation.UNSETTLED and kind != "agrees"
    return "undecided" if unsettled else kind


def before_work(record: Any, snapshot: Snapshot, now: datetime) -> list[DueShown]:
    """Return what is owed before the work of a draft starts and is not written down as done.

    An amendment owes nothing before work that is over.
    """
    if record.amends_id or not any(
        one.certain and one.deadline.since is Since.BEFORE_START for one in dues(snapshot)
    ):
        return []
    found = items(
        snapshot, record.duty_entries.select_related("record"), recorded_at=record.signed_at
    )
    owed = (one for one in found if one.kind == Kind.NOTICE_BEFORE and one.open)
    return due_shown(owed, zone=snapshot.zone.key, now=now)


def _called(item: Item, zone: str) -> str:
    if item.called_at is None:
        return ""
    return _("called for on %(when)s: %(by)s") % {
        "when": locale.instant(item.called_at, ZoneInfo(zone)),
        "by": item.called_for,
    }


@dataclass(frozen=True, kw_only=True)
class PeriodShown:
    """How long one record is kept, by one set, and how that was read."""

    number: int
    until: str
    period: str
    title: str
    source: str
    doubt: str  # why this period alone lets nothing go; "" where it does


def periods_shown(found: Iterable[Period]) -> list[PeriodShown]:
    """Return the periods of keeping as a page shows them: of each record the deciding one first."""
    return [
        PeriodShown(
            number=one.number,
            until=locale.format_day(each.until),
            period=locale.localized(period_words(each.retention)),
            title=locale.localized(term(each.duty_set.title)),
            source=locale.localized(source_words(each.duty_set, each.retention)),
            doubt=locale.localized(one.doubt) if place == 0 else "",
        )
        for one in found
        for place, each in enumerate(one.kept)
    ]


def span(length: timedelta) -> str:
    """Return a length of time in the two units that say it best: "3 days 4 h", "25 min"."""
    minutes = max(1, int(length.total_seconds() // 60))
    days, minutes = divmod(minutes, 24 * 60)
    hours, minutes = divmod(minutes, 60)
    if days:
        said = ngettext("%(n)d day", "%(n)d days", days) % {"n": days}
        return f"{said} {hours} h" if days < 7 and hours else said
    return f"{hours} h {minutes} min" if hours else f"{minutes} min"


def of_record(
    snapshot: Snapshot,
    found: Iterable[Item],
    entries: Any,
    now: datetime,
    law: LawOf | None = None,
) -> dict[str, Any]:
    """Return what the page of a record says of its duties.

    Args: law, as it was sealed with a signed record.
    """
    zone = snapshot.zone.key
    sets = law.sets if law else None
    return {
        "duty_sets": sets_of(snapshot, sets),
        "law_note": law.note if law else "",
        "not_carried": not_carried(snapshot, sets),
        "dues": due_shown(found, zone=zone, now=now),
        "entries": [
            (
                entry,
                locale.instant(entry.given_at, snapshot.zone),
                getattr(entry, "struck_by", None),
            )
            for entry in entries
        ],
        "duty_cautions": CAUTIONS,
    }
