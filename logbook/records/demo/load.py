"""Loading the demo: its people, its shelf, and every record entered and signed in turn.

Ids and dates are fixed, so that every installation holds the same demo. What is there already is
left as it stands: loading again changes nothing, and finishes a load that was interrupted.
"""

from __future__ import annotations

import json
import tomllib
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from itertools import groupby
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Max
from django.http import HttpRequest
from django.utils import timezone

from logbook.accounts.grants import give_grant, guest_for
from logbook.accounts.models import Person, User
from logbook.accounts.rights import Actor, Role
from logbook.accounts.services import (
    Confirmation,
    actor_for,
    add_member,
    confirm_password,
    new_user,
    open_business,
    save_person,
)
from logbook.catalog.selectors import on_shelf, plantings_of
from logbook.catalog.services import save_on_shelf
from logbook.records.demo.entry import Row, entry_of, put_all
from logbook.records.models import ApplicationRecord, DueSheet, LegalHold, LoadUse
from logbook.records.reading.duesheets import items_on
from logbook.records.writing.amend import begin_amendment
from logbook.records.writing.draft import begin_draft, save_draft
from logbook.records.writing.entries import add_duty_entry, strike_duty_entry
from logbook.records.writing.holds import set_hold
from logbook.records.writing.sign import sign
from logbook.tenancy.history import acting

FILES = settings.BASE_DIR / "fixtures" / "demo"
NAMESPACE = uuid.UUID("5f0a7f5e-0d1c-5b8e-9a0e-0c7d6a3b2f10")
SHELF_ORDER = (
    "customers",
    "fields",
    "places",
    "products",
    "labels",
    "nozzles",
    "rigs",
    "nozzle-sets",
    "catch-tests",
)
KIND_OF = {
    "customer": "customers",
    "field": "fields",
    "product": "products",
    "nozzle": "nozzles",
    "rig": "rigs",
    "nozzle_set": "nozzle-sets",
    "applicator": "people",
    "supervisor": "people",
}
"""Which rows a key in the data files speaks of, by the name of the column."""

SIGNED_AFTER = timedelta(minutes=20)
"""How long after the day's last spraying its first record is signed."""

Say = Callable[[str], object]


@dataclass(frozen=True)
class Login:
    """A demo login, as it is printed."""

    email: str
    password: str
    role: str


def row_id(kind: str, key: str) -> uuid.UUID:
    """Return the fixed id of a row of the demo."""
    return uuid.uuid5(NAMESPACE, f"{kind}/{key}")


def logins() -> list[Login]:
    """Return the demo logins, the owner first."""
    people = read_data("people")
    password = people["login"]["password"]
    return [
        Login(one["email"], password, one["role"]) for one in [*people["member"], *people["guest"]]
    ]


def load_demo(*, say: Say = print) -> int:
    """Return how many records were entered; 0 if the demo was there already, whole.

    Args: say: told each step, in a line.
    """
    return _Demo(say).load()


def read_data(name: str) -> Row:
    """Return one of the demo's data files: "people", "shelf" or "season"."""
    text = (FILES / f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text, parse_float=Decimal)


def _with_ids(value: Any, column: str = "") -> Any:
    """Return the data with the id of the row in place of every key that names one."""
    if isinstance(value, dict):
        return {name: _with_ids(item, name) for name, item in value.items()}
    if isinstance(value, list):
        return [_with_ids(item) for item in value]
    if value is not None and column in KIND_OF:
        return row_id(KIND_OF[column], value)
    return value


