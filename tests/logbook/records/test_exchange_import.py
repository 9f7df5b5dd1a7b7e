"""Bringing records in: drafts, a shelf that is matched or filled, and refusals that name places."""

from __future__ import annotations

import copy
import re
import uuid
from collections.abc import Callable, Iterator
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import pytest

from logbook.accounts.models import Person
from logbook.catalog.models import (
    CatchTest,
    Customer,
    Field,
    LabelEdition,
    NozzleModel,
    NozzleSet,
    Planting,
    Product,
    Rig,
)
from logbook.errors.exceptions import NotAllowed, Refused
from logbook.facts.quantity import Quantity
from logbook.records.exchange.importing import (
    CORRECTED,
    NEW,
    STANDING,
    Limits,
    import_records,
)
from logbook.records.models import ApplicationRecord, Load, Seal
from logbook.records.reading.examine import examine
from logbook.records.writing.draft import begin_draft, save_draft
from logbook.records.writing.sign import sign
from tests import factories as make
from tests.conftest import said_of
from tests.logbook.records.exchange import (
    as_csv,
    bring_in,
    cells,
    exported,
    exported_csv,
    member_of_new_business,
    resealed,
    told,
    unsealed,
)

Change = Callable[[dict[str, Any]], Any]
SHELVES = (Customer, Field, Product, LabelEdition, NozzleModel, Rig, NozzleSet, CatchTest, Person)


@pytest.fixture
def file(owner: Any, signed: Any) -> dict[str, Any]:
    """A file of one record."""
    return exported(owner)


@pytest.fixture
def open_file(file: dict[str, Any]) -> dict[str, Any]:
    """The file as a program without seals writes it: it may be changed."""
    return unsealed(file)


@pytest.fixture
def newcomer(file: dict[str, Any]) -> Any:
    """The owner of an empty business."""
    return member_of_new_business()


def changed(file: dict[str, Any], path: str, value: Any) -> dict[str, Any]:
    """Return the file with one member of its first record set ("facts.record.speed")."""
    found = copy.deepcopy(file)
    place: Any = found["records"][0]
    *way, last = [int(step) if step.isdigit() else step for step in path.split(".")]
    for step in way:
        place = place[step]
    if value is ...:
        del place[last]
    else:
        place[last] = value
    return found


def second(file: dict[str, Any], **at: Any) -> dict[str, Any]:
    """Return the file with a second record, a copy of the first under another id."""
    found = copy.deepcopy(file)
    copied = copy.deepcopy(found["records"][0])
    copied["id"] = copied["facts"]["record"]["id"] = str(uuid.uuid4())
    copied["facts"]["record"] |= at
    for name, instant in (("start", "started_at"), ("end", "finished_at")):
        if instant in at:
            copied["application"][name] = at[instant]
    found["records"].append(copied)
    return found


