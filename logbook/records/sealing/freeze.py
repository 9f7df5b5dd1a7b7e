"""Triggers that make the database itself refuse a change to what is sealed.

A purge is let through, and nothing like it: a seal may lose its text once, when a row says who
purged it and why, the day until which it is kept, written down at sealing, is over by the clock
of the database, and no hold stands; then the record of that seal, and what hangs on it, may be
deleted. A seal without such a day is kept for good.

Django's ORM can be gone round with plain SQL; a trigger cannot, short of removing or changing it,
which `verify_log`, the system check and the start of the service notice. SQLite drops triggers
silently when a migration rebuilds a table, and cannot rename a table that a trigger names: before
a migrate SQLite's triggers are taken off, and after every one `install` puts those of today in the
place of all that the database holds. What is ours there is told by the prefix of its name, for
earlier code had other triggers. Which tables and columns they speak of, `frozen` reads from the
models.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.core.checks import CheckMessage, Error
from django.core.exceptions import ImproperlyConfigured
from django.db import DEFAULT_DB_ALIAS, OperationalError, connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from logbook.records.sealing import frozen
from logbook.records.sealing.frozen import (
    CHAIN,
    ENTRY,
    GRANT,
    HOLD,
    JOURNAL,
    JOURNAL_ENTRY,
    LAW,
    LOAD,
    OPEN,
    PURGE,
    RECORD,
    RULED,
    SEAL,
    Table,
)

CHECK_TAG = "freeze"
"""The tag of the system check, by which `migrate` leaves it out."""

ONCE = {LAW: " AND (o.digest <> NEW.digest OR o.text <> NEW.text)"}
"""Which rows of the same key are in the way, where not all are: the same text of the law may come
again, as when two signings at once keep it both.
"""

TODAY = {
    "postgresql": "(CURRENT_TIMESTAMP AT TIME ZONE 'UTC')::date",
    "sqlite": "date('now')",
}
"""The day by the clock of the database, in UTC."""
PURGE_DAY = {
    "postgresql": "(NEW.purged_at AT TIME ZONE 'UTC')::date",
    # SQLite stores any text as a time, such as 'now'; only one that begins with its day counts.
    "sqlite": "CASE WHEN date(NEW.purged_at) = substr(NEW.purged_at, 1, 10) "
    "THEN date(NEW.purged_at) END",
}
"""The day of a purge, in UTC."""

STANDING = {
    "postgresql": "SELECT format('DROP TRIGGER %I ON %s', t.tgname, t.tgrelid::regclass) "
    "FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
    "WHERE starts_with(t.tgname, 'frozen_') AND c.relnamespace = current_schema()::regnamespace "
    "UNION ALL SELECT format('DROP FUNCTION %s CASCADE', oid::regprocedure) FROM pg_proc "
    "WHERE starts_with(proname, 'frozen_') AND pronamespace = current_schema()::regnamespace",
    "sqlite": """SELECT 'DROP TRIGGER "' || name || '"', tbl_name, sql FROM sqlite_master """
    "WHERE type = 'trigger' AND name GLOB 'frozen_*'",
}
"""What lists the triggers of ours and their functions: how each is dropped; on SQLite, its table
and text too."""

ROW, BEFORE = 1, 2
EVENT = {"INSERT": 4, "DELETE": 8, "UPDATE": 16, "TRUNCATE": 32}
"""The bits of `pg_trigger.tgtype`; source: PostgreSQL, src/include/catalog/pg_trigger.h."""


@dataclass(frozen=True, kw_only=True)
class Rule:
    """One trigger: what is refused, on which condition, and what is said then."""

    table: str
    verb: str
    when: str
    said: str
    part: str = ""  # tells rules of the same table and verb apart

    @property
    def name(self) -> str:
        return f"frozen_{self.table}_{self.part or self.verb.lower()}"


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


def _changed(columns: Iterable[str]) -> str:
    return " OR ".join(f"NEW.{name} IS DISTINCT FROM OLD.{name}" for name in columns)


def _sealed(
    tables: Mapping[str, Table],
    name: str,
    row: str,
    *,
    kept: bool = False,
    passed: tuple[str, ...] = (),
) -> str:
    """Return the condition that a row of an open table is sealed, or hangs on a row that is.

    Args: row, as SQL calls it; kept, to leave out what hangs on a record that was purged; passed,
    the tables gone through on the way to this one, none of them twice: they may form a ring.
    """
    if name == RECORD:
        return f"{row}.signed_at IS NOT NULL" + (f" AND NOT {_purged(f'{row}.id')}" * kept)
    if name == LOAD:
        return _load_signed(f"{row}.id")
    conditions = (
        f"EXISTS (SELECT 1 FROM {parent} WHERE {parent}.{tables[parent].key} = {row}.{column} "
        f"AND ({_sealed(tables, parent, parent, kept=kept, passed=(*passed, parent))}))"
        for column, parent in tables[name].parents.items()
        if parent not in passed
    )
    return " OR ".join(conditions) or "1 = 0"


def _held(seal_id: str) -> str:
    return (
        f"EXISTS (SELECT 1 FROM {HOLD} h WHERE h.business_id = NEW.business_id "
        f"AND h.lifted_at IS NULL AND (h.seal_id IS NULL OR h.seal_id = {seal_id}))"
    )


def _not_a_purge(tables: Mapping[str, Table]) -> str:
    """Return the condition under which an UPDATE of a seal is anything but its one purge."""
    return (
        "OLD.purged_at IS NOT NULL OR NEW.purged_at IS NULL OR NEW.text <> '' "
        f"OR {_changed(tables[SEAL].kept)} OR {_held('OLD.id')} "
        f"OR NOT EXISTS (SELECT 1 FROM {PURGE} w WHERE w.seal_id = OLD.id "
        "AND w.business_id = OLD.business_id AND w.keep_until >= OLD.keep_until "
        "AND w.purged_at = NEW.purged_at)"
    )


def _held_or_to_be_kept(vendor: str) -> str:
    """Return the condition under which a seal may not be purged yet.

    Whoever writes the row cannot choose the day: the seal and the clock of the database say it.
    """
    day, today = PURGE_DAY[vendor], TODAY[vendor]
    return (
        f"{_held('NEW.seal_id')} OR NOT EXISTS (SELECT 1 FROM {SEAL} s WHERE s.id = NEW.seal_id "
        "AND s.business_id = NEW.business_id AND s.purged_at IS NULL "
        "AND s.keep_until IS NOT NULL AND s.keep_until <= NEW.keep_until "
        "AND s.sealed_at <= NEW.purged_at "
        f"AND NEW.keep_until < {day} AND {day} <= {today})"
    )


def _rules(vendor: str) -> Iterator[Rule]:
    """Yield every rule of the databases of this vendor."""
    tables = frozen.tables()
    yield from _about_what_is_open_until_signed(tables)
    yield from _about_the_chain(tables)
    yield from _about_duties(vendor, tables)
    yield from _about_grants(tables)
    yield from _about_what_is_only_added(tables)
    yield from _about_replacing(vendor, tables)
    if vendor == "postgresql":
        for table in tables:
            yield Rule(table=table, verb="TRUNCATE", when="TRUE", said=f"{table} holds sealed rows")


def _about_what_is_open_until_signed(tables: Mapping[str, Table]) -> Iterator[Rule]:
    for name, table in tables.items():
        if not table.is_open:
            continue
        changed, old = f"{table.called} cannot be changed", _sealed(tables, name, "OLD")
        if name not in OPEN:
            new = _sealed(tables, name, "NEW")
            yield Rule(table=name, verb="INSERT", when=new, said=changed)
            old = f"{old} OR {new}"
        yield Rule(table=name, verb="UPDATE", when=old, said=changed)
        yield Rule(
            table=name,
            verb="DELETE",
            when=_sealed(tables, name, "OLD", kept=True),
            said=f"{table.called} cannot be deleted",
        )


def _about_the_chain(tables: Mapping[str, Table]) -> Iterator[Rule]:
    when = _not_a_purge(tables)
    yield Rule(table=SEAL, verb="UPDATE", when=when, said="a seal cannot be changed")
    yield Rule(table=SEAL, verb="DELETE", when="1 = 1", said="a seal cannot be deleted")
    yield from _only_grows(tables[CHAIN], SEAL, "seal")
    yield from _only_grows(tables[JOURNAL], JOURNAL_ENTRY, "entry")


def _only_grows(chain: Table, entries: str, entry: str) -> Iterator[Rule]:
    deleted = f"{chain.called} cannot be deleted"
    yield Rule(table=chain.name, verb="DELETE", when="1 = 1", said=deleted)
    yield Rule(
        table=chain.name,
        verb="UPDATE",
        when=f"{_changed(chain.kept)} OR NEW.last_number <> OLD.last_number + 1 OR NOT EXISTS ("
        f"SELECT 1 FROM {entries} s WHERE s.business_id = NEW.business_id "
        "AND s.number = NEW.last_number AND s.link = NEW.last_link)",
        said=f"{chain.called} only grows, one {entry} at a time",
    )


def _about_duties(vendor: str, tables: Mapping[str, Table]) -> Iterator[Rule]:
    said = "an entry cannot be changed; strike it by a further one"
    yield Rule(table=ENTRY, verb="UPDATE", when="1 = 1", said=said)
    yield Rule(table=ENTRY, verb="DELETE", when=f"NOT {_purged('OLD.record_id')}", said=said)
    said = "a hold can only be lifted, once"
    lifts = "OLD.lifted_at IS NOT NULL OR NEW.lifted_at IS NULL"
    lifts += f" OR {_changed(tables[HOLD].kept)}"
    yield Rule(table=HOLD, verb="UPDATE", when=lifts, said=said)
    yield Rule(table=HOLD, verb="DELETE", when="1 = 1", said=said)
    said = "what says that a record was purged cannot be changed"
    yield Rule(table=PURGE, verb="UPDATE", when="1 = 1", said=said)
    yield Rule(table=PURGE, verb="DELETE", when="1 = 1", said=said)
    yield Rule(
        table=PURGE,
        verb="INSERT",
        when=_held_or_to_be_kept(vendor),
        said="it is held, or still to be kept",
    )


def _about_what_is_only_added(tables: Mapping[str, Table]) -> Iterator[Rule]:
    for name, table in tables.items():
        if not table.is_open and name not in RULED:
            for verb, done in (("UPDATE", "changed"), ("DELETE", "deleted")):
                said = f"{table.called} cannot be {done}"
                yield Rule(table=name, verb=verb, when="1 = 1", said=said)


def _about_grants(tables: Mapping[str, Table]) -> Iterator[Rule]:
    said = "a grant can only be withdrawn, once"
    withdrawn = "OLD.withdrawn_at IS NOT NULL OR NEW.withdrawn_at IS NULL"
    withdrawn += f" OR {_changed(tables[GRANT].kept)}"
    yield Rule(table=GRANT, verb="UPDATE", when=withdrawn, said=said)
    yield Rule(table=GRANT, verb="DELETE", when="1 = 1", said=said)


def _about_replacing(vendor: str, tables: Mapping[str, Table]) -> Iterator[Rule]:
    """Yield the rules against OR REPLACE, which on SQLite removes rows without a DELETE trigger.

    A row is replaced by another with the same primary key, the same value of a unique column, or,
    on SQLite, the same rowid. So no row changes its key, and none is written over a sealed one.
    """
    for name, table in tables.items():
        moved = f"NEW.{table.key} IS DISTINCT FROM OLD.{table.key}"
        rowid = ""
        if vendor == "sqlite":
            moved += " OR NEW.rowid IS DISTINCT FROM OLD.rowid"
            rowid = " OR o.rowid = NEW.rowid"
        said = "a row cannot take the place of another"
        yield Rule(table=name, verb="UPDATE", part="moved", when=moved, said=said)
        # With the same value in a group that holds all its parents the new row hangs on what is
        # sealed too, so the rules of change refuse it.
        same = [
            " AND ".join(f"o.{column} = NEW.{column}" for column in columns)
            for columns in table.unique
            if not (table.parents and table.parents.keys() <= {*columns})
        ]
        standing = f"SELECT 1 FROM {name} o WHERE "
        sealed = f" AND ({_sealed(tables, name, 'o')})" if table.is_open else ONCE.get(name, "")
        replaced = f"{table.called} cannot be replaced"
        any_key = " OR ".join([f"o.{table.key} = NEW.{table.key}{rowid}", *same])
        when = f"EXISTS ({standing}({any_key}){sealed})"
        yield Rule(table=name, verb="INSERT", part="replace", when=when, said=replaced)
        if table.is_open and same:
            when = f"{standing}o.{table.key} <> NEW.{table.key} AND ({' OR '.join(same)}){sealed}"
            when = f"EXISTS ({when})"
            yield Rule(table=name, verb="UPDATE", part="displace", when=when, said=replaced)


def trigger_names(vendor: str) -> set[str]:
    """Return the names of all triggers that must stand in a database of this vendor."""
    return {rule.name for rule in _rules(vendor)}


def install(connection: BaseDatabaseWrapper) -> None:
    """Put today's triggers in the place of all of ours that stand: all, or no change."""
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        remove(connection)
        schema = _schema(cursor) if connection.vendor == "postgresql" else ""
        for rule in _rules(connection.vendor):
            if connection.vendor == "postgresql":
                for statement in _postgresql(rule, schema):
                    cursor.execute(statement)
            else:
                cursor.execute(_sqlite(rule))


