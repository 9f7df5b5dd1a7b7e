"""What a person types is text on every surface it reaches: never markup, formula, header or line.

For each attack one season is written whose names and sentences are it, and every surface is looked
at: tags and attributes (OWASP, "Cross Site
Scripting Prevention"), the markup of the paper's own library, formulas (OWASP, "CSV Injection"),
placeholders, and ends of lines (RFC 5322, 2.2; RFC 5545, 3.1; RFC 9110, 5.5; CWE-117).
"""

from __future__ import annotations

import csv
import html
import io
import json
import logging
import re
from collections.abc import Callable
from datetime import timedelta
from email import message_from_bytes
from email.policy import SMTP
from functools import partial
from html.parser import HTMLParser
from types import SimpleNamespace
from typing import Any
from xml.etree import ElementTree

import icalendar
import openpyxl
import pytest
import time_machine
from django.conf import settings as configured
from django.core import mail
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils.module_loading import import_string

from logbook.accounts.invitations import invite
from logbook.accounts.models import Business
from logbook.accounts.rights import Role
from logbook.accounts.services import actor_for
from logbook.catalog.sheets import shapes
from logbook.records.writing.feeds import make_feed
from tests import factories as make
from tests.conftest import NOW, clean_data, sealed_by, written
from tests.logbook.documents.reading import flat, whole
from tests.walked import walked

ATTACKS = {
    "script": "<script>alert(1)</script>",
    "attribute": '"\' onmouseover=alert(1) x="><img src=x onerror=alert(1)>',
    "paper markup": '<b>x</b> & <img src="file:///etc/hostname"/> <a href="x">y</a> &#60; <para>',
    "unclosed": "</b></font></para> <font color=red size=90> &nbsp; <",
    "template": '{{ 7|add:70 }}{% now "Y" %} {0} %s %(business)s %% ${x}',
    "formula": '=HYPERLINK("http://x.test/?"&A1,"see")',
    "command": "@SUM(1+1)*cmd|' /C x'!A0",
    "header": "Elm\r\nBcc: thief@example.test\r\n\r\nhello",
    "calendar": "Elm\r\nEND:VEVENT\r\nBEGIN:VALARM\r\nACTION:DISPLAY; , \\n \\",
    "entity": "]]><!DOCTYPE x [<!ENTITY y SYSTEM 'file:///etc/hostname'>]>&y;",
    "odd breaks": "Elm\u2028two\u0085three\x0bfour",
}


NAMED = [pytest.param(attack, id=name) for name, attack in ATTACKS.items()]

LISTS = ("book", "season", "shelf")
PAPERS = ("record", "notice-before", "posting", "copy", "totals")
FILES = (
    *("book-csv", "book-xlsx", "season-csv"),
    *("exchange-json", "exchange-csv", "season-totals-csv"),
)
ENDINGS = ("geojson", "kml", "zip")


@pytest.fixture(params=ATTACKS.values(), ids=ATTACKS.keys())
def season(
    request: pytest.FixtureRequest, owner: Any, yard: SimpleNamespace, browser_of: Any
) -> SimpleNamespace:
    """A sealed record and a draft in which everything that is written is the attack."""
    hostile = str(request.param)
    # Rows are written past the forms, as an older import or another program might have.
    for row in (yard.customer, yard.field, yard.product, yard.rig, yard.nozzle, yard.person):
        type(row).objects.filter(pk=row.pk).update(name=hostile)
    yard.place.__class__.objects.filter(pk=yard.place.pk).update(name=hostile, note=hostile)
    Business.objects.filter(pk=owner.business.pk).update(name=hostile, address=hostile)
    make.UserFactory._meta.model.objects.filter(pk=owner.user.pk).update(name=hostile)
    owner = actor_for(owner.user.__class__.objects.get(pk=owner.user.pk))
    data = clean_data(yard) | {
        "note": hostile,
        "purpose": hostile,
        "statements": {"rinsate-note": hostile},
        "speed": make.q("6 mph"),  # Too slow for the flow: there is something to explain.
    }
    data["products"][0]["target"] = hostile
    sealed = sealed_by(owner, written(owner, data), explained=f"Message: {hostile}")
    draft = written(owner, data)
    runs = written(owner, data | {"started_at": NOW - timedelta(hours=1), "finished_at": None})
    return SimpleNamespace(
        hostile=hostile,
        owner=owner,
        sealed=sealed,
        draft=draft,
        runs=runs,
        yard=yard,
        browser=browser_of(owner),
    )


