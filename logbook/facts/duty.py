"""The shape of a duty set: what one law asks of a record, to whom it speaks, and since when.

Plain frozen data without a rule of its own. `reader` makes it from the files in `sets`, `label_set`
in `apply` makes it from a label edition; `apply`, `clocks` and `retention` read it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Annotated

from logbook.facts.quantity import Quantity
from logbook.facts.spec import Count

SetId = Annotated[str, "lower-case letters, digits and hyphens"]
Place = Annotated[str, "ISO 3166-2, or the ISO 3166-1 code of the whole"]


class HowRead(StrEnum):
    """How the wording was read; the last two never count as settled law."""

    LEGAL_TEXT = "legal text"
    AGENCY_PAGE = "agency page"
    SUMMARY = "summary"
    MEMORY = "from memory"

    @property
    def firm(self) -> bool:
        """Whether the law itself, or the page of the authority that applies it, was read."""
        return self in (HowRead.LEGAL_TEXT, HowRead.AGENCY_PAGE)


class Role(StrEnum):
    """In which role a person answers for the work."""

    FOR_HIRE = "for hire"
    OWN_LAND = "own land"
    EMPLOYER = "employer"  # of workers on the farm, or of the person who sprays


class Products(StrEnum):
    """The classes of products that laws name. Fertilizers are in none; adjuvants in their own."""

    ALL = "all"
    ADJUVANT = "adjuvant"
    RESTRICTED_USE = "restricted use"
    STATE_RESTRICTED = "restricted by the state"
    REENTRY = "with a re-entry interval"
    AUXIN = "auxin herbicide"
    DICAMBA_OVER_THE_TOP = "dicamba over the top"
    ATRAZINE = "atrazine"


class Work(StrEnum):
    """The kinds of work that a law tells apart."""

    FIELD = "field"  # a field or a part of it, by ground rig
    SPOT = "spot"  # single plants or small patches


class Obligation(StrEnum):
    """How firmly an element is asked."""

    REQUIRED = "required"
    ADVISED = "advised"  # never missing
    UNSETTLED = "not settled"  # what was read does not say; never missing


class When(StrEnum):
    """The condition under which an element or a format is asked."""

    ALWAYS = "always"
    LABEL_ASKS = "label asks"
    OUTDOORS = "outdoors"
    AREA_OVER = "area over"
    AREA_FROM = "area from"  # that area or more
    RESTRICTED_USE = "restricted use"
    REENTRY = "label has re-entry"
    HELPER = "helper under supervision"
    LAND_OF_ANOTHER = "land of another"
    SEVERAL_PRODUCTS = "several products"
    SHARED_LOAD = "load shared by fields"
    NO_STATE_RULE = "no state rule"
    WHERE_IT_APPLIES = "where it applies"  # the record cannot tell; absence is a caution


class Kind(StrEnum):
    """What has to be done by a deadline, which is also the paper that is due."""

    RECORD = "record"
    NOTICE_BEFORE = "notice before"
    NOTICE_AFTER = "notice after"
    DISPLAY = "display"
    COPY = "copy"
    REPORT = "report"


class Clock(StrEnum):
    """How a deadline counts."""

    SAME_DAY = "same local day"
    HOURS = "hours"
    DAYS = "calendar days"
    WORKING_DAYS = "working days"
    FIXED_DATE = "fixed date"
    WITHOUT_DELAY = "without delay"
    NO_COUNT = "no count stated"


class Since(StrEnum):
    """From when a deadline counts."""

    START = "start"
    END = "end"
    # The local day at the field on which the work ended; work over the end of a period that is
    # reported by a fixed date belongs to that in which it began, unless the set says "end".
    DAY_OF_WORK = "day of work"
    RECORD_DATE = "record date"
    BEFORE_START = "before start"  # backwards from the start
    EVENT = "request or event"  # when somebody asked, or the case arose; written down as an entry


class KeepFrom(StrEnum):
    """From when the years of keeping count."""

    APPLICATION = "application"  # the local day at the field on which the work ended
    RECORD_DATE = "record date"
    AMENDED = "record date or last amendment"  # a correction begins the years anew
    REENTRY_END = "re-entry end"
    NEXT_NEW_YEAR = "next 1 January"


class LocationFormat(StrEnum):
    """The typed formats in which a law lets a place be stated."""

    LEGAL = "legal description"
    ADDRESS = "address"
    COORDINATES = "coordinates"
    OUTLINE = "outline"
    PARCEL = "parcel"
    MAP = "map"
    DESCRIPTION = "description"


class Each(StrEnum):
    """For each of what a law wants a record of its own."""

    DAY = "day"  # a job that goes on the next day is two records, each with its own area
    LICENSEE = "licensee"  # who share a job each keep a record


class Asker(StrEnum):
    """Who may ask to see a record or to have a copy of it."""

    AUTHORITY = "authority"
    CUSTOMER = "customer"
    OWNER_OR_OCCUPIER = "owner or occupier"
    WORKER = "worker or handler"
    REPRESENTATIVE = "representative named in writing"
    MEDICAL = "treating medical staff"


class Party(StrEnum):
    """To whom a notice, a copy or a report goes."""

    SELF = "own files"
    CUSTOMER = "customer"
    FARM = "farm"
    WORKERS = "workers on the farm"
    AUTHORITY = "authority"


@dataclass(frozen=True, kw_only=True)
class Scope:
    """Who is bound, and for which classes of products."""

    role: Role
    products: tuple[Products, ...]


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One element that a set asks for, by its neutral name in `elements`."""

    name: str
    how_read: HowRead
    obligation: Obligation = Obligation.REQUIRED
    when: When = When.ALWAYS
    area: Quantity | None = None  # with When.AREA_OVER and When.AREA_FROM
    unless: tuple[str, ...] = ()  # not asked where all of these stand in the record
    roles: tuple[Role, ...] = ()  # empty: all that the set binds
    papers: tuple[Kind, ...] = ()  # empty: the papers of the set
    detail: str = ""  # the citation in detail, and what the text says of it


