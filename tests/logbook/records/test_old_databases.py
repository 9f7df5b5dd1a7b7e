"""Databases that earlier code made: today's code migrates them, and their logs hold.

`tests/old_database.py` made each file of fixtures/databases from the commit in its name:
7b197d0 is the first that had triggers, with names that later code no longer knew; 02a8d31 the
first with duties, holds and purges complete; 43ae7a1 has grants, and a migration that was renamed.
"""

from __future__ import annotations

import gzip
import os
import sqlite3
import subprocess
import sys
import uuid
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

import psycopg
import pytest
from django.db import connection

from logbook.records.sealing import freeze

ROOT = Path(__file__).resolve().parents[3]
ENGINE = connection.vendor
COMMITS = ("7b197d0", "02a8d31", "43ae7a1")
TRIGGERS = {
    "sqlite": "SELECT name, tbl_name, sql FROM sqlite_master WHERE type = 'trigger' ORDER BY name",
    "postgresql": "SELECT t.tgname, t.tgrelid::regclass::text, p.prosrc FROM pg_trigger t "
    "JOIN pg_proc p ON p.oid = t.tgfoid WHERE NOT t.tgisinternal ORDER BY t.tgname",
}
# What stops a migration of the first of them half-way, and what takes it out of the way.
OBSTACLE = {
    "sqlite": (
        "CREATE TRIGGER another_watch AFTER INSERT ON records_load WHEN EXISTS "
        "(SELECT 1 FROM records_applicationrecord) BEGIN SELECT 1; END",
        "DROP TRIGGER another_watch",
    ),
    "postgresql": (
        "CREATE TABLE records_dutyentry (id integer)",
        "DROP TABLE records_dutyentry",
    ),
}[ENGINE]


@dataclass(frozen=True)
class Database:
    """A database by its address; `connect` opens a connection of its driver."""

    url: str
    connect: Any

    def ask(self, statement: str) -> list[dict[str, Any]]:
        with closing(self.connect()) as opened:
            cursor = opened.execute(statement)
            names = [column[0] for column in cursor.description]
            return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]

    def tell(self, statements: str) -> None:
        with closing(self.connect()) as opened:
            getattr(opened, "executescript", opened.execute)(statements)

    def manage(self, *command: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "manage.py", *command],
            cwd=ROOT,
            env={**os.environ, "DEBUG": "1", "DATABASE_URL": self.url},
            capture_output=True,
            text=True,
        )

    def triggers(self) -> list[dict[str, Any]]:
        return self.ask(TRIGGERS[ENGINE])


@pytest.fixture
def old(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Database]:
    """The database of the commit that the test is for, as that commit left it."""
    dump = ROOT / "fixtures" / "databases" / f"{request.param}.{ENGINE}.sql.gz"
    text = gzip.decompress(dump.read_bytes()).decode()
    if ENGINE == "sqlite":
        path = tmp_path / "old.sqlite3"
        database = Database(f"sqlite:///{path}", lambda: sqlite3.connect(path))
        database.tell(text)
        yield database
        return
    server = connection.settings_dict
    login = {key: server[key.upper()] or None for key in ("user", "password", "host", "port")}
    name = f"old_{uuid.uuid4().hex}"
    keeper = psycopg.connect(dbname="postgres", autocommit=True, **login)
    keeper.execute(f"CREATE DATABASE {name} TEMPLATE template0 ENCODING 'UTF8'")
    try:
        user, password = (quote(login[key] or "", safe="") for key in ("user", "password"))
        url = f"postgres://{user}:{password}@{login['host'] or ''}:{login['port'] or ''}/{name}"
        database = Database(url, lambda: psycopg.connect(dbname=name, autocommit=True, **login))
        database.tell(text)
        yield database
    finally:
        keeper.execute(f"DROP DATABASE {name} WITH (FORCE)")
        keeper.close()


