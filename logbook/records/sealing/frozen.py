"""Which tables and columns are frozen, read from the models: all that FREE does not name.

So a new column of a seal, or a new table whose rows point, over however many foreign keys, to what
is sealed, is frozen before anybody thinks of it. `freeze` makes the triggers of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db.models import Model, UniqueConstraint

RECORD = "records_applicationrecord"
SEAL = "records_seal"
CHAIN = "records_chain"
LOAD = "records_load"
ENTRY = "records_dutyentry"
HOLD = "records_legalhold"
PURGE = "records_purge"
LAW = "records_lawtext"
GRANT = "accounts_grant"
JOURNAL = "accounts_journal"
JOURNAL_ENTRY = "accounts_journalentry"

OPEN = {RECORD: "a sealed record", LOAD: "a load of a sealed record"}
"""What is open until a record is signed, and what a row that is not open is called."""
ADDED = {
    LAW: "the text of the law as sealed",
    JOURNAL_ENTRY: "an entry of the journal",
    "accounts_shelfchange": "the history of the shelf",
}
"""Into these rows are put, and nothing else is done."""
RULED = {
    **{SEAL: "a seal", CHAIN: "the chain of seals", JOURNAL: "the journal", ENTRY: "an entry"},
    **{HOLD: "a hold", PURGE: "a purge", GRANT: "a grant"},
}
"""For each of these `freeze` has rules of its own."""

FREE = {
    "records_duesheet": "it is computed from the record and the law, anew when the law is amended",
    "records_loaduse.load_id": "a load may serve further fields after one of them is signed",
    "records_seal.text": "a purge takes it away",
    "records_seal.purged_at": "a purge writes it",
    "records_chain.last_number": "it moves on with each seal, by a rule of its own",
    "records_chain.last_link": "it moves on with each seal, by a rule of its own",
    "records_legalhold.lifted_at": "lifting the hold writes it, once",
    "records_legalhold.lifted_by_id": "lifting the hold writes it, once",
    "records_legalhold.lift_reason": "lifting the hold writes it, once",
    "accounts_grant.withdrawn_at": "withdrawing the grant writes it, once",
    "accounts_grant.withdrawn_by_id": "withdrawing the grant writes it, once",
    "accounts_journal.last_number": "it moves on with each entry, by a rule of its own",
    "accounts_journal.last_link": "it moves on with each entry, by a rule of its own",
    "accounts_journal.last_at": "it moves on with each entry",
}
"""What is not frozen, and why: a table, a column that may change, or a foreign key through which
a row does not hang on another.
"""


@dataclass(frozen=True, kw_only=True)
class Table:
    """A table that holds frozen rows; its columns are quoted for SQL."""

    name: str
    called: str  # what a frozen row of it is called in a refusal
    key: str
    kept: tuple[str, ...]  # the columns that are not free
    parents: Mapping[str, str]  # by foreign key the table of the row on which one of these hangs
    unique: tuple[tuple[str, ...], ...]  # groups of columns, beside the key

    @property
    def is_open(self) -> bool:
        """Whether its rows may change until a record is signed."""
        return self.name in OPEN or bool(self.parents)


def tables() -> dict[str, Table]:
    """Return the tables that hold frozen rows, by name, as today's models have them."""
    models = {model._meta.db_table: model for model in own_tables()}
    links = {name: dict(_links(model)) for name, model in models.items() if name not in FREE}
    added = ADDED | _hanging_on(ADDED | RULED, links)
    changing = OPEN | _hanging_on(OPEN, {n: up for n, up in links.items() if n not in added})
    return {
        name: Table(
            name=name,
            called=called,
            key=_quoted(models[name]._meta.pk),
            kept=tuple(_quoted(one) for one in _kept(models[name])),
            parents={
                column: parent
                for column, parent in links[name].items()
                if name in changing.keys() - OPEN.keys() and parent in changing
            },
            unique=tuple(_unique(models[name])),
        )
        for name, called in {**changing, **RULED, **added}.items()
    }


def own_tables() -> list[type[Model]]:
    """Return every model with a table that is its own and made by Django."""
    every = apps.get_models(include_auto_created=True)
    return [one for one in every if one._meta.managed and not one._meta.proxy]


def _hanging_on(tops: Mapping[str, str], links: Mapping[str, dict[str, str]]) -> dict[str, str]:
    """Return what a row is called of each table whose rows hang on those of `tops`, however far."""
    found = dict(tops)
    named = {**OPEN, **ADDED, **RULED}
    while more := {
        name: found[parent]
        for name, parents in links.items()
        for parent in parents.values()
        if parent in found and name not in found and name not in named
    }:
        found |= more
    return {
        name: f"what belongs to {called}" for name, called in found.items() if name not in named
    }


def _kept(model: type[Model]) -> Iterator[Any]:
    """Yield the fields of the columns that are not free; a generated one follows from the others,
    and a trigger of PostgreSQL cannot read it.
    """
    for field in model._meta.concrete_fields:
        if f"{model._meta.db_table}.{field.column}" not in FREE and not field.generated:
            yield field


def _links(model: type[Model]) -> Iterator[tuple[str, str]]:
    for field in _kept(model):
        if field.is_relation:
            yield _quoted(field), field.related_model._meta.db_table


def _unique(model: type[Model]) -> Iterator[tuple[str, ...]]:
    meta = model._meta
    yield from (
        (_quoted(one),) for one in meta.concrete_fields if one.unique and not one.primary_key
    )
    groups = [one.fields for one in meta.constraints if isinstance(one, UniqueConstraint)]
    for names in (*meta.unique_together, *groups):
        yield tuple(_quoted(meta.get_field(name)) for name in names)


def _quoted(field: Any) -> str:
    return f'"{field.column}"'
