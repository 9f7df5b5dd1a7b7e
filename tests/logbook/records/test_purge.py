"""Purging: what may go goes whole and leaves its place in the log; nothing else can be let go."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction

from logbook.errors.exceptions import NotAllowed, Refused, RefusedInput
from logbook.records.models import (
    ApplicationRecord,
    DueSheet,
    Load,
    Purge,
    Seal,
)
from logbook.records.reading import duesheets, keeping, verification
from logbook.records.reading.examine import examine
from logbook.records.writing.draft import begin_draft, save_draft
from logbook.records.writing.holds import lift_hold, set_hold
from logbook.records.writing.purge import Stated, purge
from logbook.records.writing.sign import sign
from tests.conftest import said_of

pytestmark = pytest.mark.usefixtures("in_iowa")

THEN = datetime(2018, 6, 12, 20, 0, tzinfo=UTC)
LATER = datetime(2024, 1, 1, tzinfo=UTC)
"""After every set has let go what was done in 2018, and past by any clock that runs these tests."""
KEPT_UNTIL = date(2021, 6, 12)
"""Iowa's three years from the application; the federal sets ask for two."""
REASON = "Its days of keeping are over."


@pytest.fixture
def seal_one(owner: Any, entry: dict[str, Any], confirmed: Callable[[Any], Any]) -> Any:
    """Return what seals a record of work done and signed in the year given."""

    def made(year: int = 2018) -> Seal:
        work = {
            "started_at": datetime.fromisoformat(f"{year}-06-12T09:30"),
            "finished_at": datetime.fromisoformat(f"{year}-06-12T12:00"),
        }
        draft = begin_draft(actor=owner, record_id=uuid.uuid4())
        draft = save_draft(
            actor=owner, record_id=draft.pk, revision=draft.revision, data=entry | work
        )
        seen = examine(actor=owner, record_id=draft.pk)
        return sign(
            actor=owner,
            record_id=draft.pk,
            revision=draft.revision,
            explanations={
                f.key: said_of(f, "Looked at again.") for f in seen.report.must_be_explained()
            },
            confirmation=confirmed(owner),
            now=THEN.replace(year=year),
        )

    return made


@pytest.fixture
def old(seal_one: Any) -> Seal:
    """A seal whose days of keeping are over."""
    return seal_one()


@pytest.fixture
def let_go(owner: Any, confirmed: Callable[[Any], Any]) -> Any:
    def gone(seal: Seal, **changes: Any) -> list[Purge]:
        asked = {
            "actor": owner,
            "record_id": seal.record_id,
            "reason": REASON,
            "confirmation": confirmed(owner),
            "now": LATER,
        }
        return purge(**(asked | changes))

    return gone


def key(pk: Any) -> Any:
    """Return an id as the database's own SQL writes it."""
    return pk if connection.vendor == "postgresql" or not isinstance(pk, uuid.UUID) else pk.hex


def by_sql(statement: str, *values: Any) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement, [key(value) for value in values])


def forge(seal: Seal, owner: Any, **changes: Any) -> None:
    """Write by plain SQL what says that a seal was purged."""
    row = {
        "id": uuid.uuid4(),
        "business_id": seal.business_id,
        "created_at": LATER,
        "seal_id": seal.pk,
        "purged_at": LATER,
        "purged_by_id": owner.user.pk,
        "reason": "x",
        "keep_until": "2021-06-12",
        "allowed_by": "nothing",
    } | changes
    places = ", ".join(["%s"] * len(row))
    by_sql(f"INSERT INTO records_purge ({', '.join(row)}) VALUES ({places})", *row.values())


