"""Reading duty sets: all that are carried load, and each fault is named with what is allowed."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest

from logbook.facts.duty import (
    Clock,
    DutySet,
    HowRead,
    KeepFrom,
    Kind,
    LocationFormat,
    Party,
    Products,
    Role,
    Since,
    When,
    Work,
)
from logbook.law.elements import ELEMENTS
from logbook.law.reader import SETS as FOLDER
from logbook.law.reader import BadDutySet, duty_sets, read_set, read_sets
from tests.logbook.checks.build import q
from tests.logbook.law.complete import SETS

GOOD = """
id = "xx-one"
title = "Invented"
place = "US-ND"
citation = "Invented law 1"
in_force_from = 2020-01-01
last_read = 2026-11-25
how_read = "legal text"

[bound]
"for hire" = ["all"]
"""


def read(text: str) -> DutySet:
    return read_set(text, name="one.toml")


def test_the_sets_are_carried_and_read_once() -> None:
    assert len(duty_sets()) == 68
    assert duty_sets() is duty_sets()
    assert {f"{one.id}.toml" for one in duty_sets()} == {file.name for file in FOLDER.iterdir()}


def test_every_set_says_where_when_and_how_it_was_read() -> None:
    for one in duty_sets():
        assert one.last_read in [date(2026, 11, day) for day in (25, 27, 29, 30)]
        assert one.in_force_from or one.note
        # For how long was not read of 20 DCMR 2516 and of N.H. Pes 901.02.
        # The notice to the farm is kept by the farm: 40 CFR 170.311.
        assert one.retention or one.id in ("us-dc", "us-nh", "us-40-cfr-170"), one.id
        assert len({asked.name for asked in one.elements}) == len(one.elements)


def test_the_members_of_the_european_union_are_twenty_seven() -> None:
    # ISO 3166-1; "EU" is a code that it reserves exceptionally.
    members = SETS["eu-2023-564"].covers
    assert len(set(members)) == 27
    assert SETS["eu-1107-2009"].covers == members
    assert "GB" not in members


def test_defaults_of_a_short_file() -> None:
    one = read(GOOD)
    assert (one.work, one.papers) == (tuple(Work), (Kind.RECORD,))
    assert (one.elements, one.deadlines, one.retention) == ((), (), ())
    assert (one.display, one.note, one.area_over) == (None, "", None)


def test_all_that_a_file_can_hold_is_read() -> None:
    one = read(
        GOOD.replace('title = "Invented"', 'title = "Invented"\nexcludes = ["US-ND"]')
        + """
[elements]
crop = { when = "area over", area = "5 ac", roles = ["for hire"], papers = ["copy"] }
rate = { unless = ["crop"], how_read = "summary", obligation = "advised", detail = "item 3" }

[[deadlines]]
kind = "report"
clock = "fixed date"
since = "day of work"
month = 1
day = 31
to = "authority"
on_request = true
only_if = "asked"
products = ["atrazine"]

[[retention]]
years = 3
since = "record date"

[display]
days_after_reentry = 30

[[access]]
who = "authority"

