"""A disk that is full, a database that cannot be written or is gone: told, with nothing half done.

The faults are the databases' own: SQLite at its `max_page_count`, opened read-only, locked by
another connection (https://www.sqlite.org/pragma.html, https://www.sqlite.org/uri.html);
PostgreSQL with `transaction_read_only` and `pg_terminate_backend` (its manual, 20.11 and 9.28.2).
"""

from __future__ import annotations

import json
import os
import random
import sqlite3
import subprocess
import sys
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import psycopg
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import DatabaseError, OperationalError, connection, connections
from django.db.backends.sqlite3.base import DatabaseWrapper as SQLite
from django.http import StreamingHttpResponse
from django.test import Client, RequestFactory
from django.utils import timezone

from logbook.accounts import devices
from logbook.accounts.grants import give_grant
from logbook.accounts.models import Device
from logbook.accounts.rights import Role
from logbook.accounts.services import actor_for
from logbook.catalog.models import Customer
from logbook.errors import faults
from logbook.records.models import ApplicationRecord, DueSheet
from logbook.records.reading import duesheets
from logbook.records.writing.draft import begin_draft
from tests import factories as make

FULL = "The disk of the service is full."
READ_ONLY = "The service cannot write: its database is read-only."
BUSY = "The database is busy with other work."
GONE = "The database does not answer."
BROKEN = "The database cannot be read or written as it stands."
CACHE = "The cache in which requests are counted does not answer."
NOTHING_SAVED = "Nothing was saved."
IN_DOUBT = "All or part of it may have been saved: look before you send it again."

on_sqlite = pytest.mark.skipif("connection.vendor != 'sqlite'", reason="a fault of SQLite")
on_postgresql = pytest.mark.skipif("connection.vendor == 'sqlite'", reason="a fault of PostgreSQL")


