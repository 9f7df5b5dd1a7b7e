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
earlier code had other triggers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.core.checks import CheckMessage, Error
from django.core.exceptions import ImproperlyConfigured
from django.db import DEFAULT_DB_ALIAS, OperationalError, connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

CHECK_TAG = "freeze"
"""The tag of the system check, by which `migrate` leaves it out."""

RECORD = "records_applicationrecord"
SEAL = "records_seal"
CHAIN = "records_chain"
LOAD = "records_load"
LOAD_PART = "records_loadpart"
ENTRY = "records_dutyentry"
HOLD = "records_legalhold"
PURGE = "records_purge"
GRANT = "accounts_grant"
JOURNAL = "accounts_journal"
CHILDREN = (
    "records_crewmember",
    "records_productline",
    "records_loaduse",
    "records_weatherreading",
    "records_explanation",
)
APPEND_ONLY = {
    "records_lawtext": "the text of the law as sealed",
    "accounts_grantedcustomer": "what a grant opens",
    "accounts_grantedfield": "what a grant opens",
    "accounts_visit": "what a guest looked at",
    "accounts_journalentry": "an entry of the journal",
    "accounts_shelfchange": "the history of the shelf",
}
"""Tables into which rows are put and nothing else is done, and what a row of each is called."""
TWICE = {
    "accounts_grantedcustomer": "o.grant_id = NEW.grant_id AND o.customer_id = NEW.customer_id",
    "accounts_grantedfield": "o.grant_id = NEW.grant_id AND o.field_id = NEW.field_id",
    "accounts_journalentry": "o.business_id = NEW.business_id "
    "AND (o.number = NEW.number OR o.previous = NEW.previous)",
}
"""Which other row, beside one of the same id, the unique columns of a table let be replaced."""
ONCE_MORE = {
    # The same text may come again: two signings at once keep it both.
    "records_lawtext": " AND (o.digest <> NEW.digest OR o.text <> NEW.text)",
}
"""Which rows of the same key are not in the way."""
KEY = {"records_chain": "business_id", JOURNAL: "business_id", "records_lawtext": "digest"}
"""The primary key, where it is not `id`."""
TABLES = (
    *(RECORD, SEAL, CHAIN, LOAD, LOAD_PART, ENTRY, HOLD, PURGE, GRANT, JOURNAL),
    *(*CHILDREN, *APPEND_ONLY),
)
SEAL_KEEPS = (
    *("id", "business_id", "created_at", "record_id", "number", "leaf", "previous", "link"),
    *("sealed_at", "signer_id", "breaches", "findings", "mismatches", "missing", "unexplained"),
    "keep_until",
)
"""The columns of a seal that even a purge leaves as they are."""
HOLD_KEEPS = ("id", "business_id", "created_at", "seal_id", "reason", "set_at", "set_by_id")
"""The columns of a hold that its lifting leaves as they are."""
GRANT_KEEPS = (
    *("id", "business_id", "created_at", "user_id", "role", "every_customer", "day_from"),
    *("day_to", "reason", "begins_at", "ends_at", "given_by_id"),
)
"""The columns of a grant that its withdrawal leaves as they are."""

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


def _held(seal_id: str) -> str:
    return (
        f"EXISTS (SELECT 1 FROM {HOLD} h WHERE h.business_id = NEW.business_id "
        f"AND h.lifted_at IS NULL AND (h.seal_id IS NULL OR h.seal_id = {seal_id}))"
    )