[[locations]]
one_of = ["map", "outline"]
"""
    )
    crop, rate = one.elements
    assert (crop.when, crop.area, crop.papers) == (When.AREA_OVER, q("5 ac"), (Kind.COPY,))
    assert (rate.unless, rate.how_read, rate.detail) == (("crop",), HowRead.SUMMARY, "item 3")
    (deadline,) = one.deadlines
    assert (deadline.clock, deadline.since) == (Clock.FIXED_DATE, Since.DAY_OF_WORK)
    assert (deadline.month, deadline.day, deadline.to) == (1, 31, Party.AUTHORITY)
    assert (deadline.on_request, deadline.only_if) == (True, "asked")
    assert deadline.products == (Products.ATRAZINE,)
    assert deadline.how_read is HowRead.LEGAL_TEXT
    assert one.retention[0].since is KeepFrom.RECORD_DATE
    assert one.display is not None
    assert one.display.days_after_reentry == 30
    assert one.locations[0].one_of == (LocationFormat.MAP, LocationFormat.OUTLINE)
    assert one.products_for(Role.FOR_HIRE) == (Products.ALL,)
    assert one.products_for(Role.OWN_LAND) == ()
    assert one.excludes == ("US-ND",)


DEADLINE = '\n[[deadlines]]\nkind = "record"\n'


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("id = ", "one.toml: this is not TOML"),
        (GOOD + "\n[elements]\ncrop = {}\ncrop = {}", "one.toml: this is not TOML"),
        (GOOD.replace("xx-one", "XX"), 'id = "XX"; allowed is lower-case letters, digits and'),
        (GOOD.replace('title = "Invented"', ""), "title: this member is missing"),
        (GOOD.replace('"Invented"', '" "'), 'title = " "; allowed is a text'),
        (GOOD.replace('"Invented"', "3"), "title = 3; allowed is a text"),
        (GOOD.replace("US-ND", "Dakota"), 'place = "Dakota"; allowed is a code of ISO 3166'),
        (GOOD.replace("2020-01-01", '"2020"'), 'in_force_from = "2020"; allowed is a date'),
        (GOOD.replace("2020-01-01", "2020-01-01T00:00:00"), "allowed is a date, such as 2026-01-3"),
        (GOOD.replace("last_read = 2026-11-25", ""), "last_read: this member is missing"),
        (GOOD.replace("legal text", "heard"), 'how_read = "heard"; allowed are legal text, agency'),
        (GOOD.replace('how_read = "legal text"', ""), "how_read: this member is missing"),
        (GOOD.replace("in_force_from = 2020-01-01", ""), "a text that says why in_force_from is"),
        (
            GOOD.replace("last_read", "in_force_to = 2019-12-31\nlast_read"),
            "in_force_to = 2019-12-31; allowed is a day from 2020-01-01 on",
        ),
        (
            GOOD.replace("last_read", 'covers = ["Europe"]\nlast_read'),
            'covers.0 = "Europe"; allow',
        ),
        (
            GOOD.replace("last_read", "covers = [1]\nlast_read"),
            "covers.0 = 1; allowed is a code",
        ),
        (
            GOOD.replace("last_read", "covers = []\nlast_read"),
            "covers = []; a list that is not empty",
        ),
        (
            GOOD.replace("last_read", 'area_over = "5 m"\nlast_read'),
            'area_over = "5 m"; allowed is',
        ),
        (GOOD.replace("last_read", 'area_over = "five"\nlast_read'), "allowed is an area, such as"),
        (
            GOOD.replace("last_read", "colour = 1\nlast_read"),
            "colour = 1; there is no such member",
        ),
        (GOOD.replace('"for hire"', "driver"), 'bound.driver = "driver"; allowed are for hire'),
        (GOOD.replace('["all"]', '["some"]'), 'bound.for hire.0 = "some"; allowed are all'),
        (GOOD.replace('["all"]', '"all"'), 'bound.for hire = "all"; a list is needed'),
        (GOOD.replace('[bound]\n"for hire" = ["all"]', ""), "bound: this member is missing"),
        (
            GOOD.replace('[bound]\n"for hire" = ["all"]', "bound = 1"),
            "bound = 1; allowed is a table",
        ),
        (GOOD + "\n[elements]\nname = {}", 'elements.name = "name"; allowed are customer-name'),
        (GOOD + "\n[elements]\ncrop = 1", "elements.crop = 1; allowed is a table"),
        (
            GOOD + '\n[elements]\ncrop = { where = "x" }',
            'elements.crop.where = "x"; there is no such',
        ),
        (GOOD + '\n[elements]\ncrop = { when = "often" }', 'elements.crop.when = "often"; allowed'),
        (
            GOOD + '\n[elements]\ncrop = { when = "area over" }',
            "elements.crop.area: allowed is an area",
        ),
        (GOOD + '\n[elements]\ncrop = { area = "5 ac" }', "allowed is an area where when = "),
        (
            GOOD + '\n[elements]\ncrop = { unless = ["corn"] }',
            'elements.crop.unless.0 = "corn"; allowed are customer-name',
        ),
        (GOOD + DEADLINE, "deadlines.0.clock: this member is missing"),
        (GOOD + DEADLINE + 'clock = "hours"', "deadlines.0.count: allowed is a number with"),
        (
            GOOD + DEADLINE + 'clock = "hours"\ncount = true',
            "count = True; a whole number is",
        ),
        (GOOD + DEADLINE + 'clock = "hours"\ncount = -1', "count = -1; at least 0 is possible"),
        (GOOD + DEADLINE + 'clock = "same local day"\ncount = 1', "deadlines.0.count = 1; allowed"),
        (GOOD + DEADLINE + 'clock = "fixed date"', "deadlines.0.day: allowed is a day with"),
        (GOOD + DEADLINE + 'clock = "fixed date"\nday = 31', "day = 31; allowed is a day that the"),
        (
            GOOD + DEADLINE + 'clock = "fixed date"\nmonth = 2\nday = 29',
            "day = 29; allowed is a day",
        ),
        (
            GOOD + DEADLINE + 'clock = "same local day"\nmonth = 2',
            "month = 2; allowed is a month be",
        ),
        (
            GOOD + DEADLINE + 'clock = "same local day"\nsince = "before start"',
            'deadlines.0.clock = "same local day"; allowed is hours before the start',
        ),
        (
            GOOD + DEADLINE + 'clock = "same local day"\nsince = "request or event"',
            'since = "request or event"; allowed is another, or on_request or only_if beside it',
        ),
        (
            GOOD + DEADLINE + 'clock = "same local day"\nconsent_first = "yes"',
            'consent_first = "yes"; true or false is needed',
        ),
        (
            GOOD + DEADLINE + 'clock = "same local day"\non_request = "yes"',
            'deadlines.0.on_request = "yes"; true or false is needed',
        ),
        (
            GOOD + '\n[[retention]]\nsince = "application"',
            "retention.0.years: this member is",
        ),
        (
            GOOD + '\n[display]\nhow_read = "summary"',
            "display.days_after_reentry: this member",
        ),
        (GOOD + '\n[[locations]]\ndetail = "x"', "locations.0.one_of: this member is missing"),
        (
            GOOD.replace("last_read", "access = 3\nlast_read"),
            "access = 3; a list is needed",
        ),
    ],
)
def test_a_fault_is_named_with_file_key_value_and_what_is_allowed(text: str, said: str) -> None:
    with pytest.raises(BadDutySet, match=re.escape(said)) as refusal:
        read(text)
    assert str(refusal.value).startswith("one.toml: ")


def test_two_files_with_one_id_are_refused(tmp_path: Path) -> None:
    for name in ("a.toml", "b.toml"):
        (tmp_path / name).write_text(GOOD, encoding="utf-8")
    with pytest.raises(BadDutySet, match=r'b\.toml: id = "xx-one" is taken by a\.toml'):
        read_sets(sorted(tmp_path.iterdir()))


def test_sets_name_only_elements_that_exist() -> None:
    named = {name for one in duty_sets() for asked in one.elements for name in asked.unless}
    assert named <= set(ELEMENTS)


def test_a_place_lies_in_its_country_but_not_in_what_is_excluded() -> None:
    britain = SETS["gb"]
    assert britain.holds_at("GB-ENG")
    assert not britain.holds_at("GB-NIR")
    assert SETS["eu-2023-564"].holds_at("DE-BY")
    assert not SETS["us-nd"].holds_at("US-NDX")
    assert not SETS["us-nd"].holds_at("US")
