"""Triggers that make the database itself refuse a change to what is sealed.

A purge is let through, and nothing like it: a seal may lose its text once, when a row says who
purged it and why, the days of keeping are over and no hold stands; then the record of that seal,
and what hangs on it, may be deleted.

Django's ORM can be gone round with plain SQL; a trigger cannot, short of removing it, which
`verify_log` and the system check notice. SQLite drops triggers silently when a migration rebuilds
a table, and cannot rename a table that a trigger names: `install` is idempotent and runs after
every migrate, and before one SQLite's triggers are taken off.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from django.apps import apps
from django.core.checks import CheckMessage, Error
from django.db import DEFAULT_DB_ALIAS, connections
from django.db.backends.base.base import BaseDatabaseWrapper

RECORD = "records_applicationrecord"
SEAL = "records_seal"
CHAIN = "records_chain"
LOAD = "records_load"
LOAD_PART = "records_loadpart"
ENTRY = "records_dutyentry"
HOLD = "records_legalhold"
PURGE = "records_purge"
CHILDREN = (
    "records_crewmember",
    "records_productline",
    "records_loaduse",
    "records_weatherreading",
    "records_explanation",
)
TABLES = (RECORD, SEAL, CHAIN, LOAD, LOAD_PART, ENTRY, HOLD, PURGE, *CHILDREN)
SEAL_KEEPS = (
    *("id", "business_id", "created_at", "record_id", "number", "leaf", "previous", "link"),
    *("sealed_at", "signer_id", "breaches", "findings"),
)
"""The columns of a seal that even a purge leaves as they are."""
HOLD_KEEPS = ("id", "business_id", "created_at", "seal_id", "reason", "set_at", "set_by_id")
"""The columns of a hold that its lifting leaves as they are."""


def _signed(record_id: str) -> str:
    return f"EXISTS (SELECT 1 FROM {RECORD} r WHERE r.id = {record_id} AND r.signed_at IS NOT NULL)"


def _load_signed(load_id: str) -> str:
    return (
        f"EXISTS (SELECT 1 FROM records_loaduse u JOIN {RECORD} r ON r.id = u.record_id "
        f"WHERE u.load_id = {load_id} AND r.signed_at IS NOT NULL)"
    )


def _purged(record_id: str) -> str:
    return (
        f"EXISTS (SELECT 1 FROM {SEAL} p "
        f"WHERE p.record_id = {record_id} AND p.purged_at IS NOT NULL)"
    )


def _changed(columns: tuple[str, ...]) -> str:
    return " OR ".join(f"NEW.{name} IS DISTINCT FROM OLD.{name}" for name in columns)


def _not_a_purge() -> str:
    """Return the condition under which an UPDATE of a seal is anything but its one purge."""
    return (
        "OLD.purged_at IS NOT NULL OR NEW.purged_at IS NULL OR NEW.text <> '' "
        f"OR {_changed(SEAL_KEEPS)} "
        f"OR NOT EXISTS (SELECT 1 FROM {PURGE} w WHERE w.seal_id = OLD.id "
        "AND w.purged_at = NEW.purged_at)"
    )


def _held_or_to_be_kept() -> str:
    """Return the condition under which a seal may not be purged yet."""
    return (
        "NEW.keep_until > date(NEW.purged_at) "
        f"OR EXISTS (SELECT 1 FROM {HOLD} h WHERE h.business_id = NEW.business_id "
        "AND h.lifted_at IS NULL AND (h.seal_id IS NULL OR h.seal_id = NEW.seal_id)) "
        f"OR NOT EXISTS (SELECT 1 FROM {SEAL} s WHERE s.id = NEW.seal_id "
        "AND s.business_id = NEW.business_id)"
    )


def _rules() -> Iterator[tuple[str, str, str, str]]:
    """Yield (table, verb, condition, what is refused) for every trigger of both databases."""
    yield RECORD, "UPDATE", "OLD.signed_at IS NOT NULL", "a sealed record cannot be changed"
    yield (
        RECORD,
        "DELETE",
        f"OLD.signed_at IS NOT NULL AND NOT {_purged('OLD.id')}",
        "a sealed record cannot be deleted",
    )
    for table in CHILDREN:
        said = "what belongs to a sealed record cannot be changed"
        yield table, "INSERT", _signed("NEW.record_id"), said
        yield table, "UPDATE", f"{_signed('OLD.record_id')} OR {_signed('NEW.record_id')}", said
        let_go = _purged("OLD.record_id")
        yield table, "DELETE", f"{_signed('OLD.record_id')} AND NOT {let_go}", said
    said = "a load of a sealed record cannot be changed"
    yield LOAD, "UPDATE", _load_signed("OLD.id"), said
    yield LOAD, "DELETE", _load_signed("OLD.id"), said
    yield LOAD_PART, "INSERT", _load_signed("NEW.load_id"), said
    yield (
        LOAD_PART,
        "UPDATE",
        f"{_load_signed('OLD.load_id')} OR {_load_signed('NEW.load_id')}",
        said,
    )
    yield LOAD_PART, "DELETE", _load_signed("OLD.load_id"), said
    yield SEAL, "UPDATE", _not_a_purge(), "a seal cannot be changed"
    yield SEAL, "DELETE", "1 = 1", "a seal cannot be deleted"
    yield CHAIN, "DELETE", "1 = 1", "the chain of seals cannot be deleted"
    yield (
        CHAIN,
        "UPDATE",
        "NEW.business_id <> OLD.business_id OR NEW.last_number <> OLD.last_number + 1",
        "the chain of seals only grows, one seal at a time",
    )
    said = "an entry cannot be changed; strike it by a further one"
    yield ENTRY, "UPDATE", "1 = 1", said
    yield ENTRY, "DELETE", f"NOT {_purged('OLD.record_id')}", said
    said = "a hold can only be lifted, once"
    lifts = f"OLD.lifted_at IS NOT NULL OR NEW.lifted_at IS NULL OR {_changed(HOLD_KEEPS)}"
    yield HOLD, "UPDATE", lifts, said
    yield HOLD, "DELETE", "1 = 1", said
    yield PURGE, "UPDATE", "1 = 1", "what says that a record was purged cannot be changed"
    yield PURGE, "DELETE", "1 = 1", "what says that a record was purged cannot be deleted"
    yield PURGE, "INSERT", _held_or_to_be_kept(), "it is held, or still to be kept"
    # INSERT OR REPLACE on SQLite removes the old row without a DELETE trigger.
    existing = f"EXISTS (SELECT 1 FROM {SEAL} s WHERE s.id = NEW.id OR s.record_id = NEW.record_id "
    existing += "OR (s.business_id = NEW.business_id AND s.number = NEW.number))"
    yield SEAL, "INSERT", existing, "a seal cannot be replaced"
    yield RECORD, "INSERT", _signed("NEW.id"), "a sealed record cannot be replaced"
    replaced = f"EXISTS (SELECT 1 FROM {CHAIN} c WHERE c.business_id = NEW.business_id)"
    yield CHAIN, "INSERT", replaced, "the chain of seals cannot be replaced"
    yield LOAD, "INSERT", _load_signed("NEW.id"), "a load of a sealed record cannot be replaced"
    for table in (*CHILDREN, LOAD_PART):
        parent = _load_signed("o.load_id") if table == LOAD_PART else _signed("o.record_id")
        condition = f"EXISTS (SELECT 1 FROM {table} o WHERE o.id = NEW.id AND {parent})"
        yield table, "INSERT ", condition, "what belongs to a sealed record cannot be replaced"
    for table in (ENTRY, HOLD, PURGE):
        standing = f"EXISTS (SELECT 1 FROM {table} o WHERE o.id = NEW.id"
        standing += " OR o.seal_id = NEW.seal_id)" if table == PURGE else ")"
        yield table, "INSERT ", standing, "an entry cannot be replaced"


def _name(table: str, verb: str) -> str:
    # Two rules of one table may speak of INSERT; the one with the space is the second.
    return f"frozen_{table}_{verb.lower().replace('insert ', 'replace')}"


def trigger_names(vendor: str) -> set[str]:
    """Return the names of all triggers that must stand in a database of this vendor."""
    names = {_name(table, verb) for table, verb, _, _ in _rules()}
    if vendor == "postgresql":
        names |= {_name(table, "TRUNCATE") for table in TABLES}
    return names


def install(connection: BaseDatabaseWrapper) -> None:
    """Create every trigger anew; what stands already is replaced."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            for statement in _postgresql():
                cursor.execute(statement)
        else:
            for table, verb, condition, said in _rules():
                name = _name(table, verb)
                cursor.execute(f"DROP TRIGGER IF EXISTS {name}")
                cursor.execute(
                    f"CREATE TRIGGER {name} BEFORE {verb.strip()} ON {table} FOR EACH ROW "
                    f"WHEN {condition} BEGIN SELECT RAISE(ABORT, '{said}'); END"
                )


