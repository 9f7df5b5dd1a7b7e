"""The database itself refuses to change what is sealed: by the ORM, and by plain SQL."""

from __future__ import annotations

import runpy
import uuid
from typing import Any

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.core.management import call_command
from django.core.management.base import SystemCheckError
from django.db import IntegrityError, OperationalError, connection, transaction

from logbook.records.models import (
    ApplicationRecord,
    Chain,
    Explanation,
    LawText,
    Load,
    LoadPart,
    LoadUse,
    ProductLine,
    Seal,
    WeatherReading,
)
from logbook.records.sealing import freeze, frozen
from logbook.records.writing.amend import begin_amendment
from logbook.records.writing.draft import begin_draft, save_draft
from tests import factories as make

CHILDREN = {
    "records_productline": "position = 9",
    "records_loaduse": '"order" = 9',
    "records_weatherreading": "signs = '[]'",
}


def refused(sql: str, *, said: str) -> None:
    """Prove that plain SQL is refused."""
    with (
        pytest.raises(IntegrityError, match=said),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(sql)


class TestPlainSql:
    def test_an_update_of_a_sealed_record_is_refused(self, signed: Any) -> None:
        refused(
            "UPDATE records_applicationrecord SET note = 'nothing happened'",
            said="a sealed record cannot be changed",
        )

    def test_its_signature_cannot_be_taken_off(self, signed: Any) -> None:
        refused(
            "UPDATE records_applicationrecord SET signed_at = NULL",
            said="a sealed record cannot be changed",
        )

    def test_a_delete_of_a_sealed_record_is_refused(self, signed: Any) -> None:
        # A foreign key stands in the way too; the trigger speaks first.
        refused("DELETE FROM records_applicationrecord", said="cannot be deleted|foreign key")

    @pytest.mark.parametrize(("table", "change"), CHILDREN.items())
    def test_what_hangs_on_it_cannot_be_changed_or_deleted(
        self, signed: Any, table: str, change: str
    ) -> None:
        refused(f"UPDATE {table} SET {change}", said="belongs to a sealed record")
        refused(f"DELETE FROM {table}", said="belongs to a sealed record")

    def test_nothing_can_be_added_to_it(self, signed: Any) -> None:
        with pytest.raises(IntegrityError, match="belongs to a sealed"), transaction.atomic():
            Explanation.objects.create(record=signed, finding="late@note", text="added later")

    def test_a_row_of_a_draft_cannot_be_moved_under_it(self, signed: Any, owner: Any) -> None:
        draft = begin_draft(actor=owner, record_id=uuid.uuid4())
        Explanation.objects.create(record=draft, finding="a@b", text="of a draft")
        with pytest.raises(IntegrityError, match="belongs to a sealed"), transaction.atomic():
            Explanation.objects.update(record=signed)

    def test_its_loads_cannot_be_changed(self, signed: Any) -> None:
        refused("UPDATE records_load SET mixed_volume = '1 gal'", said="a load of a sealed record")
        refused("UPDATE records_loadpart SET amount = '1 gal'", said="a load of a sealed record")
        refused("DELETE FROM records_loadpart", said="a load of a sealed record")
        refused(
            "INSERT INTO records_loadpart (load_id, product_id, amount, amount_si) "
            "SELECT load_id, product_id, amount, amount_si FROM records_loadpart",
            said="a load of a sealed record",
        )

    @pytest.mark.parametrize("column", ["text", "leaf", "link", "previous", "number"])
    def test_no_column_of_a_seal_can_be_changed(self, signed: Any, column: str) -> None:
        refused(f"UPDATE records_seal SET {column} = {column}", said="a seal cannot be changed")

    def test_a_seal_cannot_be_deleted(self, signed: Any) -> None:
        refused("DELETE FROM records_seal", said="a seal cannot be deleted")

    def test_the_text_of_the_law_cannot_be_changed(self, signed: Any) -> None:
        said = "the text of the law as sealed cannot be"
        refused("UPDATE records_lawtext SET text = ''", said=f"{said} changed")
        refused("DELETE FROM records_lawtext", said=f"{said} deleted")

    def test_another_text_is_not_put_in_the_place_of_the_law(self, signed: Any) -> None:
        replace = "OR REPLACE " if connection.vendor == "sqlite" else ""
        refused(
            f"INSERT {replace}INTO records_lawtext (digest, text) "
            "SELECT digest, 'another' FROM records_lawtext",
            said="the text of the law as sealed cannot be replaced",
        )

    def test_the_same_text_of_the_law_may_come_again(self, signed: Any) -> None:
        # As when two signings at once keep one text; neither may fail by it.
        count = LawText.objects.count()
        LawText.objects.bulk_create(list(LawText.objects.all()), ignore_conflicts=True)
        assert LawText.objects.count() == count > 0

    def test_the_chain_only_grows(self, signed: Any) -> None:
        said = "only grows, one seal at a time"
        refused("UPDATE records_chain SET last_number = 0", said=said)
        refused("UPDATE records_chain SET last_number = last_number + 2", said=said)
        # By one, but without a seal of that number.
        refused("UPDATE records_chain SET last_number = last_number + 1", said=said)
        refused("DELETE FROM records_chain", said="cannot be deleted")


@pytest.fixture
def open_rows(signed: Any, owner: Any, entry: dict[str, Any]) -> dict[str, Any]:
    """Rows of a draft, by table, with a row of the sealed record beside each: (open, sealed)."""
    draft = begin_draft(actor=owner, record_id=uuid.uuid4())
    draft = save_draft(actor=owner, record_id=draft.pk, revision=draft.revision, data=entry)
    Explanation.objects.create(record=draft, finding="a@b", text="of a draft")
    loads = Load.objects.filter(uses__record=draft), Load.objects.filter(uses__record=signed)
    models = (ProductLine, WeatherReading, LoadUse)
    pairs = {
        model._meta.db_table: tuple(
            model._default_manager.filter(record=record).earliest("pk")
            for record in (draft, signed)
        )
        for model in models
    }
    return pairs | {
        "records_applicationrecord": (draft, ApplicationRecord.objects.get(pk=signed.pk)),
        "records_load": tuple(some.earliest("pk") for some in loads),
        "records_loadpart": tuple(
            LoadPart.objects.filter(load__in=some).earliest("pk") for some in loads
        ),
    }


OPEN_TABLES = (
    "records_applicationrecord",
    "records_productline",
    "records_weatherreading",
    "records_loaduse",
    "records_load",
    "records_loadpart",
)


def key(row: Any) -> str:
    """Return the id of a row as a literal of the database's own SQL."""
    if isinstance(row.pk, int):
        return str(row.pk)
    return f"'{row.pk if connection.vendor == 'postgresql' else row.pk.hex}'"


@pytest.mark.parametrize("table", OPEN_TABLES)
def test_no_row_takes_the_key_of_another(open_rows: dict[str, Any], table: str) -> None:
    open_row, sealed_row = open_rows[table]
    orders = ("UPDATE", "UPDATE OR REPLACE") if connection.vendor == "sqlite" else ("UPDATE",)
    for order in orders:
        refused(
            f"{order} {table} SET id = {key(sealed_row)} WHERE id = {key(open_row)}",
            said="cannot take the place of another",
        )


def test_a_sealed_amendment_is_not_displaced(signed: Any, owner: Any, confirmed: Any) -> None:
    from logbook.records.writing.sign import sign
    from tests.conftest import NOW

    amendment = begin_amendment(
        actor=owner, record_id=signed.pk, new_id=uuid.uuid4(), reason="The speed was wrong."
    )
    sign(
        actor=owner,
        record_id=amendment.pk,
        revision=amendment.revision,
        explanations={},
        confirmation=confirmed(owner),
        now=NOW,
    )
    draft = begin_draft(actor=owner, record_id=uuid.uuid4())
    replace = "OR REPLACE " if connection.vendor == "sqlite" else ""
    refused(
        f"UPDATE {replace}records_applicationrecord SET amends_id = {key(signed)}, "
        f"amend_reason = 'another' WHERE id = {key(draft)}",
        said="a sealed record cannot be replaced",
    )


if connection.vendor == "sqlite":

    @pytest.mark.parametrize(
        "table", ["records_seal", "records_applicationrecord", "records_chain", "records_load"]
    )
    def test_replace_is_refused_too(signed: Any, table: str) -> None:
        # INSERT OR REPLACE removes the old row without firing a DELETE trigger.
        refused(f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}", said="cannot be replaced")

    @pytest.mark.parametrize("table", ["records_applicationrecord", "records_load"])
    def test_replace_by_the_hidden_rowid_is_refused(open_rows: dict[str, Any], table: str) -> None:
        # A table whose key is no integer has a rowid beside it, which REPLACE goes by as well.
        open_row, sealed_row = open_rows[table]
        refused(
            f"UPDATE OR REPLACE {table} SET rowid = (SELECT rowid FROM {table} "
            f"WHERE id = {key(sealed_row)}) WHERE id = {key(open_row)}",
            said="cannot take the place of another",
        )
        columns = [f'"{field.column}"' for field in type(open_row)._meta.concrete_fields]
        values = [f"'{uuid.uuid4().hex}'" if name == '"id"' else name for name in columns]
        refused(
            f"INSERT OR REPLACE INTO {table} (rowid, {', '.join(columns)}) SELECT "
            f"(SELECT rowid FROM {table} WHERE id = {key(sealed_row)}), {', '.join(values)} "
            f"FROM {table} WHERE id = {key(open_row)}",
            said="cannot be replaced",
        )

    def test_a_seal_is_not_replaced_by_one_that_follows_the_same(signed: Any) -> None:
        draft = make.ApplicationRecordFactory(business=signed.business)
        columns = [f'"{field.column}"' for field in Seal._meta.concrete_fields]
        new = {'"id"': f"'{uuid.uuid4().hex}'", '"record_id"': key(draft), '"number"': "7"}
        refused(
            f"INSERT OR REPLACE INTO records_seal ({', '.join(columns)}) "
            f"SELECT {', '.join(new.get(name, name) for name in columns)} FROM records_seal",
            said="a seal cannot be replaced",
        )

else:

    @pytest.mark.parametrize("table", frozen.tables())
    def test_truncate_is_refused_too(signed: Any, table: str) -> None:
        # Deferred foreign keys of this transaction would refuse a TRUNCATE before the trigger does.
        with connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        refused(f"TRUNCATE {table} CASCADE", said="sealed rows")

    def test_a_temporary_table_does_not_stand_in_for_ours(signed: Any) -> None:
        # PostgreSQL looks among temporary tables first, unless a function says otherwise.
        with connection.cursor() as cursor:
            cursor.execute(
                "CREATE TEMP TABLE records_applicationrecord (id uuid, signed_at timestamptz) "
                "ON COMMIT DROP"
            )
        refused("UPDATE records_productline SET position = 9", said="belongs to a sealed record")
        assert freeze.missing(connection) == set()


class TestOrm:
    def test_save_and_delete_are_refused(self, signed: Any) -> None:
        signed.note = "changed"
        with pytest.raises(IntegrityError), transaction.atomic():
            signed.save()
        with pytest.raises(IntegrityError), transaction.atomic():
            Seal.objects.all().delete()
        with pytest.raises(IntegrityError), transaction.atomic():
            Chain.objects.all().delete()

    def test_a_draft_stays_open(self, clean_draft: Any) -> None:
        clean_draft.note = "changed"
        clean_draft.save()
        clean_draft.products.all().delete()
        assert not clean_draft.products.exists()


class TestStanding:
    def test_all_triggers_stand_after_migrate(self, db: None) -> None:
        assert freeze.missing(connection) == set()
        assert freeze.check_installed(databases=["default"]) == []

    def test_installing_twice_changes_nothing(self, db: None) -> None:
        freeze.install(connection)
        assert freeze.missing(connection) == set()

    def test_a_missing_trigger_is_reported_and_comes_back(self, db: None) -> None:
        freeze.remove(connection)
        assert freeze.missing(connection) == freeze.trigger_names(connection.vendor)
        messages = freeze.check_installed(databases=["default"])
        assert [message.id for message in messages] == ["records.E001"]
        freeze.install_after_migrate(using="default")
        assert freeze.missing(connection) == set()

    def test_without_a_database_named_the_default_one_is_looked_at(self, db: None) -> None:
        assert freeze.check_installed() == []
        freeze.remove(connection)
        assert [message.id for message in freeze.check_installed()] == ["records.E001"]
        with pytest.raises(SystemCheckError, match="triggers that freeze sealed records"):
            call_command("check")

    def test_a_database_that_cannot_be_reached_is_not_checked_unasked(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def gone(alias: str) -> None:
            raise OperationalError("no such server")

        monkeypatch.setattr(freeze, "_messages", gone)
        assert freeze.check_installed() == []
        with pytest.raises(OperationalError):
            freeze.check_installed(databases=["default"])

    def test_a_database_without_our_tables_has_none_to_miss(
        self, db: None, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        freeze.remove(connection)
        monkeypatch.setattr(connection.introspection, "table_names", list)
        assert freeze.check_installed() == []

    def test_migrate_is_not_stopped_by_what_it_mends(self, db: None) -> None:
        from django.core.management.base import CommandError

        from logbook.records.management.commands.migrate import Command

        freeze.remove(connection)
        command = Command()
        command.check(databases=["default"])
        with pytest.raises(CommandError):
            super(Command, command).check()

    def test_the_service_does_not_start_without_them(
        self, db: None, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(connection, "close", lambda: None)
        assert callable(runpy.run_module("logbook.config.wsgi")["application"])
        freeze.remove(connection)
        with pytest.raises(ImproperlyConfigured, match=r"run: manage\.py migrate"):
            runpy.run_module("logbook.config.wsgi")


NAME = f"frozen_{frozen.RECORD}_update"


def run(*statements: str) -> set[str]:
    """Return what is missing after the statements."""
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
    return freeze.missing(connection)


if connection.vendor == "sqlite":
    TAMPERED = {
        "on another table": (
            f"DROP TRIGGER {NAME}",
            f"CREATE TRIGGER {NAME} BEFORE DELETE ON django_session BEGIN SELECT 1; END",
        ),
        "with nothing to say": (
            f"DROP TRIGGER {NAME}",
            f"CREATE TRIGGER {NAME} BEFORE UPDATE ON {frozen.RECORD} BEGIN SELECT 1; END",
        ),
    }
else:
    NEUTRAL = "RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RETURN NEW; END $$"
    TAMPERED = {
        "disabled": (f"ALTER TABLE {frozen.RECORD} DISABLE TRIGGER {NAME}",),
        "for replicas alone": (f"ALTER TABLE {frozen.RECORD} ENABLE REPLICA TRIGGER {NAME}",),
        "of another function": (f"CREATE OR REPLACE FUNCTION {NAME}_check() {NEUTRAL}",),
        "by another path": (f"ALTER FUNCTION {NAME}_check() SET search_path = pg_temp, public",),
        "on another table": (
            f"DROP TRIGGER {NAME} ON {frozen.RECORD}",
            f"CREATE TRIGGER {NAME} BEFORE UPDATE ON django_session FOR EACH ROW "
            f"EXECUTE FUNCTION {NAME}_check()",
        ),
        "on a condition": (
            f"DROP TRIGGER {NAME} ON {frozen.RECORD}",
            f"CREATE TRIGGER {NAME} BEFORE UPDATE ON {frozen.RECORD} FOR EACH ROW "
            f"WHEN (OLD.note = 'never') EXECUTE FUNCTION {NAME}_check()",
        ),
        "of one column": (
            f"DROP TRIGGER {NAME} ON {frozen.RECORD}",
            f"CREATE TRIGGER {NAME} BEFORE UPDATE OF note ON {frozen.RECORD} FOR EACH ROW "
            f"EXECUTE FUNCTION {NAME}_check()",
        ),
        "after the fact": (
            f"DROP TRIGGER {NAME} ON {frozen.RECORD}",
            f"CREATE TRIGGER {NAME} AFTER UPDATE ON {frozen.RECORD} FOR EACH ROW "
            f"EXECUTE FUNCTION {NAME}_check()",
        ),
    }


@pytest.mark.parametrize("statements", TAMPERED.values(), ids=TAMPERED)
def test_a_trigger_that_only_bears_the_name_is_missing(
    db: None, statements: tuple[str, ...]
) -> None:
    assert run(*statements) == {NAME}
    if "django_session" in statements[-1]:
        on = " ON django_session" if connection.vendor == "postgresql" else ""
        run(f"DROP TRIGGER {NAME}{on}")
    freeze.install(connection)
    assert freeze.missing(connection) == set()
