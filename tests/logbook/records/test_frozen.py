"""What is frozen is read from the models: a column or table that nobody named is frozen too."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, models, transaction
from django.test.utils import isolate_apps

from logbook.accounts.models import Business, Grant, Journal, JournalEntry
from logbook.records.choices import DutyKind
from logbook.records.models import (
    ApplicationRecord,
    Chain,
    DutyEntry,
    LegalHold,
    LoadUse,
    ProductLine,
    Seal,
)
from logbook.records.sealing import freeze, frozen
from logbook.records.writing.draft import begin_draft
from logbook.records.writing.holds import set_hold
from tests import factories as make
from tests.conftest import NOW

ON_SQLITE = connection.vendor == "sqlite"
TABLES = {model._meta.db_table: model for model in frozen.own_tables()}


def run(sql: str, *values: Any) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql, [key(value) for value in values])


def refused(sql: str, *values: Any, said: str) -> None:
    with pytest.raises(IntegrityError, match=said):
        run(sql, *values)


def key(value: Any) -> Any:
    """Return an id as the database's own SQL writes it."""
    return value.hex if ON_SQLITE and isinstance(value, uuid.UUID) else value


class TestNames:
    def test_each_free_name_is_a_table_or_column_and_has_its_reason(self) -> None:
        for name, reason in frozen.FREE.items():
            table, _, column = name.partition(".")
            columns = [field.column for field in TABLES[table]._meta.concrete_fields]
            assert column in ["", *columns], name
            assert len(reason.split()) >= 4, name

    def test_no_free_column_is_a_key_by_which_a_row_can_be_replaced(self) -> None:
        for table in frozen.tables().values():
            free = {f'"{one.split(".")[1]}"' for one in frozen.FREE if f"{table.name}." in one}
            groups = [group for group in table.unique if not table.parents.keys() & group]
            assert not free & {table.key, *(column for group in groups for column in group)}

    def test_the_models_hold_nothing_that_is_not_read(self) -> None:
        """Keys of several columns or by another column, and keys that hold in some cases only.

        Whoever adds one has to teach it to `frozen` first.
        """
        for name in frozen.tables():
            meta = TABLES[name]._meta
            assert meta.pk.concrete
            for field in meta.concrete_fields:
                assert not field.is_relation or field.target_field.primary_key, field
            for one in meta.constraints:
                if isinstance(one, models.UniqueConstraint):
                    # In a group with all parents of a row, which case it holds in is all one.
                    assert one.fields, one
                    assert one.condition is None or set(one.fields) == {"record"}, one

    def test_what_was_named_by_hand_before_is_frozen_still(self) -> None:
        """The lists of 2026-07 as they stood, so that no reading of the models loses one."""
        assert frozen.tables().keys() == {
            *("records_applicationrecord", "records_seal", "records_chain", "records_load"),
            *("records_loadpart", "records_dutyentry", "records_legalhold", "records_purge"),
            *("accounts_grant", "accounts_journal", "records_crewmember", "records_productline"),
            *("records_loaduse", "records_weatherreading", "records_explanation"),
            *("records_lawtext", "accounts_grantedcustomer", "accounts_grantedfield"),
            *("accounts_visit", "accounts_journalentry", "accounts_shelfchange"),
            *("records_setaside", "records_picture"),  # which no list named
        }


# --- a column that nobody named ------------------------------------------------------------------


@pytest.fixture
def with_column(db: None) -> Iterator[Callable[[type[models.Model]], None]]:
    """Return what gives a model and its table one column more, `invented`."""
    given: list[tuple[type[models.Model], Any]] = []

    def give(model: type[models.Model]) -> None:
        connection.check_constraints()
        with connection.cursor() as cursor:
            if not ON_SQLITE:
                cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            cursor.execute(
                f"ALTER TABLE {model._meta.db_table} ADD COLUMN invented varchar(9) DEFAULT ''"
            )
        field = models.CharField(max_length=9, default="")
        field.contribute_to_class(model, "invented")
        given.append((model, field))
        stale = f"frozen_{model._meta.db_table}_update" in freeze.missing(connection)
        assert stale is (f"{model._meta.db_table}" in CHANGE_IN_PART)
        freeze.install(connection)
        assert freeze.missing(connection) == set()

    yield give
    for model, field in given:
        model._meta.local_fields.remove(field)
        model._meta._expire_cache()
        del model.invented