def _sqlite(rule: Rule) -> str:
    return (
        f"CREATE TRIGGER {rule.name} BEFORE {rule.verb} ON {rule.table} FOR EACH ROW "
        f"WHEN {rule.when} BEGIN SELECT RAISE(ABORT, '{rule.said}'); END"
    )


def _schema(cursor: Any) -> str:
    cursor.execute("SELECT quote_ident(current_schema())")
    return str(cursor.fetchone()[0])


def _search_path(schema: str) -> str:
    # pg_temp named last: a temporary table of the same name must not be asked in place of ours.
    return f"{schema}, pg_temp"


def _postgresql(rule: Rule, schema: str) -> Iterator[str]:
    yield (
        f"CREATE FUNCTION {rule.name}_check() RETURNS trigger LANGUAGE plpgsql "
        f"SET search_path = {_search_path(schema)} AS $${_body(rule)}$$"
    )
    each = "STATEMENT" if rule.verb == "TRUNCATE" else "ROW"
    yield (
        f"CREATE TRIGGER {rule.name} BEFORE {rule.verb} ON {rule.table} "
        f"FOR EACH {each} EXECUTE FUNCTION {rule.name}_check()"
    )


def _body(rule: Rule) -> str:
    # PostgreSQL allows no subquery in WHEN, so the function asks it.
    back = {"DELETE": "OLD", "TRUNCATE": "NULL"}.get(rule.verb, "NEW")
    return (
        f" BEGIN IF {rule.when} THEN RAISE EXCEPTION '{rule.said}' "
        f"USING ERRCODE = 'restrict_violation'; END IF; RETURN {back}; END "
    )


