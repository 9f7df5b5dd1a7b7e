"""Fills a database of the demo season up to so many records, by bulk SQL.

    DATABASE_URL=… DEBUG=1 python -m tests.bench.million 1000000

Nine of ten are signed; the season's shelf stands for 40 customers and 200 fields. The seals carry a
short text, since no list reads it: such a log does not verify, and the database is thrown away.
Beside it stands a plain table of as many rows, which holds a line of the book ready made: what the
floor of the bench reads.
"""

from __future__ import annotations

import os
import sys
from typing import Any

SHELF = {"catalog_customer": 40, "catalog_field": 200}
NAME = {
    "sqlite": "'{0} ' || printf('%04d', {n})",
    "postgresql": "'{0} ' || to_char({n}, 'FM0000')",
}
UUID_OF = {
    # Spread as random ids are, and the same every time.
    "sqlite": "printf('%08x', ({n} * 2654435761) % 4294967296) || printf('{tag}%023x', {n})",
    "postgresql": "(lpad(to_hex((({n})::bigint * 2654435761) % 4294967296), 8, '0') || '{tag}' || "
    "lpad(to_hex({n}), 23, '0'))::uuid",
}
SERIES = {
    "sqlite": "(WITH RECURSIVE s(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM s WHERE n < {count}) "
    "SELECT n FROM s) s",
    "postgresql": "generate_series(1, {count}) AS s(n)",
}
AT = {
    # A million quarters of an hour: 28 years of work, the last of them in June 2026.
    "sqlite": "strftime('%Y-%m-%d %H:%M:%S', '2026-06-01', '-' || (n * 15) || ' minutes')",
    "postgresql": "timestamptz '2026-06-01 00:00+00' - n * interval '15 minutes'",
}
PLAIN = """
CREATE TABLE bench_plain (
    id {uuid} PRIMARY KEY, state varchar(10) NOT NULL, revision integer NOT NULL, number integer,
    customer {uuid}, customer_name varchar(200), field {uuid}, field_name varchar(200),
    crop varchar(200), started_at {instant}, finished_at {instant}, time_zone varchar(60),
    products varchar(400), amends {uuid}, superseded_by integer, created_at {instant} NOT NULL
)
"""


def copied(
    cursor: Any,
    table: str,
    count: int,
    vendor: str,
    changed: dict[str, str],
    source: str,
    extra: str = "",
) -> None:
    """Insert copies of one row of a table; `changed` gives the columns that differ, as SQL of n."""
    cursor.execute(f"SELECT * FROM {table} LIMIT 0")
    names = [column[0] for column in cursor.description]
    taken = ", ".join(changed.get(name, f"t.{name}") for name in names)
    series = SERIES[vendor].format(count=count)
    cursor.execute(
        f"INSERT INTO {table} ({', '.join(names)}) SELECT {taken} "
        f"FROM {series}, (SELECT * FROM {table} WHERE id = {source}) t {extra}"
    )