def must_hold(old: Database, sealed: list[dict[str, Any]]) -> None:
    """Assert that the triggers are today's and no others, and the log the one that was sealed."""
    assert {row["name" if ENGINE == "sqlite" else "tgname"] for row in old.triggers()} == (
        freeze.trigger_names(ENGINE)
    )
    if ENGINE == "postgresql":
        functions = old.ask("SELECT proname FROM pg_proc WHERE proname LIKE 'frozen%'")
        assert {row["proname"] for row in functions} == {
            f"{name}_check" for name in freeze.trigger_names(ENGINE)
        }
    kept = ", ".join(sealed[0])
    assert old.ask(f"SELECT {kept} FROM records_seal ORDER BY number") == sealed
    verified = old.manage("verify_log")
    assert verified.returncode == 0, verified.stderr
    last = sealed[-1]
    assert f"all {len(sealed)} entries hold; the log ends in {last['number']}:{last['link']}" in (
        verified.stdout
    )


def must_be_kept(before: list[dict[str, Any]], after: list[dict[str, Any]]) -> None:
    """Assert that each row says what it said, in every column that is still there."""
    assert len(after) == len(before)
    names = sorted(before[0].keys() & after[0].keys()) if before else ()
    told = [sorted(str([row[name] for name in names]) for row in rows) for rows in (before, after)]
    assert told[0] == told[1]


@pytest.mark.parametrize("old", COMMITS, indirect=True)
def test_an_old_database_migrates_and_its_log_holds(old: Database) -> None:
    sealed = old.ask("SELECT * FROM records_seal ORDER BY number")
    assert len(sealed) == 4
    tables = {row["tbl_name" if ENGINE == "sqlite" else "tgrelid"] for row in old.triggers()}
    before = {table: old.ask(f"SELECT * FROM {table}") for table in tables}
    drafts = old.ask(
        "SELECT id FROM records_applicationrecord WHERE signed_at IS NULL AND amends_id IS NULL"
    )
    unsaid = [
        row
        for row in before["records_weatherreading"]
        if {"id": row["record_id"]} in drafts and row["signs"] in ("[]", [])
    ]
    assert unsaid
    migrated = old.manage("migrate")
    assert migrated.returncode == 0, migrated.stderr
    must_hold(old, sealed)
    # Boxes that nobody touched in a draft are not said; what is signed stays.
    for row in unsaid:
        row["signs"] = None
    for table, rows in before.items():
        must_be_kept(rows, old.ask(f"SELECT * FROM {table}"))


@pytest.mark.parametrize("old", COMMITS[:1], indirect=True)
def test_a_migration_that_stops_half_way_leaves_all_frozen_and_can_go_on(old: Database) -> None:
    sealed = old.ask("SELECT * FROM records_seal ORDER BY number")
    old.tell(OBSTACLE[0])
    stood = old.triggers()
    stopped = old.manage("migrate")
    assert stopped.returncode == 1
    assert stopped.stderr.startswith("CommandError: The migration stopped (")
    assert "run manage.py migrate again" in stopped.stderr
    assert old.ask("SELECT app FROM django_migrations WHERE app = 'accounts'")[1:]
    assert old.triggers() == stood
    with pytest.raises((sqlite3.IntegrityError, psycopg.errors.RestrictViolation), match="sealed"):
        old.tell("UPDATE records_applicationrecord SET note = 'x' WHERE signed_at IS NOT NULL")
    old.tell(OBSTACLE[1])
    migrated = old.manage("migrate")
    assert migrated.returncode == 0, migrated.stderr
    must_hold(old, sealed)


@pytest.mark.parametrize("old", COMMITS[1:2], indirect=True)
def test_a_migrate_to_an_early_migration_leaves_the_triggers_as_they_stood(old: Database) -> None:
    stood = old.triggers()
    assert old.manage("migrate", "records", "0003").returncode == 0
    assert old.triggers() == stood


@pytest.mark.parametrize("old", COMMITS[1:2], indirect=True)
def test_a_database_of_which_a_migration_was_changed_is_refused(old: Database) -> None:
    old.tell("DELETE FROM django_migrations WHERE app = 'catalog' AND name = '0002_duties'")
    stood = old.triggers()
    refused = old.manage("migrate")
    assert refused.returncode == 1
    assert refused.stderr.startswith("CommandError: Migration records.0002_duties is applied bef")
    assert "Nothing was changed." in refused.stderr
    assert old.triggers() == stood
