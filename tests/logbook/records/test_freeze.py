"""The database itself refuses to change what is sealed: by the ORM, and by plain SQL."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction

from logbook.records import freeze
from logbook.records.models import Chain, Explanation, Seal

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
        import uuid

        from logbook.records.services.draft import begin_draft

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

    def test_the_chain_only_grows(self, signed: Any) -> None:
        said = "only grows, one seal at a time"
        refused("UPDATE records_chain SET last_number = 0", said=said)
        refused("UPDATE records_chain SET last_number = last_number + 2", said=said)
        refused("DELETE FROM records_chain", said="cannot be deleted")


if connection.vendor == "sqlite":

    @pytest.mark.parametrize(
        "table", ["records_seal", "records_applicationrecord", "records_chain", "records_load"]
    )
    def test_replace_is_refused_too(signed: Any, table: str) -> None:
        # INSERT OR REPLACE removes the old row without firing a DELETE trigger.
        refused(f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}", said="cannot be replaced")

else:

    @pytest.mark.parametrize("table", freeze.TABLES)
    def test_truncate_is_refused_too(signed: Any, table: str) -> None:
        # Deferred foreign keys of this transaction would refuse a TRUNCATE before the trigger does.
        with connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        refused(f"TRUNCATE {table} CASCADE", said="sealed rows")


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

    def test_no_database_named_means_nothing_to_check(self) -> None:
        assert freeze.check_installed() == []
