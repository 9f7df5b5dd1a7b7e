"""`manage.py verify_log`: what it says of a log, and what it finds when someone goes round."""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from django.test.utils import CaptureQueriesContext

from logbook.accounts import journal
from logbook.accounts.models import Journal, JournalEntry
from logbook.catalog.models import Customer, Product
from logbook.facts.messages import Message
from logbook.records.models import (
    ApplicationRecord,
    Chain,
    CrewMember,
    Explanation,
    LawText,
    LoadPart,
    LoadUse,
    Purge,
    Seal,
)
from logbook.records.reading import verification
from logbook.records.sealing import freeze, journaled, seals
from logbook.records.writing import sign
from tests import factories as make
from tests.conftest import NOW, sealed_by, written


@pytest.fixture
def log(owner: Any, yard: Any, entry: dict[str, Any]) -> list[Any]:
    """Four sealed records, each of a field of its own."""
    for _ in range(4):
        field = make.FieldFactory(business=owner.business, customer=yard.customer)
        planting = make.PlantingFactory(field=field)
        data = {**entry, "field": field.pk, "planting": planting.pk}
        sealed_by(owner, written(owner, data))
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


@contextmanager
def triggers_off() -> Iterator[None]:
    """Let the ORM do what the triggers forbid."""
    connection.check_constraints()
    freeze.remove(connection)
    yield
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
    from logbook.records.sealing.seals import leaf_hash

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
    from logbook.records.sealing.seals import leaf_hash, link_hash

    # The software stands in no row that could say otherwise.
    changed = log[1].text.replace("spray-logbook", "spray-notebook")
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
    monkeypatch.setattr("logbook.records.reading.verification.AT_ONCE", 2)
    out, _, _ = run()
    assert "2 entries read" in out
    assert "4 entries read" in out


# --- the columns beside the text -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("sealed_at", datetime(2001, 1, 1, tzinfo=UTC)),
        ("breaches", 3),
        ("findings", 4),
        ("mismatches", 5),
        ("missing", None),
        ("unexplained", 6),
        ("keep_until", None),
        ("keep_until", "1900-01-01"),
    ],
)
def test_a_changed_column_of_a_seal_is_noticed(log: list[Any], column: str, value: Any) -> None:
    by_hand((f"UPDATE records_seal SET {column} = %s WHERE number = 2", [value]))
    _, err, _ = run()
    assert f"no. 2 is broken: its column {column} says" in err


def test_another_signer_is_noticed(log: list[Any], helper: Any) -> None:
    by_hand(("UPDATE records_seal SET signer_id = %s WHERE number = 2", [helper.user.pk]))
    _, err, _ = run()
    assert "no. 2 is broken: its column signer_id says" in err


# --- the rows beside the seal --------------------------------------------------------------------


def change(record: ApplicationRecord, **columns: Any) -> None:
    ApplicationRecord.objects.filter(pk=record.pk).update(**columns)


ROWS: dict[str, tuple[str, Callable[[ApplicationRecord, Any], Any]]] = {
    "a column": ("note", lambda r, _: change(r, note="nothing happened")),
    "an answer": ("pressure", lambda r, _: change(r, pressure=make.q("1 psi"))),
    "a reference value": ("pressure", lambda r, _: change(r, pressure_si=6.9)),
    "a time": (
        "finished_at",
        lambda r, _: change(r, finished_at=r.finished_at and r.finished_at + timedelta(hours=1)),
    ),
    "the rig": ("rig", lambda r, _: change(r, rig=None)),
    "the nozzles": ("nozzles", lambda r, _: change(r, nozzle_set=None)),
    "the crop": ("crop", lambda r, _: change(r, planting=None)),
    "the growth stage": ("growth stage", lambda r, _: change(r, growth_stage=20)),
    "a rate": (
        "products",
        lambda r, _: r.products.update(planned_rate=make.q("1 fl oz/ac")),
    ),
    "a line gone": ("products", lambda r, _: r.products.all().delete()),
    "a load": (
        "loads",
        lambda r, _: [
            type(use.load).objects.filter(pk=use.load_id).update(mixed_volume=make.q("1 gal"))
            for use in r.load_uses.all()
        ],
    ),
    "a part of a load": (
        "loads",
        lambda r, _: LoadPart.objects.filter(load__uses__record=r).delete(),
    ),
    "a use": ("loads", lambda r, _: LoadUse.objects.filter(record=r).update(order=9)),
    "a reading gone": ("weather", lambda r, _: r.weather.all()[0].delete()),
    "the wind": ("weather", lambda r, _: r.weather.update(wind_speed=make.q("1 mph"))),
    "the crew": (
        "crew",
        lambda r, yard: CrewMember.objects.create(record=r, person=yard.person),
    ),
    "an explanation": (
        "explanations",
        lambda r, _: Explanation.objects.create(record=r, finding="a@b", text="later"),
    ),
    "the record before": (
        "amends",
        lambda r, _: change(
            r,
            amends=ApplicationRecord.objects.exclude(pk=r.pk).earliest("seal__number"),
            amend_reason="invented",
        ),
    ),
    "the job before": (
        "continues",
        lambda r, _: change(
            r, continues=ApplicationRecord.objects.exclude(pk=r.pk).earliest("seal__number")
        ),
    ),
}


