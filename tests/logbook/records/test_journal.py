"""The journal: what outlives a seal's text, and what no seal states, cannot go unnoticed either."""

from __future__ import annotations

import dataclasses
import json
import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from importlib import import_module
from typing import Any

import pytest
import time_machine
from django.apps import apps
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.utils import timezone

from logbook.accounts import journal
from logbook.accounts.grants import give_grant, withdraw_grant
from logbook.accounts.models import Grant, GrantedCustomer, Journal, JournalEntry, Visit
from logbook.accounts.rights import Role
from logbook.errors.exceptions import Refused
from logbook.facts import record as facts
from logbook.hashing import canonical
from logbook.records.models import (
    ApplicationRecord,
    DueSheet,
    DutyEntry,
    LegalHold,
    Load,
    LoadUse,
    Picture,
    ProductLine,
    Purge,
    Seal,
    WeatherReading,
)
from logbook.records.reading import duesheets, verification
from logbook.records.sealing import differences as restated
from logbook.records.sealing import freeze, journaled, seals
from logbook.records.writing.entries import add_duty_entry
from logbook.records.writing.holds import lift_hold, set_hold
from logbook.records.writing.purge import purge
from tests import factories as make
from tests.conftest import NOW, sealed_by, written
from tests.logbook.records.test_verify_log import run, triggers_off

WHY = "Two of one day are meant."


def note_of(owner: Any, record: Any, **data: Any) -> DutyEntry:
    given = {"kind": "copy", "to_whom": "The customer", "how": "post", "given_at": NOW, **data}
    return add_duty_entry(
        actor=owner, record_id=record.pk, entry_id=uuid.uuid4(), data=given, now=NOW
    )


def hold_of(owner: Any, record: Any) -> LegalHold:
    return set_hold(
        actor=owner, hold_id=uuid.uuid4(), record_id=record.pk, reason="A claim is open.", now=NOW
    )


@pytest.fixture
def grant(owner: Any, yard: Any) -> Grant:
    make.UserFactory(email="manager@example.test")
    return give_grant(
        actor=owner,
        email="manager@example.test",
        role=Role.FARM_MANAGER,
        customer_ids=[yard.customer.pk],
        now=timezone.now(),
    )


@pytest.fixture
def book(owner: Any, signed: Any, grant: Grant, client: Client) -> Any:
    """A sealed record with a notice, a hold, a grant and its visit: entries 2 to 6 of a journal."""
    note_of(owner, signed)
    hold_of(owner, signed)
    client.force_login(grant.user)
    assert client.get("/audit/").status_code == 200
    return signed


def term(found: journaled.Broken | None) -> str:
    assert found is not None
    return f"{found.number}: {found.why}"


def journal_of(book: Any) -> str:
    """Return where the journal breaks and why; the seals must hold."""
    result = verification.verify(business=book.business)
    assert result.broken is None
    assert not result.whole
    return term(result.journal.broken)


def test_each_deed_has_its_entry_and_all_hold(book: Any, owner: Any) -> None:
    kinds = JournalEntry.objects.order_by("number").values_list("kind", flat=True)
    assert kinds[0] == "begin"
    assert sorted(kinds[1:]) == ["duty entry", "grant", "hold", "seal", "visit"]
    withdraw_grant(actor=owner, grant_id=Grant.objects.get().pk, now=timezone.now())
    lift_hold(actor=owner, hold_id=LegalHold.objects.get().pk, reason="It is settled.", now=NOW)
    result = verification.verify(business=book.business)
    assert result.whole
    assert result.journal.checked == 8
    out, err, end = run()
    assert (err, end) == ("", None)
    head = Journal.objects.get()
    assert f"all 8 entries of the journal hold; it ends in 8:{head.last_link}" in out
    for text in (f"8:{head.last_link}", f"1:{JournalEntry.objects.get(number=1).link}"):
        assert run(expect_journal=text)[2] is None
    assert "its link is not" in run(expect_journal=f"2:{head.last_link}")[1]
    assert "no. 9 was expected" in run(expect_journal=f"9:{head.last_link}")[1]


