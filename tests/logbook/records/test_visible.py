"""Which records somebody from outside sees: sealed ones, inside the scope, by every list."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.utils import timezone

from logbook.accounts.grants import give_grant, guest_for
from logbook.accounts.rights import Actor, Role
from logbook.errors.exceptions import NotAllowed, NotThere
from logbook.records.exchange.export import Selection, csv_pieces
from logbook.records.reading import deadlines, keeping, selectors
from logbook.records.reading.audit import fields_worked, open_among, sealed_work
from logbook.records.reading.examine import examine
from logbook.records.reading.totals import totals
from tests import factories as make


def guest(owner: Any, **scope: Any) -> Actor:
    """Return an inspector whom the owner let in to this scope."""
    user = make.UserFactory()
    now = timezone.now()
    give_grant(
        actor=owner,
        email=user.email,
        role=Role.INSPECTOR,
        reason="A complaint about drift",
        ends_on=(now + timedelta(days=20)).date(),
        now=now,
        **scope,
    )
    actor = guest_for(user, now=now)
    assert actor is not None
    return actor


def seen(actor: Actor) -> tuple[bool, ...]:
    """Return whether each list shows a record."""
    return (
        selectors.book(actor=actor).exists(),
        selectors.log(actor=actor).exists(),
        bool(selectors.season(actor=actor, year=2026)),
        sealed_work(actor=actor, year=2026).exists(),
        bool(fields_worked(actor=actor)),
    )


# The clean draft was sprayed on 12 June 2026 from 09:30 to 12:00 in Chicago.
@pytest.mark.parametrize(
    ("days", "inside"),
    [
        ({}, True),
        ({"day_from": date(2026, 6, 12), "day_to": date(2026, 6, 12)}, True),
        ({"day_from": date(2026, 6, 13)}, False),
        ({"day_to": date(2026, 6, 11)}, False),
    ],
)
def test_a_record_is_in_every_list_or_in_none(
    owner: Any, signed: Any, yard: Any, days: dict[str, Any], inside: bool
) -> None:
    actor = guest(owner, customer_ids=[yard.customer.pk], **days)
    assert set(seen(actor)) == {inside}
    if inside:
        assert selectors.seal_of(actor=actor, record_id=signed.pk).record_id == signed.pk
    else:
        with pytest.raises(NotThere):
            selectors.seal_of(actor=actor, record_id=signed.pk)
        with pytest.raises(NotThere):
            selectors.existing(actor=actor, record_id=signed.pk)
    assert open_among(actor=actor, record_ids=[signed.pk]) == ({signed.pk} if inside else set())


def test_a_scope_of_fields_leaves_the_other_fields_out(owner: Any, signed: Any, yard: Any) -> None:
    other = make.FieldFactory(business=owner.business, customer=yard.customer)
    assert all(seen(guest(owner, customer_ids=[yard.customer.pk], field_ids=[yard.field.pk])))
    assert not any(seen(guest(owner, customer_ids=[yard.customer.pk], field_ids=[other.pk])))


def test_another_customer_is_out_of_scope_and_every_customer_is_in(owner: Any, signed: Any) -> None:
    other = make.CustomerFactory(business=owner.business)
    assert not any(seen(guest(owner, customer_ids=[other.pk])))
    assert all(seen(guest(owner, every_customer=True)))


def test_a_draft_is_never_seen_from_outside(owner: Any, clean_draft: Any, yard: Any) -> None:
    actor = guest(owner, every_customer=True)
    assert not any(seen(actor))
    assert selectors.book(actor=owner).exists()
    with pytest.raises(NotThere):
        selectors.existing(actor=actor, record_id=clean_draft.pk)


def test_the_other_tenant_stays_apart(owner: Any, stranger: Any, signed: Any) -> None:
    assert not any(seen(guest(stranger, every_customer=True)))


def test_what_is_for_members_is_refused_from_outside(owner: Any, signed: Any, now: Any) -> None:
    actor = guest(owner, every_customer=True)
    day = date(2026, 6, 12)
    for refused in (
        lambda: examine(actor=actor, record_id=signed.pk),
        lambda: deadlines.open_sheets(actor=actor),
        lambda: keeping.kept_records(actor=actor, today=day, may_go=False),
        lambda: totals(actor=actor, day_from=day, day_to=day),
        lambda: list(csv_pieces(actor=actor, selection=Selection())),
    ):
        with pytest.raises(NotAllowed):
            refused()


def test_a_grant_costs_the_same_queries_however_many_records_there_are(
    owner: Any, signed: Any, django_assert_num_queries: Any
) -> None:
    actor = guest(owner, every_customer=True)
    actor.grant.scope  # noqa: B018  (its customers and fields are fetched with the actor)
    with django_assert_num_queries(1):
        list(selectors.log(actor=actor))
