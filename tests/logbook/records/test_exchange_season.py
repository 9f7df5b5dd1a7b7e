"""The whole demo season out of one book, into an empty one, signed there, and out again."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import jsonschema
from django.test import TestCase, override_settings

from logbook.accounts.models import User
from logbook.accounts.services import Confirmation, actor_for
from logbook.catalog.models import Field, LabelEdition
from logbook.facts.codec import to_json
from logbook.records.demo import load_demo
from logbook.records.exchange import schema
from logbook.records.exchange.importing import CORRECTED, NEW, STANDING
from logbook.records.models import ApplicationRecord, Seal
from logbook.records.reading.examine import examine
from logbook.records.writing.sign import sign
from tests.conftest import said_of
from tests.logbook.records.exchange import (
    bring_in,
    by_name,
    cells,
    exported,
    exported_csv,
    member_of_new_business,
)

HASHER = ["django.contrib.auth.hashers.MD5PasswordHasher"]
TAKEN_OVER = re.compile(r"\n?Taken over from .*\Z")


def as_sealed(facts: dict[str, Any]) -> dict[str, Any]:
    """Return the facts by name, without the line that the import adds to the note."""
    found = by_name(facts)
    found["record"]["note"] = TAKEN_OVER.sub("", found["record"]["note"])
    return found


@override_settings(PASSWORD_HASHERS=HASHER, AXES_ENABLED=False)
class TestSeason(TestCase):
    @classmethod
    def setUpTestData(cls) -> None:
        said: list[str] = []
        assert load_demo(say=said.append) == 67
        assert any("67 of 67 records" in line for line in said)
        cls.origin = actor_for(User.objects.get(email="orla@spraying.example"))
        cls.file = exported(cls.origin)
        cls.newcomer = member_of_new_business()
        cls.report = bring_in(cls.newcomer, cls.file)
        cls.current = [one for one in cls.file["records"] if one["superseded_by"] is None]

    def draft_of(self, record: dict[str, Any]) -> Any:
        place = f"$.records[{self.file['records'].index(record)}]"
        (outcome,) = [one for one in self.report.outcomes if one.place == place]
        return examine(actor=self.newcomer, record_id=outcome.record_id)

    def test_the_file_is_valid_by_the_published_schema(self) -> None:
        # Oracle: the jsonschema library, draft 2020-12, formats checked.
        validator = jsonschema.Draft202012Validator(
            schema.schema(), format_checker=jsonschema.FormatChecker()
        )
        assert [error.message for error in validator.iter_errors(self.file)] == []
        assert len(self.file["records"]) == Seal.objects.count() == 65

    def test_every_record_that_stands_makes_a_draft_with_its_facts_and_names_its_seal(self) -> None:
        assert self.report.written
        assert len(self.current) == self.report.count(NEW) == 63
        for record in self.current:
            draft = self.draft_of(record)
            assert draft.record.signed_at is None
            assert as_sealed(to_json(draft.snapshot)) == by_name(record["facts"])
            seal = record["seal"]
            assert draft.snapshot.record.note.endswith(
                f"Taken over from Example Custom Spraying, no. {seal['stated']['number']}, "
                f"seal {seal['link']}."
            )
        assert [one.differs for one in self.report.outcomes if one.differs] == []

    def test_a_corrected_record_is_left_out_for_its_correction(self) -> None:
        left = [one for one in self.report.outcomes if one.what == CORRECTED]
        numbers = [one["superseded_by"] for one in self.file["records"] if one["superseded_by"]]
        assert [one.why for one in left] == [f"no. {n} of its book corrects it" for n in numbers]
        assert [one.record_id for one in left] == [None, None]
        corrections = [
            one for one in self.file["records"] if one["seal"]["stated"]["number"] in numbers
        ]
        assert len(corrections) == 2
        assert all(self.draft_of(one).record.amends is None for one in corrections)

    def test_fields_that_shared_a_load_share_it_again(self) -> None:
        shared = [
            record
            for record in self.current
            if any(load["shared"] for load in record["facts"]["loads"])
        ]
        assert len(shared) == 2
        loads = [set(self.draft_of(one).record.load_uses.values_list("load")) for one in shared]
        assert len(loads[0] & loads[1]) == 1

    def test_importing_again_changes_nothing(self) -> None:
        def standing() -> list[Any]:
            rows = ApplicationRecord.objects.within(self.newcomer.business)
            return [
                *rows.order_by("pk").values_list("pk", "revision", "updated_at"),
                Field.objects.count(),
                LabelEdition.objects.count(),
            ]

        before = standing()
        again = bring_in(self.newcomer, self.file)
        assert (again.count(NEW), again.count(STANDING)) == (0, 63)
        assert {one.why for one in again.outcomes if one.what == STANDING} == {"as a draft"}
        assert standing() == before

    def test_into_the_same_book_nothing_comes_twice(self) -> None:
        before = ApplicationRecord.objects.count()
        report = bring_in(self.origin, self.file)
        assert report.count(STANDING) == 65
        assert report.outcomes[0].why == "as no. 1 of this book"
        assert ApplicationRecord.objects.count() == before

    def test_signed_in_the_new_book_the_records_go_out_as_they_came_in(self) -> None:
        confirmation = Confirmation(user=self.newcomer.user)
        for record in self.current:
            seen = self.draft_of(record)
            sign(
                actor=self.newcomer,
                record_id=seen.record.pk,
                revision=seen.record.revision,
                explanations={
                    one.key: said_of(one, "as at the origin") for one in seen.report.findings
                },
                confirmation=confirmation,
                now=seen.record.finished_at + timedelta(days=200),
            )
        again = exported(self.newcomer)["records"]
        assert len(again) == 63
        for new, old in zip(again, self.current, strict=True):
            assert as_sealed(new["facts"]) == by_name(old["facts"])
            assert _used_before(new["facts"]) == _used_before(old["facts"])
            plots = [one["application"].pop("plot") for one in (new, old)]
            assert plots[0]["geometry"] == plots[1]["geometry"]
            assert plots[0]["properties"] == plots[1]["properties"]
            assert new["application"] == old["application"]

    def test_the_csv_makes_drafts_that_say_what_its_columns_say(self) -> None:
        other = member_of_new_business("Third Furrow Spraying")
        text = exported_csv(self.origin)
        report = bring_in(other, text)
        assert [str(one) for one in report.problems] == []
        assert (report.count(NEW), report.count(CORRECTED)) == (63, 2)
        assert [one.differs for one in report.outcomes if one.differs] == []
        lines = [row for row in cells(text) if not row["superseded_by"]]
        products = 0
        for outcome in report.outcomes:
            if outcome.what == CORRECTED:
                continue
            snapshot = examine(actor=other, record_id=outcome.record_id).snapshot
            for product in snapshot.products:
                row = lines[products]
                products += 1
                assert row["product"] == product.name
                assert row["authorisation_number"] == product.registration_number
                planned = f"{row['planned_rate_value']} {row['planned_rate_unit']}"
                assert planned == str(product.planned_rate)
                assert f"{row['total_used_value']} {row['total_used_unit']}" == str(
                    product.total_used
                )
                assert row["eppo_code"] == snapshot.crop.eppo_code
                assert row["field"] == snapshot.field.name
        assert products == len(lines)


def _used_before(facts: dict[str, Any]) -> list[Any]:
    names = {line["product_id"]: line["name"] for line in facts["products"]}
    return [(names[use["product_id"]], use["applied_on"], use["rate"]) for use in facts["earlier"]]
