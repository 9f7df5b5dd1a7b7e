"""Writes fixtures/databases/COMMIT.ENGINE.sql.gz: a small database as earlier code makes it.

    python tests/old_database.py COMMIT [postgres://user@host/name]

Needs the history of the repository and, for PostgreSQL, an empty database and `pg_dump`. Of the
demo season of that commit it keeps one draft and four seals: an amended record and its amendment,
one with a struck duty entry, one with a hold.
"""

from __future__ import annotations

import gzip
import os
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
FILES = ROOT / "fixtures" / "databases"
SMALL_DEMO = """
import django; django.setup()
from django.core.management import call_command
from logbook.records.demo import load
whole = load.read_data
keep = {"home-quarter-0428", "hollow-1-0914", "the-point-0727", "slough-piece-1106"}
def read_data(name):
    data = whole(name)
    if name == "season":
        data["application"] = [one for one in data["application"] if one["key"] in keep]
    return data
load.read_data = read_data
call_command("demo", "--no-serve")
"""


def main(commit: str, url: str = "") -> None:
    with tempfile.TemporaryDirectory() as folder:
        archive = subprocess.run(
            ["git", "archive", commit], cwd=ROOT, check=True, capture_output=True
        )
        subprocess.run(["tar", "-x", "-C", folder], input=archive.stdout, check=True)
        if url:
            small_demo(folder, url)
            dump = ["pg_dump", "--inserts", "--no-owner", "--no-privileges", url]
            text = subprocess.run(dump, check=True, capture_output=True, text=True).stdout
            # What begins with a backslash is for psql alone.
            lines = [line for line in text.splitlines() if not line.startswith("\\")]
            write(f"{commit}.postgresql", lines)
        else:
            small_demo(folder, f"sqlite:///{folder}/old.sqlite3")
            write(f"{commit}.sqlite", sqlite3.connect(f"{folder}/old.sqlite3").iterdump())


def small_demo(folder: str, url: str) -> None:
    settings = {"DJANGO_SETTINGS_MODULE": "logbook.config.settings", "DEBUG": "1"}
    subprocess.run(
        [sys.executable, "-c", SMALL_DEMO],
        cwd=folder,
        env={**os.environ, **settings, "DATABASE_URL": url},
        check=True,
    )


def write(name: str, lines: Iterable[str]) -> None:
    FILES.mkdir(exist_ok=True)
    text = "\n".join(lines)
    (FILES / f"{name}.sql.gz").write_bytes(gzip.compress(text.encode(), mtime=0))


if __name__ == "__main__":
    main(*sys.argv[1:])