CHANGE_IN_PART = {model._meta.db_table: model for model in (Seal, LegalHold, Grant, Chain, Journal)}
"""The tables of which a frozen row may change in one way, its free columns alone."""


def test_the_free_columns_are_of_those_that_change_in_part() -> None:
    tables = {name.partition(".")[0] for name in frozen.FREE}
    assert tables - {"records_duesheet", "records_loaduse"} == CHANGE_IN_PART.keys()


@pytest.mark.parametrize("model", [ApplicationRecord, ProductLine, DutyEntry])
def test_a_new_column_of_a_row_that_is_frozen_whole(
    signed: Any, owner: Any, with_column: Any, model: type[models.Model]
) -> None:
    if model is DutyEntry:
        make_entry(signed, owner)
    with_column(model)
    refused(f"UPDATE {model._meta.db_table} SET invented = 'x'", said="cannot be changed")


def make_entry(record: Any, owner: Any) -> DutyEntry:
    return DutyEntry.objects.create(
        business=record.business,
        record=record,
        kind=DutyKind.values[0],
        to_whom="the farm",
        how="e-mail",
        given_at=NOW,
        by=owner.user,
    )


def test_a_new_column_of_a_hold(signed: Any, owner: Any, with_column: Any) -> None:
    hold = set_hold(
        actor=owner, hold_id=uuid.uuid4(), record_id=signed.pk, reason="A claim.", now=NOW
    )
    with_column(LegalHold)
    lift = "UPDATE records_legalhold SET lifted_at = %s, lifted_by_id = %s, lift_reason = 'Over.'"
    at = NOW.replace(tzinfo=None) if ON_SQLITE else NOW
    refused(f"{lift}, invented = 'x'", at, owner.user.pk, said="only be lifted, once")
    run(lift, at, owner.user.pk)
    hold.refresh_from_db()
    assert hold.lift_reason == "Over."


def test_a_new_column_of_a_grant(owner: Any, with_column: Any) -> None:
    Grant.objects.create(
        business=owner.business,
        user=make.UserFactory(email="fern@farm.test"),
        role="inspector",
        every_customer=True,
        reason="An inspection.",
        begins_at=NOW,
        ends_at=NOW.replace(year=NOW.year + 1),
        given_by=owner.user,
    )
    with_column(Grant)
    withdraw = "UPDATE accounts_grant SET withdrawn_at = begins_at, withdrawn_by_id = given_by_id"
    refused(f"{withdraw}, invented = 'x'", said="only be withdrawn, once")
    run(withdraw)


def test_a_new_column_of_a_seal(signed: Any, with_column: Any) -> None:
    # No purge is made here; that the condition of its trigger speaks of the column is what counts.
    with_column(Seal)
    (rule,) = [one for one in freeze._rules(connection.vendor) if one.name == f"frozen_{SEAL}"]
    assert 'OR NEW."invented" IS DISTINCT FROM OLD."invented" OR' in rule.when


SEAL = "records_seal_update"


@pytest.mark.parametrize(("chain", "entries"), [(Chain, Seal), (Journal, JournalEntry)])
def test_a_new_column_of_what_only_grows(
    signed: Any, with_column: Any, chain: type[models.Model], entries: type[models.Model]
) -> None:
    """The row moves on with a further entry, and takes no other change along."""
    with_column(chain)
    draft = make.ApplicationRecordFactory(business=signed.business)
    last = entries._default_manager.order_by("number").last()
    assert last is not None
    last.pk, last.number, last.previous = uuid.uuid4(), last.number + 1, last.link
    last.link = "f" * 64
    if isinstance(last, Seal):
        last.record = draft
    last.save(force_insert=True)
    grow = f"UPDATE {chain._meta.db_table} SET last_number = last_number + 1, last_link = %s"
    refused(f"{grow}, invented = 'x'", last.link, said="only grows, one")
    run(grow, last.link)