def remove(connection: BaseDatabaseWrapper) -> None:
    """Drop every trigger of ours that the database holds, whatever code made it."""
    with connection.cursor() as cursor:
        cursor.execute(STANDING[connection.vendor])
        for drop, *_ in cursor.fetchall():
            cursor.execute(drop)


def missing(connection: BaseDatabaseWrapper) -> set[str]:
    """Return the names of the triggers that do not stand, stand disabled, or say something else."""
    standing = _standing_postgresql if connection.vendor == "postgresql" else _standing_sqlite
    with connection.cursor() as cursor:
        return trigger_names(connection.vendor) - standing(cursor)


def _standing_sqlite(cursor: Any) -> set[str]:
    cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
    found = dict(cursor.fetchall())
    return {rule.name for rule in _rules("sqlite") if found.get(rule.name) == _sqlite(rule)}


def _standing_postgresql(cursor: Any) -> set[str]:
    """Return the names of the triggers on their table that call their function, whole, always.

    "O" fires in an ordinary session, "A" in every one; "R" and "D" would let a change through.
    """
    path = f"search_path={_search_path(_schema(cursor))}"
    cursor.execute(
        "SELECT t.tgname, c.relname, t.tgtype, p.proname, p.prosrc, p.proconfig "
        "FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
        "JOIN pg_proc p ON p.oid = t.tgfoid JOIN pg_language l ON l.oid = p.prolang "
        "WHERE c.relnamespace = current_schema()::regnamespace "
        "AND p.pronamespace = c.relnamespace AND l.lanname = 'plpgsql' "
        "AND t.tgenabled IN ('O', 'A') AND t.tgqual IS NULL AND t.tgattr::text = ''"
    )
    found = {(name, *rest) for name, *rest, config in cursor.fetchall() if config == [path]}
    return {
        rule.name
        for rule in _rules("postgresql")
        if (rule.name, rule.table, _kind(rule), f"{rule.name}_check", _body(rule)) in found
    }