class TestDrafts:
    def test_a_sealed_record_becomes_a_draft_with_its_seal_in_the_note(
        self, newcomer: Any, file: dict[str, Any]
    ) -> None:
        report = bring_in(newcomer, file)
        (outcome,) = report.outcomes
        assert (outcome.what, outcome.differs) == (NEW, ())
        assert outcome.title == "no. 1, North L, 2026-06-12"
        draft = ApplicationRecord.objects.get(pk=outcome.record_id)
        assert draft.signed_at is None
        assert draft.created_by == newcomer.user
        link = Seal.objects.get().link
        assert draft.note == f"Taken over from Long Furrow Spraying, no. 1, seal {link}."
        assert draft.speed == Quantity(Decimal("7.9"), "mph")

    def test_a_dry_run_says_the_same_and_writes_nothing(
        self, newcomer: Any, file: dict[str, Any]
    ) -> None:
        before = [model.objects.count() for model in (*SHELVES, ApplicationRecord, Load)]
        dry = bring_in(newcomer, file, write=False)
        assert not dry.written
        assert [model.objects.count() for model in (*SHELVES, ApplicationRecord, Load)] == before
        real = bring_in(newcomer, file)
        assert real.written
        assert (dry.outcomes, dry.shelf) == (real.outcomes, real.shelf)

    @pytest.mark.parametrize(
        ("path", "given", "stored"),
        [
            ("weather.0.signs", ..., None),
            ("weather.0.signs", None, None),
            ("weather.0.signs", [], []),
            ("field.elevation", ..., None),
            ("field.elevation", {"value": "1050", "unit": "ft"}, Quantity(Decimal(1050), "ft")),
            ("products.0.label.restricted_use", None, None),
            ("products.0.label.restricted_use", False, False),
            ("record.duty", None, None),
        ],
    )
    def test_what_is_not_said_stays_so(
        self, newcomer: Any, open_file: dict[str, Any], path: str, given: Any, stored: Any
    ) -> None:
        report = bring_in(newcomer, changed(open_file, f"facts.{path}", given))
        (outcome,) = report.outcomes
        assert (outcome.what, outcome.differs) == (NEW, ()), told(report)
        draft = ApplicationRecord.objects.get(pk=outcome.record_id)
        holder = {
            "weather": draft.weather.first(),
            "field": draft.field,
            "products": draft.products.get().label,
            "record": draft,
        }[path.split(".")[0]]
        assert getattr(holder, path.rpartition(".")[2]) == stored

    def test_a_record_without_a_seal_has_no_line_in_its_note(
        self, newcomer: Any, open_file: dict[str, Any]
    ) -> None:
        report = bring_in(newcomer, changed(open_file, "facts.record.note", "calm evening"))
        draft = ApplicationRecord.objects.get(pk=report.outcomes[0].record_id)
        assert draft.note == "calm evening"
        assert report.outcomes[0].title == "not sealed, North L, 2026-06-12"

    def test_a_draft_that_was_signed_meanwhile_stands(
        self, newcomer: Any, file: dict[str, Any], confirmed: Any, now: datetime
    ) -> None:
        record_id = bring_in(newcomer, file).outcomes[0].record_id
        seen = examine(actor=newcomer, record_id=record_id)
        sign(
            actor=newcomer,
            record_id=record_id,
            revision=seen.record.revision,
            explanations={one.key: said_of(one, "so it was then") for one in seen.report.findings},
            confirmation=confirmed(newcomer),
            now=now,
        )
        (outcome,) = bring_in(newcomer, file).outcomes
        assert (outcome.what, outcome.why) == (STANDING, "as no. 1 of this book")

    def test_a_draft_that_was_changed_meanwhile_keeps_its_change(
        self, newcomer: Any, file: dict[str, Any]
    ) -> None:
        record_id = bring_in(newcomer, file).outcomes[0].record_id
        revision = ApplicationRecord.objects.get(pk=record_id).revision
        save_draft(
            actor=newcomer, record_id=record_id, revision=revision, data={"purpose": "thistles"}
        )
        assert bring_in(newcomer, file).outcomes[0].what == STANDING
        assert ApplicationRecord.objects.get(pk=record_id).purpose == "thistles"

    def test_two_books_may_take_the_same_file(self, newcomer: Any, file: dict[str, Any]) -> None:
        other = member_of_new_business("Third Furrow Spraying")
        ids = [bring_in(who, file).outcomes[0].record_id for who in (newcomer, other)]
        assert len(set(ids)) == 2

    def test_a_resumed_job_is_tied_to_its_first_part(
        self, newcomer: Any, open_file: dict[str, Any]
    ) -> None:
        both = second(
            open_file,
            started_at="2026-06-12T12:30:00-05:00",
            finished_at="2026-06-12T13:30:00-05:00",
        )
        first_id = both["records"][0]["id"]
        both["records"][1]["facts"]["continues"] = {
            "id": first_id,
            "number": None,
            "day": "2026-06-12",
        }
        both["records"].reverse()  # The order in the file does not matter.
        report = bring_in(newcomer, both)
        assert told(report) == ""
        later, earlier = (
            ApplicationRecord.objects.get(pk=one.record_id) for one in report.outcomes
        )
        assert later.continues == earlier

    def test_what_a_record_continues_may_be_elsewhere(
        self, newcomer: Any, open_file: dict[str, Any]
    ) -> None:
        before = {"id": "not here", "number": 4, "day": None}
        report = bring_in(newcomer, changed(open_file, "facts.continues", before))
        assert any(
            "Resumes the job of, number: 4, now blank" in line
            for line in report.outcomes[0].differs
        )

    def test_a_bare_record_is_taken(self, newcomer: Any, open_file: dict[str, Any]) -> None:
        bare = open_file
        names = (
            *("customer", "field", "crop", "applicator", "rig", "nozzle"),
            *("nozzle_mounted_on", "catch_test"),
        )
        for name in names:
            bare = changed(bare, f"facts.{name}", None)
        for name in ("products", "loads", "weather"):
            bare = changed(bare, f"facts.{name}", [])
        for name in ("started_at", "finished_at"):
            bare = changed(bare, f"facts.record.{name}", None)
        for name in ("date", "start", "end", "plot", "crop", "applicator"):
            bare = changed(bare, f"application.{name}", None)
        bare = changed(changed(bare, "application.products", []), "loads", None)
        report = bring_in(newcomer, bare)
        assert told(report) == ""
        assert report.outcomes[0].title == "not sealed, no field, no day"
        assert report.outcomes[0].differs == ()

    def test_a_superseded_record_is_left_out(self, newcomer: Any, file: dict[str, Any]) -> None:
        report = bring_in(newcomer, changed(file, "superseded_by", 9))
        assert [(one.what, one.why) for one in report.outcomes] == [
            (CORRECTED, "no. 9 of its book corrects it")
        ]
        assert not ApplicationRecord.objects.within(newcomer.business).exists()


class TestLoads:
    def test_records_that_name_one_load_share_it(
        self, newcomer: Any, open_file: dict[str, Any]
    ) -> None:
        bring_in(newcomer, second(open_file))
        assert Load.objects.within(newcomer.business).count() == 3

    def test_records_that_say_different_things_of_a_load_do_not_share_it(
        self, newcomer: Any, open_file: dict[str, Any]
    ) -> None:
        both = second(open_file)
        both["records"][1]["facts"]["loads"][0]["mixed_volume"]["value"] = "650"
        assert told(bring_in(newcomer, both)) == ""
        assert Load.objects.within(newcomer.business).count() == 4

    def test_loads_keep_the_order_in_which_they_were_entered(
        self, newcomer: Any, open_file: dict[str, Any]
    ) -> None:
        both = second(open_file)
        later = both["records"][1]
        later["loads"].reverse()
        later["facts"]["loads"].reverse()
        report = bring_in(newcomer, both)
        facts = examine(actor=newcomer, record_id=report.outcomes[0].record_id).snapshot
        assert [str(load.mixed_volume) for load in facts.loads] == ["700 gal", "700 gal", "480 gal"]

    def test_loads_of_which_no_more_is_known_are_each_their_own(
        self, newcomer: Any, open_file: dict[str, Any]
    ) -> None:
        both = second(changed(changed(open_file, "loads", None), "facts.catch_test", None))
        assert bring_in(newcomer, both).written
        assert Load.objects.within(newcomer.business).count() == 6
        assert not CatchTest.objects.within(newcomer.business).exists()

    def test_an_old_load_is_not_offered_as_today_s(
        self, newcomer: Any, file: dict[str, Any]
    ) -> None:
        entered = [datetime.fromisoformat(one["entered_at"]) for one in file["records"][0]["loads"]]
        bring_in(newcomer, file)
        rows = Load.objects.within(newcomer.business).order_by("created_at")
        assert [row.created_at for row in rows] == entered

    @pytest.mark.parametrize(
        ("path", "value", "told_of"),
        [
            (
                "facts.loads.1.mixed_volume",
                {"value": "0", "unit": "gal"},
                r"\$\.records\[0\]\.facts\.loads\[1\]\.mixed_volume: .*more than 0",
            ),
            (
                "facts.loads.1.parts.0.product_id",
                "nobody's",
                r"loads\[1\]\.parts\[0\]\.product_id: \"nobody's\": no product of this file",
            ),
            (
                "facts.loads.1.used_here",
                {"value": "-1", "unit": "gal"},
                r"loads\[1\]\.used_here: .*-1.* at least 0",
            ),
            (
                "facts.loads.1.parts.0.amount",
                {"value": "3", "unit": "mph"},
                r"loads\[1\]\.parts\[0\]\.amount: .*3 mph is not a volume or mass",
            ),
        ],
    )
    def test_what_is_wrong_with_a_load_is_named(
        self, newcomer: Any, open_file: dict[str, Any], path: str, value: Any, told_of: str
    ) -> None:
        report = bring_in(newcomer, changed(open_file, path, value))
        assert re.search(told_of, told(report)), told(report)

    def test_a_product_twice_in_one_load_is_named(
        self, newcomer: Any, open_file: dict[str, Any]
    ) -> None:
        parts = open_file["records"][0]["facts"]["loads"][0]["parts"] * 2
        report = bring_in(newcomer, changed(open_file, "facts.loads.0.parts", parts))
        assert re.search(r"loads\[0\]\.parts\[1\]\.product_id: .* it is in this load", told(report))
        assert not ApplicationRecord.objects.within(newcomer.business).exists()