def test_what_a_notice_says_is_not_legible_in_the_journal(book: Any) -> None:
    text = JournalEntry.objects.get(kind="duty entry").text
    assert "The customer" not in text
    assert "to_whom" in text


# --- rows that are gone, changed or put in by hand -----------------------------------------------

TAMPERED: dict[str, tuple[str, str, Callable[[Any], Any]]] = {
    "a notice changed": (
        "duty entry",
        "was changed after it was written",
        lambda _: DutyEntry.objects.update(to_whom="Somebody else"),
    ),
    "a notice of another day": (
        "duty entry",
        "was changed after it was written",
        lambda _: DutyEntry.objects.update(given_at=NOW - timedelta(days=3)),
    ),
    "a notice deleted": ("duty entry", "is gone", lambda _: DutyEntry.objects.all().delete()),
    "a hold's reason": (
        "hold",
        "says reason ended, the entry says A claim is open.",
        lambda _: LegalHold.objects.update(reason="ended"),
    ),
    "a hold lifted by hand": (
        "hold",
        "was lifted or withdrawn, and no entry says so",
        lambda owner: LegalHold.objects.update(
            lifted_at=NOW, lifted_by=owner.user, lift_reason="It is settled."
        ),
    ),
    "a hold deleted": ("hold", "is gone", lambda _: LegalHold.objects.all().delete()),
    "a grant's end": (
        "grant",
        "says ends_at 2040-01-01T00:00:00+00:00, the entry says None",
        lambda _: Grant.objects.update(ends_at=datetime(2040, 1, 1, tzinfo=UTC)),
    ),
    "a grant's customers": (
        "grant",
        "says customers",
        lambda _: GrantedCustomer.objects.all().delete(),
    ),
    "a grant withdrawn by hand": (
        "grant",
        "was lifted or withdrawn, and no entry says so",
        lambda owner: Grant.objects.update(withdrawn_at=NOW, withdrawn_by=owner.user),
    ),
    "a visit changed": (
        "visit",
        "says path /today/, the entry says /audit/",
        lambda _: Visit.objects.update(path="/today/"),
    ),
    "a visit deleted": ("visit", "is gone", lambda _: Visit.objects.all().delete()),
}


@pytest.mark.parametrize(("kind", "said", "tamper"), TAMPERED.values(), ids=TAMPERED)
def test_a_row_rewritten_by_hand_is_noticed(
    book: Any, owner: Any, kind: str, said: str, tamper: Callable[[Any], Any]
) -> None:
    number = JournalEntry.objects.get(kind=kind).number
    with triggers_off():
        tamper(owner)
        # What is due is computed anew when somebody looks: a forger would see to it.
        duesheets.refresh(record_id=book.pk)
    why = journal_of(book)
    assert why.startswith(f"{number}: the ")
    assert said in why
    _, err, end = run()
    assert f"entry {number} of the journal is broken: the " in err
    assert f"{number - 1} entries before it hold" in err
    assert end is not None


def test_a_grant_given_back_by_hand_is_noticed(book: Any, owner: Any) -> None:
    withdraw_grant(actor=owner, grant_id=Grant.objects.get().pk, now=timezone.now())
    with triggers_off():
        Grant.objects.update(withdrawn_at=None, withdrawn_by=None)
    assert "says withdrawn_at None, the entry says" in journal_of(book)