def _kind(rule: Rule) -> int:
    return BEFORE | EVENT[rule.verb] | (0 if rule.verb == "TRUNCATE" else ROW)


def too_many(connection: BaseDatabaseWrapper) -> set[str]:
    """Return what stands on a frozen table beside our triggers, each named in words.

    A trigger or rule may do another thing in place of a write, and a policy may hide rows; none is
    installed by us, so none belongs there.
    """
    ours = {(rule.table, rule.name) for rule in _rules(connection.vendor)}
    tables = frozen.tables()
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute(
                "SELECT 'trigger', lower(tbl_name), name FROM sqlite_master WHERE type = 'trigger' "
                "UNION ALL SELECT 'trigger', lower(tbl_name), name FROM sqlite_temp_master "
                "WHERE type = 'trigger'"
            )
        else:
            cursor.execute(_EXTRA_POSTGRESQL)
        return {
            f"{what} {name} on {table}"
            for what, table, name in cursor.fetchall()
            if table in tables and (what != "trigger" or (table, name) not in ours)
        }


_EXTRA_POSTGRESQL = """
SELECT 'trigger', c.relname, t.tgname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid
WHERE NOT t.tgisinternal AND c.relnamespace = current_schema()::regnamespace
UNION ALL SELECT 'rule', tablename, rulename FROM pg_rules WHERE schemaname = current_schema()
UNION ALL SELECT 'policy', tablename, policyname FROM pg_policies
WHERE schemaname = current_schema()
UNION ALL SELECT 'row security', relname, '' FROM pg_class
WHERE relrowsecurity AND relnamespace = current_schema()::regnamespace
"""


