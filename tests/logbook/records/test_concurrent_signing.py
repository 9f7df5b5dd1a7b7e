"""Two people sign at the same moment: no number is given twice, none is left out."""

from __future__ import annotations

import os
import subprocess
import sys
import uuid
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
from django.db import connection

ROOT = Path(__file__).resolve().parents[3]
COUNT = 8


@pytest.fixture
def environment(tmp_path: Path) -> Iterator[dict[str, str]]:
    """A database of its own: processes cannot share the one that a test rolls back."""
    base = os.environ | {"DEBUG": "1", "PYTHONPATH": str(ROOT)}
    if connection.vendor == "sqlite":
        yield base | {"DATABASE_URL": f"sqlite:///{tmp_path / 'book.sqlite3'}"}
        return
    name = f"spray_logbook_{uuid.uuid4().hex}"
    settings = connection.settings_dict
    where = {
        "host": settings["HOST"],
        "port": settings["PORT"] or 5432,
        "user": settings["USER"],
        "password": settings["PASSWORD"],
    }
    with psycopg.connect(dbname="postgres", autocommit=True, **where) as server:
        server.execute(f'CREATE DATABASE "{name}"')
        user = f"{where['user']}:{where['password']}" if where["password"] else where["user"]
        address = f"postgres://{user}@{where['host']}:{where['port']}/{name}"
        yield base | {"DATABASE_URL": address}
        server.execute(f'DROP DATABASE "{name}"')


def run(environment: dict[str, str], *arguments: str) -> str:
    done = subprocess.run(
        [sys.executable, *arguments],
        env=environment,
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    )
    return done.stdout


def test_two_processes_sign_side_by_side(environment: dict[str, str]) -> None:
    signer = ["-m", "tests.logbook.records.concurrent_signer"]
    run(environment, "manage.py", "migrate", "-v0")
    ids = run(environment, *signer, "prepare", str(COUNT)).split()
    # Both are given every draft, in opposite order, so that they meet on some of them.
    both = [
        subprocess.Popen(
            [sys.executable, *signer, "sign", *order],
            env=environment,
            cwd=ROOT,
            stdout=subprocess.PIPE,
            text=True,
        )
        for order in (ids, ids[::-1])
    ]
    said = [process.communicate(timeout=120)[0].splitlines() for process in both]
    assert [process.returncode for process in both] == [0, 0]
    sealed = [int(line.split()[1]) for line in said[0] + said[1] if line.startswith("sealed")]
    assert sorted(sealed) == list(range(1, COUNT + 1))
    assert sum(line == "refused" for line in said[0] + said[1]) == COUNT
    assert f"all {COUNT} entries hold" in run(environment, "manage.py", "verify_log")