class OnDisk:
    """The rows of the test in a file of their own, where a commit is a commit, and its faults."""

    def __init__(self, file: Path) -> None:
        self.file = file

    def opened(self, *, mode: str = "rw") -> None:
        """Close the file and open it again."""
        connections["default"].close()
        named = {**connections["default"].settings_dict, "NAME": f"file:{self.file}?mode={mode}"}
        connections["default"] = SQLite(named, "default")

    def fill(self) -> None:
        """Let the file grow by no page more than it has."""
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA max_page_count = 1")

    def make_room(self) -> None:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA max_page_count = 1000000")

    def lock(self) -> sqlite3.Connection:
        """Return another connection, in the middle of writing."""
        other = sqlite3.connect(self.file, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        return other


@pytest.fixture
def on_disk(db: None, tmp_path: Path) -> Iterator[Callable[[], OnDisk]]:
    """Return what moves the rows that the test has made so far into a file of their own."""
    if connection.vendor != "sqlite":
        pytest.skip("a file of SQLite")
    before = connections["default"]

    def moved() -> OnDisk:
        file = tmp_path / "book.sqlite3"
        file.write_bytes(before.connection.serialize())
        raw = sqlite3.connect(file)
        # Small pages without room in them: hardly a row is written without a further one.
        raw.executescript(
            "PRAGMA journal_mode = DELETE; PRAGMA page_size = 512; VACUUM;PRAGMA journal_mode = WAL"
        )
        raw.close()
        found = OnDisk(file)
        found.opened()
        return found

    yield moved
    if connections["default"] is not before:
        connections["default"].close()
        connections["default"] = before


@pytest.fixture
def line_of_log(caplog: pytest.LogCaptureFixture) -> Callable[[], list[str]]:
    """Return what reads the lines of the log so far; none of them carries a trace."""

    def read() -> list[str]:
        assert [one for one in caplog.records if one.exc_info] == []
        found = [f"{one.levelname} {one.getMessage()}" for one in caplog.records]
        caplog.clear()
        return found

    return read


def browser_of(who: Any) -> Client:
    client = Client(raise_request_exception=False)
    client.force_login(who.user)
    return client


def unseen_browser_of(who: Any) -> Client:
    """Return a browser whose next page writes down when it was last seen; another was just now."""
    client = browser_of(who)
    session = client.session
    del session[devices.SEEN]
    session.save()
    Device.objects.all().delete()
    browser_of(who)
    return client


def pages(signed: Any, draft: Any) -> list[str]:
    """Return the addresses of what a member reads, of which some write by the way."""
    book = [f"/book/{one.pk}/" for one in (signed, draft)]
    return [
        *("/", "/book/", *book, f"{book[0]}record.pdf", f"{book[0]}duties/", f"{book[1]}edit/"),
        *("/deadlines/", "/keeping/?show=all", "/season/", "/shelf/", "/shelf/fields/", "/plan/"),
        *("/audit/log/", "/exchange/", "/exchange/records.json", "/book/?file=csv", "/you/"),
        *("/api/v1/records/", f"/api/v1/records/{signed.pk}/duties/", "/api/v1/deadlines/"),
    ]


def read_all(client: Client, addresses: list[str]) -> dict[str, int]:
    """Return the status by address, of those that were not answered whole."""
    found = {}
    for address in addresses:
        answer = client.get(address, headers={"User-Agent": "x" * 300})
        if answer.streaming:
            b"".join(answer.streaming_content)
        found[address] = answer.status_code
    return {address: status for address, status in found.items() if status != 200}


def refused(answer: Any, title: str, left: str = "", *, after: str | None = None) -> str:
    """Return the page of a 503, on which the fault and what is left of the request stand."""
    assert answer.status_code == 503
    page = answer.content.decode()
    assert f"<h1>{title}</h1>" in page
    assert (left or "saved") in page if left else "saved" not in page
    assert answer.get("Retry-After") == after
    assert answer["Cache-Control"] == "no-store"
    assert "Traceback" not in page
    return page


@pytest.fixture
def draft(owner: Any, signed: Any) -> Any:
    """A draft beside the signed record."""
    return begin_draft(actor=owner, record_id=uuid.uuid4())


class TestFullDisk:
    def test_a_member_reads_on_and_nothing_is_written_by_the_way(
        self, on_disk, owner, signed, draft, line_of_log
    ):
        client = unseen_browser_of(owner)
        DueSheet.objects.all().delete()
        disk = on_disk()
        disk.fill()
        line_of_log()
        assert read_all(client, pages(signed, draft)) == {}
        assert Device.objects.count() == 1
        assert not DueSheet.objects.exists()
        told = set(line_of_log())
        assert told == {
            f"WARNING Left out while reading: {FULL} OperationalError: database or disk is full"
        }
        disk.make_room()
        assert read_all(client, ["/deadlines/"]) == {}
        assert Device.objects.count() == 2
        assert DueSheet.objects.get().law == duesheets.law()
        assert line_of_log() == []

    def test_what_is_due_is_shown_though_it_cannot_be_written_down(
        self, in_iowa, on_disk, owner, signed, draft
    ):
        client = browser_of(owner)
        DueSheet.objects.all().delete()
        disk = on_disk()
        disk.fill()
        path = f"/api/v1/records/{signed.pk}/duties/"
        shown = client.get(path).json()
        assert not DueSheet.objects.exists()
        disk.make_room()
        written = client.get(path).json()
        # Which records belong together is not asked while nothing can be written.
        assert shown["keeping"].pop("may_go_after") is None
        assert written["keeping"].pop("may_go_after")
        assert shown == written
        assert DueSheet.objects.exists()

    def test_a_guest_sees_nothing_that_cannot_be_written_down(
        self, on_disk, owner, signed, line_of_log
    ):
        client = browser_of(guest_of(owner, signed))
        assert client.get(f"/book/{signed.pk}/").status_code == 200
        disk = on_disk()
        disk.fill()
        while (answer := client.get(f"/book/{signed.pk}/?{'x' * 400}")).status_code == 200:
            pass  # what room is left in the last page
        page = refused(answer, FULL)
        assert signed.field.name not in page
        refused(client.get("/audit/?" + "x" * 400), FULL)

    def test_a_form_says_that_nothing_was_saved(self, on_disk, owner, signed, line_of_log):
        client = browser_of(owner)
        on_disk().fill()
        before = ApplicationRecord.objects.count()
        line_of_log()
        page = refused(client.post("/book/new/", {"id": uuid.uuid4()}), FULL, NOTHING_SAVED)
        assert "go back to it in your browser" in page
        assert ApplicationRecord.objects.count() == before
        assert line_of_log() == [
            f"ERROR POST book/new/: {FULL} OperationalError: database or disk is full"
        ]

    def test_an_entry_that_cannot_be_kept_leaves_the_draft_as_it_stood(self, on_disk, owner, draft):
        client = browser_of(owner)
        on_disk().fill()
        answer = client.post(
            f"/book/{draft.pk}/check/",
            {"revision": 1, "purpose": "x" * 200, "note": "y" * 3000},
            headers={"HX-Request": "true"},
        )
        assert answer.status_code == 503
        assert answer["Content-Type"] == "text/plain; charset=utf-8"
        assert answer.content.decode().startswith(f"{FULL} {NOTHING_SAVED} Whoever runs")
        draft.refresh_from_db()
        assert (draft.revision, draft.purpose, draft.note) == (1, "", "")

    def test_the_api_answers_problem_details(self, on_disk, owner, draft):
        client = browser_of(owner)
        on_disk().fill()
        answer = client.post(
            "/api/v1/records/",
            json.dumps({"id": str(uuid.uuid4()), "note": "y" * 3000}),
            content_type="application/json",
        )
        assert answer.status_code == 503
        assert answer["Content-Type"] == "application/problem+json"
        assert "Retry-After" not in answer
        problem = answer.json()
        assert problem["detail"].startswith(f"{NOTHING_SAVED} Whoever runs the service has to make")
        assert problem | {"detail": ""} == {
            "type": "about:blank",
            "title": FULL,
            "status": 503,
            "detail": "",
        }

    def test_nobody_logs_in_and_the_fault_is_not_taken_for_a_logout(self, on_disk, owner):
        owner.user.set_password("field-book-2026")
        owner.user.save()
        browser_of(owner)  # somebody is logged in elsewhere: the first pages hold a row
        client = Client(raise_request_exception=False)
        on_disk().fill()
        sent = {"username": owner.user.email, "password": "field-book-2026"}
        answer = client.post("/login/", sent, headers={"User-Agent": "x" * 300})
        assert answer.status_code == 503
        assert "sessionid" not in answer.cookies

    def test_a_session_that_cannot_be_saved_is_a_fault_and_no_logout(self, on_disk, owner):
        client = browser_of(owner)
        on_disk().fill()
        session = client.session
        session["much"] = "".join(random.Random(1).choices("abcdefghijklmnop", k=9000))
        with pytest.raises(OperationalError, match="full"):
            session.save()

    def test_a_sheet_that_cannot_be_written_says_so_in_its_growing_page(
        self, on_disk, owner, line_of_log
    ):
        client = browser_of(owner)
        raw = "name,address\n" + "".join(f"Farm {n},{n} Road\n" for n in range(300))
        answer = client.post(
            "/exchange/sheets/customers/look/", {"file": SimpleUploadedFile("c.csv", raw.encode())}
        )
        b"".join(answer.streaming_content)
        address = answer["Refresh"].partition("url=")[2]
        before = Customer.objects.count()
        on_disk().fill()
        line_of_log()
        answer = client.post(f"{address}write/")
        page, broken = until_broken(answer)
        assert broken
        assert f"{FULL} This was not finished." in page
        assert Customer.objects.count() == before
        assert len(line_of_log()) == 1
        # The report is read on, and offers the deed again.
        assert "write/" in client.get(address).content.decode()

    def test_a_server_keeps_the_files_without_which_sqlite_cannot_read_on_a_full_disk(
        self, on_disk, owner
    ):
        # https://www.sqlite.org/wal.html: -wal and -shm go with the last connection.
        file = on_disk().file
        connections["default"].close()
        asks = (
            "import logbook.config.wsgi, pathlib, sys\n"
            "from django.db import connection\n"
            "connection.ensure_connection(); connection.close()\n"
            "print(sorted(one.name for one in pathlib.Path(sys.argv[1]).parent.iterdir()))"
        )
        told = subprocess.run(
            [sys.executable, "-c", asks, str(file)],
            env=os.environ | {"DEBUG": "1", "DATABASE_URL": f"sqlite:///{file}"},
            capture_output=True,
            text=True,
            check=True,
        )
        assert f"'{file.name}-shm'" in told.stdout


class TestReadOnly:
    def test_a_member_reads_on(self, on_disk, owner, signed, draft, line_of_log):
        client = unseen_browser_of(owner)
        DueSheet.objects.all().delete()
        on_disk().opened(mode="ro")
        line_of_log()
        assert read_all(client, pages(signed, draft)) == {}
        assert {line.partition(" OperationalError")[0] for line in line_of_log()} == {
            f"WARNING Left out while reading: {READ_ONLY}"
        }

    def test_what_would_be_written_is_refused(self, on_disk, owner, signed):
        client, guest = browser_of(owner), browser_of(guest_of(owner, signed))
        on_disk().opened(mode="ro")
        refused(client.post("/book/new/", {}), READ_ONLY, NOTHING_SAVED)
        refused(guest.get(f"/book/{signed.pk}/"), READ_ONLY)

    @on_postgresql
    def test_postgresql_reads_on_too(self, owner, signed, draft, line_of_log):
        client, guest = unseen_browser_of(owner), browser_of(guest_of(owner, signed))
        DueSheet.objects.all().delete()
        with connection.cursor() as cursor:
            # What waits for the end of the transaction could not be looked at any more.
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            cursor.execute("SET LOCAL transaction_read_only = on")
        line_of_log()
        assert read_all(client, pages(signed, draft)) == {}
        assert {line.partition(" InternalError")[0] for line in line_of_log()} == {
            f"WARNING Left out while reading: {READ_ONLY}"
        }
        refused(client.post(f"/book/{signed.pk}/like/", {}), READ_ONLY, NOTHING_SAVED)
        refused(guest.get(f"/book/{signed.pk}/"), READ_ONLY)


class TestBusy:
    def test_reading_goes_on_beside_a_long_import_and_a_form_is_asked_to_come_again(
        self, on_disk, owner, signed, draft, line_of_log
    ):
        client = unseen_browser_of(owner)
        disk = on_disk()
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA busy_timeout = 600")
        other = disk.lock()
        line_of_log()
        assert read_all(client, ["/book/", f"/book/{signed.pk}/"]) == {}
        assert {line.partition(" OperationalError")[0] for line in line_of_log()} == {
            f"WARNING Left out while reading: {BUSY}"
        }
        page = refused(client.post("/book/new/", {}), BUSY, NOTHING_SAVED, after="10")
        assert "Wait some seconds" in page
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA busy_timeout")
            assert cursor.fetchone() == (600,)
        other.rollback()
        assert client.post("/book/new/", {}).status_code == 302


class TestGone:
    @pytest.fixture
    def no_server(self, db, tmp_path) -> Iterator[Any]:
        """Ask a database that is not there: a closed port, a file that is missing."""
        before = connections["default"]
        named = {**before.settings_dict, "HOST": "127.0.0.1", "PORT": "1"}
        if connection.vendor == "sqlite":
            named = {**named, "NAME": f"file:{tmp_path}/missing.sqlite3?mode=rw"}
        connections["default"] = type(before)(named, "default")
        yield
        connections["default"] = before

    @pytest.fixture
    def client(self, owner) -> Client:
        return browser_of(owner)

    def test_a_page_says_so_in_the_language_of_the_browser(self, client, no_server, line_of_log):
        page = refused(client.get("/book/?year=2026"), GONE, after="30")
        assert 'href="/book/?year=2026"' in page
        assert "Wait half a minute" in page
        (line,) = line_of_log()
        assert line.startswith(f"ERROR GET: {GONE} OperationalError: ")
        client.cookies["language"] = "es"
        page = client.get("/book/").content.decode()
        assert '<html lang="es">' in page
        assert ">Hoy</a>" in page

    def test_a_form_and_a_program_are_told_that_nothing_was_saved(self, client, no_server):
        refused(client.post("/book/new/", {}), GONE, NOTHING_SAVED, after="30")
        answer = client.post("/api/v1/records/", {}, content_type="application/json")
        assert (answer.status_code, answer["Retry-After"]) == (503, "30")
        assert answer["Content-Type"] == "application/problem+json"
        assert answer.json()["title"] == GONE
        assert answer.json()["detail"].startswith(NOTHING_SAVED)

    def test_the_page_of_djangos_debugger_does_not_come_instead(self, client, no_server, settings):
        settings.DEBUG = True
        refused(client.get("/book/"), GONE, after="30")

    def test_what_asks_no_database_is_answered(self, client, no_server):
        answer = Client().get("/exchange/records.schema.json")
        assert answer.status_code == 200
        answer.close()

    @on_postgresql
    def test_a_line_that_is_cut_while_a_page_is_made(self, client, line_of_log):
        line_of_log()
        with connection.execute_wrapper(Cut("SELECT")):
            refused(client.get("/book/"), GONE, after="30")
        (line,) = line_of_log()
        assert "terminating connection due to administrator command" in line

    @on_postgresql
    def test_a_line_that_is_cut_before_anything_was_written(self, client):
        with connection.execute_wrapper(Cut("INSERT")):
            refused(client.post("/book/new/", {}), GONE, NOTHING_SAVED, after="30")

    @on_postgresql
    def test_a_line_that_is_cut_with_the_last_word_leaves_it_in_doubt(self, client):
        with connection.execute_wrapper(Cut("RELEASE", after="INSERT")):
            refused(client.post("/book/new/", {}), GONE, IN_DOUBT, after="30")


class TestCache:
    @pytest.mark.parametrize(
        ("engine", "place", "title", "after"),
        [
            ("redis.RedisCache", "redis://127.0.0.1:1/0", CACHE, "30"),
            ("db.DatabaseCache", "no_such_table", BROKEN, None),
        ],
    )
    def test_the_api_cannot_count_and_the_pages_need_not(
        self, owner, settings, engine, place, title, after
    ):
        client = browser_of(owner)
        settings.CACHES = {
            "default": {"BACKEND": f"django.core.cache.backends.{engine}", "LOCATION": place}
        }
        assert client.get("/book/").status_code == 200
        answer = client.get("/api/v1/records/")
        assert answer.status_code == 503
        assert (answer.json()["title"], answer.get("Retry-After")) == (title, after)


class TestStream:
    @pytest.fixture
    def broken_in(self, db, tmp_path) -> Callable[[str], Any]:
        """Return what answers with a stream in which SQLite finds its file missing."""

        def answer(kind: str) -> Any:
            def pieces() -> Iterator[str]:
                yield "first,second\r\n"
                named = {**connection.settings_dict, "NAME": f"file:{tmp_path}/no?mode=rw"}
                SQLite({**named, "OPTIONS": {}}, "default").ensure_connection()

            request = RequestFactory().get("/")
            request.resolver_match = None
            made = StreamingHttpResponse(pieces(), content_type=kind)
            return faults.FaultMiddleware(lambda _: made)(request)

        return answer

    @pytest.mark.parametrize(
        ("kind", "said"),
        [
            ("text/csv; charset=utf-8", f'\r\n"NOT COMPLETE. {GONE} Take the file out again."\r\n'),
            ("text/html; charset=utf-8", f"{GONE} This was not finished. Wait half a minute"),
            ("application/json", ""),
        ],
    )
    def test_what_breaks_off_says_so_and_is_not_whole_for_http_either(
        self, broken_in, kind, said, line_of_log
    ):
        came, broken = until_broken(broken_in(kind))
        assert broken
        assert came.startswith("first,second")
        assert said in came
        assert bool(said) == (came != "first,second\r\n")
        (line,) = line_of_log()
        assert line.startswith(f"ERROR GET: {GONE} OperationalError: unable to open database file")


class TestOtherFaults:
    def test_a_disk_that_is_full_for_files(self):
        # Linux, null(4)/full(4): writing to /dev/full fails with ENOSPC.
        with pytest.raises(OSError, match="space") as full, open("/dev/full", "wb", 0) as file:
            file.write(b"x")
        assert faults.fault_of(full.value) is faults.FULL

    @pytest.mark.parametrize("error", [ValueError("x"), FileNotFoundError(2, "x"), KeyError("x")])
    def test_a_fault_of_ours_stays_a_500(self, db, client, monkeypatch, error, caplog):
        def breaks(*_: Any, **__: Any) -> None:
            raise error

        monkeypatch.setattr("logbook.accounts.language.language_of", breaks)
        client.raise_request_exception = False
        answer = client.get("/login/")
        assert answer.status_code == 500
        assert "Something broke" in answer.content.decode()
        assert [one for one in caplog.records if one.exc_info]

    def test_a_statement_that_is_wrong_is_a_fault_of_ours(self, db):
        with pytest.raises(DatabaseError) as wrong, connection.cursor() as cursor:
            cursor.execute("SELECT no_such_column FROM accounts_user")
        assert faults.fault_of(wrong.value) is None


class Cut:
    """Ends the connection by another one before the first statement that begins so."""

    def __init__(self, begins: str, *, after: str = "") -> None:
        self.begins, self.after = begins, after

    def __call__(self, execute: Any, sql: Any, params: Any, many: bool, context: Any) -> Any:
        if str(sql).startswith(self.after):
            self.after = ""
        if not self.after and str(sql).startswith(self.begins):
            pid = connection.connection.info.backend_pid
            with psycopg.connect(**connection.get_connection_params()) as other:
                other.execute("SELECT pg_terminate_backend(%s, 5000)", [pid])
        return execute(sql, params, many, context)


def until_broken(answer: Any) -> tuple[str, bool]:
    """Return what came of a stream, and whether the connection was broken off."""
    came = []
    try:
        for piece in answer.streaming_content:
            came.append(piece.decode())
    except ConnectionResetError:
        return "".join(came), True
    return "".join(came), False


def guest_of(owner: Any, signed: Any) -> Any:
    """Return a farm manager to whom the owner shows the customer of the record."""
    user = make.UserFactory(email="fern@farm.test")
    give_grant(
        actor=owner,
        email=user.email,
        role=Role.FARM_MANAGER,
        customer_ids=[signed.customer_id],
        now=timezone.now(),
    )
    return actor_for(user)