@pytest.mark.parametrize(("what", "tamper"), ROWS.values(), ids=ROWS)
def test_rows_that_say_otherwise_than_the_seal_are_noticed(
    log: list[Any], yard: Any, what: str, tamper: Callable[[ApplicationRecord, Any], Any]
) -> None:
    with triggers_off():
        tamper(log[1].record, yard)
    _, err, end = run()
    said = f"no. 2 is broken: the rows of its record say otherwise than its text: {what};"
    assert said in err
    assert end is not None


def test_the_shelf_may_change_after_sealing(log: list[Any]) -> None:
    Customer.objects.update(name="Renamed")
    Product.objects.update(name="Renamed")
    _, err, end = run()
    assert (err, end) == ("", None)


def test_a_record_moved_to_another_business_is_noticed(log: list[Any], other_business: Any) -> None:
    with triggers_off():
        change(log[1].record, business=other_business)
    _, err, _ = run()
    assert "no. 2 is broken: its record belongs to another business" in err
    assert "is marked as signed and has no seal" in err


def test_a_draft_marked_as_signed_by_hand_is_noticed(log: list[Any], business: Any) -> None:
    draft = make.ApplicationRecordFactory(business=business)
    change(draft, signed_at=NOW)
    _, err, _ = run()
    assert f"no. 5 is broken: the record {draft.pk} is marked as signed and has no seal" in err


def rewind(log: list[Any]) -> None:
    """Delete the last seal and set the chain back, as if it had never been."""
    Seal.objects.filter(pk=log[-1].pk).delete()
    Chain.objects.update(last_number=log[-2].number, last_link=log[-2].link)


def test_a_chain_set_back_by_one_is_noticed_by_the_record_it_left(log: list[Any]) -> None:
    with triggers_off():
        rewind(log)
    _, err, _ = run()
    assert f"no. 4 is broken: the record {log[-1].record_id} is marked as signed" in err


def test_a_last_entry_moved_beyond_the_end_of_the_chain_is_missed(log: list[Any]) -> None:
    by_hand(("UPDATE records_seal SET number = 5 WHERE number = 4", []))
    _, err, _ = run()
    assert "no. 4 is broken: no. 4 is gone" in err


@pytest.mark.parametrize("moment", ["before the entries", "before the count"])
def test_what_is_signed_while_a_log_is_read_is_no_fault(
    log: list[Any],
    owner: Any,
    business: Any,
    entry: dict[str, Any],
    monkeypatch: pytest.MonkeyPatch,
    moment: str,
) -> None:
    name = {"before the entries": "texts_that_hold", "before the count": "_of_the_end"}[moment]
    standing = getattr(verification, name)

    def meanwhile(*given: Any) -> Any:
        sealed_by(owner, written(owner, entry))
        return standing(*given)

    monkeypatch.setattr(verification, name, meanwhile)
    found = verification.verify(business=business)
    assert (found.checked, found.last_link, found.broken) == (4, log[-1].link, None)
    monkeypatch.undo()
    assert verification.verify(business=business).checked == 5


def test_a_log_of_which_all_seals_are_gone_is_noticed(log: list[Any]) -> None:
    with triggers_off():
        Seal.objects.all().delete()
        Chain.objects.all().delete()
    _, err, _ = run()
    assert "no. 1 is broken: the record" in err


# --- what was kept elsewhere ---------------------------------------------------------------------


@pytest.mark.parametrize("between", [":", " "])
def test_a_seal_kept_elsewhere_is_found(log: list[Any], between: str) -> None:
    out, _, end = run(expect=f"2{between}{log[1].link}")
    assert end is None
    assert "all 4 entries hold" in out


