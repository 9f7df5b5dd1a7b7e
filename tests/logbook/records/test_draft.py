"""A draft keeps what was entered, refuses what cannot be, and changes nothing when it refuses."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction

from logbook.errors.exceptions import Conflict, NotThere, Refused, RefusedInput
from logbook.facts.quantity import Absence, Nothing, Quantity
from logbook.records.models import ApplicationRecord, Load, LoadUse
from logbook.records.writing.draft import begin_draft, save_draft
from tests import factories as make


def save(actor: Any, draft: Any, **data: Any) -> Any:
    """Save over the draft as it stands now."""
    draft.refresh_from_db()
    return save_draft(actor=actor, record_id=draft.pk, revision=draft.revision, data=data)


def refusal(actor: Any, draft: Any, **data: Any) -> dict[str, list[str]]:
    """Return what is refused, having proven that nothing was written."""
    draft.refresh_from_db()
    before = (draft.revision, draft.products.count(), draft.weather.count(), draft.speed)
    with pytest.raises(RefusedInput) as refused:
        save_draft(actor=actor, record_id=draft.pk, revision=draft.revision, data=data)
    draft.refresh_from_db()
    assert (draft.revision, draft.products.count(), draft.weather.count(), draft.speed) == before
    return refused.value.errors


@pytest.fixture
def draft(owner: Any) -> Any:
    return begin_draft(actor=owner, record_id=uuid.uuid4())


class TestBegin:
    def test_asking_twice_with_one_id_makes_one_draft(self, owner: Any) -> None:
        wanted = uuid.uuid4()
        first = begin_draft(actor=owner, record_id=wanted)
        assert begin_draft(actor=owner, record_id=wanted) == first
        assert ApplicationRecord.objects.count() == 1

    def test_an_id_of_another_business_is_refused(self, owner: Any, stranger: Any) -> None:
        taken = begin_draft(actor=stranger, record_id=uuid.uuid4())
        with pytest.raises(Conflict, match="choose another"):
            begin_draft(actor=owner, record_id=taken.pk)

    def test_a_helper_may_write_drafts(self, helper: Any) -> None:
        assert begin_draft(actor=helper, record_id=uuid.uuid4()).created_by == helper.user


class TestAsEntered:
    @pytest.mark.parametrize("text", ["6.0 mph", "6.00 mph", "9.656 km/h", "0.100000000001 m/s"])
    def test_a_quantity_keeps_its_digits_and_its_unit(
        self, owner: Any, draft: Any, text: str
    ) -> None:
        save(owner, draft, speed=make.q(text))
        draft.refresh_from_db()
        assert str(draft.speed) == text

    def test_the_reference_value_stands_beside_it(self, owner: Any, draft: Any) -> None:
        # 1 mph = 1.609344 km/h exactly (NIST SP 811).
        save(owner, draft, speed=make.q("10 mph"))
        assert ApplicationRecord.objects.get(speed_si__gt=16.09343, speed_si__lt=16.09345) == draft

    @pytest.mark.parametrize(
        "answer",
        [
            Nothing(Absence.NONE),
            Nothing(Absence.NOT_APPLICABLE),
            Nothing(Absence.NOT_MEASURED, "the meter was broken"),
        ],
    )
    def test_the_kinds_of_nothing_are_kept_apart_from_blank(
        self, owner: Any, draft: Any, answer: Nothing
    ) -> None:
        save(owner, draft, distance=answer)
        draft.refresh_from_db()
        assert draft.distance == answer
        assert draft.distance_si is None
        save(owner, draft, distance=None)
        draft.refresh_from_db()
        assert draft.distance is None

    def test_total_carrier_and_rate_are_separate_facts(
        self, owner: Any, clean_draft: Any, entry: dict[str, Any]
    ) -> None:
        product = {**entry["products"][0], "total_used": None}
        saved = save(owner, clean_draft, products=[product])
        assert saved.products.get().total_used is None

    def test_what_is_not_named_keeps_its_value(self, owner: Any, clean_draft: Any) -> None:
        saved = save(owner, clean_draft, note="windy corner left out")
        assert saved.speed == make.q("7.9 mph")
        assert saved.products.count() == 1
        assert saved.weather.count() == 4

    def test_more_digits_of_the_same_amounts_are_kept(self, owner: Any, entry: Any) -> None:
        draft = begin_draft(actor=owner, record_id=uuid.uuid4())
        save(owner, draft, **entry)
        (line,), load = entry["products"], entry["loads"][0]
        (part,) = load["parts"]
        more = {
            **load,
            "load": draft.load_uses.first().load_id,
            "parts": [{**part, "amount": Quantity(Decimal(f"{part['amount'].value}00"), "fl oz")}],
        }
        rate = Quantity(Decimal(f"{line['planned_rate'].value}00"), "fl oz/ac")
        record = save(owner, draft, products=[{**line, "planned_rate": rate}], loads=[more])
        assert str(record.products.get().planned_rate.value) == str(rate.value)
        assert str(record.load_uses.get().load.parts.get().amount.value) == str(
            more["parts"][0]["amount"].value
        )

    def test_a_list_sent_again_as_it_stands_is_not_written_again(
        self, owner: Any, entry: Any, django_assert_max_num_queries: Any
    ) -> None:
        draft = begin_draft(actor=owner, record_id=uuid.uuid4())
        save(owner, draft, **entry)
        for item, use in zip(entry["loads"], draft.load_uses.all(), strict=True):
            item["load"] = use.load_id
        rows = [row.pk for row in (*draft.products.all(), *draft.weather.all())]
        with django_assert_max_num_queries(60) as asked:
            save(owner, draft, **entry)
        written = [one["sql"] for one in asked if one["sql"].startswith(("INSERT", "DELETE"))]
        assert written == []
        assert [row.pk for row in (*draft.products.all(), *draft.weather.all())] == rows


class TestRefusals:
    @pytest.mark.parametrize(
        ("name", "text", "said"),
        [
            ("speed", "0 mph", "it must be more than 0 mph"),
            ("speed", "60 mph", "it must be at most 37.28 mph"),
            ("speed", "12 psi", "not a speed"),
            ("pressure", "-3 psi", "it must be more than 0 psi"),
            ("boom_height", "40 ft", "it must be at most 32.81 ft"),
            ("duty", "120 %", "it must be at most 100 %"),
            ("density", "0.5 kg/L", "it must be at least 0.75 kg/L"),
        ],
    )
    def test_an_impossible_quantity_is_named_with_its_bound(
        self, owner: Any, draft: Any, name: str, text: str, said: str
    ) -> None:
        value, unit = text.split(" ", 1)
        assert said in refusal(owner, draft, **{name: Quantity(Decimal(value), unit)})[name][0]

    def test_an_end_before_the_start_is_refused(self, owner: Any, draft: Any) -> None:
        errors = refusal(
            owner,
            draft,
            started_at=datetime(2026, 6, 1, 10, tzinfo=UTC),
            finished_at=datetime(2026, 6, 1, 9, tzinfo=UTC),
        )
        assert errors == {"finished_at": ["The spraying cannot end before it starts."]}

    def test_what_only_the_table_itself_refuses_is_said(self, owner: Any, draft: Any) -> None:
        errors = refusal(owner, draft, continues=draft.pk)
        assert errors == {"record": ["A record cannot continue itself."]}

    def test_jobs_do_not_go_on_from_one_another_in_a_circle(self, owner: Any) -> None:
        first, second, third = (begin_draft(actor=owner, record_id=uuid.uuid4()) for _ in range(3))
        save(owner, second, continues=first.pk)
        save(owner, third, continues=second.pk)
        errors = refusal(owner, first, continues=third.pk)
        assert errors == {"continues": ["The record it continues goes on from this one."]}

    def test_every_bad_line_is_named_by_its_path(
        self, owner: Any, clean_draft: Any, entry: dict[str, Any]
    ) -> None:
        line = entry["products"][0]
        errors = refusal(
            owner,
            clean_draft,
            products=[
                {**line, "planned_rate": Quantity(Decimal(-1), "fl oz/ac")},
                {"product": None},
                {**line},
            ],
            weather=[{"read_at": None}, {"read_at": None, "cloud": Quantity(Decimal(101), "%")}],
        )
        assert set(errors) == {
            "products.0.planned_rate",
            "products.1.product",
            "products.2.product",
            "weather.0.read_at",
            "weather.1.read_at",
            "weather.1.cloud",
        }

    @pytest.mark.parametrize("name", ["customer", "field", "rig", "nozzle_set", "applicator"])
    def test_a_row_of_another_business_is_not_there(
        self, owner: Any, draft: Any, other_business: Any, name: str
    ) -> None:
        factory = {
            "customer": make.CustomerFactory,
            "field": make.FieldFactory,
            "rig": make.RigFactory,
            "nozzle_set": make.NozzleSetFactory,
            "applicator": make.PersonFactory,
        }[name]
        theirs = factory(business=other_business)
        assert "There is no such" in refusal(owner, draft, **{name: theirs.pk})[name][0]

    def test_a_planting_and_a_product_of_another_business_are_not_there(
        self, owner: Any, draft: Any, other_business: Any
    ) -> None:
        planting = make.PlantingFactory(field=make.FieldFactory(business=other_business))
        product = make.ProductFactory(business=other_business)
        errors = refusal(owner, draft, planting=planting.pk, products=[{"product": product.pk}])
        assert "There is no such planting" in errors["planting"][0]
        del errors["planting"]
        assert refusal(owner, draft, products=[{"product": product.pk}])["products.0.product"]

    def test_too_many_lines_are_a_slip(self, owner: Any, draft: Any) -> None:
        errors = refusal(owner, draft, weather=[{"read_at": None}] * 41)
        assert errors["weather"] == ["41 lines are too many; at most 40."]

    def test_a_stale_revision_is_refused(self, owner: Any, draft: Any) -> None:
        save(owner, draft, note="from the phone")
        with pytest.raises(Conflict, match="you had 1"):
            save_draft(actor=owner, record_id=draft.pk, revision=1, data={"note": "from the desk"})
        draft.refresh_from_db()
        assert draft.note == "from the phone"

    def test_a_draft_of_another_business_is_not_there(self, owner: Any, stranger: Any) -> None:
        theirs = begin_draft(actor=stranger, record_id=uuid.uuid4())
        with pytest.raises(NotThere):
            save_draft(actor=owner, record_id=theirs.pk, revision=1, data={})

    def test_a_signed_record_is_refused(self, owner: Any, signed: Any) -> None:
        with pytest.raises(Refused, match="signed and sealed"):
            save_draft(actor=owner, record_id=signed.pk, revision=signed.revision, data={})

    def test_parts_that_do_not_belong_together_are_refused(
        self, owner: Any, business: Any, clean_draft: Any
    ) -> None:
        customer = make.CustomerFactory(business=business, name="Somebody Else")
        errors = refusal(owner, clean_draft, customer=customer.pk)
        assert errors["field"] == ["North L is not a field of Somebody Else."]

    def test_a_customer_named_with_a_new_field_is_refused_not_replaced(
        self, owner: Any, draft: Any, business: Any, yard: Any
    ) -> None:
        customer = make.CustomerFactory(business=business, name="Somebody Else")
        errors = refusal(owner, draft, customer=customer.pk, field=yard.field.pk)
        assert errors["field"] == ["North L is not a field of Somebody Else."]

    def test_a_product_named_twice_in_a_load_is_refused(
        self, owner: Any, draft: Any, yard: Any
    ) -> None:
        parts = [
            {"product": yard.product.pk, "amount": make.q(amount)} for amount in ("1 gal", "2 gal")
        ]
        load = {"mixed_volume": make.q("100 gal"), "parts": parts}
        errors = refusal(owner, draft, rig=yard.rig.pk, loads=[load])
        assert errors == {"loads.0.parts.1.product": ["Leafkill is there twice."]}


class TestDatabaseRefuses:
    """What the service refuses, the database refuses too (CHECK constraints)."""

    @pytest.mark.parametrize(
        ("column", "value"), [("speed_si", 0), ("pressure_si", -1), ("pattern", "'sideways'")]
    )
    def test_plain_sql_cannot_write_what_cannot_be(
        self, draft: Any, column: str, value: Any
    ) -> None:
        with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(f"UPDATE records_applicationrecord SET {column} = {value}")


class TestClockAtTheField:
    """A naive time is the clock on the wall at the field (America/Chicago)."""

    @pytest.fixture
    def placed(self, owner: Any, draft: Any, yard: Any) -> Any:
        return save(owner, draft, field=yard.field.pk)

    def test_it_is_stored_in_utc_with_the_zone_beside_it(self, owner: Any, placed: Any) -> None:
        saved = save(owner, placed, started_at=datetime(2026, 6, 1, 10))  # noqa: DTZ001
        assert saved.started_at == datetime(2026, 6, 1, 15, tzinfo=UTC)
        assert saved.time_zone == "America/Chicago"

    def test_an_hour_that_the_clocks_skip_is_refused(self, owner: Any, placed: Any) -> None:
        # US daylight time began at 02:00 on 8 March 2026.
        errors = refusal(owner, placed, started_at=datetime(2026, 3, 8, 2, 30))  # noqa: DTZ001
        assert "does not exist in America/Chicago" in errors["started_at"][0]

    @pytest.mark.parametrize(
        "given",
        [
            # Of both it is the year in UTC, in which it is stored and served, that is beyond.
            datetime(2200, 12, 31, 23, 59, 59, tzinfo=timezone(timedelta(hours=-12))),
            datetime(1990, 1, 1, 0, 30, tzinfo=timezone(timedelta(hours=14))),
            # Of this one the year that a clock at the field shows.
            datetime(1990, 1, 1, 5, 59, tzinfo=UTC),
            datetime(2200, 12, 31, 23, 30),  # noqa: DTZ001
            datetime(9999, 12, 31, 23, 59, tzinfo=timezone(timedelta(hours=-12))),
            datetime(1, 1, 1, tzinfo=timezone(timedelta(hours=14))),
        ],
        ids=str,
    )
    def test_a_year_beyond_what_is_kept_is_refused(
        self, owner: Any, placed: Any, given: datetime
    ) -> None:
        errors = refusal(owner, placed, started_at=given)
        assert "the year must be 1990 to 2200, at the field and in UTC" in errors["started_at"][0]
        assert (
            "the year must be"
            in refusal(owner, placed, weather=[{"read_at": given}])["weather.0.read_at"][0]
        )

    @pytest.mark.parametrize(
        "given",
        [datetime(1990, 1, 1, 6, tzinfo=UTC), datetime(2200, 12, 31, 23, 59, 59, tzinfo=UTC)],
        ids=str,
    )
    def test_the_first_and_last_instants_are_kept(
        self, owner: Any, placed: Any, given: datetime
    ) -> None:
        save(owner, placed, started_at=given)
        placed.refresh_from_db()
        assert placed.started_at == given

    def test_in_the_hour_that_repeats_an_end_is_never_before_its_start(
        self, owner: Any, placed: Any
    ) -> None:
        # US daylight time ended at 02:00 on 1 November 2026: 01:30 came twice.
        saved = save(
            owner,
            placed,
            started_at=datetime(2026, 11, 1, 1, 45),  # noqa: DTZ001
            finished_at=datetime(2026, 11, 1, 1, 15),  # noqa: DTZ001
        )
        assert saved.finished_at - saved.started_at == (
            datetime(2026, 11, 1, 7, 15) - datetime(2026, 11, 1, 6, 45)  # noqa: DTZ001
        )

    def test_an_end_after_midnight_is_normal(self, owner: Any, placed: Any) -> None:
        saved = save(
            owner,
            placed,
            started_at=datetime(2026, 6, 1, 22),  # noqa: DTZ001
            finished_at=datetime(2026, 6, 2, 1),  # noqa: DTZ001
        )
        assert (saved.finished_at - saved.started_at).total_seconds() == 3 * 3600


class TestPlace:
    def test_the_customer_stays_when_the_field_is_sold_later(
        self, owner: Any, business: Any, clean_draft: Any, yard: Any
    ) -> None:
        was = clean_draft.customer
        yard.field.customer = make.CustomerFactory(business=business)
        yard.field.save()
        assert save(owner, clean_draft, note="after the sale").customer == was
        whole = {"customer": was.pk, "field": yard.field.pk}
        assert save(owner, clean_draft, **whole).customer == was

    def test_another_field_brings_its_customer_and_leaves_the_crop_behind(
        self, owner: Any, business: Any, clean_draft: Any
    ) -> None:
        other = make.FieldFactory(business=business)
        moved = save(owner, clean_draft, field=other.pk)
        assert (moved.customer, moved.planting) == (other.customer, None)

    @pytest.mark.parametrize("year", [1, 1989, 2201, 9999])
    def test_a_year_that_cannot_be_is_refused(self, owner: Any, draft: Any, year: int) -> None:
        errors = refusal(owner, draft, started_at=datetime(year, 6, 1, 9))  # noqa: DTZ001
        assert "the year must be 1990 to 2200" in errors["started_at"][0]


class TestLabels:
    def test_the_edition_in_force_on_the_day_is_taken(
        self, owner: Any, clean_draft: Any, yard: Any
    ) -> None:
        old = clean_draft.products.get().label
        newer = make.LabelEditionFactory(
            product=yard.product,
            edition="after",
            in_force_from=datetime(2026, 7, 1).date(),  # noqa: DTZ001
        )
        moved = save(
            owner,
            clean_draft,
            started_at=datetime(2026, 7, 2, 9),  # noqa: DTZ001
            finished_at=datetime(2026, 7, 2, 10),  # noqa: DTZ001
        )
        assert moved.products.get().label == newer
        back = save(
            owner,
            clean_draft,
            started_at=datetime(2026, 6, 12, 9),  # noqa: DTZ001
            finished_at=datetime(2026, 6, 12, 10),  # noqa: DTZ001
        )
        assert back.products.get().label == old


class TestLoads:
    def test_one_load_serves_two_fields(
        self, owner: Any, business: Any, clean_draft: Any, yard: Any
    ) -> None:
        load = clean_draft.load_uses.first().load
        second = begin_draft(actor=owner, record_id=uuid.uuid4())
        saved = save(
            owner,
            second,
            nozzle_set=yard.nozzle_set.pk,
            loads=[
                {
                    "load": load.pk,
                    "mixed_volume": load.mixed_volume,
                    "used": make.q("80 gal"),
                    "order": 2,
                    "parts": [{"product": yard.product.pk, "amount": make.q("1024 fl oz")}],
                }
            ],
        )
        assert saved.load_uses.get().load == load
        assert load.uses.count() == 2

    def test_a_load_that_is_sealed_with_another_record_cannot_change(
        self, owner: Any, signed: Any, yard: Any
    ) -> None:
        load = signed.load_uses.first().load
        second = begin_draft(actor=owner, record_id=uuid.uuid4())
        errors = refusal(
            owner,
            second,
            nozzle_set=yard.nozzle_set.pk,
            loads=[{"load": load.pk, "mixed_volume": make.q("701 gal"), "used": make.q("10 gal")}],
        )
        assert "stands with a signed record as 700 gal" in errors["loads.0.mixed_volume"][0]

    def test_a_load_of_another_draft_is_not_rewritten_by_the_one_that_takes_from_it(
        self, owner: Any, clean_draft: Any, yard: Any
    ) -> None:
        load = clean_draft.load_uses.first().load
        taking = {"load": load.pk, "used": make.q("10 gal"), "order": 2}
        second = begin_draft(actor=owner, record_id=uuid.uuid4())
        save(owner, second, nozzle_set=yard.nozzle_set.pk, loads=[taking])
        amount = {"product": yard.product.pk, "amount": make.q("1 fl oz")}
        for changed in ({"mixed_volume": make.q("777 gal")}, {"parts": [amount]}):
            assert refusal(owner, second, loads=[taking | changed])
        load.refresh_from_db()
        assert str(load.mixed_volume) == "700 gal"
        assert str(load.parts.get().amount) == "1024 fl oz"

    def test_the_one_that_mixed_it_may_and_the_other_draft_moves_on_a_revision(
        self, owner: Any, clean_draft: Any, yard: Any
    ) -> None:
        uses = list(clean_draft.load_uses.select_related("load"))
        second = begin_draft(actor=owner, record_id=uuid.uuid4())
        taking = {"load": uses[0].load_id, "used": make.q("10 gal"), "order": 2}
        save(owner, second, nozzle_set=yard.nozzle_set.pk, loads=[taking])
        second.refresh_from_db()
        before = second.revision
        mixed = {
            "load": uses[0].load_id,
            "mixed_volume": make.q("705 gal"),
            "used": make.q("1 gal"),
        }
        save(owner, clean_draft, loads=[mixed])
        second.refresh_from_db()
        assert second.revision == before + 1
        assert str(second.load_uses.get().load.mixed_volume) == "705 gal"

    def test_a_product_not_named_stays_in_the_load_and_one_without_amount_goes(
        self, owner: Any, business: Any, clean_draft: Any, yard: Any
    ) -> None:
        use = clean_draft.load_uses.first()
        other = make.ProductFactory(business=business)
        item = {"load": use.load_id, "mixed_volume": make.q("700 gal"), "used": make.q("1 gal")}
        part = {"product": other.pk, "amount": make.q("2 gal")}
        save(owner, clean_draft, loads=[item | {"parts": [part]}])
        assert use.load.parts.count() == 2
        save(owner, clean_draft, loads=[item | {"parts": [{"product": other.pk, "amount": None}]}])
        assert [part.product for part in use.load.parts.all()] == [yard.product]

    def test_a_load_goes_with_the_line_that_brought_it(self, owner: Any, clean_draft: Any) -> None:
        assert Load.objects.count() == 3
        save(owner, clean_draft, loads=[])
        assert Load.objects.count() == 0
        assert LoadUse.objects.count() == 0

    def test_a_load_of_another_rig_and_one_named_twice_are_refused(
        self, owner: Any, business: Any, clean_draft: Any, yard: Any
    ) -> None:
        other = make.RigFactory(business=business, name="The other rig")
        theirs = make.LoadFactory(business=business, rig=other)
        item = {"load": theirs.pk, "mixed_volume": theirs.mixed_volume, "used": make.q("1 gal")}
        errors = refusal(owner, clean_draft, loads=[item, item])
        assert errors["loads.0.load"] == ["This load was in another rig's tank."]
        assert "This load is there twice." in errors["loads.1.load"]

    def test_a_bad_amount_of_a_load_is_named(self, owner: Any, clean_draft: Any, yard: Any) -> None:
        errors = refusal(
            owner,
            clean_draft,
            loads=[
                {
                    "mixed_volume": None,
                    "used": None,
                    "parts": [
                        {"product": yard.product.pk, "amount": Quantity(Decimal(0), "gal")},
                        {"product": yard.product.pk, "amount": None},
                    ],
                }
            ],
        )
        assert set(errors) == {"loads.0.mixed_volume", "loads.0.parts.0.amount"}
