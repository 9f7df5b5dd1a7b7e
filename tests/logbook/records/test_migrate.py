"""`migrate` puts back the triggers that freeze; that they lack must not stop it."""

from __future__ import annotations

from importlib import import_module
from types import SimpleNamespace
from typing import Any

import pytest
from django.apps import apps
from django.core.management import call_command
from django.core.management.base import SystemCheckError
from django.db import connection

from logbook.records.models import Seal
from logbook.records.reading.examine import examine
from logbook.records.sealing import freeze
from logbook.records.writing.draft import save_draft
from logbook.records.writing.sign import sign
from tests import factories as make
from tests.conftest import NOW, said_of

POSTGRESQL = connection.vendor == "postgresql"


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


def test_the_counts_of_older_seals_are_read_from_what_was_sealed(
    owner: Any, clean_draft: Any, entry: dict[str, Any], confirmed: Any
) -> None:
    draft = save_draft(
        actor=owner,
        record_id=clean_draft.pk,
        revision=clean_draft.revision,
        data={**entry, "pressure": None, "mix_used": make.q("3000 gal")},
    )
    asked = examine(actor=owner, record_id=draft.pk).report.must_be_explained()
    seal = sign(
        actor=owner,
        record_id=draft.pk,
        revision=draft.revision,
        explanations={one.key: said_of(one, "The gauge broke on the way.") for one in asked},
        confirmation=confirmed(owner),
        now=NOW,
    )
    names = ("mismatches", "missing", "unexplained")
    sealed = {name: getattr(seal, name) for name in names}
    assert all(sealed.values())
    counting = import_module("logbook.records.migrations.0007_seal_counts")
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE") if POSTGRESQL else None
        freeze.remove(connection)
        Seal.objects.update(**dict.fromkeys(names))
        freeze.install(connection)
        freeze.remove_before_migrate(using="default")
        counting.count(apps, SimpleNamespace(connection=connection, execute=cursor.execute))
        freeze.install_after_migrate(using="default")
    assert freeze.missing(connection) == set()
    assert Seal.objects.values(*names).get() == sealed


@pytest.mark.parametrize("text", ["", "[]", '{"findings": 3, "explanations": {}}', "{"])
def test_a_seal_whose_text_says_nothing_stays_uncounted(text: str) -> None:
    counting = import_module("logbook.records.migrations.0007_seal_counts")
    seal = Seal(text=text)
    assert counting.counted(seal) is False
    assert (seal.mismatches, seal.missing, seal.unexplained) == (None, None, None)