class TestShelf:
    def test_an_empty_shelf_is_filled(self, newcomer: Any, file: dict[str, Any]) -> None:
        report = bring_in(newcomer, file)
        kinds = (
            *("people", "customers", "fields", "plantings", "rigs", "nozzles", "nozzle-sets"),
            *("catch-tests", "products", "labels"),
        )
        assert {
            kind: (count.found, count.new) for kind, count in report.shelf.items()
        } == dict.fromkeys(kinds, (0, 1))

    def test_rows_of_the_same_names_are_used(self, newcomer: Any, file: dict[str, Any]) -> None:
        business, facts = newcomer.business, file["records"][0]["facts"]
        field = make.FieldFactory(
            business=business,
            name="North L",
            customer__name=facts["customer"]["name"],
            customer__address=facts["customer"]["address"],
        )
        planting = make.PlantingFactory(field=field, season=2026)
        product = make.ProductFactory(
            business=business,
            name="Leafkill",
            registration_number=facts["products"][0]["registration_number"],
        )
        label = make.LabelEditionFactory(product=product)
        person = make.PersonFactory(business=business, name="A. Lund")
        nozzle = make.NozzleModelFactory(business=business)
        rig = make.RigFactory(business=business)
        nozzle_set = make.NozzleSetFactory(business=business, rig=rig, nozzle=nozzle)
        report = bring_in(newcomer, file)
        assert {kind: (count.found, count.new) for kind, count in report.shelf.items()} == {
            **dict.fromkeys(
                ("people", "customers", "fields", "plantings", "rigs", "nozzles"), (1, 0)
            ),
            **dict.fromkeys(("nozzle-sets", "products", "labels"), (1, 0)),
            "catch-tests": (0, 1),
        }
        draft = ApplicationRecord.objects.get(pk=report.outcomes[0].record_id)
        assert (draft.field, draft.planting, draft.rig) == (field, planting, rig)
        assert (draft.applicator, draft.nozzle_set) == (person, nozzle_set)
        (line,) = draft.products.all()
        assert (line.product, line.label) == (product, label)

    def test_a_row_that_stands_otherwise_stays_and_the_difference_is_named(
        self, newcomer: Any, file: dict[str, Any]
    ) -> None:
        facts = file["records"][0]["facts"]
        rig = make.RigFactory(
            business=newcomer.business, plate=facts["rig"]["plate"], tank=make.q("500 gal")
        )
        make.FieldFactory(
            business=newcomer.business,
            name="North L",
            customer__name=facts["customer"]["name"],
            customer__address=facts["customer"]["address"],
            boundary=None,
        )
        (outcome,) = bring_in(newcomer, file).outcomes
        tank = facts["rig"]["tank"]
        assert f"Rig, tank: {tank['value']} {tank['unit']}, now 500 gal" in outcome.differs
        assert "field boundary: another outline" in outcome.differs
        rig.refresh_from_db()
        assert rig.tank == make.q("500 gal")

    def test_somebody_of_the_same_name_with_other_licences_is_somebody_else(
        self, newcomer: Any, file: dict[str, Any]
    ) -> None:
        namesake = make.PersonFactory(business=newcomer.business, name="A. Lund", licensed=True)
        report = bring_in(newcomer, file)
        draft = ApplicationRecord.objects.get(pk=report.outcomes[0].record_id)
        assert draft.applicator != namesake
        assert draft.applicator.name == "A. Lund"

    def test_somebody_with_one_of_the_licences_is_the_same(
        self, newcomer: Any, file: dict[str, Any]
    ) -> None:
        number = file["records"][0]["facts"]["applicator"]["licences"][0]["number"]
        person = make.PersonFactory(business=newcomer.business, name="A. Lund")
        make.LicenceFactory(person=person, number=number)
        make.LicenceFactory(person=person, number="another")
        report = bring_in(newcomer, file)
        draft = ApplicationRecord.objects.get(pk=report.outcomes[0].record_id)
        assert draft.applicator == person

    def test_two_helpers_of_one_name_in_the_file_stay_two(
        self, newcomer: Any, open_file: dict[str, Any]
    ) -> None:
        crew = [
            {"id": one, "name": "Pat Reed", "licences": [], "trainings": []} for one in ("1", "2")
        ]
        report = bring_in(newcomer, changed(open_file, "facts.crew", crew))
        assert told(report) == ""
        assert Person.objects.within(newcomer.business).filter(name="Pat Reed").count() == 2

    def test_the_newest_version_of_a_row_is_put_on_the_shelf(
        self, newcomer: Any, open_file: dict[str, Any]
    ) -> None:
        both = second(
            open_file,
            started_at="2026-06-20T09:30:00-05:00",
            finished_at="2026-06-20T12:00:00-05:00",
        )
        both["records"][1]["application"]["date"] = "2026-06-20"
        both["records"][1]["facts"]["weather"] = []
        both["records"][1]["facts"]["rig"]["tank"]["value"] = "999"
        for load in both["records"][1]["loads"]:
            load["id"] += "b"
        older, newer = bring_in(newcomer, both).outcomes
        assert Rig.objects.within(newcomer.business).get().tank.value == 999
        assert newer.differs == ()
        assert len(older.differs) == 1
        assert older.differs[0].endswith("now 999 gal")

    def test_a_field_that_was_sold_is_a_field_of_each_customer(
        self, newcomer: Any, open_file: dict[str, Any]
    ) -> None:
        both = second(open_file)
        both["records"][1]["facts"]["customer"] = {"id": "b", "name": "Buyer", "address": "Lane 2"}
        report = bring_in(newcomer, both)
        assert told(report) == ""
        fields = Field.objects.within(newcomer.business)
        assert {field.customer.name for field in fields} == {
            open_file["records"][0]["facts"]["customer"]["name"],
            "Buyer",
        }
        assert {field.name for field in fields} == {"North L"}

    def test_nozzles_that_were_taken_off_stay_so(
        self, newcomer: Any, open_file: dict[str, Any]
    ) -> None:
        gone = changed(open_file, "facts.nozzle_removed_on", "2026-09-01")
        assert bring_in(newcomer, gone).written
        row = NozzleSet.objects.within(newcomer.business).get()
        assert row.removed_on == date(2026, 9, 1)

    def test_a_label_brings_its_duties(self, newcomer: Any, open_file: dict[str, Any]) -> None:
        how = {"how_read": "legal text"}
        label = open_file["records"][0]["facts"]["products"][0]["label"]
        label |= {
            "classes": ["auxin herbicide"],
            "training": "auxin training",
            "asks": [{"name": "wind speed", "detail": "at boom height", **how}],
            "deadlines": [
                {"kind": "record", "clock": "hours", "count": 72, "to": "own files", **how}
            ],
            "retention": [{"years": 3, "since": "application", **how}],
        }
        elements = [name for name in _elements() if "wind" in name]
        label["asks"][0]["name"] = elements[0]
        report = bring_in(newcomer, open_file)
        assert told(report) == ""
        assert report.outcomes[0].differs == ()
        row = LabelEdition.objects.within(newcomer.business).get()
        assert (row.duty_classes, row.keep_years) == (["auxin herbicide"], 3)
        assert row.deadlines.get().count == 72

    def test_a_planting_of_an_autumn_before_is_found(
        self, newcomer: Any, open_file: dict[str, Any]
    ) -> None:
        crop = changed(open_file, "facts.crop.planted_on", "2025-09-20")
        report = bring_in(newcomer, crop)
        planting = Planting.objects.get(field__business=newcomer.business)
        assert (planting.season, planting.planted_on) == (2026, date(2025, 9, 20))
        assert report.outcomes[0].differs == ()
        again = second(crop)
        assert bring_in(newcomer, again).shelf["plantings"].found == 1

    @pytest.mark.parametrize(
        ("path", "value", "told_of"),
        [
            ("facts.customer", None, r"facts\.field: a field needs its customer"),
            ("facts.nozzle_mounted_on", None, r"nozzle: nozzles need their rig and the day"),
            ("facts.rig", None, r"nozzle: nozzles need their rig and the day"),
            (
                "facts.field.time_zone",
                "Mars/Olympus",
                r"facts\.field\.time_zone: \"Mars/Olympus\": an IANA time zone",
            ),
            ("facts.field.place", "Dakota", r"facts\.field\.place: \"Dakota\": .*ISO 3166-2"),
            ("facts.field.locations.0.kind", "song", r"field\.locations\[0\]\.kind: \"song\""),
            ("facts.crop.eppo_code", "no", r"facts\.crop\.eppo_code: \"no\": Five or six"),
            ("facts.products.0.kind", "magic", r"products\[0\]\.kind: \"magic\": allowed are"),
            (
                "facts.products.0.label.finest_class",
                "x",
                r"label\.finest_class: \"x\": allowed are",
            ),
            ("facts.rig.nozzle_count", 0, r"facts\.rig\.nozzle_count: 0: "),
            ("facts.nozzle.size", "99", r"facts\.nozzle\.size: \"99\": .*allowed are"),
            (
                "facts.products.0.label.ingredients.0.content",
                {"value": "0", "unit": "lb/gal"},
                r"label\.ingredients\[0\]\.content: .*more than 0",
            ),
            ("facts.applicator.licences.0.place", "x", r"applicator\.licences\[0\]\.place"),
            ("facts.catch_test.volumes", [], r"facts\.catch_test\.volumes"),
        ],
    )
    def test_a_row_that_cannot_be_made_is_named_once(
        self, newcomer: Any, open_file: dict[str, Any], path: str, value: Any, told_of: str
    ) -> None:
        bad = changed(open_file, path, value)
        application = bad["records"][0]["application"]
        if path == "facts.field.place":
            application["plot"]["properties"]["place"] = value
        if path == "facts.crop.eppo_code":
            application["crop"]["eppo_code"] = value
        if path == "facts.field.locations.0.kind":
            application["plot"]["properties"]["locations"][0]["kind"] = value
        report = bring_in(newcomer, second(bad))
        assert len(re.findall(told_of, told(report))) >= 1, told(report)
        assert not report.written
        assert not Customer.objects.within(newcomer.business).exists()

    def test_a_crop_without_field_or_day_is_named(
        self, newcomer: Any, open_file: dict[str, Any]
    ) -> None:
        no_field = changed(changed(open_file, "facts.field", None), "application.plot", None)
        for name in ("start", "end"):
            no_field = changed(
                no_field,
                f"application.{name}",
                no_field["records"][0]["facts"]["record"][
                    "started_at" if name == "start" else "finished_at"
                ],
            )
        assert "a crop needs the field" in told(bring_in(newcomer, no_field))
        no_day = changed(open_file, "facts.crop.planted_on", None)
        for name in ("started_at", "finished_at"):
            no_day = changed(no_day, f"facts.record.{name}", None)
        for name in ("date", "start", "end"):
            no_day = changed(no_day, f"application.{name}", None)
        assert "a crop needs the day" in told(bring_in(newcomer, no_day))


