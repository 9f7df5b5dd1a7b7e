"""`migrate` puts back the triggers that freeze; that they lack must not stop it."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from django.core.management.base import SystemCheckError
from django.db import connection

from logbook.records import freeze


def test_migrate_runs_where_triggers_lack_and_puts_them_back(db: None) -> None:
    freeze.remove(connection)
    with pytest.raises(SystemCheckError, match=r"records\.E001"):
        call_command("check", databases=["default"])
    call_command("migrate", verbosity=0, skip_checks=False)
    assert freeze.missing(connection) == set()
    call_command("check", databases=["default"])


def test_before_a_migration_sqlite_has_none_in_the_way(db: None) -> None:
    # SQLite will not rename a table that a trigger speaks of; PostgreSQL keeps them all along.
    freeze.remove_before_migrate(using="default")
    there = freeze.trigger_names(connection.vendor) - freeze.missing(connection)
    assert bool(there) is (connection.vendor == "postgresql")
    freeze.install_after_migrate(using="default")
    assert freeze.missing(connection) == set()
