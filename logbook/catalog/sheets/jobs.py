"""A file from the choice to the deed: kept, looked at, written; each step tells how far it is.

Each step is one request that answers line by line while it works, so it is never silent; there is
no queue to run and nothing half done to pick up. The deed is one transaction: when the answer is
broken off, or anything differs from what was looked at, nothing is written.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from logbook.catalog.models import ImportFile
from logbook.catalog.services import SHELVES
from logbook.catalog.sheets import shapes
from logbook.catalog.sheets.checking import MAX_CHANGED, Checker, Plan
from logbook.catalog.sheets.kinds import SHEETS, SheetKind
from logbook.catalog.sheets.reading import Table, table_of
from logbook.errors.exceptions import Conflict, NotThere, Refused
from logbook.localization.locale import count
from logbook.readers import MAX_BYTES, ZIP
from logbook.tenancy import history

KEPT_DAYS = 2
"""A file that nobody wrote is thrown away after so many days."""

STEP = 2_000
"""Rows between two words of progress, and rows that are written at once."""

Progress = Iterator[tuple[int, int]]
"""How many rows are done, of how many."""


def keep_file(
    *,
    business: Any,
    user: Any,
    kind: str,
    name: str,
    content: bytes,
    options: dict[str, str],
    now: datetime,
) -> ImportFile:
    """Return the kept file; nothing of it is read yet. Files left lying are thrown away.

    The caller has asked for the right to change the shelf.

    Raises: Refused if it is empty or too large.
    """
    if not content:
        raise Refused(_("The file is empty."))
    if len(content) > MAX_BYTES:
        raise Refused(
            _("The file has %(bytes)s bytes; at most %(most)s are read at once. Split it.")
            % {"bytes": count(len(content)), "most": count(MAX_BYTES)}
        )
    old = ImportFile.objects.within(business).filter(created_at__lt=now - timedelta(days=KEPT_DAYS))
    old.delete()
    return ImportFile.objects.create(
        business=business,
        made_by=user,
        kind=_kind(kind).slug,
        name=name[:200],
        content=content,
        options=options,
    )


def kept_file(*, business: Any, user: Any, file_id: UUID) -> ImportFile:
    """Return a file that this person keeps in this business.

    Raises: NotThere.
    """
    file: ImportFile | None = (
        ImportFile.objects.within(business)
        .filter(pk=file_id, made_by=user)
        .defer("content")
        .first()
    )
    if file is None:
        raise NotThere(_("There is no such file; choose it again."))
    return file


def _kind(slug: str) -> SheetKind:
    if slug not in SHEETS:
        raise NotThere(_("There is no such kind of sheet."))
    return SHEETS[slug]


def look_at(*, file: ImportFile) -> Progress:
    """Yield how far it is while the file is looked at; its report is kept then.

    What refuses the whole file is kept as the report, too.
    """
    try:
        table, passed_over = _table(file)
        checker = Checker(kind=_kind(file.kind), table=table, business=file.business)
        for done in checker.work():
            if done % STEP == 0:
                yield done, checker.plan.total
        report = _report(checker.plan, table, passed_over)
        digest = "" if checker.plan.failed else checker.plan.digest
    except Refused as refusal:
        report, digest = {"refused": str(refusal)}, ""
    with transaction.atomic():
        standing = ImportFile.objects.select_for_update().get(pk=file.pk)
        if standing.state == ImportFile.State.WRITTEN:
            return
        standing.report, standing.digest = report, digest
        standing.state = ImportFile.State.LOOKED_AT
        standing.save(update_fields=["report", "digest", "state"])


def write(*, file: ImportFile, change: bool) -> Progress:
    """Yield how far it is while the file that was looked at is written; a second time nothing is.

    Args: change: whether rows that are there already become what the file says.
    Raises: Conflict if the shelf is no longer as it was when the file was looked at; Refused.
    Nothing is written then, nor when nobody takes the steps to their end.
    """
    try:
        with transaction.atomic():
            # One import at a time writes on a shelf: two of them could make one row twice.
            businesses = type(file.business)._default_manager.select_for_update()
            list(businesses.filter(pk=file.business_id))
            standing = ImportFile.objects.select_for_update().get(pk=file.pk)
            if standing.state == ImportFile.State.WRITTEN:
                return
            if not standing.digest:
                raise Refused(_("Look at the file first; with a bad row in it nothing is written."))
            table, passed_over = _table(standing)
            checker = Checker(kind=_kind(file.kind), table=table, business=file.business)
            total = checker.plan.total
            for done in checker.work():
                if done % STEP == 0:
                    yield done // 2, total
            if checker.plan.failed or checker.plan.digest != standing.digest:
                raise Conflict(
                    _("The shelf has changed since you looked at the file. Look at it again.")
                )
            for done in _written(checker.plan, change=change, by=standing.made_by):
                yield total // 2 + done // 2, total
            standing.report = _report(checker.plan, table, passed_over) | {"changed": change}
            standing.state = ImportFile.State.WRITTEN
            standing.content = b""
            standing.save(update_fields=["report", "state", "content"])
    except IntegrityError:
        raise Conflict(
            _("Something in the file contradicts what is on the shelf. Look at it again.")
        ) from None


def note_refusal(*, file: ImportFile, why: str) -> None:
    """Keep why nothing was written, for the page that is shown next; the file is looked at anew."""
    with transaction.atomic():
        standing = ImportFile.objects.select_for_update().get(pk=file.pk)
        if standing.state != ImportFile.State.WRITTEN:
            standing.report = {**standing.report, "not_written": why}
            standing.digest = ""
            standing.save(update_fields=["report", "digest"])


def _table(file: ImportFile) -> tuple[Table, list[str]]:
    raw = bytes(file.content)
    try:
        named = shapes.is_named_as_shapes(file.name) and not raw.startswith(ZIP)
        table = None if named else table_of(raw)
        if table:
            return table, []
        return shapes.table_of(raw, name=file.name, options=file.options)
    except Refused as refusal:
        raise Refused(f"{file.name}: {refusal}") from None


def _written(plan: Plan, *, change: bool, by: Any) -> Iterator[int]:
    """Yield how many rows are written."""
    done = 0
    for shelf, rows in plan.new.items():
        for start in range(0, len(rows), STEP):
            _make(SHELVES[shelf].model, rows[start : start + STEP], by)
            done += STEP
            yield min(done, plan.total)
    for (shelf, name), rows in plan.children.items():
        for start in range(0, len(rows), STEP):
            _make(SHELVES[shelf].children[name], rows[start : start + STEP], by)
    if change:
        if len(plan.changed) > MAX_CHANGED:
            raise Refused(
                _(
                    "At most %(most)s rows are changed at once; the file changes %(count)s. "
                    "Split it."
                )
                % {"most": count(MAX_CHANGED), "count": count(len(plan.changed))}
            )
        with history.acting(lambda: by):
            for row in plan.changed:
                row.save()


def _make(model: Any, rows: list[Any], by: Any) -> None:
    # Message here: the answer streams, and the middleware, which knows who asks, has been left.
    with history.acting(lambda: by):
        model.objects.bulk_create(rows)
        history.added(rows)


def _report(plan: Plan, table: Table, passed_over: list[str]) -> dict[str, Any]:
    return {
        "total": plan.total,
        "new": plan.new_rows,
        "standing": plan.standing,
        "differing": plan.differing,
        "changing": len(plan.changed),
        "differences": [asdict(one) for one in plan.differences],
        "problems": [asdict(one) for one in plan.problems],
        "questions": [asdict(one) for one in plan.questions],
        "further": plan.further,
        "notes": list(table.notes),
        "examples": table.examples,
        "passed_over": passed_over,
    }
