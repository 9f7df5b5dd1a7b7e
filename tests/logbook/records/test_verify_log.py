"""`manage.py verify_log`: what it says of a log, and what it finds when someone goes round."""

from __future__ import annotations

import io
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection

from logbook.records import freeze
from logbook.records.models import Chain, Seal
from logbook.records.services.draft import begin_draft, save_draft
from logbook.records.services.sign import sign
from tests import factories as make
from tests.conftest import NOW


@pytest.fixture
def log(owner: Any, yard: Any, entry: dict[str, Any], confirmed: Callable[[Any], Any]) -> list[Any]:
    """Four sealed records, each of a field of its own."""
    for _ in range(4):
        field = make.FieldFactory(business=owner.business, customer=yard.customer)
        planting = make.PlantingFactory(field=field)
        draft = begin_draft(actor=owner, record_id=uuid.uuid4())
        data = {**entry, "field": field.pk, "planting": planting.pk}
        draft = save_draft(actor=owner, record_id=draft.pk, revision=draft.revision, data=data)
        sign(
            actor=owner,
            record_id=draft.pk,
            revision=draft.revision,
            explanations={},
            confirmation=confirmed(owner),
            now=NOW,
        )
    return list(Seal.objects.order_by("number"))


def run(**options: Any) -> tuple[str, str, CommandError | None]:
    """Return what the command wrote, what it complained of, and how it ended."""
    out, err, end = io.StringIO(), io.StringIO(), None
    try:
        call_command("verify_log", stdout=out, stderr=err, **options)
    except CommandError as refusal:
        end = refusal
    return out.getvalue(), err.getvalue(), end


def by_hand(*statements: tuple[str, list[Any]]) -> None:
    """Go round the application: take the triggers off, run plain SQL, put them back."""
    connection.check_constraints()  # PostgreSQL drops no trigger while a deferred check waits.
    freeze.remove(connection)
    with connection.cursor() as cursor:
        for statement, values in statements:
            cursor.execute(statement, values)
    connection.check_constraints()
    freeze.install(connection)


def sql_id(row: Any) -> Any:
    """Return the id of a row as the database's own SQL writes it."""
    return row.pk if connection.vendor == "postgresql" else row.pk.hex


def test_an_untouched_log_holds(log: list[Any], business: Any) -> None:
    out, err, end = run()
    assert end is None
    assert err == ""
    assert f"all 4 entries hold; the log ends in 4:{log[-1].link}" in out
    assert business.name in out


def test_a_business_without_a_seal_holds(business: Any) -> None:
    out, _, end = run()
    assert end is None
    assert "all 0 entries hold" in out


def test_a_changed_text_is_named_and_the_exit_code_is_1(log: list[Any]) -> None:
    changed = log[1].text.replace("7.9", "6.9")
    assert changed != log[1].text
    by_hand(
        ("UPDATE records_seal SET text = %s WHERE number = 2", [changed]),
        ("UPDATE records_seal SET text = %s WHERE number = 3", [changed]),
    )
    _, err, end = run()
    assert "no. 2 is broken: its text was changed after sealing; 1 entries before it hold" in err
    assert end is not None
    assert end.returncode == 1
    assert str(end) == "1 of 1 logs broken, 0 triggers missing."


def test_a_text_changed_with_its_leaf_breaks_the_link(log: list[Any]) -> None:
    from logbook.records.seals import leaf_hash

    changed = log[1].text.replace("7.9", "6.9")
    by_hand(
        (
            "UPDATE records_seal SET text = %s, leaf = %s WHERE number = 2",
            [changed, leaf_hash(changed)],
        )
    )
    _, err, _ = run()
    assert "no. 2 is broken: its link does not match its text and the seal before it" in err


def test_a_text_changed_with_leaf_and_link_breaks_the_next_entry(log: list[Any]) -> None:
    from logbook.records.seals import leaf_hash, link_hash

    changed = log[1].text.replace("7.9", "6.9")
    leaf = leaf_hash(changed)
    by_hand(
        (
            "UPDATE records_seal SET text = %s, leaf = %s, link = %s WHERE number = 2",
            [changed, leaf, link_hash(log[0].link, leaf)],
        )
    )
    _, err, _ = run()
    assert "no. 3 is broken: it does not follow the seal before it" in err