@pytest.fixture(autouse=True)
def _afternoon() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


class Elements(HTMLParser):
    """Notes every element that is not of our own making."""

    def __init__(self) -> None:
        super().__init__()
        self.foreign: list[str] = []

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        given = dict(attrs)
        if tag in ("img", "b", "font", "para", "iframe", "object"):
            self.foreign.append(tag)
        if tag == "script" and not str(given.get("src", "")).startswith("/static/"):
            self.foreign.append(tag)
        self.foreign += [name for name in given if name.startswith("on") or name == "style"]
        for name in ("href", "src", "action"):
            if re.match(r"\s*(javascript|data):", given.get(name) or "", re.IGNORECASE):
                self.foreign.append(given[name])


PAGES = (
    *("today", "book", "season", "plan", "shelf", "shelf-business", "exchange", "deadlines"),
    *("keeping", "audit", "audit-log", "season-totals", "access", "members", "you", "tokens"),
    *("today-fields", "today-jobs"),
)
OF_RECORDS = ("record", "record-duties")
OF_DRAFT = ("record", "record-edit", "record-sign", "record-wind", "record-aside")


def every_page(season: Any) -> None:
    hostile = season.hostile
    addresses = [
        *map(reverse, PAGES),
        *(reverse(name, args=[season.sealed.pk]) for name in OF_RECORDS),
        *(reverse(name, args=[season.draft.pk]) for name in OF_DRAFT),
        reverse("today-running", args=[season.runs.pk]),
        *(
            reverse(name, args=[kind, row.pk])
            for kind, row in (
                ("customers", season.yard.customer),
                ("fields", season.yard.field),
                ("products", season.yard.product),
                ("rigs", season.yard.rig),
                ("people", season.yard.person),
                ("places", season.yard.place),
            )
            for name in ("shelf-item", "shelf-edit")
        ),
        *(reverse("shelf-list", args=[kind]) for kind in ("customers", "fields", "nozzle-sets")),
    ]
    shown = 0
    for address in addresses:
        answer = season.browser.get(address)
        assert answer.status_code == 200, address
        page = answer.content.decode()
        found = Elements()
        found.feed(page)
        assert found.foreign == [], address
        if re.search("[<>&]", hostile):
            assert hostile not in page, address
        shown += hostile.split("\r\n")[0] in html.unescape(page)
    assert shown >= len(addresses) - 6


@walked("hostile", NAMED)
def test_a_search_for_it_is_text_too(browser: Client, hostile: str) -> None:
    for name in ("book", "today"):
        page = browser.get(reverse(name), {"q": hostile, "sort": hostile, "year": hostile})
        if page.status_code == 303:
            page = browser.get(page["Location"])
        found = Elements()
        found.feed(page.content.decode())
        assert found.foreign == []


def body(answer: Any) -> bytes:
    streamed = answer.streaming
    return b"".join(answer.streaming_content) if streamed else answer.content