def _postgresql() -> Iterator[str]:
    yield (
        "CREATE OR REPLACE FUNCTION refuse_change_of_sealed() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION '%', TG_ARGV[0] USING ERRCODE = 'restrict_violation'; END $$"
    )
    for table, verb, condition, said in _rules():
        name = _name(table, verb)
        # PostgreSQL allows no subquery in WHEN, so the function asks it.
        function = f"{name}_check"
        back = "OLD" if verb.strip() == "DELETE" else "NEW"
        yield (
            f"CREATE OR REPLACE FUNCTION {function}() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN IF {condition} THEN RAISE EXCEPTION '{said}' "
            f"USING ERRCODE = 'restrict_violation'; END IF; RETURN {back}; END $$"
        )
        yield f"DROP TRIGGER IF EXISTS {name} ON {table}"
        yield (
            f"CREATE TRIGGER {name} BEFORE {verb.strip()} ON {table} "
            f"FOR EACH ROW EXECUTE FUNCTION {function}()"
        )
    for table in TABLES:
        name = _name(table, "TRUNCATE")
        yield f"DROP TRIGGER IF EXISTS {name} ON {table}"
        yield (
            f"CREATE TRIGGER {name} BEFORE TRUNCATE ON {table} FOR EACH STATEMENT "
            f"EXECUTE FUNCTION refuse_change_of_sealed('{table} holds sealed rows')"
        )