class TestService:
    def test_the_day_of_keeping_is_sealed_with_the_record(self, old: Seal) -> None:
        assert old.keep_until == KEPT_UNTIL
        assert '"keep_until":"2021-06-12"' in old.text

    def test_what_goes_goes_whole_and_the_log_still_holds(
        self, old: Seal, seal_one: Any, let_go: Any, business: Any
    ) -> None:
        seal_one()
        (row,) = let_go(old)
        assert (row.seal_id, row.reason, row.keep_until) == (old.pk, REASON, KEPT_UNTIL)
        old.refresh_from_db()
        assert (old.text, old.purged_at, old.keep_until) == ("", LATER, KEPT_UNTIL)
        assert not ApplicationRecord.objects.filter(pk=old.record_id).exists()
        assert Load.objects.count() == 3
        found = verification.verify(business=business)
        assert (found.checked, found.purged, found.broken) == (2, 1, None)

    def test_what_is_still_to_be_kept_stays(self, seal_one: Any, let_go: Any) -> None:
        seal = seal_one()
        now = datetime(2021, 6, 12, 23, tzinfo=UTC)
        with pytest.raises(Refused, match="kept until 2021-06-12"):
            let_go(seal, now=now)
        # In Chicago that day lasts until 05:00 UTC of the next.
        with pytest.raises(Refused, match="kept until 2021-06-12"):
            let_go(seal, now=now + timedelta(hours=5))
        assert let_go(seal, now=now + timedelta(hours=6))

    def test_a_shorter_law_does_not_shorten_what_was_sealed(
        self, old: Seal, let_go: Any, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        sheet = DueSheet(record_id=old.record_id, keep_until=date(2019, 1, 1), kept_by="new law")
        monkeypatch.setattr(duesheets, "refresh", lambda **_: sheet)
        with pytest.raises(Refused, match=r"kept until 2021-06-12 .the day that was sealed"):
            let_go(old, now=datetime(2020, 1, 1, tzinfo=UTC))

    def test_a_seal_without_a_day_of_keeping_is_kept(
        self, seal_one: Any, let_go: Any, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr("logbook.records.writing.sign.kept", lambda *_, **__: ())
        seal = seal_one()
        assert seal.keep_until is None
        with pytest.raises(Refused, match=r"No set says how long no\. 1 is kept"):
            let_go(seal)

    @pytest.mark.parametrize(
        ("place", "doubt"),
        [
            # N.D. Admin. Code 60-03-01-07: three years, from memory.
            ("US-ND", "North Dakota is known as “from memory” alone"),
            # 40 CFR 171.303(b)(7), a summary, gives two years; Idaho (IDAPA 02.03.03.100) three:
            # what a place asks whose set is not carried is not known here.
            ("US-UT", "The rules of Utah are not carried here."),
        ],
    )
    def test_what_is_in_doubt_goes_only_as_the_owner_states_and_the_purge_says_so(
        self, yard: Any, owner: Any, seal_one: Any, let_go: Any, place: str, doubt: str
    ) -> None:
        yard.field.place = place
        yard.field.save()
        yard.person.licences.update(place=place)
        yard.label.restricted_use, yard.label.in_force_from = True, date(2015, 1, 1)
        yard.label.save()
        seal = seal_one()
        assert DueSheet.objects.get().in_doubt
        assert not keeping.kept_records(actor=owner, today=LATER.date(), may_go=True)
        with pytest.raises(Refused, match=doubt):
            let_go(seal)
        with pytest.raises(Refused, match=r"kept until 2025-06-12 .7 years .* source: by"):
            let_go(seal, stated=Stated(years=7, source="by telephone from the department"))
        (row,) = let_go(seal, stated=Stated(years=4, source="the department's page on records"))
        assert row.keep_until == date(2022, 6, 12)
        assert row.allowed_by.startswith(
            "4 years from the day it was signed, as stated by the owner; source: the department's "
            "page on records. Known here: until 20"
        )
        assert verification.verify(business=owner.business).broken is None

    def test_what_is_stated_never_shortens_what_a_set_asks(self, old: Seal, let_go: Any) -> None:
        # Iowa Code 206.15: three years, read in the text; what is stated beside it is not needed.
        with pytest.raises(Refused, match="kept until 2021-06-12"):
            let_go(
                old,
                now=datetime(2020, 6, 13, tzinfo=UTC),
                stated=Stated(years=1, source="somebody said so"),
            )

    @pytest.mark.parametrize(
        ("years", "source", "named"), [(0, "the code", "years"), (3, "no", "source")]
    )
    def test_a_period_and_its_source_are_both_needed(
        self, years: int, source: str, named: str
    ) -> None:
        with pytest.raises(RefusedInput) as refusal:
            Stated(years=years, source=source)
        assert list(refusal.value.errors) == [named]

    def test_a_hold_keeps_it_until_it_is_lifted(self, old: Seal, owner: Any, let_go: Any) -> None:
        hold = set_hold(
            actor=owner,
            hold_id=uuid.uuid4(),
            record_id=old.record_id,
            reason="A claim is open.",
            now=LATER,
        )
        with pytest.raises(Refused, match=r"No\. 1 is held: A claim is open"):
            let_go(old)
        lift_hold(actor=owner, hold_id=hold.pk, reason="The claim is settled.", now=LATER)
        assert let_go(old)

    def test_only_the_owner_with_a_reason_and_a_password_may(
        self, old: Seal, helper: Any, owner: Any, confirmed: Any, let_go: Any
    ) -> None:
        with pytest.raises(NotAllowed):
            let_go(old, actor=helper, confirmation=confirmed(helper))
        with pytest.raises(NotAllowed, match="gave the password"):
            let_go(old, confirmation=confirmed(helper))
        with pytest.raises(RefusedInput):
            let_go(old, reason=" ")
        assert Seal.objects.get(pk=old.pk).purged_at is None


class TestPlainSql:
    """The three statements that once deleted any sealed record, and their kin."""

    @pytest.mark.parametrize(
        "changes",
        [
            {"keep_until": "1900-01-01"},
            {"keep_until": "2021-06-11"},
            {"purged_at": datetime(2021, 6, 12, 12, tzinfo=UTC)},
            {"purged_at": datetime(2999, 1, 1, tzinfo=UTC)},
            {"keep_until": "2998-12-31", "purged_at": datetime(2999, 1, 1, tzinfo=UTC)},
        ],
        ids=["invented", "a day short", "before its day", "in the future", "all in the future"],
    )
    def test_a_purge_on_another_day_than_the_sealed_one_is_refused(
        self, old: Seal, owner: Any, changes: dict[str, Any]
    ) -> None:
        with pytest.raises(IntegrityError, match="held, or still to be kept"):
            forge(old, owner, **changes)

    def test_a_record_still_to_be_kept_cannot_be_purged_whatever_the_row_says(
        self, signed: Any, owner: Any
    ) -> None:
        ahead = datetime(2099, 1, 1, tzinfo=UTC)
        for changes in (
            {"keep_until": "1900-01-01"},
            {},
            {"keep_until": signed.seal.keep_until, "purged_at": ahead},
        ):
            with pytest.raises(IntegrityError, match="held, or still to be kept"):
                forge(signed.seal, owner, **changes)

    def test_a_seal_without_a_day_of_keeping_cannot_be_purged(
        self, seal_one: Any, owner: Any, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr("logbook.records.writing.sign.kept", lambda *_, **__: ())
        with pytest.raises(IntegrityError, match="held, or still to be kept"):
            forge(seal_one(), owner)

    def test_the_day_of_keeping_cannot_be_changed(self, old: Seal) -> None:
        for day in ("1900-01-01", None):
            with pytest.raises(IntegrityError, match="a seal cannot be changed"):
                by_sql("UPDATE records_seal SET keep_until = %s", day)

    def test_another_business_cannot_be_named(
        self, old: Seal, owner: Any, other_business: Any
    ) -> None:
        with pytest.raises(IntegrityError, match="held, or still to be kept"):
            forge(old, owner, business_id=other_business.pk)

    @pytest.mark.parametrize("whole_book", [True, False])
    def test_a_hold_is_not_gone_round(self, old: Seal, owner: Any, whole_book: bool) -> None:
        set_hold(
            actor=owner,
            hold_id=uuid.uuid4(),
            record_id=None if whole_book else old.record_id,
            reason="A claim is open.",
            now=LATER,
        )
        with pytest.raises(IntegrityError, match="held, or still to be kept"):
            forge(old, owner)

    def test_a_hold_set_after_the_row_still_keeps_the_text(self, old: Seal, owner: Any) -> None:
        forge(old, owner)
        set_hold(
            actor=owner,
            hold_id=uuid.uuid4(),
            record_id=old.record_id,
            reason="A claim is open.",
            now=LATER,
        )
        with pytest.raises(IntegrityError, match="a seal cannot be changed"):
            by_sql("UPDATE records_seal SET text = '', purged_at = %s", LATER)

    def test_a_text_goes_only_with_the_row_that_says_so(
        self, old: Seal, seal_one: Any, owner: Any
    ) -> None:
        other = seal_one()
        wipe = "UPDATE records_seal SET text = '', purged_at = %s WHERE id = %s"
        forge(other, owner)
        with pytest.raises(IntegrityError, match="a seal cannot be changed"):
            by_sql(wipe, LATER, old.pk)
        with pytest.raises(IntegrityError, match="a seal cannot be changed"):
            by_sql(wipe, LATER + timedelta(days=1), other.pk)

    def test_the_record_stays_as_long_as_its_seal_has_its_text(self, old: Seal, owner: Any) -> None:
        forge(old, owner)
        with pytest.raises(IntegrityError, match="belongs to a sealed record"):
            by_sql("DELETE FROM records_productline WHERE record_id = %s", old.record_id)

    if connection.vendor == "sqlite":

        @pytest.mark.parametrize("moment", ["now", "2024", "2024-1-1 00:00:00"])
        def test_a_time_is_a_time(self, old: Seal, owner: Any, moment: str) -> None:
            # SQLite takes any text for a time.
            with pytest.raises(IntegrityError, match="held, or still to be kept"):
                forge(old, owner, purged_at=moment)