def file_of_a_list(season: Any, name: str) -> None:
    browser, hostile = season.browser, season.hostile
    kind = ["customers"] if name == "shelf" else []
    raw = body(browser.get(reverse(f"{name}-xlsx", args=kind)))
    book = openpyxl.load_workbook(io.BytesIO(raw))
    cells = [cell for row in book.active.iter_rows() for cell in row]
    assert not [cell for cell in cells if cell.data_type == "f"]
    assert not [cell for cell in cells if cell.hyperlink]
    # What XML cannot hold is written as _x000B_ (ECMA-376 part 1, 22.9.2.19), as is.
    said = [re.sub("_x00([0-9A-F]{2})_", unescaped, str(cell.value)) for cell in cells]
    assert any(lines(hostile) in lines(one) for one in said)
    text = body(browser.get(reverse(f"{name}-csv", args=kind))).decode("utf-8-sig")
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert len({len(row) for row in rows}) == 1
    cells_ = [cell for row in rows for cell in row]
    assert any(hostile in cell for cell in cells_)
    assert not [cell for cell in cells_ if cell.startswith(("=", "@", "+"))]


def unescaped(found: re.Match[str]) -> str:
    return chr(int(found[1], 16))


def lines(text: str) -> str:
    return re.sub(r"\r\n?", "\n", text)


def records_taken_out(season: Any) -> None:
    browser, hostile = season.browser, season.hostile
    file = json.loads(body(browser.get(reverse("exchange-json"))))
    (facts,) = [one["facts"] for one in file["records"]]
    assert facts["field"]["name"] == hostile
    text = body(browser.get(reverse("exchange-csv"))).decode("utf-8-sig")
    cells = [cell for row in csv.reader(io.StringIO(text, newline="")) for cell in row]
    assert any(hostile in cell for cell in cells)
    assert not [cell for cell in cells if cell.startswith(("=", "@", "+"))]


def paper(season: Any, name: str) -> None:
    browser, hostile = season.browser, season.hostile
    if name == "totals":
        answer = browser.get(reverse("season-totals-pdf"), {"year": "2026"})
    else:
        answer = browser.get(
            reverse(f"record-{name if name != 'record' else 'pdf'}", args=[season.sealed.pk])
        )
    assert answer.status_code == 200
    assert_header_is_whole(answer)
    raw = answer.content
    for reach in (b"/URI", b"/JavaScript", b"/Launch", b"/EmbeddedFile", b"/GoToR"):
        assert reach not in raw
    printed = re.sub(r"\s", "", whole(raw))
    first = re.sub(r"\s", "", re.split("[\r\n\u2028\u0085\x0b]", hostile)[0])
    assert first in printed


def assert_header_is_whole(answer: Any) -> None:
    header = answer["Content-Disposition"]
    assert re.fullmatch(r'(inline|attachment); filename="[\w.-]+"', header, re.ASCII), header


def name_of_a_file(season: Any, name: str) -> None:
    query = {"year": "2026"} if name.startswith("season") else {}
    answer = season.browser.get(reverse(name), query)
    assert answer.status_code == 200
    assert_header_is_whole(answer)
    assert body(answer)


def letters(season: Any) -> None:
    hostile = season.hostile
    call_command("remind", stdout=io.StringIO())
    invite(
        actor=season.owner,
        email="new@example.test",
        role=Role.HELPER,
        link=lambda token: f"https://book.example/invitation/{token}/",
        now=NOW,
    )
    assert len(mail.outbox) == 2
    for letter, to in zip(mail.outbox, (season.owner.user.email, "new@example.test"), strict=True):
        sent = message_from_bytes(letter.message().as_bytes(), policy=SMTP)
        assert sent.get_all("To") == [to]
        assert sent["Bcc"] is None
        assert letter.recipients() == [to]
        assert "\n" not in letter.subject
        assert flat(hostile.split("\r\n")[0]) in flat(letter.subject)
        # Plain text: nothing of it is markup, and nothing is written as if it were.
        assert sent.get_content_type() == "text/plain"
        assert flat(hostile) in flat(sent.get_content())