PUT_IN: dict[str, Callable[[Any, Any], Any]] = {
    "duty entry": lambda book, owner: DutyEntry.objects.create(
        business=book.business,
        record=book,
        kind="notice before",
        to_whom="x",
        how="spoken",
        given_at=book.started_at - timedelta(hours=2),
        by=owner.user,
    ),
    "hold": lambda book, owner: LegalHold.objects.create(
        business=book.business, reason="invented", set_at=NOW, set_by=owner.user
    ),
    "visit": lambda _book, owner: Visit.objects.create(
        business=owner.business,
        grant=Grant.objects.get(),
        user=owner.user,
        at=NOW,
        method="GET",
        path="/",
        status=200,
    ),
    "grant": lambda book, owner: Grant.objects.create(
        business=book.business,
        user=make.UserFactory(email="other@example.test"),
        role="farm manager",
        begins_at=NOW,
        given_by=owner.user,
    ),
}


@pytest.mark.parametrize("kind", PUT_IN)
def test_a_row_put_in_without_an_entry_is_noticed(book: Any, owner: Any, kind: str) -> None:
    # No trigger is in the way of an INSERT.
    row = PUT_IN[kind](book, owner)
    duesheets.refresh(record_id=book.pk)
    assert journal_of(book) == f"7: no entry speaks of the {kind} {row.pk}"


def test_a_row_dated_back_is_noticed_though_it_has_an_entry(book: Any, owner: Any) -> None:
    row = PUT_IN["visit"](book, owner)
    with triggers_off():
        Visit.objects.filter(pk=row.pk).update(created_at=timezone.now() - timedelta(days=30))
    row.refresh_from_db()
    with transaction.atomic():
        journal.append(journal.VISIT, row)
    assert f"7: the visit {row.pk} was dated back to" in journal_of(book)


# --- the chain of the journal itself -------------------------------------------------------------


def test_the_database_refuses_every_change_of_the_journal(book: Any) -> None:
    for change, said in (
        (lambda: JournalEntry.objects.update(text="{}"), "an entry of the journal cannot be chang"),
        (lambda: JournalEntry.objects.all().delete(), "an entry of the journal cannot be deleted"),
        (lambda: Journal.objects.all().delete(), "the journal cannot be deleted"),
        (lambda: Journal.objects.update(last_number=3), "the journal only grows, one entry"),
    ):
        with pytest.raises(IntegrityError, match=said), transaction.atomic():
            change()


def test_an_entry_changed_or_gone_is_noticed(book: Any) -> None:
    with triggers_off():
        JournalEntry.objects.filter(number=3).update(text="{}")
    assert journal_of(book) == "3: its text was changed after it was written"
    with triggers_off():
        JournalEntry.objects.filter(number=3).delete()
    # The entry of a seal is missed by its seal as well.
    assert "3: " in term(verification.verify(business=book.business).journal.broken)


@pytest.mark.parametrize(
    ("columns", "said"),
    [
        ({"previous": "1" * 64}, "it does not follow the entry before it"),
        ({"link": "1" * 64}, "its link does not match its text and the entry before it"),
        ({"leaf": "zz"}, "its text was changed after it was written"),
        ({"kind": "hold"}, "it was moved to another number or kind"),
        ({"row_id": uuid.UUID(int=7)}, "it was moved to another row or business"),
    ],
    ids=lambda one: next(iter(one)) if isinstance(one, dict) else "",
)
def test_a_column_of_an_entry_is_held_against_its_text(
    book: Any, columns: dict[str, Any], said: str
) -> None:
    last = JournalEntry.objects.get(kind="visit")
    with triggers_off():
        JournalEntry.objects.filter(pk=last.pk).update(**columns)
    assert journal_of(book) == f"6: {said}"


def test_a_journal_cut_short_is_noticed_by_its_end(book: Any) -> None:
    with triggers_off():
        JournalEntry.objects.get(number=6).delete()
    assert journal_of(book) == "6: the journal counts 6 entries, 5 are there"
    with triggers_off():
        Journal.objects.update(last_number=5)
    assert journal_of(book) == "5: the journal's end is not this entry's link"


