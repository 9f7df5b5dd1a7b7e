"""A file of records into drafts: all of it or nothing, and first as a dry run.

A seal is not taken over: it belongs to the business that made it, and its number and link stay as
a line in the note. A record that is corrected by a later one is left out, for the correction is the
record: two drafts of one piece of work would count twice. What a draft then says differently from
the file (because the shelf had the rig already, with another gauge) is named line by line.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from logbook.accounts.rights import Actor, Right
from logbook.checks.entries import usual_range
from logbook.errors.exceptions import Refused, RefusedInput
from logbook.facts.codec import from_json, to_json
from logbook.facts.messages import gettext_noop
from logbook.facts.record import LoadFacts, Snapshot
from logbook.localization import locale
from logbook.records.exchange import strict
from logbook.records.exchange.catalog import Count, Shelf, Unsettled, note, stable_id
from logbook.records.exchange.entries import Entry, entries_of, placed, records_of
from logbook.records.exchange.reading import Problem, Reader
from logbook.records.exchange.table import Table, table_of
from logbook.records.models import ApplicationRecord, Load
from logbook.records.sealing.changes import changes_between
from logbook.records.sealing.snapshot import snapshot_of, with_everything
from logbook.records.writing.draft import begin_draft, save_draft


@dataclass(frozen=True, kw_only=True)
class Limits:
    """How much is read at once."""

    most_bytes: int
    most_records: int


AT_THE_DOOR = Limits(most_bytes=8_000_000, most_records=200)
"""For a page: a record takes up to a tenth of a second, and others wait to write meanwhile."""

BY_COMMAND = Limits(most_bytes=400_000_000, most_records=20_000)

NEW, STANDING, CORRECTED = (
    gettext_noop("new draft"),
    gettext_noop("there already"),
    gettext_noop("left out"),
)


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What came of one record of the file."""

    place: str
    title: str
    what: str  # NEW, STANDING or CORRECTED
    why: str = ""
    record_id: UUID | None = None
    differs: tuple[str, ...] = ()  # what the draft says otherwise than the file
    asked: tuple[str, ...] = ()  # about numbers outside their usual range


@dataclass(frozen=True, kw_only=True)
class ImportReport:
    """What came of a file; with a problem in it nothing was written."""

    written: bool
    outcomes: tuple[Outcome, ...] = ()
    shelf: dict[str, Count] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()
    further_problems: int = 0
    unknown: tuple[str, ...] = ()

    def count(self, what: str) -> int:
        """Return how many records came out so."""
        return sum(outcome.what == what for outcome in self.outcomes)


def import_records(*, actor: Actor, raw: bytes, write: bool, limits: Limits) -> ImportReport:
    """Return what came of the file, a JSON or a CSV of `export`; a dry run unless `write`.

    The dry run does the whole work and takes it back, so its report is what will be.

    Raises: NotAllowed; Refused if it is not a file of records at all. Places in it that cannot be
    taken are in the report.
    """
    actor.must(Right.SHELF)
    actor.must(Right.DRAFT)
    source = strict.decoded(raw, most_bytes=limits.most_bytes)
    reader = Reader()
    table: Table | None = None
    if source.lstrip().startswith(("{", "[")):
        records = records_of(strict.json_value(source), reader)
    else:
        table = table_of(source, reader)
        records = table.records
    if len(records) > limits.most_records:
        raise Refused(
            _(
                "The file holds %(count)d records; at most %(most)d are taken at once. Export a "
                "shorter period, or one customer at a time."
            )
            % {"count": len(records), "most": limits.most_records}
        )
    entries = list(entries_of(records, table, reader))
    with transaction.atomic():
        work = _Import(actor, reader, whole_facts=table is None)
        # With a problem known already, the rest is tried all the same, to name all there are.
        outcomes = work.take(entries)
        written = write and not reader.failed
        if not written:
            transaction.set_rollback(True)
    return ImportReport(
        written=written,
        outcomes=outcomes,
        shelf=work.shelf.counts,
        problems=tuple(placed(one, records, table) for one in reader.problems),
        further_problems=reader.further,
        unknown=tuple(sorted(reader.unknown)),
    )


_BESIDE_THE_RECORD = frozenset(
    [
        *("products", "loads", "weather", "crew", "customer", "field", "applicator"),
        *("supervisor", "rig", "continues", "crop", "nozzle"),
    ]
)
"""Members of the facts that are not in `facts.record`."""

_RENAMED = {
    "planting": "crop",
    "growth_stage": "crop.growth_stage_bbch",
    "nozzle_set": "nozzle",
    "used": "used_here",
    "record": "",
}
"""What the facts call a column of the draft."""


