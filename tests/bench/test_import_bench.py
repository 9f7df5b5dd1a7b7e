"""Cost of bringing in 100,000 customers, as a ratio to `bulk_create` of the same rows.

What is timed is the deed as it runs behind the button: read the kept CSV, check every row again,
write all in one transaction. The floor is making the same rows and `bulk_create`; `bulk_create` of
rows already made is printed beside it: against that alone the import costs about three times as
much, for reading and checking a row takes twice what storing it does. Processor time, because the
machine is shared. Run with `pytest -m bench tests/bench -s`.
"""

from __future__ import annotations

import time

import pytest
from django.utils import timezone

from logbook.catalog.models import Customer
from logbook.catalog.sheets import jobs

ROWS = 100_000
MOST = 2.0


def cells(number: int) -> tuple[str, str, str, str]:
    return (
        f"Customer {number}",
        f"{number} Section Road",
        f"555 {number}",
        f"office{number}@farm.example",
    )


@pytest.mark.bench
@pytest.mark.django_db
def test_an_import_costs_little_more_than_its_rows(owner):
    names = ("name", "address", "phone", "email")
    raw = "\n".join([",".join(names), *(",".join(cells(n)) for n in range(ROWS))]).encode()
    file = jobs.keep_file(
        business=owner.business,
        user=owner.user,
        kind="customers",
        name="customers.csv",
        content=raw,
        options={},
        now=timezone.now(),
    )
    start = time.process_time()
    for _ in jobs.look_at(file=file):
        pass
    looked = time.process_time() - start
    start = time.process_time()
    for _ in jobs.write(file=file, change=False):
        pass
    ours = time.process_time() - start
    assert Customer.objects.within(owner.business).count() == ROWS
    Customer.objects.within(owner.business).delete()

    business = file.business
    start = time.process_time()
    rows = [
        Customer(business=business, **dict(zip(names, cells(n), strict=True))) for n in range(ROWS)
    ]
    made = time.process_time() - start
    start = time.process_time()
    Customer.objects.bulk_create(rows, batch_size=jobs.STEP)
    floor = time.process_time() - start
    print(
        f"\nimport of {ROWS:,} customers: look {looked:.1f} s, write {ours:.1f} s; rows made "
        f"{made:.1f} s, bulk_create {floor:.1f} s; write / (made + bulk_create) "
        f"{ours / (made + floor):.2f}, write / bulk_create alone {ours / floor:.2f}"
    )
    assert ours / (made + floor) < MOST