def faults(connection: BaseDatabaseWrapper) -> list[str]:
    """Return what is wrong with the triggers, in sentences; none where all is as it must be."""
    found = []
    if lacking := missing(connection):
        found.append(
            f"{len(lacking)} triggers that freeze sealed records do not stand, such as "
            f"{min(lacking)}; run: manage.py migrate"
        )
    if more := too_many(connection):
        found.append(
            f"{len(more)} triggers, rules or policies are too many on the frozen tables, such as "
            f"{min(more)}; look at who put them there, and take them off"
        )
    return found


def require(connection: BaseDatabaseWrapper) -> None:
    """Return if every trigger stands and no other, as it must before anything is served.

    Raises: ImproperlyConfigured naming how many do not stand, or are too many.
    """
    if found := faults(connection):
        raise ImproperlyConfigured("; ".join(found))


def remove_before_migrate(using: str = DEFAULT_DB_ALIAS, **_: Any) -> None:
    """Take SQLite's triggers off: it refuses to rename a table that a trigger speaks of."""
    connection = connections[using]
    if connection.vendor == "sqlite":
        remove(connection)


@contextmanager
def kept(connection: BaseDatabaseWrapper) -> Iterator[None]:
    """Put SQLite's triggers back as they stood if those of today do not stand after the migrate.

    It failed, or went to a migration of old, whose tables today's triggers do not fit.
    """
    if connection.vendor != "sqlite":
        yield
        return
    with connection.cursor() as cursor:
        cursor.execute(STANDING["sqlite"])
        stood = [(table, statement) for _, table, statement in cursor.fetchall()]
    try:
        yield
    except BaseException:
        # Django leaves the transaction open where its check of foreign keys fails.
        connection.close()
        connection.connect()
        raise
    finally:
        if missing(connection):
            _put_back(connection, stood)


def _put_back(connection: BaseDatabaseWrapper, stood: list[tuple[str, str]]) -> None:
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        remove(connection)
        tables = connection.introspection.table_names(cursor)
        for table, statement in stood:
            if table in tables:
                cursor.execute(statement)


def install_after_migrate(using: str = DEFAULT_DB_ALIAS, **_: Any) -> None:
    """Install the triggers once the tables stand (a partial migrate may not have them yet)."""
    connection = connections[using]
    if frozen.tables().keys() <= set(connection.introspection.table_names()):
        install(connection)


def check_installed(
    app_configs: Any = None, databases: Sequence[str] | None = None, **_: Any
) -> list[CheckMessage]:
    """Report the triggers that do not stand; a database without our tables has none to miss.

    Args: databases; where none is named, the default one is looked at if it can be reached, for a
    project is checked before its database is made, too.
    """
    if databases:
        return [message for alias in databases for message in _messages(alias)]
    try:
        return _messages(DEFAULT_DB_ALIAS)
    except OperationalError:
        return []


def _messages(alias: str) -> list[CheckMessage]:
    connection = connections[alias]
    if RECORD not in connection.introspection.table_names():
        return []
    app = apps.get_app_config("records")
    return [
        Error(f'In "{alias}": {one}.', obj=app, id="records.E001") for one in faults(connection)
    ]