@dataclass(frozen=True, kw_only=True)
class Deadline:
    """One thing to be done by a certain time."""

    kind: Kind
    clock: Clock
    how_read: HowRead
    since: Since = Since.END
    count: Annotated[int, Count(at_least=0, at_most=1000)] | None = None  # hours or days
    # Of a fixed date; no month: the month after the work.
    month: Annotated[int, Count(at_least=1, at_most=12)] | None = None
    day: Annotated[int, Count(at_least=1, at_most=31)] | None = None
    to: Party = Party.SELF
    each_job: bool = False  # of a fixed date: for each job, not one for all of the period
    on_request: bool = False  # due only to someone who asks
    only_if: str = ""  # due only in this case, in words
    obligation: Obligation = Obligation.REQUIRED
    consent_first: bool = False  # electronic delivery counts only with written consent beforehand
    products: tuple[Products, ...] = ()  # empty: all that the set covers
    roles: tuple[Role, ...] = ()  # empty: all that the set binds
    detail: str = ""

    @property
    def certain(self) -> bool:
        """Whether it is due without anyone asking and in every case."""
        return not self.on_request and not self.only_if


@dataclass(frozen=True, kw_only=True)
class Retention:
    """How long a record is kept."""

    years: Annotated[int, Count(at_least=1, at_most=100)]
    since: KeepFrom
    how_read: HowRead
    products: tuple[Products, ...] = ()
    roles: tuple[Role, ...] = ()
    detail: str = ""


@dataclass(frozen=True, kw_only=True)
class Display:
    """For how long a notice stays shown; by when it is put up is a deadline of kind "display"."""

    days_after_reentry: Annotated[int, Count(at_least=1, at_most=1000)]
    how_read: HowRead
    detail: str = ""


@dataclass(frozen=True, kw_only=True)
class Access:
    """Who may ask for the record, and in what form."""

    who: Asker
    how_read: HowRead
    detail: str = ""


@dataclass(frozen=True, kw_only=True)
class LocationRule:
    """One of these formats has to say where the place is."""

    one_of: tuple[LocationFormat, ...]
    how_read: HowRead
    when: When = When.ALWAYS
    area: Quantity | None = None
    roles: tuple[Role, ...] = ()
    detail: str = ""


@dataclass(frozen=True, kw_only=True)
class DutySet:
    """What one law, rule or label asks, as it was last read."""

    id: SetId
    title: str
    place: Place  # "" for a label
    citation: str
    last_read: date | None  # None: a label, which is in hand
    how_read: HowRead
    bound: tuple[Scope, ...]
    covers: tuple[Place, ...] = ()  # the countries of a union of states
    excludes: tuple[Place, ...] = ()  # parts of the place in which it does not hold
    in_force_from: date | None = None  # None: not known, and the note says so
    in_force_to: date | None = None  # the last day on which it held
    dates_how_read: HowRead | None = None  # None: as the set itself
    note: str = ""
    # The names of the days that are no working days, as the law lists them; empty: it names none.
    holidays: tuple[str, ...] = ()
    work: tuple[Work, ...] = (Work.FIELD, Work.SPOT)
    area_over: Quantity | None = None  # binds only above this treated area
    papers: tuple[Kind, ...] = (Kind.RECORD,)  # where its elements have to stand
    one_each: tuple[Each, ...] = ()  # read as the set itself
    elements: tuple[Asked, ...] = ()
    deadlines: tuple[Deadline, ...] = ()
    retention: tuple[Retention, ...] = ()
    display: Display | None = None
    access: tuple[Access, ...] = ()
    locations: tuple[LocationRule, ...] = ()

    def in_force_on(self, day: date) -> bool:
        """Return whether it held on the day, as far as its dates are known."""
        begun = self.in_force_from is None or self.in_force_from <= day
        return begun and (self.in_force_to is None or day <= self.in_force_to)

    def holds_at(self, place: str) -> bool:
        """Return whether `place`, an ISO 3166-2 or 3166-1 code, lies where it holds."""
        if any(_within(place, part) for part in self.excludes):
            return False
        return any(_within(place, whole) for whole in (self.place, *self.covers))

    def products_for(self, role: Role) -> tuple[Products, ...]:
        """Return the classes of products for which it binds that role; empty when it does not."""
        return next((scope.products for scope in self.bound if scope.role is role), ())


def _within(place: str, whole: str) -> bool:
    return place == whole or place.startswith(f"{whole}-")