def remove(connection: BaseDatabaseWrapper) -> None:
    """Drop every trigger; for the tests that cannot roll back, and for nothing else."""
    with connection.cursor() as cursor:
        for name in sorted(trigger_names(connection.vendor)):
            on = ""
            if connection.vendor == "postgresql":
                on = f" ON {next(t for t in TABLES if name.startswith(f'frozen_{t}_'))}"
            cursor.execute(f"DROP TRIGGER IF EXISTS {name}{on}")


def missing(connection: BaseDatabaseWrapper) -> set[str]:
    """Return the names of the triggers that do not stand, or stand disabled."""
    query = {
        "postgresql": "SELECT tgname FROM pg_trigger WHERE tgenabled <> 'D'",
        "sqlite": "SELECT name FROM sqlite_master WHERE type = 'trigger'",
    }[connection.vendor]
    with connection.cursor() as cursor:
        cursor.execute(query)
        return trigger_names(connection.vendor) - {name for (name,) in cursor.fetchall()}


def remove_before_migrate(using: str = DEFAULT_DB_ALIAS, **_: Any) -> None:
    """Take SQLite's triggers off: it refuses to rename a table that a trigger speaks of."""
    connection = connections[using]
    if connection.vendor == "sqlite" and RECORD in connection.introspection.table_names():
        remove(connection)


def install_after_migrate(using: str = DEFAULT_DB_ALIAS, **_: Any) -> None:
    """Install the triggers once the tables stand (a partial migrate may not have them yet)."""
    connection = connections[using]
    if set(TABLES) <= set(connection.introspection.table_names()):
        install(connection)


def check_installed(
    app_configs: Any = None, databases: Sequence[str] | None = None, **_: Any
) -> list[CheckMessage]:
    """Report the triggers that do not stand; a database without our tables has none to miss."""
    messages: list[CheckMessage] = []
    for alias in databases or []:
        connection = connections[alias]
        if RECORD not in connection.introspection.table_names():
            continue
        lacking = missing(connection)
        if lacking:
            messages.append(
                Error(
                    f"{len(lacking)} triggers that freeze sealed records do not stand in "
                    f'"{alias}", such as {min(lacking)}.',
                    hint="Run: manage.py migrate",
                    obj=apps.get_app_config("records"),
                    id="records.E001",
                )
            )
    return messages