def calendar_of_deadlines(season: Any) -> None:
    hostile = season.hostile
    secret = make_feed(actor=season.owner, now=NOW)
    raw = Client().get(reverse("deadlines-ics", args=[secret])).content
    calendar = icalendar.Calendar.from_ical(raw)
    events = list(calendar.walk())
    assert {one.name for one in events} == {"VCALENDAR", "VEVENT"}
    assert len(events) == 1 + raw.count(b"BEGIN:VEVENT\r\n")
    # RFC 5545, 3.1: lines end with CRLF and have at most 75 octets.
    assert all(len(line) <= 75 for line in raw.split(b"\r\n"))
    assert not re.search(rb"(?<!\r)\n|\r(?!\n)", raw)
    # RFC 5545, 3.3.11, by hand: the library reads this property as it stands.
    name = re.sub(
        r"\\(.)", lambda one: "\n" if one[1] in "nN" else one[1], calendar["x-wr-calname"]
    )
    assert flat(hostile) in flat(name)
    told = [str(one["summary"]) for one in calendar.walk("VEVENT")]
    assert told
    for summary in told:
        assert flat(hostile) in flat(summary)


def drawings(season: Any) -> None:
    hostile = season.hostile
    found = []
    for name, record in (("record", season.sealed), ("record-edit", season.draft)):
        page = season.browser.get(reverse(name, args=[record.pk])).content.decode()
        found += re.findall(r"<svg.*?</svg>", page, re.DOTALL)
    assert len(found) >= 4
    ours = {"svg", "title", "desc", "line", "polyline", "rect", "path", "circle", "text"}
    texts = []
    for drawing in found:
        svg = ElementTree.fromstring(drawing.replace("\x0b", ""))
        assert {one.tag.rpartition("}")[2] for one in svg.iter()} <= ours
        texts.append("".join(svg.itertext()))
    assert any(flat(hostile)[:12] in flat(text) for text in texts)


def boundaries(season: Any, ending: str) -> None:
    hostile = season.hostile
    answer = season.browser.get(reverse("boundaries", args=[ending]))
    assert_header_is_whole(answer)
    raw = body(answer)
    if ending == "kml":
        tags = {one.tag.rpartition("}")[2] for one in ElementTree.fromstring(raw).iter()}
        assert not tags & {"script", "b", "img", "a", "description", "NetworkLink", "href"}
    told = [attributes for attributes, _shape in shapes.read_shapes(raw)]
    names = {key.lower(): value for key, value in told[0].items()}
    # XML 1.0, 2.2: there is no way to write a vertical tab in it.
    kept = hostile.replace("\x0b", "") if ending == "kml" else hostile
    assert flat(names["name"]).strip() == flat(kept).strip()


SURFACES = (
    ("every page", every_page),
    *((f"list of the {name}", partial(file_of_a_list, name=name)) for name in LISTS),
    ("records taken out", records_taken_out),
    *((f"paper, {name}", partial(paper, name=name)) for name in PAPERS),
    *((f"name of {name}", partial(name_of_a_file, name=name)) for name in FILES),
    ("letters", letters),
    ("calendar", calendar_of_deadlines),
    ("drawings", drawings),
    *((f"boundaries as {one}", partial(boundaries, ending=one)) for one in ENDINGS),
)


@walked("surface", [pytest.param(look, id=name) for name, look in SURFACES])
def test_it_is_text_on_every_surface(season: Any, surface: Callable[[Any], None]) -> None:
    surface(season)


@walked("hostile", NAMED)
def test_a_line_of_the_log_stays_one_line(hostile: str, capsys: pytest.CaptureFixture[str]) -> None:
    for logger in ("logbook.tenancy.rows", "axes", "django.request"):
        record = logging.LogRecord(logger, logging.WARNING, "x", 1, "Refused: %s", (hostile,), None)
        assert len(formatted(record).splitlines()) == 1


def formatted(record: logging.LogRecord) -> str:
    made = configured.LOGGING["formatters"]["one line"]
    return import_string(made["()"])(made["format"]).format(record)