class _Import:
    """Takes the records into a book: first their shelf, the newest first, then the drafts."""

    def __init__(self, actor: Actor, reader: Reader, *, whole_facts: bool) -> None:
        self.actor, self.reader, self.whole_facts = actor, reader, whole_facts
        self.shelf = Shelf(actor, reader)
        self.standing: dict[UUID, ApplicationRecord] = {}

    def take(self, entries: list[Entry]) -> tuple[Outcome, ...]:
        """Return what came of each record, in the order of the file."""
        ids = {entry.id: stable_id(self.actor, "records", entry.id) for entry in entries}
        self.standing = self._standing(entries)
        outcomes = {entry.id: self._passed_over(entry) for entry in entries}
        wanted = [entry for entry in entries if outcomes[entry.id] is None]
        wanted.sort(key=lambda entry: (entry.began, entry.at))
        settled = {entry.id: self._settled(entry) for entry in reversed(wanted)}
        for entry in wanted:
            if settled[entry.id] is not None:
                self._write(entry, ids[entry.id], settled[entry.id] or {})
        if self.reader.failed:
            return ()
        differs = self._compared({ids[entry.id]: entry for entry in wanted})
        for entry in wanted:
            outcomes[entry.id] = Outcome(
                place=entry.at,
                title=entry.title,
                what=NEW,
                record_id=ids[entry.id],
                differs=differs[ids[entry.id]],
                asked=tuple(
                    locale.localized(one.sentence) for one in usual_range.look(entry.snapshot)
                ),
            )
        return tuple(outcome for outcome in outcomes.values() if outcome)

    def _ids(self, record_id: str) -> tuple[UUID, ...]:
        """Return the ids that a record of the file may have in this book.

        It may have been imported, or it may be this book's own.
        """
        imported = stable_id(self.actor, "records", record_id)
        try:
            return imported, UUID(record_id)
        except ValueError:
            return (imported,)

    def _standing(self, entries: list[Entry]) -> dict[UUID, ApplicationRecord]:
        """Return the records of the book that the file speaks of, by id."""
        named = [entry.id for entry in entries]
        named += [before.id for entry in entries if (before := entry.snapshot.continues)]
        wanted = {one for record_id in named for one in self._ids(record_id)}
        rows = ApplicationRecord.objects.within(self.actor.business).filter(pk__in=wanted)
        return {row.pk: row for row in rows.select_related("seal")}

    def _passed_over(self, entry: Entry) -> Outcome | None:
        """Return the outcome of a record that makes no draft."""
        found = [self.standing[one] for one in self._ids(entry.id) if one in self.standing]
        row = found[0] if found else None
        if row is not None:
            what = STANDING
            why = _("as a draft")
            if row.signed_at:
                why = _("as no. %(number)d of this book") % {"number": row.seal.number}
        elif entry.superseded_by is not None:
            what = CORRECTED
            why = _("no. %(number)d of its book corrects it") % {"number": entry.superseded_by}
        else:
            return None
        return Outcome(
            place=entry.at, title=entry.title, what=what, why=why, record_id=row.pk if row else None
        )

    def _settled(self, entry: Entry) -> dict[str, Any] | None:
        try:
            return self.shelf.settle(entry.snapshot, f"{entry.at}.facts")
        except Unsettled:
            return None

    def _write(self, entry: Entry, draft_id: UUID, shelf: dict[str, Any]) -> None:
        try:
            with transaction.atomic():
                data = {**self._own_facts(entry), **shelf, **self._lists(entry, shelf)}
                draft = begin_draft(actor=self.actor, record_id=draft_id)
                self.standing[draft_id] = save_draft(
                    actor=self.actor, record_id=draft_id, revision=draft.revision, data=data
                )
        except Unsettled:
            return
        except RefusedInput as bad:
            self._note(entry, bad.errors)

    def _note(self, entry: Entry, errors: dict[str, list[str]]) -> None:
        for path, texts in errors.items():
            first = _RENAMED.get(path.split(".")[0], path.split(".")[0]).split(".")[0]
            under = "facts" if first in _BESIDE_THE_RECORD else "facts.record"
            note(self.reader, f"{entry.at}.{under}", {path: texts}, _RENAMED)

    def _own_facts(self, entry: Entry) -> dict[str, Any]:
        facts = entry.snapshot
        before = self._ids(facts.continues.id) if facts.continues else ()
        return {
            **{name: value for name, value in vars(facts.record).items() if name != "id"},
            "note": _note_of(entry),
            "growth_stage": facts.crop.growth_stage_bbch if facts.crop else None,
            "continues": next((one for one in before if one in self.standing), None),
        }

    def _lists(self, entry: Entry, shelf: dict[str, Any]) -> dict[str, Any]:
        facts = entry.snapshot
        return {
            "products": [
                {
                    "product": self.shelf.rows["products", line.product_id],
                    "planned_rate": line.planned_rate,
                    "total_used": line.total_used,
                    "target": line.target,
                }
                for line in facts.products
            ],
            "loads": [
                self._load(entry, place, load, shelf["rig"])
                for place, load in enumerate(facts.loads)
            ],
            "weather": [
                {**vars(one), "signs": None if one.signs is None else list(one.signs)}
                for one in facts.weather
            ],
        }

    def _load(
        self, entry: Entry, place: int, load: LoadFacts, rig_id: UUID | None
    ) -> dict[str, Any]:
        """Return one load for `save_draft`, its row made beforehand: its id has to be known.

        Two records of one load share the row, unless they say different things of it.
        """
        at = f"{entry.at}.facts.loads[{place}]"
        parts = [
            {"product": self._part(part.product_id, f"{at}.parts[{n}]"), "amount": part.amount}
            for n, part in enumerate(load.parts)
        ]
        named = [part.product_id for part in load.parts]
        for n, product_id in enumerate(named):
            if product_id in named[:n]:
                self.reader.refuse(
                    f"{at}.parts[{n}].product_id", product_id, _("it is in this load already.")
                )
                raise Unsettled
        mark = entry.loads[place] if entry.loads else None
        key = mark.id if mark else f"{entry.id}/{place}"
        row = Load(
            id=stable_id(self.actor, "loads", f"{key}\n{rig_id}\n{load.mixed_volume}\n{parts}"),
            business=self.actor.business,
            rig_id=rig_id,
            mixed_volume=load.mixed_volume,
        )
        if not Load.objects.filter(pk=row.pk).exists():
            try:
                row.full_clean()
            except ValidationError as bad:
                note(self.reader, at, bad.message_dict, {})
                raise Unsettled from None
            row.save(force_insert=True)
            if mark:
                # The loads of a record stand in the order in which they were entered.
                Load.objects.filter(pk=row.pk).update(created_at=mark.entered_at)
        return {
            "load": row.pk,
            "mixed_volume": load.mixed_volume,
            "used": load.used_here,
            "order": load.order,
            "parts": parts,
        }

    def _part(self, product_id: str, at: str) -> Any:
        row_id = self.shelf.rows.get(("products", product_id))
        if row_id is None:
            self.reader.refuse(
                f"{at}.product_id", product_id, _("no product of this file has this id.")
            )
            raise Unsettled
        return row_id

    # --- what the drafts say ---------------------------------------------------------------------

    def _compared(self, entries: dict[UUID, Entry]) -> dict[UUID, tuple[str, ...]]:
        """Return by draft what it says otherwise than the file."""
        found = {}
        ids = list(entries)
        for start in range(0, len(ids), AT_ONCE):
            rows = ApplicationRecord.objects.filter(pk__in=ids[start : start + AT_ONCE])
            for row in with_everything(rows):
                entry, got = entries[row.pk], snapshot_of(row)
                own = dataclasses.replace(entry.snapshot.record, note=_note_of(entry))
                found[row.pk] = tuple(
                    self._differences(dataclasses.replace(entry.snapshot, record=own), got)
                )
        return found

    def _differences(self, wanted: Snapshot, got: Snapshot) -> Iterator[str]:
        if not self.whole_facts:
            filled = _filled(to_json(wanted), to_json(got))
            wanted = from_json(filled, Snapshot)
        yield from changes_between(wanted, got)
        if wanted.field and got.field and wanted.field.boundary != got.field.boundary:
            yield _("field boundary: another outline")


AT_ONCE = 100
"""How many drafts are read back at once."""


def _note_of(entry: Entry) -> str:
    return "\n".join(part for part in (entry.snapshot.record.note, entry.origin.line()) if part)


def _filled(wanted: Any, got: Any) -> Any:
    """Return `wanted` with what it leaves blank as `got` has it: a CSV does not say everything."""
    if wanted in (None, "", [], {}):
        return got
    if isinstance(wanted, dict) and isinstance(got, dict) and "unit" not in wanted:
        return {name: _filled(wanted.get(name), value) for name, value in got.items()}
    if isinstance(wanted, list) and isinstance(got, list) and len(wanted) == len(got):
        return [_filled(one, other) for one, other in zip(wanted, got, strict=True)]
    return wanted