def _not_a_purge() -> str:
    """Return the condition under which an UPDATE of a seal is anything but its one purge."""
    return (
        "OLD.purged_at IS NOT NULL OR NEW.purged_at IS NULL OR NEW.text <> '' "
        f"OR {_changed(SEAL_KEEPS)} OR {_held('OLD.id')} "
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
    yield from _about_records()
    yield from _about_the_chain()
    yield from _about_duties(vendor)
    yield from _about_grants()
    yield from _about_what_is_only_added()
    yield from _about_replacing(vendor)
    if vendor == "postgresql":
        for table in TABLES:
            yield Rule(table=table, verb="TRUNCATE", when="TRUE", said=f"{table} holds sealed rows")


def _about_records() -> Iterator[Rule]:
    yield Rule(
        table=RECORD,
        verb="UPDATE",
        when="OLD.signed_at IS NOT NULL",
        said="a sealed record cannot be changed",
    )
    yield Rule(
        table=RECORD,
        verb="DELETE",
        when=f"OLD.signed_at IS NOT NULL AND NOT {_purged('OLD.id')}",
        said="a sealed record cannot be deleted",
    )
    for table in CHILDREN:
        old, new = _signed("OLD.record_id"), _signed("NEW.record_id")
        said = "what belongs to a sealed record cannot be changed"
        let_go = _purged("OLD.record_id")
        yield Rule(table=table, verb="INSERT", when=new, said=said)
        yield Rule(table=table, verb="UPDATE", when=f"{old} OR {new}", said=said)
        yield Rule(table=table, verb="DELETE", when=f"{old} AND NOT {let_go}", said=said)
    said = "a load of a sealed record cannot be changed"
    yield Rule(table=LOAD, verb="UPDATE", when=_load_signed("OLD.id"), said=said)
    yield Rule(table=LOAD, verb="DELETE", when=_load_signed("OLD.id"), said=said)
    old, new = _load_signed("OLD.load_id"), _load_signed("NEW.load_id")
    yield Rule(table=LOAD_PART, verb="INSERT", when=new, said=said)
    yield Rule(table=LOAD_PART, verb="UPDATE", when=f"{old} OR {new}", said=said)
    yield Rule(table=LOAD_PART, verb="DELETE", when=old, said=said)


def _about_the_chain() -> Iterator[Rule]:
    yield Rule(table=SEAL, verb="UPDATE", when=_not_a_purge(), said="a seal cannot be changed")
    yield Rule(table=SEAL, verb="DELETE", when="1 = 1", said="a seal cannot be deleted")
    yield from _only_grows(CHAIN, SEAL, "the chain of seals", "seal")
    yield from _only_grows(JOURNAL, "accounts_journalentry", "the journal", "entry")


def _only_grows(table: str, entries: str, chain: str, entry: str) -> Iterator[Rule]:
    yield Rule(table=table, verb="DELETE", when="1 = 1", said=f"{chain} cannot be deleted")
    yield Rule(
        table=table,
        verb="UPDATE",
        when="NEW.last_number <> OLD.last_number + 1 OR NOT EXISTS ("
        f"SELECT 1 FROM {entries} s WHERE s.business_id = NEW.business_id "
        "AND s.number = NEW.last_number AND s.link = NEW.last_link)",
        said=f"{chain} only grows, one {entry} at a time",
    )


def _about_duties(vendor: str) -> Iterator[Rule]:
    said = "an entry cannot be changed; strike it by a further one"
    yield Rule(table=ENTRY, verb="UPDATE", when="1 = 1", said=said)
    yield Rule(table=ENTRY, verb="DELETE", when=f"NOT {_purged('OLD.record_id')}", said=said)
    said = "a hold can only be lifted, once"
    lifts = f"OLD.lifted_at IS NOT NULL OR NEW.lifted_at IS NULL OR {_changed(HOLD_KEEPS)}"
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


def _about_what_is_only_added() -> Iterator[Rule]:
    for table, row in APPEND_ONLY.items():
        for verb in ("UPDATE", "DELETE"):
            yield Rule(table=table, verb=verb, when="1 = 1", said=f"{row} cannot be changed")


def _about_grants() -> Iterator[Rule]:
    said = "a grant can only be withdrawn, once"
    withdrawn = "OLD.withdrawn_at IS NOT NULL OR NEW.withdrawn_at IS NULL"
    withdrawn += f" OR {_changed(GRANT_KEEPS)}"
    yield Rule(table=GRANT, verb="UPDATE", when=withdrawn, said=said)
    yield Rule(table=GRANT, verb="DELETE", when="1 = 1", said=said)


def _about_replacing(vendor: str) -> Iterator[Rule]:
    """Yield the rules against OR REPLACE, which on SQLite removes rows without a DELETE trigger.

    A row is replaced by another with the same primary key, the same value of a unique column, or,
    on SQLite, the same rowid. So no row changes its key, and none is written over a sealed one.
    """
    for table in TABLES:
        key = KEY.get(table, "id")
        moved = f"NEW.{key} IS DISTINCT FROM OLD.{key}"
        if vendor == "sqlite":
            moved += " OR NEW.rowid IS DISTINCT FROM OLD.rowid"
        yield Rule(
            table=table,
            verb="UPDATE",
            part="moved",
            when=moved,
            said="a row cannot take the place of another",
        )

    def over(table: str, same: str, which: str, said: str) -> Rule:
        key = KEY.get(table, "id")
        rowid = " OR o.rowid = NEW.rowid" if vendor == "sqlite" else ""
        same = f"(o.{key} = NEW.{key}{rowid}{same})"
        standing = f"EXISTS (SELECT 1 FROM {table} o WHERE {same}{which})"
        return Rule(table=table, verb="INSERT", part="replace", when=standing, said=said)

    same_seal = " OR o.record_id = NEW.record_id OR (o.business_id = NEW.business_id"
    same_seal += " AND (o.number = NEW.number OR o.previous = NEW.previous))"
    yield over(SEAL, same_seal, "", "a seal cannot be replaced")
    yield over(CHAIN, "", "", "the chain of seals cannot be replaced")
    yield over(JOURNAL, "", "", "the journal cannot be replaced")
    amends = " OR o.amends_id = NEW.amends_id"
    sealed = " AND o.signed_at IS NOT NULL"
    yield over(RECORD, amends, sealed, "a sealed record cannot be replaced")
    yield Rule(
        table=RECORD,
        verb="UPDATE",
        part="amends",
        when=f"EXISTS (SELECT 1 FROM {RECORD} o WHERE o.id <> NEW.id "
        "AND o.amends_id = NEW.amends_id AND o.signed_at IS NOT NULL)",
        said="a sealed amendment cannot be replaced",
    )
    sealed = f" AND {_load_signed('o.id')}"
    yield over(LOAD, "", sealed, "a load of a sealed record cannot be replaced")
    for table in (*CHILDREN, LOAD_PART):
        # Their unique columns begin with the parent's id, of which the rules of change speak.
        parent = _load_signed("o.load_id") if table == LOAD_PART else _signed("o.record_id")
        said = "what belongs to a sealed record cannot be replaced"
        yield over(table, "", f" AND {parent}", said)
    strikes = " OR o.strikes_id = NEW.strikes_id"
    yield over(ENTRY, strikes, "", "an entry cannot be replaced")
    yield over(HOLD, "", "", "a hold cannot be replaced")
    yield over(PURGE, " OR o.seal_id = NEW.seal_id", "", "a purge cannot be replaced")
    yield over(GRANT, "", "", "a grant cannot be replaced")
    for table, row in APPEND_ONLY.items():
        twice = f" OR ({TWICE[table]})" if table in TWICE else ""
        yield over(table, twice, ONCE_MORE.get(table, ""), f"{row} cannot be replaced")


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
            if table in TABLES and (what != "trigger" or (table, name) not in ours)
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
    if set(TABLES) <= set(connection.introspection.table_names()):
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
