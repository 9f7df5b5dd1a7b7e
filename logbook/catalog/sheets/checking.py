"""Rows of a sheet into a plan: what is new, what is there already, what differs, what is wrong."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from functools import partial
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from logbook.catalog.services import SHELVES
from logbook.catalog.sheets.cells import PartReader, Say
from logbook.catalog.sheets.kinds import ListColumn, Part, SheetKind, folded
from logbook.catalog.sheets.reading import Table
from logbook.errors.exceptions import Refused
from logbook.localization.locale import count

MAX_NAMED = 200
"""Problems and differences that are named one by one; the rest are counted."""

MAX_CHANGED = 2_000
"""Rows that are there already and may be changed at once: each is saved by itself."""

_NOTHING: dict[str, Any] = {}


@dataclass(frozen=True, kw_only=True)
class Problem:
    """A cell that cannot be taken: where it stands, what stands there, what is allowed.

    Attributes: which, what the row says of its name, so that it is found in a sheet sorted anew.
    """

    row: int
    column: str
    value: str
    allowed: str
    which: str = ""


@dataclass(frozen=True, kw_only=True)
class Difference:
    """A row that is there already and says otherwise.

    Attributes: number of the row; which one; lines, column, what stands here and what the file
    says; settled, whether the import can change it (a list is changed on its page alone).
    """

    row: int
    which: str
    lines: tuple[tuple[str, str, str], ...]


@dataclass
class Plan:
    """What a file comes to; nothing of it is written yet."""

    total: int
    new: dict[str, list[Any]] = field(default_factory=dict)  # shelf -> rows
    children: dict[tuple[str, str], list[Any]] = field(default_factory=dict)  # shelf, list -> rows
    changed: list[Any] = field(default_factory=list)
    standing: int = 0
    differing: int = 0
    new_rows: int = 0
    differences: list[Difference] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    questions: list[Problem] = field(default_factory=list)  # numbers outside their usual range
    further: int = 0
    digest: str = ""

    @property
    def failed(self) -> bool:
        """Whether anything in it cannot be taken."""
        return bool(self.problems)


class Checker:
    """Makes the plan of one file."""

    def __init__(self, *, kind: SheetKind, table: Table, business: Any) -> None:
        self.kind, self.table, self.business = kind, table, business
        if len(table.rows) > kind.most_rows:
            raise Refused(
                _("The file has %(rows)s rows; of %(many)s at most %(most)s are taken at once.")
                % {
                    "rows": count(len(table.rows)),
                    "many": kind.many,
                    "most": count(kind.most_rows),
                }
            )
        self.plan = Plan(total=len(table.rows))
        self.head = self._head()
        self.parts = [PartReader(part, self.head, business) for part in kind.parts]
        self.standing = {part.shelf: self._standing(part) for part in kind.parts}
        self.named = {
            part.reference.shelf: self._names(part.reference.shelf)
            for part in kind.parts
            if part.reference
        }
        # By shelf and key, the row of the file that says it first, and what it says.
        self.seen: dict[str, dict[Any, tuple[int, Any, dict[str, Any]]]] = {
            part.shelf: {} for part in kind.parts
        }
        self._digest = hashlib.sha256()

    def work(self) -> Iterator[int]:
        """Yield how many rows are looked at, after each; `plan` is whole at the end."""
        for place, (number, cells) in enumerate(self.table.rows, start=1):
            self._row(number, cells)
            yield place
        self.plan.digest = self._digest.hexdigest()

    # --- the head --------------------------------------------------------------------------------

    def _head(self) -> dict[str, int]:
        """Return the place of each column.

        Raises: Refused, naming the columns that are not known, missing or given twice.
        """
        known = self.kind.heads()
        found: dict[str, int] = {}
        wrong = []
        for place, cell in enumerate(self.table.head):
            name = "_".join(cell.split()).casefold()
            if not name:
                wrong.append(_("column %(place)s has no name") % {"place": place + 1})
            elif name not in known:
                wrong.append(_("“%(name)s” is not known") % {"name": cell[:60]})
            elif name in found:
                wrong.append(_("“%(name)s” stands twice") % {"name": name})
            found[name] = place
        wrong += [
            _("“%(name)s” is missing") % {"name": n} for n in self.kind.needs if n not in found
        ]
        if wrong:
            raise Refused(
                _(
                    "The first row does not name the columns of %(many)s: %(wrong)s. Known are: "
                    "%(known)s."
                )
                % {
                    "many": self.kind.many,
                    "wrong": "; ".join(wrong)[:1000],
                    "known": ", ".join(known),
                }
            )
        return found

    # --- what is there ---------------------------------------------------------------------------

    def _standing(self, part: Part) -> dict[Any, list[Any]]:
        rows = part.model.objects.within(self.business)
        if part.reference:
            rows = rows.select_related(part.reference.column)
        if part.above:
            rows = rows.select_related(part.above)
        lists = {column.list for column in part.columns if isinstance(column, ListColumn)}
        found: dict[Any, list[Any]] = {}
        for row in rows.prefetch_related(*lists):
            found.setdefault(part.key(row), []).append(row)
        return found

    def _names(self, shelf: str) -> dict[str, list[Any]]:
        found: dict[str, list[Any]] = {}
        for row in SHELVES[shelf].model.objects.within(self.business):
            found.setdefault(folded(row.name), []).append(row)
        return found

    # --- a row -----------------------------------------------------------------------------------

    def _row(self, number: int, cells: list[str]) -> None:
        before = len(self.plan.problems) + self.plan.further

        def refuse(column: str, value: str, allowed: str) -> None:
            self._refuse(number, column, value, allowed, cells)

        width = len(self.table.head)
        if any(cell.strip() for cell in cells[width:]):
            refuse(
                _("beyond the last"), " ".join(cells[width:])[:60], _("No column is named here.")
            )
        above: Any = None
        wanted = [
            reader
            for place, reader in enumerate(self.parts)
            if place == 0 or not reader.is_blank(cells)
        ]
        for reader in wanted:
            above = self._part(reader, number, cells, above, reader is wanted[-1], refuse)
            if above is None or len(self.plan.problems) + self.plan.further > before:
                return

    def _part(
        self,
        reader: PartReader,
        number: int,
        cells: list[str],
        above: Any,
        last: bool,
        refuse: Say,
    ) -> Any:
        """Return the row that this part of the line stands for; None where it cannot be told."""
        part = reader.part
        faults = len(self.plan.problems) + self.plan.further
        said = reader.read(cells, refuse, partial(self._note, self.plan.questions, number, cells))
        if part.reference:
            said[part.reference.column] = self._referred(part, cells, refuse)
        if part.above:
            said[part.above] = above
        if len(self.plan.problems) + self.plan.further > faults:
            return None
        new = part.model(business=self.business, **said)
        key = part.key(new)
        if key in self.seen[part.shelf]:
            first, row, said_first = self.seen[part.shelf][key]
            if last:
                what = SHELVES[part.shelf].noun
                refuse(
                    next(iter(reader.named.values())),
                    str(row),
                    _("Row %(row)s is this %(what)s already.") % {"row": first, "what": what},
                )
                return None
            for name, value in said.items():
                if not _same(value, said_first.get(name)):
                    refuse(
                        reader.named.get(name, name),
                        _shown(value),
                        _("Row %(row)s says %(value)s.")
                        % {"row": first, "value": _shown(said_first.get(name)) or _("nothing")},
                    )
            return row
        standing = self.standing[part.shelf].get(key, [])
        if len(standing) > 1:
            standing = [row for row in standing if _agrees(row, said)]
            if len(standing) != 1:
                refuse(
                    next(iter(reader.named.values())),
                    str(new),
                    _("Several on the shelf are called so; change them on their pages."),
                )
                return None
        if standing:
            row = self._known(reader, number, cells, standing[0], said, last, refuse)
        else:
            row = self._new(reader, number, cells, new, said, last, refuse)
        if row is not None:
            # What a last part says is never compared; a hundred thousand of it would be kept.
            self.seen[part.shelf][key] = (number, row, _NOTHING if last else said)
        return row

    def _referred(self, part: Part, cells: list[str], refuse: Say) -> Any:
        reference = part.reference
        assert reference is not None  # noqa: S101  (the caller has looked)
        name, more = (self._cell(cells, column.name) for column in reference.names)
        rows = self.named[reference.shelf].get(folded(name), [])
        if more:
            rows = [row for row in rows if folded(row.address) == folded(more)]
        if len(rows) == 1:
            return rows[0]
        if not name:
            refuse(reference.names[0].name, "", _("It is needed."))
        elif not rows:
            refuse(
                reference.names[0].name,
                f"{name} {more}".strip(),
                _("There is no such customer on the shelf; bring the customers in first."),
            )
        else:
            refuse(
                reference.names[0].name,
                name,
                _("%(count)s customers are called so; write the address into %(column)s.")
                % {"count": len(rows), "column": reference.names[1].name},
            )
        return None

    def _cell(self, cells: list[str], name: str) -> str:
        at = self.head.get(name, -1)
        return cells[at].strip() if -1 < at < len(cells) else ""

    def _new(
        self,
        reader: PartReader,
        number: int,
        cells: list[str],
        row: Any,
        said: dict[str, Any],
        last: bool,
        refuse: Say,
    ) -> Any:
        part = reader.part
        faults = len(self.plan.problems) + self.plan.further
        blanks = reader.complete(said, refuse)
        whole = reader.cleaned({**said, **blanks}, refuse) if reader.form_cleans else blanks
        if len(self.plan.problems) + self.plan.further > faults:
            return None
        for name, value in whole.items():
            setattr(row, name, value)
        if not self._clean(reader, row, refuse):
            return None
        lists = self._lists(reader, cells, row, refuse) if reader.lists else _NOTHING
        self.plan.new.setdefault(part.shelf, []).append(row)
        for name, children in lists.items():
            self.plan.children.setdefault((part.shelf, name), []).extend(children)
        if last:
            self.plan.new_rows += 1
        self._digest.update(b"new %s %d\n" % (part.shelf.encode(), number))
        return row

    def _known(
        self,
        reader: PartReader,
        number: int,
        cells: list[str],
        row: Any,
        said: dict[str, Any],
        last: bool,
        refuse: Say,
    ) -> Any:
        part = reader.part
        lines = []
        for name, value in said.items():
            stands = getattr(row, name)
            if name in (part.above, part.reference and part.reference.column):
                continue
            if not _same(stands, value):
                lines.append((reader.named.get(name, name), _shown(stands), _shown(value)))
                setattr(row, name, value)
        if lines and not self._clean(reader, row, refuse):
            return None
        if lines:
            self.plan.changed.append(row)
        lines += self._list_differences(reader, cells, row, refuse)
        if lines:
            self.plan.differing += 1
            if len(self.plan.differences) < MAX_NAMED:
                self.plan.differences.append(
                    Difference(row=number, which=str(row), lines=tuple(lines))
                )
        elif last:
            self.plan.standing += 1
        self._digest.update(f"old {row.pk} {lines!r}\n".encode())
        return row

    def _clean(self, reader: PartReader, row: Any, refuse: Say) -> bool:
        """Return whether the model takes the row as a whole; its columns are clean already."""
        part = reader.part
        faults = len(self.plan.problems) + self.plan.further
        try:
            if part.thorough:
                row.full_clean(exclude={"business", part.above or "business"})
            else:
                row.clean()
        except ValidationError as bad:
            for name, texts in bad.message_dict.items():
                for text in texts:
                    value = "" if name == "__all__" else _shown(getattr(row, name, ""))
                    refuse(reader.named.get(name, _("row")), value, text)
        return len(self.plan.problems) + self.plan.further == faults

    def _lists(
        self,
        reader: PartReader,
        cells: list[str],
        row: Any,
        refuse: Say,
    ) -> dict[str, list[Any]]:
        """Return the rows that hang on a row, as its cells list them."""
        found: dict[str, list[Any]] = {}
        for column, at in reader.lists:
            text = cells[at].strip() if -1 < at < len(cells) else ""
            model: Any = SHELVES[reader.part.shelf].children[column.list]
            parent = next(
                each.name for each in model._meta.concrete_fields if each.related_model is type(row)
            )
            made = []
            for one in text.split(";") if text else []:
                if not one.strip():
                    continue
                match = column.pattern.fullmatch(one.strip())
                if match is None:
                    refuse(
                        column.name,
                        one.strip()[:60],
                        _("Write it like “%(like)s”.") % {"like": column.written},
                    )
                    continue
                child = model(**{parent: row})
                try:
                    for name, value in match.groupdict().items():
                        setattr(child, name, child._meta.get_field(name).to_python(value))
                    child.full_clean(exclude={parent})
                except ValidationError as bad:
                    for text_of_fault in bad.messages:
                        refuse(column.name, one.strip()[:60], text_of_fault)
                made.append(child)
            if made:
                found[column.list] = made
        return found

    def _list_differences(
        self,
        reader: PartReader,
        cells: list[str],
        row: Any,
        refuse: Say,
    ) -> list[tuple[str, str, str]]:
        """Return the lists that the file writes otherwise; they are changed on the page alone."""
        lines = []
        for name, children in self._lists(reader, cells, row, refuse).items():
            stands = sorted(str(child) for child in getattr(row, name).all())
            says = sorted(str(child) for child in children)
            if stands != says:
                only = _("stays; change it on its page")
                column = f"{reader.named[name]} ({only})"
                lines.append((column, "; ".join(stands), "; ".join(says)))
        return lines

    def _refuse(self, row: int, column: str, value: str, allowed: str, cells: list[str]) -> None:
        if len(self.plan.problems) >= MAX_NAMED:
            self.plan.further += 1
            return
        self._note(self.plan.problems, row, cells, column, value, allowed)

    def _note(
        self, of: list[Problem], row: int, cells: list[str], column: str, value: str, said: str
    ) -> None:
        """Note what is said about a cell, if there is room in the list."""
        if len(of) < MAX_NAMED:
            which = ", ".join(filter(None, (self._cell(cells, name) for name in self.kind.names)))
            of.append(
                Problem(
                    row=row, column=column, value=value[:200], allowed=said[:500], which=which[:200]
                )
            )


def _agrees(row: Any, said: dict[str, Any]) -> bool:
    return all(_same(getattr(row, name), value) for name, value in said.items())


def _same(one: Any, other: Any) -> bool:
    """Return whether two values of a column say the same."""
    if isinstance(one, str) and isinstance(other, str):
        return one.replace("\r\n", "\n").strip() == other.replace("\r\n", "\n").strip()
    if isinstance(one, list) and isinstance(other, list):
        return sorted(map(str, one)) == sorted(map(str, other))
    blank: tuple[Any, ...] = (None, "")
    return bool(one == other) or (one in blank and other in blank)


def _shown(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    if isinstance(value, list):
        return "; ".join(map(str, value))
    return str(value)[:200]