def _paths(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Yield the way to every member, of a list to the first two."""
    if path:
        yield path
    if isinstance(value, dict):
        for name, item in value.items():
            yield from _paths(item, (*path, name))
    elif isinstance(value, list):
        for number, item in enumerate(value[:2]):
            yield from _paths(item, (*path, number))


def _elements() -> list[str]:
    from logbook.law.elements import ELEMENTS

    return list(ELEMENTS)


class TestRights:
    def test_a_helper_may_not(self, file: dict[str, Any]) -> None:
        with pytest.raises(NotAllowed, match="you may not change fields, products"):
            bring_in(member_of_new_business(role="helper"), file)

    def test_whoever_may_not_change_people_needs_them_on_the_shelf(
        self, file: dict[str, Any]
    ) -> None:
        applicator = member_of_new_business(role="applicator")
        report = bring_in(applicator, file)
        facts = file["records"][0]["facts"]
        assert told(report) == (
            "$.records[0].facts.applicator: As applicator you may not change people and their "
            f"licences. ({facts['customer']['name']}, {facts['field']['name']})"
        )
        assert not report.written
        make.PersonFactory(business=applicator.business, name="A. Lund")
        assert bring_in(applicator, file).written

    def test_an_id_of_another_book_is_not_looked_into(
        self, newcomer: Any, open_file: dict[str, Any], stranger: Any
    ) -> None:
        theirs = begin_draft(actor=stranger, record_id=uuid.uuid4())
        mine = changed(open_file, "id", str(theirs.pk))
        report = bring_in(newcomer, changed(mine, "facts.record.id", str(theirs.pk)))
        assert report.outcomes[0].what == NEW
        assert report.outcomes[0].record_id != theirs.pk


class TestSeal:
    def test_facts_that_are_not_what_was_sealed_are_refused(
        self, newcomer: Any, file: dict[str, Any]
    ) -> None:
        report = bring_in(newcomer, changed(file, "facts.record.purpose", "something else"))
        assert told(report).startswith(
            "$.records[0].seal: the record is not what was sealed: its hashes do not come out"
        )

    def test_a_changed_statement_of_the_seal_is_refused(
        self, newcomer: Any, file: dict[str, Any]
    ) -> None:
        report = bring_in(newcomer, changed(file, "seal.stated.number", 7))
        assert "not what was sealed" in told(report)

    def test_a_newer_fact_passes_the_hash_and_is_named_as_unknown(
        self, newcomer: Any, file: dict[str, Any]
    ) -> None:
        newer = changed(file, "facts.rig.colour", "green")
        newer["mood"] = "good"
        report = bring_in(newcomer, resealed(newer))
        assert told(report) == ""
        assert report.unknown == ("$.mood", "$.records[].facts.rig.colour")

    @pytest.mark.parametrize(
        ("path", "value", "told_of"),
        [
            ("seal", [], r"records\[0\]\.seal: \[\]: an object is needed"),
            ("seal.stated", "x", r"seal\.stated: \"x\": an object is needed"),
            ("seal.stated", None, r"seal\.stated: null: an object is needed"),
            ("seal.leaf", "ABC", r"seal\.leaf: \"ABC\": 64 hexadecimal digits"),
            ("seal.link", ..., r"seal\.link: null: a text is needed"),
        ],
    )
    def test_a_seal_that_is_none_is_named(
        self, newcomer: Any, file: dict[str, Any], path: str, value: Any, told_of: str
    ) -> None:
        report = bring_in(newcomer, changed(file, path, value))
        assert re.search(told_of, told(report)), told(report)

    def test_a_seal_without_a_number_is_no_origin(
        self, newcomer: Any, file: dict[str, Any]
    ) -> None:
        report = bring_in(newcomer, resealed(changed(file, "seal.stated.number", "one")))
        assert "a whole number is needed" in told(report)


class TestFile:
    @pytest.mark.parametrize(
        ("path", "value", "told_of"),
        [
            ("facts", ..., r"\$\.records\[0\]\.facts: this member is missing"),
            ("application", ..., r"\$\.records\[0\]\.application: this member is missing"),
            ("id", "other", r"\$\.records\[0\]\.id: \"other\": it has to be the id in facts"),
            ("loads", [], r"\$\.records\[0\]\.loads: 0: facts\.loads has 3 loads"),
            ("loads.0.id", 7, r"loads\[0\]\.id: 7: a text is needed"),
            ("superseded_by", "9", r"superseded_by: \"9\": a whole number is needed"),
            (
                "application.products.0.authorisation_number",
                "OTHER-1",
                r"application\.products\[0\]\.authorisation_number: \"OTHER-1\": the facts of the "
                r"record say \"TEST-",
            ),
            ("application.date", "2026-06-13", r"application\.date: .*say \"2026-06-12\""),
            ("application.products", [], r"application\.products: \[\]: the facts"),
            ("application", "x", r"\.application: \"x\": the facts"),
            (
                "facts.record.speed",
                {"value": "300", "unit": "mph"},
                r"facts\.record\.speed: .*300 mph is not possible; it must be at most",
            ),
            (
                "facts.weather.0.gust",
                {"value": "300", "unit": "mph"},
                r"facts\.weather\[0\]\.gust: .*300 mph is not possible",
            ),
            ("facts.weather.0.signs", ["omen"], r"weather\[0\]\.signs\[0\]: \"omen\": allowed"),
            ("facts.record.pattern", "spiral", r"facts\.record\.pattern: \"spiral\": "),
            ("facts.crop.growth_stage_bbch", 100, r"facts\.crop\.growth_stage_bbch: 100: "),
            (
                "facts.products.0.planned_rate",
                {"value": "-2", "unit": "fl oz/ac"},
                r"facts\.products\[0\]\.planned_rate: .*-2 fl oz/ac is not possible",
            ),
            (
                "facts.record.finished_at",
                "2026-06-12T08:00:00-05:00",
                r"facts\.record(\.finished_at)?: .*cannot end before it starts",
            ),
        ],
    )
    def test_every_bad_place_is_named_with_its_value_and_what_is_allowed(
        self, newcomer: Any, open_file: dict[str, Any], path: str, value: Any, told_of: str
    ) -> None:
        bad = changed(open_file, path, value)
        record = bad["records"][0]
        if path == "facts.record.finished_at":
            record["application"]["end"] = value
        if path == "facts.crop.growth_stage_bbch":
            record["application"]["crop"]["bbch"] = value
        if path == "facts.products.0.planned_rate":
            record["application"]["products"][0]["dose"] = value
        report = bring_in(newcomer, bad)
        assert re.search(told_of, told(report)), told(report)
        assert not report.written
        assert report.outcomes == ()
        assert not ApplicationRecord.objects.within(newcomer.business).exists()

    def test_nothing_of_a_file_with_one_bad_record_is_written(
        self, newcomer: Any, open_file: dict[str, Any]
    ) -> None:
        both = second(open_file)
        both["records"][1]["facts"]["record"]["speed"] = {"value": "300", "unit": "mph"}
        report = bring_in(newcomer, both)
        assert [one.place for one in report.problems] == ["$.records[1].facts.record.speed"]
        facts = both["records"][1]["facts"]
        # By the names in it, too: nobody counts records in a file.
        which = f"{facts['customer']['name']}, {facts['field']['name']}"
        assert report.problems[0].which == which
        assert str(report.problems[0]).endswith(f"({which})")
        assert not Customer.objects.within(newcomer.business).exists()

    def test_what_is_misspelt_and_what_is_impossible_are_told_together(
        self, newcomer: Any, open_file: dict[str, Any]
    ) -> None:
        both = second(open_file)
        first, other = (record["facts"]["record"] for record in both["records"])
        first["speed"] = "fast"
        other["speed"] = {"value": "300", "unit": "mph"}
        report = bring_in(newcomer, both)
        assert [one.place for one in report.problems] == [
            "$.records[0].facts.record.speed",
            "$.records[1].facts.record.speed",
        ]
        assert not Customer.objects.within(newcomer.business).exists()

    def test_all_bad_places_are_told_at_once_up_to_a_number(
        self, newcomer: Any, open_file: dict[str, Any]
    ) -> None:
        weather = open_file["records"][0]["facts"]["weather"][0]
        many = changed(open_file, "facts.weather", [{**weather, "gust": 3}] * 300)
        report = bring_in(newcomer, many)
        assert len(report.problems) == 200
        assert report.further_problems == 100

    def test_no_odd_value_at_any_place_does_more_than_be_refused(
        self, newcomer: Any, open_file: dict[str, Any]
    ) -> None:
        odd = (None, 10**14, 1.5, "", "x" * 500, [], [[]], {"a": 1}, True, "1990-01-01T00:00:00Z")
        refusals = 0
        for number, path in enumerate(_paths(open_file)):
            file = copy.deepcopy(open_file)
            place: Any = file
            for step in path[:-1]:
                place = place[step]
            place[path[-1]] = odd[number % len(odd)]
            try:
                report = bring_in(newcomer, file, write=False)
            except Refused:
                refusals += 1
            else:
                refusals += bool(report.problems)
                assert all(one.place.startswith("$") and one.allowed for one in report.problems)
        assert refusals > 250
        assert not Customer.objects.within(newcomer.business).exists()

    def test_one_id_twice_is_named(self, newcomer: Any, open_file: dict[str, Any]) -> None:
        twice = {**open_file, "records": open_file["records"] * 2}
        assert "it is the id of $.records[0] too" in told(bring_in(newcomer, twice))

    def test_a_record_that_is_none_is_named(self, newcomer: Any, open_file: dict[str, Any]) -> None:
        report = bring_in(newcomer, {**open_file, "records": [7, None]})
        assert told(report) == (
            "$.records[0]: 7: an object is needed here.\n"
            "$.records[1]: null: an object is needed here."
        )

    def test_a_record_with_more_lines_than_a_job_has_is_named(
        self, newcomer: Any, open_file: dict[str, Any]
    ) -> None:
        weather = open_file["records"][0]["facts"]["weather"][:1] * 41
        report = bring_in(newcomer, changed(open_file, "facts.weather", weather))
        assert "facts.weather: 41 lines are too many; at most 40." in told(report)

    @pytest.mark.parametrize(
        ("changes", "refusal"),
        [
            ({"format": "another"}, 'its "format" is not urn:uuid:'),
            ({"version": "2.0"}, 'The file is of version "2.0"; version 1 is read here'),
            ({"version": 1}, "The file is of version 1; version 1 is read here"),
            ({"records": {}}, '"records" is not a list'),
        ],
    )
    def test_another_layout_is_refused(
        self, newcomer: Any, file: dict[str, Any], changes: dict[str, Any], refusal: str
    ) -> None:
        with pytest.raises(Refused, match=re.escape(refusal)):
            bring_in(newcomer, {**file, **changes})

    def test_a_list_is_not_a_file_of_records(self, newcomer: Any) -> None:
        with pytest.raises(Refused, match='its "format" is not'):
            bring_in(newcomer, [])

    def test_a_newer_minor_version_is_read(self, newcomer: Any, file: dict[str, Any]) -> None:
        assert bring_in(newcomer, {**file, "version": "1.7"}).written

    def test_a_file_from_before_the_dose_was_what_was_used_is_read(
        self, newcomer: Any, file: dict[str, Any]
    ) -> None:
        # Up to version 1.1 the dose was the planned rate, and no basis stood beside it.
        (product,) = file["records"][0]["application"]["products"]
        del product["dose_basis"]
        product["dose"] = {"value": "22", "unit": "fl oz/ac"}
        assert bring_in(newcomer, file).count(NEW) == 1
        product["dose"] = {"value": "23", "unit": "fl oz/ac"}
        assert "the facts of the record say" in told(bring_in(newcomer, file))

    def test_a_dose_that_is_not_what_was_used_is_refused(
        self, newcomer: Any, file: dict[str, Any]
    ) -> None:
        (product,) = file["records"][0]["application"]["products"]
        product["dose_basis"] = "planned"
        assert "dose_basis" in told(bring_in(newcomer, file))

    def test_a_file_over_the_limits_is_refused(self, newcomer: Any, file: dict[str, Any]) -> None:
        import json

        raw = json.dumps({**file, "records": file["records"] * 2}).encode()
        few = Limits(most_bytes=len(raw), most_records=1)
        with pytest.raises(Refused, match="holds 2 records; at most 1 are taken at once"):
            import_records(actor=newcomer, raw=raw, write=True, limits=few)
        small = Limits(most_bytes=100, most_records=9)
        with pytest.raises(Refused, match="bytes; at most 100 are read at once"):
            import_records(actor=newcomer, raw=raw, write=True, limits=small)


class TestCsv:
    @pytest.fixture
    def rows(self, owner: Any, signed: Any) -> list[dict[str, str]]:
        return cells(exported_csv(owner))

    def test_its_columns_make_a_draft(self, newcomer: Any, rows: list[dict[str, str]]) -> None:
        report = bring_in(newcomer, as_csv(rows))
        assert told(report) == ""
        (outcome,) = report.outcomes
        assert outcome.differs == ()
        facts = examine(actor=newcomer, record_id=outcome.record_id).snapshot
        assert facts.field.name == "North L"
        assert facts.field.locations[0].kind == "legal description"
        assert facts.crop.growth_stage_bbch == 14
        assert facts.record.duty.kind == "not applicable"
        assert facts.record.started_at == datetime.fromisoformat("2026-06-12T14:30:00+00:00")
        assert str(facts.products[0].planned_rate) == "22 fl oz/ac"
        # What the columns do not hold is not made up.
        assert (facts.rig, facts.loads, facts.products[0].label) == (None, (), None)
        assert facts.record.note.startswith("Taken over from Long Furrow Spraying, no. 1, seal ")

    def test_a_dose_without_its_basis_is_the_plan_and_one_with_it_is_not(
        self, newcomer: Any, rows: list[dict[str, str]]
    ) -> None:
        # Columns before version 1.2 had the plan in "dose" alone.
        for row in rows:
            row |= {"dose_value": "21", "dose_unit": "fl oz/ac", "planned_rate_value": ""}
            row |= {"planned_rate_unit": "", "dose_basis": "", "version": "1.1"}
        report = bring_in(newcomer, as_csv(rows))
        (record_id,) = [one.record_id for one in report.outcomes]
        lines = ApplicationRecord.objects.get(pk=record_id).products.all()
        assert [str(line.planned_rate) for line in lines] == ["21 fl oz/ac"]

    def test_a_second_time_nothing_changes_and_json_is_the_same_record(
        self, newcomer: Any, rows: list[dict[str, str]], file: dict[str, Any]
    ) -> None:
        bring_in(newcomer, as_csv(rows))
        assert bring_in(newcomer, as_csv(rows)).outcomes[0].what == STANDING
        assert bring_in(newcomer, file).outcomes[0].what == STANDING

    def test_formulas_and_words_come_back_as_they_were(
        self, newcomer: Any, rows: list[dict[str, str]]
    ) -> None:
        rows[0] |= {
            "note": "'=1+1",
            "speed_value": "Not measured: '=display dark",
            "speed_unit": "",
            "distance_value": "none",
            "distance_unit": "",
        }
        report = bring_in(newcomer, as_csv(rows))
        record = examine(actor=newcomer, record_id=report.outcomes[0].record_id).snapshot.record
        assert record.note.startswith("=1+1\nTaken over")
        assert str(record.speed) == "not measured: '=display dark"
        assert str(record.distance) == "none"

    def test_few_columns_are_enough(self, newcomer: Any) -> None:
        row = {
            "version": "1.0",
            "record_id": "A-1",
            "business": "Elsewhere",
            "product": "",
            "start": "2026-06-12T09:30:00-05:00",
            "pattern": "broadcast",
        }
        report = bring_in(newcomer, as_csv([row]))
        assert told(report) == ""
        assert report.outcomes[0].title == "not sealed, no field, 2026-06-12"

    def test_only_the_example_row_of_the_template_is_passed_over(self, newcomer: Any) -> None:
        row = {
            "version": "1.0",
            "business": "Elsewhere",
            "product": "",
            "start": "2026-06-12T09:30:00-05:00",
            "pattern": "broadcast",
        }
        rows = [row | {"record_id": one} for one in ("EXAMPLE-1", "Example farm 17")]
        report = bring_in(newcomer, as_csv(rows))
        assert told(report) == ""
        assert len(report.outcomes) == 1

    def test_a_field_without_plot_has_no_outline(
        self, newcomer: Any, rows: list[dict[str, str]]
    ) -> None:
        rows[0]["plot"] = ""
        report = bring_in(newcomer, as_csv(rows))
        facts = examine(actor=newcomer, record_id=report.outcomes[0].record_id).snapshot
        assert (facts.field.boundary, facts.field.locations) == (None, ())

    @pytest.mark.parametrize(
        ("column", "cell", "told_of"),
        [
            ("speed_unit", "furlongs", 'row 2, column speed_unit: "furlongs": allowed are'),
            ("speed_value", "7,9", 'row 2, column speed_value: "7,9": a decimal is written'),
            ("speed_unit", "", 'row 2, column speed_unit: "": allowed are'),
            (
                "speed_value",
                "900",
                "row 2, columns speed_value and speed_unit: "
                '{"value": "900", "unit": "mph"}: 900 mph is not possible',
            ),
            ("start", "2026-06-12T09:30", 'row 2, column start: "2026-06-12T09:30": a time'),
            ("bbch", "1½", 'row 2, column bbch: "1½": a whole number is needed'),
            ("bbch", "100", "row 2, column bbch: 100: "),
            ("planted_on", "yesterday", 'row 2, column planted_on: "yesterday": a day of'),
            ("plot", "{", 'row 2, column plot: "{": This is not JSON'),
            ("plot", "{}", 'row 2, column plot: "{}": a GeoJSON Feature'),
            ("plot", '{"type": "Feature"}', "row 2, column plot: "),
            (
                "plot",
                '{"type":"Feature","properties":{},"geometry":{"type":"Point"}}',
                "row 2, column plot: ",
            ),
            (
                "plot",
                '{"type":"Feature","properties":{"locations":[{"kind":"song","text":"x"}]}}',
                'row 2, column plot: "song": allowed are legal description',
            ),
            ("place", "Dakota", 'row 2, column place: "Dakota": Write the place'),
            ("eppo_code", "no", 'row 2, column eppo_code: "no": Five or six'),
            ("customer_address", "", 'row 2, column customer_address: "": This field'),
            ("product_kind", "magic", 'row 2, column product_kind: "magic": '),
            ("product", "", 'row 2, column product: "": This field cannot be blank'),
            ("version", "2.0", 'row 2, column version: "2.0": version 1.2 is read here.'),
            ("record_id", "", 'row 2, column record_id: "": the id of the record is needed.'),
            ("seal_number", "x", 'row 2, column seal_number: "x": a whole number'),
            ("total_used_value", "-1", "row 2, columns total_used_value and total_used_unit: "),
        ],
    )
    def test_a_bad_cell_is_named_by_row_and_column(
        self, newcomer: Any, rows: list[dict[str, str]], column: str, cell: str, told_of: str
    ) -> None:
        rows[0][column] = cell
        if column == "product":
            rows = [*rows, {**rows[0], "product": "Leafkill"}]
        report = bring_in(newcomer, as_csv(rows))
        assert told_of in told(report)
        which = f"{rows[0]['customer']}, {rows[0]['field']}"
        assert {one.which for one in report.problems} == {which}
        assert not ApplicationRecord.objects.within(newcomer.business).exists()

    def test_rows_of_one_record_that_disagree_are_named(
        self, newcomer: Any, rows: list[dict[str, str]]
    ) -> None:
        other = {**rows[0], "product": "Wetter", "authorisation_number": "", "field": "South"}
        assert "row 3, column field: \"South\": row 2 of the same record says 'North L'." in told(
            bring_in(newcomer, as_csv([*rows, other]))
        )

    def test_a_row_that_is_too_short_is_named(
        self, newcomer: Any, rows: list[dict[str, str]]
    ) -> None:
        report = bring_in(newcomer, as_csv(rows) + "1.0,abc\r\n")
        assert re.search(r"row 3: 2 cells, not \d+\.", told(report))

    def test_an_unknown_column_is_passed_over_and_named(
        self, newcomer: Any, rows: list[dict[str, str]]
    ) -> None:
        rows[0]["mood"] = "good"
        report = bring_in(newcomer, as_csv(rows))
        assert report.written
        assert report.unknown == ("column mood",)

    def test_a_head_that_is_not_ours_is_refused(self, newcomer: Any) -> None:
        with pytest.raises(Refused, match="has no column version, record_id"):
            bring_in(newcomer, "day,field\r\n2026-06-12,North\r\n")

    def test_a_column_twice_is_refused(self, newcomer: Any, rows: list[dict[str, str]]) -> None:
        text = as_csv(rows).replace("supervisor", "applicator", 1)
        with pytest.raises(Refused, match="stands twice in the first row: applicator"):
            bring_in(newcomer, text)


def test_a_number_outside_its_usual_range_comes_in_and_is_asked_about(
    newcomer: Any, open_file: dict[str, Any]
) -> None:
    slip = changed(open_file, "facts.record.pressure", {"value": "3", "unit": "psi"})
    report = bring_in(newcomer, second(slip))
    assert report.problems == ()
    assert {outcome.asked for outcome in report.outcomes} == {
        (
            "Pressure at the gauge: 3 psi is outside what is usual, 10.2 to 218 psi. "
            "Was 3 bar meant?",
        )
    }