class _Demo:
    def __init__(self, say: Say) -> None:
        self.say = say
        self.people = read_data("people")
        self.shelf = read_data("shelf")
        self.season = read_data("season")
        self.rows = {
            kind: {row["key"]: row for row in self.shelf[kind]} for kind in ("fields", "rigs")
        }
        self.actors: dict[str, Actor] = {}
        self.confirmed: dict[str, Confirmation] = {}

    def load(self) -> int:
        events = sorted([*self.season["application"], *self.season["amendment"]], key=_when)
        done = self._done(events)
        there = all(self._is_done(event, done) for event in events) and self._duties_are_done()
        if there and not self._guests_without_access():
            self.say("The demo is loaded already; nothing was changed.")
            return 0
        with acting(lambda: self._owner.user if self.actors else None):
            self._enter_people()
            self._fill_shelf()
        entered = 0
        for month, work in groupby(events, key=lambda event: f"{_when(event):%B}"):
            for _, day in groupby(work, key=lambda event: _when(event).date()):
                entered += self._work_day(list(day), done)
            self.say(f"book: {month}, {entered} of {len(events)} records")
        self._enter_duties()
        self._enter_guests()
        return entered

    def _work_day(self, day: list[Row], done: dict[uuid.UUID, bool]) -> int:
        """Enter the records of one day, then sign them: a load may serve two of them."""
        waiting = [event for event in day if not self._is_done(event, done)]
        for event in waiting:
            self._enter(event)
        for place, event in enumerate(waiting):
            if not event.get("draft"):
                self._sign(event, self._signing_time(event, day, place))
        return len(waiting)

    # --- people and shelf ------------------------------------------------------------------------

    def _enter_people(self) -> None:
        password = self.people["login"]["password"]
        for member in self.people["member"]:
            login = {name: member[name] for name in ("email", "name", "unit_system")}
            user = User.objects.filter(email=member["email"]).first()
            actor = actor_for(user) if user else None
            if actor is None and not self.actors:
                actor = open_business(data=self.people["business"], password=password, **login)
            elif actor is None:
                actor = add_member(
                    actor=self._owner, role=Role(member["role"]), password=password, **login
                )
            self.actors[member["key"]] = actor
        for person in self.people["person"]:
            person_id = row_id("people", person["key"])
            if not Person.objects.filter(pk=person_id).exists():
                user = self.actors[person["key"]].user
                save_person(actor=self._owner, person_id=person_id, data={**person, "user": user})
        self.say(f"people: {len(self.people['member'])} logins")

    @property
    def _owner(self) -> Actor:
        return self.actors["orla"]

    def _fill_shelf(self) -> None:
        outlines = json.loads((FILES / "fields.geojson").read_text(encoding="utf-8"))
        for outline in outlines["features"]:
            field = self.rows["fields"][outline["properties"]["key"]]
            field |= {"name": outline["properties"]["name"], "boundary": outline["geometry"]}
        for place in self.shelf["places"]:
            place["shape"] = json.loads(place["shape"])
        for kind in SHELF_ORDER:
            there = set(
                on_shelf(business=self._owner.business, shelf=kind).values_list("pk", flat=True)
            )
            for row in self.shelf[kind]:
                if row_id(kind, row["key"]) not in there:
                    save_on_shelf(
                        business=self._owner.business,
                        shelf=kind,
                        row_id=row_id(kind, row["key"]),
                        data=_with_ids(row),
                    )
            self.say(f"shelf: {len(self.shelf[kind])} {kind}")

    def _guests_without_access(self) -> list[Row]:
        """Return the guests whom no grant lets in: none was given yet, or it is over."""
        now = timezone.now()
        found = []
        for guest in self.people["guest"]:
            user = User.objects.filter(email=guest["email"]).first()
            if user is None or guest_for(user, now=now) is None:
                found.append(guest)
        return found

    def _enter_guests(self) -> None:
        """Let the guests in from today on: access is a matter of the clock, not of the season."""
        now = timezone.now()
        today = now.astimezone(ZoneInfo(self.people["business"]["time_zone"])).date()
        lacking = self._guests_without_access()
        for guest in lacking:
            if not User.objects.filter(email=guest["email"]).exists():
                login = {name: guest[name] for name in ("email", "name", "unit_system")}
                new_user(password=self.people["login"]["password"], **login)
            days = guest.get("days")
            give_grant(
                actor=self._owner,
                email=guest["email"],
                role=Role(guest["role"]),
                customer_ids=[row_id("customers", key) for key in guest.get("customers", ())],
                every_customer=guest.get("every_customer", False),
                reason=guest.get("reason", ""),
                ends_on=days and today + timedelta(days=days - 1),
                now=now,
            )
        self.say(f"access from outside: {len(lacking)} given")

    # --- the book --------------------------------------------------------------------------------

    def _done(self, events: list[Row]) -> dict[uuid.UUID, bool]:
        """Return the records of the demo that are there, and whether each is signed."""
        ids = [row_id("records", event["key"]) for event in events]
        found = ApplicationRecord.objects.filter(pk__in=ids)
        return {pk: at is not None for pk, at in found.values_list("pk", "signed_at")}

    def _is_done(self, event: Row, done: dict[uuid.UUID, bool]) -> bool:
        signed = done.get(row_id("records", event["key"]))
        return signed is not None and (signed or bool(event.get("draft")))

    def _signer(self, event: Row) -> str:
        """Return who signs: the person who sprayed, or the owner for a helper."""
        key: str = event.get("signer") or event["applicator"]
        return "orla" if self.actors[key].role is Role.HELPER else key

    def _enter(self, event: Row) -> None:
        if "of" in event:
            self._begin_amendment(event)
            return
        entry = self._entry(event)
        actor = self.actors[event["applicator"]]
        record = begin_draft(actor=actor, record_id=row_id("records", event["key"]))
        save_draft(actor=actor, record_id=record.pk, revision=record.revision, data=entry)

    def _entry(self, event: Row) -> Row:
        job = self.season["job"][event["job"]]
        entry = entry_of(
            job=job,
            application=event,
            field=self.rows["fields"][event["field"]],
            rig=self.rows["rigs"][job["rig"]],
        )
        entry = _with_ids(entry)
        entry["loads"] = [self._load(load) for load in entry["loads"]]
        planting = plantings_of(business=self._owner.business, field_id=entry["field"]).first()
        return {**entry, "planting": planting and planting.pk}

    def _load(self, load: Row) -> Row:
        """Return the load; the rest of another record's load is named by its id."""
        if "rest_of" not in load:
            return load
        *_, use = (
            LoadUse.objects.filter(record_id=row_id("records", load["rest_of"]))
            .select_related("load")
            .order_by("load__created_at")
        )
        parts = [
            {"product": part.product_id, "amount": part.amount} for part in use.load.parts.all()
        ]
        return {
            "load": use.load_id,
            "mixed_volume": use.load.mixed_volume,
            "used": load["used"],
            "order": load["order"],
            "parts": parts,
        }

    def _begin_amendment(self, event: Row) -> None:
        actor = self.actors[event["signer"]]
        record = begin_amendment(
            actor=actor,
            record_id=row_id("records", event["of"]),
            new_id=row_id("records", event["key"]),
            reason=event["reason"],
        )
        data: Row = {}
        put_all(data, event["set"])
        save_draft(actor=actor, record_id=record.pk, revision=record.revision, data=data)

    # --- what was done beside ------------------------------------------------------------------

    def _duties_are_done(self) -> bool:
        held = [row_id("holds", one["application"]) for one in self.season["hold"]]
        return LegalHold.objects.filter(pk__in=held).count() == len(held)

    def _enter_duties(self) -> None:
        """Write down what was told and handed over; the holds come last and say that all is in."""
        for struck in self.season["struck"]:
            self._strike(struck)
        keys = {row_id("records", event["key"]): event["key"] for event in self._events()}
        entered = 0
        for sheet in DueSheet.objects.filter(record__in=keys).select_related("record__customer"):
            for item in items_on(sheet):
                told = self.season["told"].get(item.kind)
                if told and item.open:
                    entered += self._tell(keys[sheet.record_id], sheet.record, item.kind, told)
        for hold in self.season["hold"]:
            set_hold(
                actor=self.actors[hold["by"]],
                hold_id=row_id("holds", hold["application"]),
                record_id=row_id("records", hold["application"]),
                reason=hold["reason"],
                now=self._local(hold["set_at"]),
            )
        self.say(f"duties: {entered} notices and copies, {len(self.season['hold'])} hold")

    def _events(self) -> list[Row]:
        return [*self.season["application"], *self.season["amendment"]]

    def _tell(self, key: str, record: ApplicationRecord, kind: str, told: Row) -> int:
        """Write down one notice or copy as the data say; return how many were."""
        if key in told["open"] or record.started_at is None or record.finished_at is None:
            return 0
        given = record.started_at - timedelta(hours=told.get("hours_before", 0))
        if "days_after" in told:
            given = record.finished_at + timedelta(
                days=told.get("late", {}).get(key, told["days_after"])
            )
        why = told.get("not_owed", {}).get(key, "")
        data = {
            "kind": kind,
            "to_whom": record.customer.name if record.customer else "",
            "how": "not owed" if why else told["how"],
            "given_at": given,
            "note": why,
        }
        self._add(row_id("entries", f"{key}/{kind}"), record, data)
        return 1

    def _strike(self, struck: Row) -> None:
        record = ApplicationRecord.objects.get(pk=row_id("records", struck["application"]))
        if record.started_at is None:
            raise LookupError(f"Record {record.pk} of the demo has no start.")
        given = record.started_at - timedelta(hours=struck["hours_before"])
        data = {name: struck[name] for name in ("kind", "to_whom", "how")}
        entry_id = row_id("entries", f"{struck['application']}/struck")
        self._add(entry_id, record, {**data, "given_at": given})
        strike_duty_entry(
            actor=self._owner,
            record_id=record.pk,
            entry_id=entry_id,
            new_id=row_id("entries", f"{struck['application']}/strike"),
            reason=struck["reason"],
            now=given + timedelta(minutes=30),
        )

    def _add(self, entry_id: uuid.UUID, record: ApplicationRecord, data: Row) -> None:
        add_duty_entry(
            actor=self._owner,
            record_id=record.pk,
            entry_id=entry_id,
            data=data,
            now=data["given_at"],
        )

    def _local(self, clock: datetime) -> datetime:
        return clock.replace(tzinfo=ZoneInfo(self.people["business"]["time_zone"]))

    def _signing_time(self, event: Row, day: list[Row], place: int) -> datetime:
        if "signed_at" in event:
            return self._local(event["signed_at"])
        ids = [row_id("records", one["key"]) for one in day]
        rows = ApplicationRecord.objects.filter(pk__in=ids)
        ended: datetime = rows.aggregate(Max("finished_at"))["finished_at__max"]
        return ended + SIGNED_AFTER + place * timedelta(minutes=3)

    def _sign(self, event: Row, now: datetime) -> None:
        signer = self._signer(event)
        actor = self.actors[signer]
        if signer not in self.confirmed:
            self.confirmed[signer] = confirm_password(
                HttpRequest(), user=actor.user, password=self.people["login"]["password"]
            )
        record = ApplicationRecord.objects.get(pk=row_id("records", event["key"]))
        sign(
            actor=actor,
            record_id=record.pk,
            revision=record.revision,
            explanations=event.get("explain", {}),
            confirmation=self.confirmed[signer],
            now=now,
        )


def _when(event: Row) -> datetime:
    when: datetime = event["signed_at"] if "of" in event else event["start"]
    return when
