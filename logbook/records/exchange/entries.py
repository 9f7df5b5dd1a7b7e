"""The records of a file, read and found to agree with themselves; places that do not are named."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.utils.translation import gettext as _

from logbook.checks.used import used_of
from logbook.errors.exceptions import Refused
from logbook.facts.record import Snapshot
from logbook.localization import locale
from logbook.records.exchange import layout
from logbook.records.exchange.layout import Json
from logbook.records.exchange.reading import Problem, Reader, Unreadable, excerpt
from logbook.records.exchange.table import Table


@dataclass(frozen=True)
class Origin:
    """Where a record was sealed."""

    business: str
    number: int | None
    link: str

    def line(self) -> str:
        """The line about it in the note of the draft; "" where there was no seal."""
        if self.number is None:
            return ""
        return f"Taken over from {self.business}, no. {self.number}, seal {self.link}."


@dataclass(frozen=True)
class LoadMark:
    """Which tank fill a load is of, and when it was entered: the loads of a record keep order."""

    id: str
    entered_at: datetime


@dataclass(frozen=True)
class Entry:
    """One record of the file, read."""

    at: str  # its place in the JSON layout
    id: str
    snapshot: Snapshot
    loads: tuple[LoadMark, ...] | None
    origin: Origin
    superseded_by: int | None

    @property
    def title(self) -> str:
        """What the report calls it."""
        facts, day = self.snapshot, self.snapshot.local_day()
        number = _("not sealed")
        if self.origin.number:
            number = _("no. %(number)d") % {"number": self.origin.number}
        where = facts.field.name if facts.field else _("no field")
        return f"{number}, {where}, {locale.format_day(day) if day else _('no day')}"

    @property
    def began(self) -> datetime:
        """When the work began, for the order of the records."""
        facts = self.snapshot.record
        return facts.started_at or facts.finished_at or datetime.max.replace(tzinfo=UTC)


_HEAD = ("$schema", "format", "version", "software", "exported_at", "selection", "records")
_MEMBERS = ("id", "application", "facts", "loads", "seal", "superseded_by")
_SEAL = ("stated", "leaf", "previous", "link")


def records_of(data: Any, reader: Reader) -> list[Any]:
    """Return the records of the JSON, not yet read.

    Raises: Refused if it is not of this layout.
    """
    if not isinstance(data, dict) or data.get("format") != layout.FORMAT:
        raise Refused(
            _('This is not a file of records: its "format" is not %(format)s.')
            % {"format": layout.FORMAT}
        )
    version, known = data.get("version"), layout.VERSION.split(".")[0]
    if not isinstance(version, str) or version.split(".")[0] != known:
        raise Refused(
            _("The file is of version %(version)s; version %(known)s is read here.")
            % {"version": excerpt(version), "known": known}
        )
    reader.members(data, "$", _HEAD)
    records = data.get("records")
    if not isinstance(records, list):
        raise Refused(_('This is not a file of records: "records" is not a list.'))
    return records


def entries_of(records: list[Any], table: Table | None, reader: Reader) -> Iterator[Entry]:
    """Yield the records that can be read; whatever cannot is noted."""
    seen: dict[str, str] = {}
    for number, record in enumerate(records):
        at = f"$.records[{number}]"
        try:
            entry = _entry(record, at, reader, table.origins[number] if table else None)
        except Unreadable:
            continue
        if entry.id in seen:
            reader.refuse(
                f"{at}.id",
                entry.id,
                _("it is the id of %(place)s too.") % {"place": seen[entry.id]},
            )
        seen[entry.id] = at
        yield entry


def _entry(record: Any, at: str, reader: Reader, stated_origin: Json | None) -> Entry:
    from_json = stated_origin is None
    members = reader.members(record, at, _MEMBERS)
    lacking = [name for name in _MEMBERS if name not in members]
    for name in lacking:
        reader.refuse(f"{at}.{name}", None, _("this member is missing."), absent=True)
    if lacking:
        raise Unreadable
    snapshot: Snapshot = reader.read(Snapshot, members["facts"], f"{at}.facts")
    if snapshot.field and not _is_zone(snapshot.field.time_zone):
        zone_at = f"{at}.facts.field.time_zone"
        reader.refuse(zone_at, snapshot.field.time_zone, _("an IANA time zone is needed here."))
        raise Unreadable
    marks = reader.read(tuple[LoadMark, ...] | None, members["loads"], f"{at}.loads")
    if marks is not None and len(marks) != len(snapshot.loads):
        reader.refuse(
            f"{at}.loads",
            len(marks),
            _("facts.loads has %(count)d loads.") % {"count": len(snapshot.loads)},
        )
    if not snapshot.record.id or members["id"] != snapshot.record.id:
        reader.refuse(
            f"{at}.id", members["id"], _("it has to be the id in facts.record, not empty.")
        )
    if from_json:
        stated_origin = _origin_of(members, f"{at}.seal", reader)
        given = members["application"]
        lines = layout.computed((members["seal"] or {}).get("stated"))
        used = [used_of(snapshot, place, lines) for place in range(len(snapshot.products))]
        derived = layout.application_of(members["facts"], used)
        if not _names_basis(given):
            derived = layout.as_before_1_2(derived, members["facts"])
        _refuse_disagreement(given, derived, f"{at}.application", reader)
    return Entry(
        at=at,
        id=snapshot.record.id,
        snapshot=snapshot,
        loads=marks,
        origin=reader.read(Origin, stated_origin, f"{at}.seal"),
        superseded_by=reader.read(int | None, members["superseded_by"], f"{at}.superseded_by"),
    )


def _is_zone(name: str) -> bool:
    """Return whether the name is in the zone database; it may be any text, a path among them."""
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True


def _names_basis(application: Any) -> bool:
    """Return whether the dose says what it is known from, as it does from version 1.2 on."""
    products = application.get("products") if isinstance(application, dict) else None
    rows = products if isinstance(products, list) else []
    return any(isinstance(one, dict) and "dose_basis" in one for one in rows)


def _refuse_disagreement(given: Any, derived: Any, at: str, reader: Reader) -> None:
    """Note where `application` says otherwise than the facts from which it is derived."""
    if given == derived:
        return
    if isinstance(derived, dict) and isinstance(given, dict):
        reader.members(given, at, derived)
        for name, value in derived.items():
            _refuse_disagreement(given.get(name), value, f"{at}.{name}", reader)
    elif isinstance(derived, list) and isinstance(given, list) and len(derived) == len(given):
        for number, (one, value) in enumerate(zip(given, derived, strict=True)):
            _refuse_disagreement(one, value, f"{at}[{number}]", reader)
    else:
        reader.refuse(
            at, given, _("the facts of the record say %(value)s.") % {"value": excerpt(derived)}
        )


def _origin_of(members: Json, at: str, reader: Reader) -> Json:
    """Return where a record of the JSON was sealed, once its hashes have been found to hold."""
    business, seal = members["facts"]["business"]["name"], members["seal"]
    if seal is None:
        return {"business": business, "number": None, "link": ""}
    reader.members(seal, at, _SEAL)
    stated = reader.members(seal.get("stated"), f"{at}.stated", seal.get("stated") or ())
    found = {name: reader.read(str, seal.get(name), f"{at}.{name}") for name in _SEAL[1:]}
    for name, value in found.items():
        if not _HASH.fullmatch(value):
            reader.refuse(f"{at}.{name}", value, _("64 hexadecimal digits are needed here."))
            raise Unreadable
    hashes = layout.hashes_of(stated=stated, facts=members["facts"], previous=found["previous"])
    if hashes != (found["leaf"], found["link"]):
        reader.refuse(
            at,
            None,
            _(
                "the record is not what was sealed: its hashes do not come out. Take the file as "
                "it was exported."
            ),
            absent=True,
        )
    return {"business": business, "number": stated.get("number"), "link": found["link"]}


def placed(problem: Problem, records: list[Any], table: Table | None) -> Problem:
    """Return the problem with the value at its place, the record it is of, and the place as the
    file counts it.
    """
    value, which = problem.value, problem.which
    if not which and (record := re.match(r"\$\.records\[\d+\]", problem.place)):
        paths = (f"{record[0]}.facts.{one}.name" for one in ("customer", "field"))
        names = (_value_at(records, path) for path in paths)
        which = ", ".join(name[:80] for name in names if name and isinstance(name, str))
    if not value and (standing := _value_at(records, problem.place)) is not None:
        value = excerpt(standing)
    place = table.place(problem.place) if table else problem.place
    return Problem(place, value, problem.allowed, which)


def _value_at(records: list[Any], path: str) -> Any:
    """Return the plain value at a path of the JSON layout; None where it is not so plain."""
    value: Any = {"records": records}
    for name, number in re.findall(r"\.([^.\[]+)|\[(\d+)\]", path):
        try:
            value = value[name] if name else value[int(number)]
        except (KeyError, IndexError, TypeError):
            return None
    return None if isinstance(value, (dict, list)) and "unit" not in value else value


_HASH = re.compile("[0-9a-f]{64}")