def chained_anew() -> None:
    """Give every entry the hashes of its text, as somebody would who hides a change."""
    previous = "0" * 64
    for one in JournalEntry.objects.order_by("number"):
        one.leaf, one.previous = seals.leaf_hash(one.text), previous
        one.link = previous = seals.link_hash(previous, one.leaf)
        one.save()
    Journal.objects.update(last_link=previous)


def test_a_journal_written_anew_with_hashes_that_fit_is_noticed_by_the_next_seal(
    book: Any, owner: Any, entry: dict[str, Any]
) -> None:
    later = sealed_by(owner, written(owner, entry), explained=WHY)
    assert json.loads(later.seal.text)["journal"] == {
        "number": 6,
        "link": JournalEntry.objects.get(number=6).link,
    }
    visit = JournalEntry.objects.get(kind="visit")
    with triggers_off():
        Visit.objects.update(path="/today/")
        JournalEntry.objects.filter(pk=visit.pk).update(
            text=visit.text.replace("/audit/", "/today/")
        )
        chained_anew()
    result = verification.verify(business=book.business)
    assert result.journal.broken is None
    assert term(result.broken) == "2: the journal has no entry 6 as it names it"


def test_a_seal_names_no_earlier_end_than_the_one_before(
    book: Any, owner: Any, entry: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    sealed_by(owner, written(owner, entry), explained=WHY)
    monkeypatch.setattr(journal, "end_of", lambda _: {"number": 0, "link": "0" * 64})
    sealed_by(owner, written(owner, entry), explained=WHY)
    found = verification.verify(business=book.business).broken
    assert term(found) == "3: it names an earlier end of the journal than the seal before it"


@pytest.mark.parametrize("text", ["not JSON", "[]", "{}", "[" * 100_000])
def test_an_entry_that_makes_no_sense_is_named(book: Any, text: str) -> None:
    with triggers_off():
        JournalEntry.objects.filter(number=6).update(text=text)
        chained_anew()
    assert journal_of(book).startswith("6: it cannot be read: ")


def test_a_journal_begins_once(book: Any) -> None:
    last = JournalEntry.objects.get(kind="visit")
    text = canonical({"kind": "begin", "number": 6, "at": timezone.now().isoformat(), "stood": 9})
    with triggers_off():
        JournalEntry.objects.filter(pk=last.pk).update(text=text, kind="begin")
        chained_anew()
    assert journal_of(book) == "6: a journal begins with its first entry, and once"


def test_a_time_that_runs_backwards_in_the_journal_is_noticed(book: Any) -> None:
    last = JournalEntry.objects.get(kind="visit")
    stated = json.loads(last.text) | {"at": "2020-01-01T00:00:00+00:00"}
    with triggers_off():
        JournalEntry.objects.filter(pk=last.pk).update(text=canonical(stated))
        chained_anew()
    assert "6: it was written at 2020-01-01 00:00:00+00:00, before the entry" in journal_of(book)


def test_what_is_written_while_it_is_read_is_no_fault(
    book: Any, owner: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    standing = journaled._of_the_end

    def meanwhile(*given: Any) -> Any:
        lift_hold(actor=owner, hold_id=LegalHold.objects.get().pk, reason="It is settled.", now=NOW)
        return standing(*given)

    monkeypatch.setattr(journaled, "_of_the_end", meanwhile)
    assert verification.verify(business=book.business).whole


# --- the clock -----------------------------------------------------------------------------------


def test_a_clock_set_back_signs_nothing(book: Any, owner: Any, entry: dict[str, Any]) -> None:
    draft = written(owner, entry)
    with pytest.raises(Refused, match=r"clock of the server says 2026-06-12 19:57:59 UTC, but"):
        sealed_by(owner, draft, now=NOW - timedelta(seconds=121), explained=WHY)
    draft.refresh_from_db()
    assert draft.signed_at is None
    # One that waited for the other's signature comes after it.
    late = sealed_by(owner, draft, now=NOW - timedelta(seconds=120), explained=WHY)
    assert late.seal.sealed_at == NOW
    assert verification.verify(business=book.business).whole


def test_a_clock_set_back_writes_nothing_down(book: Any, grant: Grant, client: Client) -> None:
    client.force_login(grant.user)
    client.raise_request_exception = False
    ahead = timezone.now() + timedelta(minutes=10)
    with time_machine.travel(ahead):
        assert client.get("/audit/").status_code == 200
    with time_machine.travel(ahead - timedelta(minutes=3)):
        assert client.get("/audit/").status_code == 500
    assert Visit.objects.count() == 2
    with time_machine.travel(ahead - timedelta(minutes=1)):
        assert client.get("/audit/").status_code == 200
    assert verification.verify(business=book.business).whole


def test_a_seal_of_before_the_one_before_it_is_noticed(
    book: Any, owner: Any, entry: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(journal, "in_order", lambda now, after: now)
    sealed_by(owner, written(owner, entry), now=NOW - timedelta(minutes=9), explained=WHY)
    found = term(verification.verify(business=book.business).broken)
    assert found == "2: it was sealed at 2026-06-12 19:51:00+00:00, before the seal before it"
    # Of before the journal was begun it is no fault: nothing held the clock to its course.
    monkeypatch.setattr(journaled, "taken_in", lambda _: 99)
    assert verification.verify(business=book.business).broken is None


# --- purges --------------------------------------------------------------------------------------

LATER = datetime(2026, 11, 1, tzinfo=UTC)


@pytest.fixture
def old(owner: Any, entry: dict[str, Any], in_iowa: None) -> Seal:
    """A record of 2018, whose days of keeping are over, sealed; with a notice."""
    work = {name: entry[name].replace(year=2018) for name in ("started_at", "finished_at")}
    then = NOW.replace(year=2018)
    record = sealed_by(owner, written(owner, entry | work), now=then, explained="Looked at again.")
    note_of(owner, record)
    return record.seal


def let_go(owner: Any, confirmed: Any, seal: Seal, now: datetime = LATER) -> Purge:
    (row,) = purge(
        actor=owner,
        record_id=seal.record_id,
        reason="Its days are over.",
        confirmation=confirmed(owner),
        now=now,
    )
    return row


def forged_purge(owner: Any, seal: Seal, **changes: Any) -> None:
    """Purge by hand, with all rows that say so but no entry of the journal."""
    row = {
        "business": seal.business,
        "seal": seal,
        "purged_at": LATER,
        "purged_by": owner.user,
        "reason": "Its days are over.",
        "keep_until": seal.keep_until,
        "allowed_by": "some set",
    } | changes
    with triggers_off():
        Purge.objects.create(**row)
        Seal.objects.filter(pk=seal.pk).update(text="", purged_at=row["purged_at"])
        DutyEntry.objects.filter(record_id=seal.record_id).delete()
        ApplicationRecord.objects.filter(pk=seal.record_id).first().delete()


def test_a_forged_purge_is_noticed_also_where_its_seal_was_kept_elsewhere(
    old: Seal, owner: Any
) -> None:
    forged_purge(owner, old)
    _, err, end = run(expect=f"1:{old.link}")
    assert "no. 1 is broken: the journal has no entry of its purge" in err
    assert f"of the journal is broken: no entry speaks of the purge {Purge.objects.get().pk}" in err
    assert end is not None


def test_a_purge_is_an_entry_and_its_notices_may_go(old: Seal, owner: Any, confirmed: Any) -> None:
    row = let_go(owner, confirmed, old)
    assert run()[1:] == ("", None)
    stated = json.loads(JournalEntry.objects.get(kind="purge").text)["row"]
    assert (stated["id"], stated["reason"]) == (str(row.pk), "Its days are over.")
    assert (stated["purged_by_id"], stated["keep_until"]) == (owner.user.pk, "2021-06-12")
    stated = json.loads(JournalEntry.objects.get(kind="seal").text)["row"]
    assert (stated["number"], stated["record_id"]) == (1, str(old.record_id))
    assert (stated["sealed_at"], stated["keep_until"]) == (
        "2018-06-12T20:00:00+00:00",
        "2021-06-12",
    )


@pytest.mark.parametrize(
    ("model", "columns"),
    [
        (Purge, {"reason": "another"}),
        (Purge, {"allowed_by": "another"}),
        (Seal, {"keep_until": "2019-01-01"}),
        (Seal, {"sealed_at": NOW}),
        (Seal, {"record_id": uuid.UUID(int=7)}),
        (Seal, {"findings": 77}),
    ],
    ids=lambda one: str(one) if isinstance(one, dict) else one.__name__,
)
def test_what_outlives_a_purged_text_cannot_be_rewritten(
    old: Seal, owner: Any, confirmed: Any, model: Any, columns: dict[str, Any]
) -> None:
    let_go(owner, confirmed, old)
    with triggers_off():
        model.objects.update(**columns)
    why = term(verification.verify(business=old.business).journal.broken)
    assert f"the {model._meta.model_name}" in why
    assert f"says {next(iter(columns))} " in why


@pytest.mark.parametrize("when", ["before it was sealed", "after today"])
def test_a_purge_at_an_impossible_time_is_noticed(old: Seal, owner: Any, when: str) -> None:
    at = datetime(2040, 1, 1, tzinfo=UTC)
    if when == "before it was sealed":
        at = datetime(2022, 1, 1, tzinfo=UTC)
        with triggers_off():
            Seal.objects.update(sealed_at=NOW)
    forged_purge(owner, old, purged_at=at)
    found = term(verification.verify(business=old.business).broken)
    assert f"1: it was purged at {at}, before it was sealed or after today" in found


def test_a_purge_before_the_sealing_is_refused(old: Seal, owner: Any, confirmed: Any) -> None:
    with triggers_off():
        Seal.objects.update(sealed_at=NOW)
    with pytest.raises(Refused, match=r"No\. 1 was sealed at a later time than now"):
        let_go(owner, confirmed, old, now=datetime(2024, 1, 1, tzinfo=UTC))
    with pytest.raises(IntegrityError, match="held, or still to be kept"), transaction.atomic():
        Purge.objects.create(
            business=old.business,
            seal=old,
            purged_at=datetime(2024, 1, 1, tzinfo=UTC),
            purged_by=owner.user,
            reason="x",
            keep_until=old.keep_until,
        )


# --- columns that no sealed text says, and the due sheet -----------------------------------------

ZONED: dict[str, tuple[str, Callable[[Any, Any], Any]]] = {
    "time zone": ("time_zone", lambda r, _: change(r, time_zone="America/Denver")),
    "planting": (
        "planting",
        lambda r, yard: change(r, planting=make.PlantingFactory(field=yard.field)),
    ),
    "nozzle set": (
        "nozzle_set",
        lambda r, yard: change(
            r,
            nozzle_set=make.NozzleSetFactory(business=r.business, rig=yard.rig, nozzle=yard.nozzle),
        ),
    ),
    "place in the book": ("book_at", lambda r, _: change(r, book_at=NOW)),
    "revision": ("revision", lambda r, _: change(r, revision=77)),
    "order of the lines": ("products", lambda r, _: r.products.update(position=7)),
    "rig of a load": (
        "loads",
        lambda r, _: Load.objects.update(rig=make.RigFactory(business=r.business)),
    ),
    "when a load was entered": ("loads", lambda r, _: Load.objects.update(created_at=NOW)),
}


def change(record: Any, **columns: Any) -> None:
    ApplicationRecord.objects.filter(pk=record.pk).update(**columns)


@pytest.mark.parametrize(("what", "tamper"), ZONED.values(), ids=ZONED)
def test_a_column_that_no_text_says_is_noticed(
    signed: Any, yard: Any, what: str, tamper: Callable[[Any, Any], Any]
) -> None:
    with triggers_off():
        tamper(signed, yard)
    found = term(verification.verify(business=signed.business).broken)
    assert found == f"1: the rows of its record say otherwise than the journal: {what}"


FREE = {
    # Keys, and what follows from another column or is empty of every sealed record.
    ApplicationRecord: {"id", "business_id", "signed_at", "carried", "set_aside_at"},
    ProductLine: {"id", "record_id"},
    LoadUse: {"id", "record_id", "load_id"},
    Load: {"business_id"},
    WeatherReading: {"id", "record_id"},
    Picture: {"record_id"},
}
COMPARED = {
    ApplicationRecord: {
        *(one.name for one in dataclasses.fields(facts.RecordFacts)),
        *(f"{name}_id" for name in (*restated.POINTERS, "amends", "continues")),
        *("growth_stage", "amend_reason", *restated.BESIDE["record"]),
        *(f"sealed_{what}" for what in ("customer", "field", "crop", "applicator", "rig")),
    },
    ProductLine: {
        *("product_id", "label_id", "sealed_product"),
        *(*restated.LINE, *restated.BESIDE["products"]),
    },
    LoadUse: {"order", "used"},
    Load: {"mixed_volume", *restated.BESIDE["loads"]},
    WeatherReading: {one.name for one in dataclasses.fields(facts.WeatherFacts)},
    Picture: {
        *(one.name for one in dataclasses.fields(facts.PictureFacts)),
        *restated.BESIDE["pictures"],
    },
}


@pytest.mark.parametrize("model", COMPARED, ids=lambda one: one.__name__)
def test_every_column_of_a_sealed_record_is_compared_or_named_free(model: Any) -> None:
    columns = {one.attname for one in model._meta.concrete_fields}
    left = {one.removesuffix("_si") for one in columns} - COMPARED[model] - FREE[model]
    assert left == set()


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("next_due_at", datetime(2040, 1, 1, tzinfo=UTC)),
        ("items", []),
        ("late_count", 9),
        ("waiting", 9),
        ("keep_until", "2026-06-13"),
        ("kept_by", "nobody"),
        ("may_go_after", "2026-06-13"),
    ],
)
def test_a_due_sheet_that_says_otherwise_is_noticed(signed: Any, column: str, value: Any) -> None:
    DueSheet.objects.update(**{column: value})
    found = term(verification.verify(business=signed.business).broken)
    assert found.startswith("1: its due sheet says otherwise than its text and entries: ")
    assert found.endswith(column)
    duesheets.refresh(record_id=signed.pk)
    assert verification.verify(business=signed.business).whole


def test_a_due_sheet_of_older_law_is_written_anew_and_no_fault(signed: Any) -> None:
    DueSheet.objects.update(law="another", items=[])
    assert verification.verify(business=signed.business).whole


# --- where the journal is begun ------------------------------------------------------------------


@pytest.fixture
def begun_again(book: Any) -> Any:
    """The book, its journal begun by the migration, as in a log of before there was one."""
    begin = import_module("logbook.records.migrations.0011_journal_begun").begin
    with triggers_off():
        JournalEntry.objects.all().delete()
        Journal.objects.all().delete()
        begin(apps, None)
    return book


def test_what_stood_is_taken_in_where_the_journal_is_begun(
    begun_again: Any, owner: Any, client: Client, entry: dict[str, Any]
) -> None:
    first = json.loads(JournalEntry.objects.get(number=1).text)
    assert (first["kind"], first["stood"]) == ("begin", 5)
    client.get("/audit/")
    sealed_by(owner, written(owner, entry), explained=WHY)
    lift_hold(actor=owner, hold_id=LegalHold.objects.get().pk, reason="It is settled.", now=NOW)
    result = verification.verify(business=begun_again.business)
    assert result.whole
    assert result.journal.checked == 9


def test_what_was_taken_in_is_held_against_its_row(begun_again: Any) -> None:
    with triggers_off():
        DutyEntry.objects.update(to_whom="Somebody else")
        duesheets.refresh(record_id=begun_again.pk)
    assert "was changed after it was written" in journal_of(begun_again)
    with triggers_off():
        DutyEntry.objects.update(to_whom="The customer")
        change(begun_again, time_zone="America/Denver")
    found = term(verification.verify(business=begun_again.business).broken)
    assert found == "1: the rows of its record say otherwise than the journal: time_zone"


def test_the_migration_states_what_the_program_states(begun_again: Any) -> None:
    for one in JournalEntry.objects.exclude(kind="begin"):
        kind, stated = journaled.KINDS[one.kind], json.loads(one.text)
        row = apps.get_model(kind.model).objects.get(pk=one.row_id)
        says = kind.states(row)
        assert {name: stated[name] for name in says} == says
        if kind is journaled.SEAL:
            now = restated.beside(row.record)
            assert now.pop("pictures") == []  # there were none yet
            assert stated["beside"] == now


def test_a_journal_that_is_begun_late_takes_nothing_in(book: Any, owner: Any) -> None:
    with triggers_off():
        JournalEntry.objects.all().delete()
        Journal.objects.all().delete()
    with transaction.atomic():
        journal.append(journal.VISIT, Visit.objects.get())
    result = verification.verify(business=book.business)
    assert term(result.broken) == "1: the journal has no entry of it"
    assert "no entry speaks of the" in term(result.journal.broken)


# --- what stands too many on the frozen tables ---------------------------------------------------

if connection.vendor == "sqlite":
    TOO_MANY = {
        "trigger silent on records_seal": (
            "CREATE TRIGGER silent BEFORE UPDATE ON records_seal BEGIN SELECT RAISE(IGNORE); END"
        ),
        "trigger hidden on records_dutyentry": (
            "CREATE TEMP TRIGGER hidden AFTER INSERT ON main.records_dutyentry BEGIN SELECT 1; END"
        ),
    }
else:
    TOO_MANY = {
        "trigger silent on records_seal": (
            "CREATE FUNCTION silent() RETURNS trigger LANGUAGE plpgsql AS "
            "$$ BEGIN RETURN NULL; END $$; CREATE TRIGGER silent BEFORE UPDATE ON records_seal "
            "FOR EACH ROW EXECUTE FUNCTION silent()"
        ),
        "rule nothing on accounts_visit": (
            "CREATE RULE nothing AS ON INSERT TO accounts_visit DO INSTEAD NOTHING"
        ),
        "policy blind on records_seal": ("CREATE POLICY blind ON records_seal USING (number > 1)"),
        "row security  on accounts_journalentry": (
            "ALTER TABLE accounts_journalentry ENABLE ROW LEVEL SECURITY"
        ),
    }


@pytest.mark.parametrize(("named", "statement"), TOO_MANY.items(), ids=TOO_MANY)
def test_what_stands_too_many_on_a_frozen_table_is_noticed(
    business: Any, named: str, statement: str
) -> None:
    connection.check_constraints()
    with connection.cursor() as cursor:
        cursor.execute(statement)
    assert freeze.too_many(connection) == {named}
    _, err, end = run()
    assert (
        f"1 triggers, rules or policies are too many on the frozen tables, such as {named}" in err
    )
    assert str(end) == (
        "0 of 1 logs broken, 0 triggers missing, 1 triggers, rules or policies too many."
    )
    (message,) = freeze.check_installed(databases=["default"])
    assert named in message.msg
    if "hidden" in named:  # It would outlive the transaction's rollback.
        with connection.cursor() as cursor:
            cursor.execute("DROP TRIGGER temp.hidden")