def fill(count: int) -> None:
    from django.db import connection, transaction

    from logbook.catalog.models import Customer, Field
    from logbook.records.models import ApplicationRecord, Seal, SealedName
    from logbook.records.sealing import freeze

    vendor = connection.vendor
    template = ApplicationRecord.objects.filter(
        signed_at__isnull=False, amends__isnull=True, planting__isnull=False
    ).order_by("book_at")[0]
    shift = Seal.objects.within(template.business_id).count() + 1000

    def uuid_of(tag: str, n: str = "n") -> str:
        return UUID_OF[vendor].format(tag=tag, n=n)

    def literal(pk: Any) -> str:
        return f"'{pk.hex if vendor == 'sqlite' else pk}'"

    customer, field = uuid_of("c", "(n % 40 + 1)"), uuid_of("f", "(n % 200 + 1)")
    at = AT[vendor]

    def sealed(what: str, count: int) -> str:
        named = NAME[vendor].format(what, n=f"(n % {count} + 1)")
        return f"CASE WHEN n % 10 = 0 THEN NULL ELSE {named} END"

    signed = f"CASE WHEN n % 10 = 0 THEN NULL ELSE {at} END"
    with connection.cursor() as cursor:
        if vendor == "sqlite":
            # Random ids hit every page of an index; all of them have to stay in memory.
            cursor.execute("PRAGMA cache_size = -1500000")
            cursor.execute("PRAGMA synchronous = OFF")
    with transaction.atomic(), connection.cursor() as cursor:
        freeze.remove(connection)
        name = NAME[vendor]
        copied(
            cursor,
            "catalog_customer",
            40,
            vendor,
            {"id": uuid_of("c"), "name": name.format("Customer", n="n")},
            literal(template.customer_id),
        )
        copied(
            cursor,
            "catalog_field",
            200,
            vendor,
            {"id": uuid_of("f"), "name": name.format("Field", n="n"), "customer_id": customer},
            literal(template.field_id),
        )
        copied(
            cursor,
            "records_applicationrecord",
            count,
            vendor,
            {
                "id": uuid_of("a"),
                "customer_id": customer,
                "field_id": field,
                "book_at": at,
                "started_at": at,
                "finished_at": at,
                "created_at": at,
                "signed_at": signed,
                "sealed_customer": sealed("Customer", 40),
                "sealed_field": sealed("Field", 200),
            },
            literal(template.pk),
        )
        seal = template.seal
        copied(
            cursor,
            "records_seal",
            count,
            vendor,
            {
                "id": uuid_of("b"),
                "record_id": uuid_of("a"),
                "number": f"n + {shift}",
                "text": "'{}'",
                "previous": f"'-' || n || '{vendor}'",
                "sealed_at": at,
                "breaches": "CASE WHEN n % 500 = 3 THEN 1 ELSE 0 END",
                "mismatches": "CASE WHEN n % 100 = 3 THEN 1 ELSE 0 END",
                "missing": "CASE WHEN n % 500 = 53 THEN 1 ELSE 0 END",
                "unexplained": "CASE WHEN n % 100 = 3 THEN 1 ELSE 0 END",
                "findings": "CASE WHEN n % 50 = 3 THEN 2 ELSE 0 END",
            },
            literal(seal.pk),
            "WHERE n % 10 <> 0",
        )
        lines = list(template.products.values_list("pk", flat=True))[:2]
        for place, line in enumerate(lines):
            copied(
                cursor,
                "records_productline",
                count,
                vendor,
                {"id": f"{(place + 1) * 10_000_000} + n", "record_id": uuid_of("a")},
                str(line),
            )
        for model in (Customer, Field):
            SealedName.objects.bulk_create(
                SealedName(business_id=template.business_id, of=row.pk, name=row.name)
                for row in model.objects.filter(name__startswith=model.__name__)
            )
        is_text = vendor == "sqlite"
        cursor.execute(
            PLAIN.format(
                uuid="char(32)" if is_text else "uuid",
                instant="datetime" if is_text else "timestamptz",
            )
        )
        cursor.execute(
            "INSERT INTO bench_plain SELECT r.id, CASE WHEN r.signed_at IS NULL THEN 'draft' ELSE "
            "'signed' END, r.revision, s.number, c.id, c.name, f.id, f.name, p.crop, r.started_at, "
            "r.finished_at, r.time_zone, 'Leafkill, Wetter', NULL, NULL, r.created_at "
            "FROM records_applicationrecord r JOIN catalog_customer c ON c.id = r.customer_id "
            "JOIN catalog_field f ON f.id = r.field_id LEFT JOIN records_seal s ON s.record_id = "
            "r.id LEFT JOIN catalog_planting p ON p.id = r.planting_id"
        )
        cursor.execute("CREATE INDEX bench_plain_order ON bench_plain (created_at DESC, id DESC)")
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
        freeze.install(connection)


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "logbook.config.settings")
    import django
    from django.core.management import call_command

    django.setup()
    call_command("demo", "--no-serve")
    fill(int(sys.argv[1]))