def test_a_deleted_entry_is_missed(log: list[Any]) -> None:
    by_hand(("DELETE FROM records_seal WHERE number = 2", []))
    _, err, _ = run()
    assert "no. 2 is broken: no. 2 is gone; 1 entries before it hold" in err


def test_a_deleted_last_entry_is_missed(log: list[Any]) -> None:
    by_hand(("DELETE FROM records_seal WHERE number = 4", []))
    _, err, _ = run()
    assert "no. 4 is broken: the chain counts 4 seals, 3 are there" in err


def test_a_deleted_chain_is_missed(log: list[Any]) -> None:
    by_hand(("DELETE FROM records_chain", []))
    assert not Chain.objects.exists()
    _, err, _ = run()
    assert "no. 1 is broken: the chain counts 0 seals, 4 are there" in err


def test_a_changed_end_of_the_chain_is_noticed(log: list[Any]) -> None:
    by_hand(("UPDATE records_chain SET last_link = %s", [log[2].link]))
    _, err, _ = run()
    assert "no. 4 is broken: the chain's end is not this seal's link" in err


def test_seals_hung_on_each_other_s_records_are_noticed(log: list[Any]) -> None:
    spare = make.ApplicationRecordFactory()
    first, second = (sql_id(seal.record) for seal in log[1:3])
    by_hand(
        (
            "UPDATE records_seal SET record_id = %s WHERE number = 2",
            [sql_id(spare)],
        ),
        ("UPDATE records_seal SET record_id = %s WHERE number = 3", [first]),
        ("UPDATE records_seal SET record_id = %s WHERE number = 2", [second]),
    )
    _, err, _ = run()
    assert "no. 2 is broken: it was moved to another number or record" in err


def test_two_entries_in_the_other_order_are_noticed(log: list[Any]) -> None:
    by_hand(
        ("UPDATE records_seal SET number = 99 WHERE id = %s", [sql_id(log[1])]),
        ("UPDATE records_seal SET number = 2 WHERE id = %s", [sql_id(log[2])]),
        ("UPDATE records_seal SET number = 3 WHERE id = %s", [sql_id(log[1])]),
    )
    _, err, _ = run()
    assert "no. 2 is broken: it does not follow the seal before it" in err


def test_a_record_no_longer_marked_as_signed_is_noticed(log: list[Any]) -> None:
    by_hand(
        (
            "UPDATE records_applicationrecord SET signed_at = NULL "
            "WHERE id = (SELECT record_id FROM records_seal WHERE number = 3)",
            [],
        )
    )
    _, err, _ = run()
    assert "no. 3 is broken: its record is no longer marked as signed" in err


def test_missing_triggers_are_a_failure_of_their_own(log: list[Any]) -> None:
    connection.check_constraints()
    freeze.remove(connection)
    out, err, end = run()
    assert "all 4 entries hold" in out
    assert "triggers that freeze sealed records do not stand, such as frozen_" in err
    assert end is not None
    assert end.returncode == 1


def test_one_business_is_verified_alone(log: list[Any], other_business: Any) -> None:
    by_hand(("DELETE FROM records_seal WHERE number = 2", []))
    out, err, end = run(business=other_business.pk)
    assert end is None
    assert err == ""
    assert "Other Side Spraying" in out
    assert "all 0 entries hold" in out


def test_every_business_is_verified_though_the_first_is_broken(
    log: list[Any], other_business: Any
) -> None:
    by_hand(("DELETE FROM records_seal WHERE number = 2", []))
    out, _, end = run()
    assert "Other Side Spraying" in out
    assert str(end) == "1 of 2 logs broken, 0 triggers missing."


def test_an_unknown_business_is_refused(business: Any) -> None:
    with pytest.raises(CommandError, match="There is no business 4711"):
        call_command("verify_log", business=4711)


def test_a_long_log_tells_how_far_it_has_read(
    log: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("logbook.records.seals.AT_ONCE", 2)
    out, _, _ = run()
    assert "2 entries read" in out
    assert "4 entries read" in out