def test_a_log_cut_short_without_a_trace_lacks_the_seal_kept_elsewhere(log: list[Any]) -> None:
    with triggers_off():
        rewind(log)
        log[-1].record.delete()
    assert "entry 5 of the journal is broken: the seal" in run()[1]
    with triggers_off():
        JournalEntry.objects.filter(number=5).delete()
        last = JournalEntry.objects.get(number=4)
        Journal.objects.update(last_number=4, last_link=last.link)
    _, _, end = run()
    assert end is None
    _, err, end = run(expect=f"4:{log[-1].link}")
    assert "no. 4 is broken: no. 4 was expected, the log ends with no. 3" in err
    assert end is not None


def test_a_log_written_anew_does_not_have_the_link_kept_elsewhere(log: list[Any]) -> None:
    _, err, _ = run(expect=f"2:{log[2].link}")
    assert f"no. 2 is broken: its link is not {log[2].link}, the one expected" in err


@pytest.mark.parametrize("text", ["", "4", "4:abc", "0:" + "a" * 64, "4:" + "g" * 64])
def test_what_is_no_number_and_link_is_refused(log: list[Any], text: str) -> None:
    with pytest.raises(CommandError, match="is not a number, a colon and 64 hexadecimal digits"):
        call_command("verify_log", expect=text)


def test_what_is_expected_is_of_one_business(log: list[Any], other_business: Any) -> None:
    expect = f"4:{log[-1].link}"
    with pytest.raises(CommandError, match="say which with --business"):
        call_command("verify_log", expect=expect)
    _, err, _ = run(expect=expect, business=other_business.pk)
    assert "no. 4 was expected, the log ends with no. 0" in err


# --- the law that was sealed with it -------------------------------------------------------------


def digest_of(seal: Any, name: str) -> str:
    return next(one["digest"] for one in json.loads(seal.text)["law"] if one["id"] == name)


def test_a_changed_text_of_the_law_is_noticed(log: list[Any]) -> None:
    digest = digest_of(log[0], "us-nd")
    kept = LawText.objects.get(digest=digest)
    changed = kept.text.replace("wind-speed", "humidity")
    assert changed != kept.text
    with triggers_off():
        LawText.objects.filter(digest=digest).update(text=changed)
    _, err, end = run()
    assert "no. 1 is broken: the text of the law us-nd as sealed with it was changed" in err
    found = verification.verify(business=log[0].business).broken
    assert found is not None
    assert isinstance(found.why, Message)
    assert found.why.values == {"id": "us-nd"}
    assert end is not None


def test_a_text_of_the_law_that_is_gone_is_noticed(log: list[Any]) -> None:
    with triggers_off():
        LawText.objects.filter(digest=digest_of(log[0], "us-40-cfr-170")).delete()
    _, err, _ = run()
    assert "no. 1 is broken: the text of the law us-40-cfr-170 as sealed with it is gone" in err


def test_a_text_of_the_law_that_no_seal_names_breaks_no_log(log: list[Any]) -> None:
    LawText.objects.create(digest="0" * 64, text="of another business, and changed")
    assert run()[2] is None