class Made(models.Model):
    """What the made up tables have in common."""

    class Meta:
        abstract = True
        app_label = "records"

    def __str__(self) -> str:
        return str(self.pk)


# --- a table that nobody named -------------------------------------------------------------------


@pytest.fixture
def with_tables(db: None, monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Return what makes the tables of models that are of no installed app's, and freezes them."""

    def give(*more: type[models.Model]) -> None:
        every = [*frozen.own_tables(), *more]
        monkeypatch.setattr(frozen, "own_tables", lambda: every)
        connection.check_constraints()
        with connection.cursor() as cursor:
            if not ON_SQLITE:
                cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            for model in more:
                editor: Any = connection.schema_editor()
                editor.deferred_sql = []
                cursor.execute(*editor.table_sql(model))
        name = f"frozen_{more[-1]._meta.db_table}_update"
        assert name in freeze.missing(connection)
        freeze.install_after_migrate()
        assert freeze.missing(connection) == set()

    return give


@pytest.fixture
def draft(owner: Any) -> ApplicationRecord:
    return begin_draft(actor=owner, record_id=uuid.uuid4())


@isolate_apps("logbook.records")
def test_a_new_table_whose_rows_point_to_a_record(
    signed: Any, draft: Any, with_tables: Any
) -> None:
    class Remark(Made):
        record = models.ForeignKey(ApplicationRecord, models.CASCADE, related_name="+")
        text = models.CharField(max_length=9)
        tag = models.IntegerField(null=True, unique=True)

    with_tables(Remark)
    said = "what belongs to a sealed record cannot be"
    put = "INSERT INTO records_remark (id, record_id, text, tag) VALUES (%s, %s, 'x', %s)"
    refused(put, 1, signed.pk, None, said=f"{said} changed")
    # While it was a draft it was open; then it is signed.
    with connection.cursor() as cursor:
        freeze.remove(connection)
        cursor.execute(put, [1, key(signed.pk), 7])
        freeze.install(connection)
    run(put, 2, draft.pk, 8)
    run("UPDATE records_remark SET text = 'y' WHERE id = 2")
    refused("UPDATE records_remark SET text = 'y' WHERE id = 1", said=f"{said} changed")
    refused("UPDATE records_remark SET record_id = %s", signed.pk, said=f"{said} changed")
    refused("DELETE FROM records_remark WHERE id = 1", said=f"{said} deleted")
    # Nor is it displaced by a row of a draft with the same value in a unique column.
    refused("UPDATE records_remark SET tag = 7 WHERE id = 2", said=f"{said} replaced")
    refused(put, 3, draft.pk, 7, said=f"{said} replaced")
    refused("UPDATE records_remark SET id = 5 WHERE id = 2", said="cannot take the place")
    run("DELETE FROM records_remark WHERE id = 2")


@isolate_apps("logbook.records")
def test_a_new_table_two_keys_away_and_one_that_points_back(
    signed: Any, draft: Any, with_tables: Any
) -> None:
    class Note(Made):
        line = models.ForeignKey(ProductLine, models.CASCADE, null=True, related_name="+")
        latest = models.ForeignKey("Word", models.SET_NULL, null=True, related_name="+")

    class Word(Made):
        note = models.ForeignKey(Note, models.CASCADE, related_name="+")
        about = models.ForeignKey("self", models.CASCADE, null=True, related_name="+")
        text = models.CharField(max_length=9)

    with_tables(Note, Word)
    line = ProductLine.objects.filter(record=signed).first()
    assert line is not None
    note = "INSERT INTO records_note (id, line_id) VALUES (%s, %s)"
    word = "INSERT INTO records_word (id, note_id, text) VALUES (%s, %s, 'x')"
    refused(note, 1, line.pk, said="belongs to a sealed record cannot be changed")
    with connection.cursor() as cursor:
        freeze.remove(connection)
        cursor.execute(note, [1, line.pk])
        cursor.execute(word, [1, 1])
        freeze.install(connection)
    run(note, 2, None)
    run(word, 2, 2)
    run("UPDATE records_word SET text = 'y' WHERE id = 2")
    refused(word, 3, 1, said="belongs to a sealed record cannot be changed")
    refused("UPDATE records_word SET text = 'y' WHERE id = 1", said="cannot be changed")
    refused("DELETE FROM records_word WHERE id = 1", said="cannot be deleted")
    refused("UPDATE records_word SET about_id = 1 WHERE id = 2", said="cannot be changed")
    # A note that hangs on a word of a sealed record hangs on the record.
    refused("UPDATE records_note SET latest_id = 1 WHERE id = 2", said="cannot be changed")


@isolate_apps("logbook.records")
def test_a_new_table_whose_rows_point_to_what_never_changes(
    signed: Any, owner: Any, with_tables: Any
) -> None:
    """Its rows are put in, and nothing else is done, whatever else they point to."""

    class Receipt(Made):
        entry = models.ForeignKey(DutyEntry, models.CASCADE, related_name="+")
        record = models.ForeignKey(ApplicationRecord, models.CASCADE, related_name="+")
        text = models.CharField(max_length=9)

        class Meta(Made.Meta):
            unique_together = (("record", "text"),)

    entry = make_entry(signed, owner)
    with_tables(Receipt)
    put = "INSERT INTO records_receipt (id, entry_id, record_id, text) VALUES (%s, %s, %s, 'x')"
    run(put, 1, entry.pk, signed.pk)
    refused("UPDATE records_receipt SET text = 'y'", said="what belongs to an entry cannot be chan")
    refused("DELETE FROM records_receipt", said="what belongs to an entry cannot be deleted")
    refused(put, 2, entry.pk, signed.pk, said="what belongs to an entry cannot be replaced")


@isolate_apps("logbook.records")
def test_a_new_table_of_pairs_that_django_makes_itself(signed: Any, with_tables: Any) -> None:
    class Photo(Made):
        records = models.ManyToManyField(ApplicationRecord, related_name="+")

    with_tables(Photo, Photo.records.through)
    assert "records_photo" not in frozen.tables()
    put = "INSERT INTO records_photo_records (id, photo_id, applicationrecord_id) VALUES (1, 1, %s)"
    refused(put, signed.pk, said="belongs to a sealed record cannot be changed")


@isolate_apps("logbook.records")
def test_what_points_elsewhere_or_has_no_table_of_its_own_is_left_alone() -> None:
    class Shed(Made):
        business = models.ForeignKey(Business, models.CASCADE, related_name="+")

    assert dict(frozen._links(Shed)) == {'"business_id"': "accounts_business"}
    assert "accounts_business" not in frozen.tables()
    assert {"records_feedkey", "records_duesheet"}.isdisjoint(frozen.tables())
    # Every table that holds rows of the product is looked at, those of pairs too.
    assert TABLES.keys() == set(apps_tables())


def apps_tables() -> Iterator[str]:
    for model in apps.get_models(include_auto_created=True):
        yield model._meta.db_table


@isolate_apps("logbook.records")
def test_a_generated_column_follows_from_the_others() -> None:
    """PostgreSQL computes it after the trigger, to which it would seem changed each time."""

    class Sum(Made):
        a = models.IntegerField()
        twice = models.GeneratedField(
            expression=models.F("a") * 2, output_field=models.IntegerField(), db_persist=True
        )

    assert [field.column for field in frozen._kept(Sum)] == ["id", "a"]


def test_a_load_serves_a_draft_after_it_served_a_sealed_record(signed: Any, draft: Any) -> None:
    use = LoadUse.objects.filter(record=signed).first()
    assert use is not None
    LoadUse.objects.create(record=draft, load=use.load, order=2, used="10 gal")