def test_a_seal_of_before_the_law_was_sealed_holds(
    owner: Any, entry: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    made = sign._content

    def of_before(*given: Any) -> dict[str, Any]:
        of_format_1 = {**made(*given), "format": 1}
        del of_format_1["law"], of_format_1["journal"]
        return of_format_1

    monkeypatch.setattr(sign, "_content", of_before)
    sealed_by(owner, written(owner, entry))
    assert run()[2] is None


def test_a_last_seal_written_anew_is_noticed_by_the_journal(log: list[Any]) -> None:
    content = json.loads(log[-1].text)
    forged(log, seals.canonical({**content, "software": "another"}))
    _, err, end = run()
    assert "entry 5 of the journal is broken: the seal" in err
    assert "says leaf" in err
    assert end is not None


# --- what makes no sense -------------------------------------------------------------------------


def forged(log: list[Any], text: str) -> None:
    """Put a text of one's own into the last seal, with hashes that fit."""
    leaf = seals.leaf_hash(text)
    link = seals.link_hash(log[-2].link, leaf)
    by_hand(
        (
            "UPDATE records_seal SET text = %s, leaf = %s, link = %s WHERE number = 4",
            [text, leaf, link],
        ),
        ("UPDATE records_chain SET last_link = %s", [link]),
    )


@pytest.mark.parametrize("text", ["not JSON", "[]", "{}", '{"number":4,"facts":7}', "[" * 100_000])
def test_a_text_that_is_no_seal_is_named(log: list[Any], text: str) -> None:
    forged(log, text)
    _, err, end = run()
    assert "no. 4 is broken: it cannot be read: " in err
    assert end is not None


@pytest.mark.parametrize("column", ["leaf", "link"])
def test_a_hash_that_is_no_number_is_named(log: list[Any], column: str) -> None:
    by_hand((f"UPDATE records_seal SET {column} = 'zz' WHERE number = 2", []))
    _, err, _ = run()
    assert "no. 2 is broken: " in err


def test_a_leaf_of_a_purge_that_is_no_number_is_named(log: list[Any]) -> None:
    by_hand(
        (
            "UPDATE records_seal SET text = '', purged_at = %s, leaf = 'zz' WHERE number = 2",
            [NOW],
        )
    )
    _, err, _ = run()
    assert "no. 2 is broken: it cannot be read: ValueError: non-hexadecimal number" in err


def test_a_row_that_cannot_be_read_is_named(log: list[Any]) -> None:
    by_hand(
        (
            "UPDATE records_applicationrecord SET pressure = 'much' WHERE id = %s",
            [sql_id(log[1].record)],
        )
    )
    _, err, _ = run()
    assert "no. 2 is broken: its record cannot be read: " in err


if connection.vendor == "sqlite":

    def test_a_seal_that_cannot_be_read_is_named(log: list[Any]) -> None:
        by_hand(("UPDATE records_seal SET sealed_at = '2026-13-45 00:00' WHERE number = 2", []))
        _, err, _ = run()
        assert "no. 2 is broken: it cannot be read: " in err
        assert "1 entries before it hold" in err


# --- purged --------------------------------------------------------------------------------------


def let_go(seal: Any, owner: Any, **changes: Any) -> None:
    """Do by hand what a purge does, in the year 2030."""
    at = datetime(2030, 1, 1, 9, 30, tzinfo=UTC)
    row = {
        "business": seal.business,
        "seal": seal,
        "purged_at": at,
        "purged_by": owner.user,
        "reason": "Its days are over.",
        "keep_until": seal.keep_until,
        "allowed_by": "some set",
    }
    with triggers_off():
        journal.append(journaled.PURGE, Purge.objects.create(**(row | changes)))
        Seal.objects.filter(pk=seal.pk).update(text="", purged_at=at)
        seal.record.delete()


def test_who_purged_an_entry_when_and_why_is_told(
    log: list[Any], owner: Any, business: Any
) -> None:
    let_go(log[1], owner)
    with time_machine.travel(datetime(2030, 1, 2, tzinfo=UTC)):
        out, err, end = run()
    assert (err, end) == ("", None)
    assert (
        f"no. 2 was purged 2030-01-01 09:30 UTC by {owner.user.name}: Its days are over. "
        f"(kept until {log[1].keep_until}, some set)" in out
    )
    assert "all 4 entries hold, 1 of them purged; " in out


@pytest.mark.parametrize("until", ["a day short", "its own day"])
def test_a_purge_before_its_day_is_noticed(log: list[Any], owner: Any, until: str) -> None:
    day = log[1].keep_until
    own = datetime(2030, 1, 1, tzinfo=UTC).date()
    let_go(log[1], owner, keep_until=own if until == "its own day" else day - timedelta(days=1))
    _, err, _ = run()
    assert f"no. 2 is broken: it was purged on 2030-01-01, and was to be kept until {day}" in err


def test_a_purge_of_another_time_is_noticed(log: list[Any], owner: Any) -> None:
    let_go(log[1], owner, purged_at=datetime(2031, 1, 1, tzinfo=UTC))
    _, err, _ = run()
    assert "no. 2 is broken: what says who purged it names another time or business" in err


def test_a_text_gone_without_a_word_is_noticed(log: list[Any]) -> None:
    by_hand(("UPDATE records_seal SET text = '', purged_at = %s WHERE number = 2", [NOW]))
    _, err, _ = run()
    assert "no. 2 is broken: its text is gone, and nothing says who purged it and why" in err


def test_a_word_of_a_purge_that_was_not_is_noticed(log: list[Any], owner: Any) -> None:
    with triggers_off():
        Purge.objects.create(
            business=log[1].business,
            seal=log[1],
            purged_at=NOW,
            purged_by=owner.user,
            reason="x",
            keep_until=log[1].keep_until,
        )
    _, err, _ = run()
    assert "no. 2 is broken: a row says that it was purged, and it was not" in err


def test_the_number_of_queries_does_not_depend_on_the_entries(
    log: list[Any], business: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def asked(at_once: int) -> int:
        monkeypatch.setattr(verification, "AT_ONCE", at_once)
        with CaptureQueriesContext(connection) as seen:
            assert verification.verify(business=business).broken is None
        return len(seen)

    # One, two and four pieces of the same log; of its journal, which has an entry more, two, three
    # and five, one of them without a row to look at. A look after each for more.
    one, two, four = asked(4), asked(2), asked(1)
    assert four - two <= 2 * (two - one)
    assert two - one <= 19
