"""Taking records out: what stands in the file, which records it holds, and what it costs."""

from __future__ import annotations

import csv
import io
import json
import uuid
from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

import jsonschema
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from shapely.geometry import shape

from logbook.errors.exceptions import Refused
from logbook.records.exchange import columns, export, layout, schema
from logbook.records.exchange.export import Selection
from logbook.records.models import Seal
from logbook.records.reading.examine import examine
from logbook.records.sealing.seals import leaf_hash, link_hash
from logbook.records.writing.amend import begin_amendment
from logbook.records.writing.draft import begin_draft, save_draft
from logbook.records.writing.sign import sign
from logbook.tables.cells import guarded, without_guard
from tests import factories as make
from tests.conftest import said_of
from tests.logbook.records.exchange import cells, exported, exported_csv

VALIDATOR = jsonschema.Draft202012Validator(
    schema.schema(), format_checker=jsonschema.FormatChecker()
)


@pytest.fixture
def sealed_record(
    owner: Any, entry: dict[str, Any], confirmed: Callable[[Any], Any], now: datetime
) -> Callable[..., Any]:
    """Return what enters and signs a record that differs from the clean one as told."""

    def made(**changed: Any) -> Any:
        draft = begin_draft(actor=owner, record_id=uuid.uuid4())
        data = {**entry, "weather": [], **changed}
        save_draft(actor=owner, record_id=draft.pk, revision=draft.revision, data=data)
        return signed_now(draft.pk)

    def signed_now(record_id: uuid.UUID) -> Any:
        seen = examine(actor=owner, record_id=record_id)
        return sign(
            actor=owner,
            record_id=record_id,
            revision=seen.record.revision,
            explanations={one.key: said_of(one, "so it was then") for one in seen.report.findings},
            confirmation=confirmed(owner),
            now=now,
        )

    made.sign = signed_now  # type: ignore[attr-defined]
    return made


class TestJson:
    def test_the_file_is_valid_and_names_its_layout_and_version(
        self, owner: Any, signed: Any
    ) -> None:
        file = exported(owner)
        VALIDATOR.validate(file)
        assert file["format"] == schema.schema()["$id"] == layout.FORMAT
        assert file["version"] == "1.2"
        assert file["$schema"] == "schema"
        assert file["exported_at"] == "2026-12-01T08:00:00+00:00"

    def test_the_content_of_the_regulation_stands_in_one_place(
        self, owner: Any, signed: Any
    ) -> None:
        # Implementing Regulation (EU) 2023/564, annex, by headings as read in German guidance:
        # type of use, product and number, date and time, dose, plot, size, crop, EPPO, BBCH.
        (record,) = exported(owner)["records"]
        application = record["application"]
        plot = application.pop("plot")
        # 09:30 on the clock in Chicago in June is five hours behind UTC.
        assert application == {
            "type_of_use": "area",
            "date": "2026-06-12",
            "start": "2026-06-12T09:30:00-05:00",
            "end": "2026-06-12T12:00:00-05:00",
            "products": [
                {
                    "name": "Leafkill",
                    "authorisation_number": record["facts"]["products"][0]["registration_number"],
                    # 2752 fl oz on 125.1 ac; definition of a rate.
                    "dose": {"value": "22.00", "unit": "fl oz/ac"},
                    "dose_basis": "total",
                    "total_used": {"value": "2752", "unit": "fl oz"},
                }
            ],
            "treated_size": {"value": "125.1", "unit": "ac"},
            "crop": {"name": "soybean", "eppo_code": "GLXMA", "bbch": 14},
            "applicator": {
                "name": "A. Lund",
                "licence_numbers": [record["facts"]["applicator"]["licences"][0]["number"]],
            },
        }
        assert plot["type"] == "Feature"
        assert plot["properties"]["name"] == "North L"
        assert plot["properties"]["place"] == "US-ND"
        assert plot["properties"]["locations"][0]["kind"] == "legal description"

    def test_the_facts_are_those_of_the_seal_and_prove_it(self, owner: Any, signed: Any) -> None:
        (record,) = exported(owner)["records"]
        seal = Seal.objects.get()
        assert record["facts"] == json.loads(seal.text)["facts"]
        assert record["id"] == str(signed.pk)
        assert record["seal"]["stated"]["number"] == 1
        assert record["superseded_by"] is None
        # RFC 6962 section 2.1, by the functions that tests hold against its vectors.
        leaf, link = layout.hashes_of(
            stated=record["seal"]["stated"],
            facts=record["facts"],
            previous=record["seal"]["previous"],
        )
        assert (leaf, link) == (record["seal"]["leaf"], record["seal"]["link"])
        assert leaf == leaf_hash(seal.text)
        assert link == link_hash("0" * 64, leaf)

    def test_words_and_blanks_stand_as_they_were_entered(
        self, owner: Any, sealed_record: Any
    ) -> None:
        sealed_record(
            speed=make.q("not measured: the display was dark"), distance=make.q("none"), duty=None
        )
        file = exported(owner)
        VALIDATOR.validate(file)
        facts = file["records"][0]["facts"]["record"]
        assert facts["speed"] == {"nothing": "not measured", "reason": "the display was dark"}
        assert facts["distance"] == {"nothing": "none", "reason": ""}
        assert facts["duty"] is None

    def test_a_record_with_little_in_it_is_valid_too(self, owner: Any, sealed_record: Any) -> None:
        sealed_record(planting=None, applicator=None, nozzle_set=None, rig=None, loads=[])
        file = exported(owner)
        VALIDATOR.validate(file)
        application = file["records"][0]["application"]
        assert application["crop"] is None
        assert application["applicator"] is None

    def test_a_corrected_record_says_by_which(
        self, owner: Any, signed: Any, sealed_record: Any
    ) -> None:
        begun = begin_amendment(
            actor=owner, record_id=signed.pk, new_id=uuid.uuid4(), reason="The speed was wrong."
        )
        sealed_record.sign(begun.pk)
        first, second = exported(owner)["records"]
        assert (first["superseded_by"], second["superseded_by"]) == (2, None)
        assert second["facts"]["amends"]["number"] == 1
        # A correction has copies of its loads; they are the same tank fills.
        assert [one["id"] for one in first["loads"]] == [one["id"] for one in second["loads"]]

    def test_drafts_and_other_books_are_not_in_it(
        self, owner: Any, clean_draft: Any, stranger: Any
    ) -> None:
        assert exported(owner)["records"] == []
        VALIDATOR.validate(exported(stranger))

    def test_who_may_not_see_gets_no_piece(self, owner: Any) -> None:
        class Nobody:
            def must(self, right: Any) -> None:
                raise Refused(f"may not {right.value}")

        with pytest.raises(Refused, match="may not see records"):
            export.json_pieces(
                actor=Nobody(),  # type: ignore[arg-type]
                selection=Selection(),
                now=datetime(2026, 1, 1, tzinfo=UTC),
                schema_url="",
            )
        with pytest.raises(Refused, match="may not see records"):
            export.csv_pieces(actor=Nobody(), selection=Selection())  # type: ignore[arg-type]


class TestSelection:
    def test_a_day_is_the_day_at_the_field(self, owner: Any, sealed_record: Any) -> None:
        # 23:30 in Chicago on 11 June is 04:30 on 12 June in UTC.
        sealed_record(
            started_at=datetime.fromisoformat("2026-06-11T23:30"),
            finished_at=datetime.fromisoformat("2026-06-12T01:00"),
        )
        on = date(2026, 6, 11)
        assert len(exported(owner, day_from=on, day_to=on)["records"]) == 1
        assert exported(owner, day_from=date(2026, 6, 12))["records"] == []
        assert exported(owner, day_to=date(2026, 6, 10))["records"] == []

    def test_customer_and_field_narrow_it(self, owner: Any, signed: Any, yard: Any) -> None:
        other = make.FieldFactory(business=owner.business)
        for narrowed, count in (
            ({"customer_id": yard.customer.pk}, 1),
            ({"customer_id": other.customer.pk}, 0),
            ({"field_id": yard.field.pk}, 1),
            ({"field_id": other.pk}, 0),
        ):
            file = exported(owner, **narrowed)
            assert len(file["records"]) == count
            (asked,) = [one for one in file["selection"].values() if one]
            assert asked == str(next(iter(narrowed.values())))

    def test_a_period_that_ends_before_it_begins_is_refused(self) -> None:
        with pytest.raises(Refused, match="ends on 2026-05-01, before it begins on 2026-06-01"):
            Selection(day_from=date(2026, 6, 1), day_to=date(2026, 5, 1))

    def test_the_number_of_queries_does_not_grow_with_the_records(
        self, owner: Any, signed: Any, sealed_record: Any
    ) -> None:
        def queries() -> int:
            with CaptureQueriesContext(
                connection,
            ) as seen:
                exported(owner)
            return len(seen)

        one = queries()
        sealed_record(started_at=datetime.fromisoformat("2026-06-12T09:40"))
        sealed_record(started_at=datetime.fromisoformat("2026-06-12T09:50"))
        assert queries() == one

    def test_records_are_fetched_chunk_by_chunk(
        self, owner: Any, signed: Any, sealed_record: Any, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        sealed_record()
        monkeypatch.setattr(export, "AT_ONCE", 1)
        assert len(exported(owner)["records"]) == 2


class TestPlot:
    SQUARE = ((0.0, 0.0), (0.01, 0.0), (0.01, 0.01), (0.0, 0.01), (0.0, 0.0))
    HOLE = ((0.002, 0.002), (0.004, 0.002), (0.004, 0.004), (0.002, 0.004), (0.002, 0.002))

    @pytest.mark.parametrize("outer", [SQUARE, SQUARE[::-1]])
    @pytest.mark.parametrize("hole", [HOLE, HOLE[::-1]])
    def test_rings_follow_the_right_hand_rule(self, outer: Any, hole: Any) -> None:
        # RFC 7946 section 3.1.6; oracle for the sense of a ring: shapely.
        turned = layout.right_handed({"type": "Polygon", "coordinates": [outer, hole]})
        polygon = shape(turned)
        assert polygon.exterior.is_ccw
        assert not polygon.interiors[0].is_ccw
        assert set(turned["coordinates"][1]) == set(hole)

    def test_each_part_of_several_is_turned(self) -> None:
        far = [[lon + 1, lat] for lon, lat in self.SQUARE]
        parts = [[list(self.SQUARE[::-1])], [far]]
        turned = shape(layout.right_handed({"type": "MultiPolygon", "coordinates": parts}))
        assert [part.exterior.is_ccw for part in turned.geoms] == [True, True]

    def test_a_field_across_the_antimeridian_keeps_its_sense(self) -> None:
        # Counterclockwise from the west: east along the south side, over 180°, north, and back.
        ring = [[179.99, 0.0], [-179.99, 0.0], [-179.99, 0.01], [179.99, 0.01], [179.99, 0.0]]
        assert layout.right_handed({"type": "Polygon", "coordinates": [ring]}) == {
            "type": "Polygon",
            "coordinates": [ring],
        }

    def test_a_field_without_an_outline_has_no_geometry(self) -> None:
        field = {"id": "1", "name": "N", "place": "US-ND", "locations": [], "boundary": None}
        assert layout.plot_of(field)["geometry"] is None


class TestSchema:
    def test_the_published_file_is_what_the_types_say(self) -> None:
        # After a change of the facts: manage.py export_records --schema > records.schema.json
        assert schema.FILE.read_text(encoding="utf-8") == schema.printed()

    def test_it_is_a_schema_of_draft_2020_12(self) -> None:
        assert schema.schema()["$schema"] == "https://json-schema.org/draft/2020-12/schema"
        jsonschema.Draft202012Validator.check_schema(schema.schema())

    def test_a_member_that_came_later_may_be_absent_or_unknown(
        self, owner: Any, signed: Any
    ) -> None:
        # The rule of versions: an old file lacks new members, a newer one has unknown ones.
        file = exported(owner)
        del file["records"][0]["facts"]["crew"]
        file["records"][0]["facts"]["rig"]["colour"] = "green"
        VALIDATOR.validate(file)

    @pytest.mark.parametrize(
        ("path", "value"),
        [
            (("facts", "record", "speed"), {"value": 7.9, "unit": "mph"}),
            (("facts", "record", "speed"), {"value": "7.9", "unit": "furlongs"}),
            (("facts", "record", "speed"), {"value": "7,9", "unit": "mph"}),
            (("facts", "record", "speed"), {"nothing": "not measured", "reason": " "}),
            (("facts", "record", "speed"), {"nothing": "unknown", "reason": ""}),
            (("facts", "record", "started_at"), "2026-06-12T09:30:00"),
            (("facts", "record", "started_at"), "2026-06-12 09:30Z"),
            (("facts", "record", "pattern"), "spiral"),
            (("facts", "field", "boundary"), {"type": "Point", "coordinates": [0, 0]}),
            (("facts", "crop", "growth_stage_bbch"), "14"),
            (("application", "type_of_use"), "seed"),
            (("application", "crop"), {"name": "soybean", "eppo_code": "GLXMA", "bbch": 100}),
            (("seal", "link"), "abc"),
        ],
    )
    def test_it_refuses_what_is_not_so(
        self, owner: Any, signed: Any, path: tuple[str, ...], value: Any
    ) -> None:
        file = exported(owner)
        place = file["records"][0]
        for name in path[:-1]:
            place = place[name]
        place[path[-1]] = value
        assert not VALIDATOR.is_valid(file)

    def test_units_say_what_they_are(self) -> None:
        # Definitions: the US gallon is 231 in³ = 3.785411784 L exactly; 0 °F = −160/9 °C.
        conversion = schema.schema()["$defs"]["Unit"]["x-conversion"]
        assert conversion["gal"]["one"] == pytest.approx(3.785411784, rel=1e-12)
        assert conversion["gal"]["reference"] == "L"
        assert conversion["°F"]["zero"] == pytest.approx(-160 / 9, rel=1e-12)

    def test_a_fact_with_a_default_may_be_absent(self) -> None:
        import dataclasses

        from logbook.facts.codec import is_needed
        from logbook.facts.record import Snapshot

        lacking = [field.name for field in dataclasses.fields(Snapshot) if not is_needed(field)]
        assert not set(lacking) & set(schema.schema()["$defs"]["Snapshot"]["required"])


class TestCsv:
    def test_one_row_per_record_and_product(self, owner: Any, sealed_record: Any) -> None:
        surfactant = make.ProductFactory(
            business=owner.business, name="Wetter", kind="adjuvant", registration_number=""
        )
        leaf = make.ProductFactory(business=owner.business, name="Leafkill")
        sealed_record(
            products=[
                {"product": leaf.pk, "planned_rate": make.q("22 fl oz/ac")},
                {"product": surfactant.pk, "planned_rate": make.q("0.25 % v/v")},
            ],
            loads=[],
        )
        first, second = cells(exported_csv(owner))
        assert first["record_id"] == second["record_id"]
        assert (first["product"], second["product"]) == ("Leafkill", "Wetter")
        assert (second["planned_rate_value"], second["planned_rate_unit"]) == ("0.25", "% v/v")
        # Without a total: 0.25 % of the planned 15 gal/ac, 140.31 L/ha; computed.
        assert (second["dose_value"], second["dose_unit"]) == ("0.350773358", "L/ha")
        assert second["dose_basis"] == "planned"
        assert (second["total_used_value"], second["total_used_unit"]) == ("", "")
        assert first["start"] == "2026-06-12T09:30:00-05:00"
        assert (first["treated_size_value"], first["treated_size_unit"]) == ("125.1", "ac")
        assert first["bbch"] == "14"
        assert json.loads(first["plot"])["geometry"]["type"] == "Polygon"
        assert first["seal_number"] == "1"

    def test_the_dose_is_what_was_used_or_else_delivered(
        self, owner: Any, entry: dict[str, Any], sealed_record: Any
    ) -> None:
        (line,) = entry["products"]
        loads = [{**one, "parts": []} for one in entry["loads"]]
        sealed_record(products=[line | {"total_used": make.q("3853.08 fl oz")}], loads=loads)
        sealed_record(products=[line | {"total_used": None}], loads=loads)
        first, second = cells(exported_csv(owner))
        # 3853.08 fl oz on 125.1 ac; definition of a rate. The plan is 22 fl oz/ac.
        assert (first["dose_value"], first["dose_basis"]) == ("30.8", "total")
        assert second["dose_basis"] == "delivered"
        sealed = json.loads(Seal.objects.get(number=2).text)["assessment"]["lines"][1]
        assert float(second["dose_value"]) == pytest.approx(sealed["delivered"], rel=1e-3)
        assert second["planned_rate_value"] == "22"

    def test_it_is_rfc_4180_with_every_column_explained(self, owner: Any, signed: Any) -> None:
        text = exported_csv(owner)
        assert text.startswith("\ufeffversion,record_id,")
        assert text.count("\r\n") == 2
        head = next(csv.reader(io.StringIO(text[1:])))
        assert head == [column.name for column in columns.COLUMNS]
        assert len(set(head)) == len(head)
        assert all(column.meaning.endswith(".") for column in columns.COLUMNS)

    def test_words_stand_in_the_first_of_two_columns(self, owner: Any, sealed_record: Any) -> None:
        sealed_record(speed=make.q("not measured: dark"), distance=make.q("none"))
        (row,) = cells(exported_csv(owner))
        assert (row["speed_value"], row["speed_unit"]) == ("not measured: dark", "")
        assert (row["distance_value"], row["distance_unit"]) == ("none", "")

    def test_a_record_without_crop_and_people_has_blank_cells(
        self, owner: Any, sealed_record: Any
    ) -> None:
        sealed_record(planting=None, applicator=None, nozzle_set=None, rig=None, loads=[])
        (row,) = cells(exported_csv(owner))
        assert {row[name] for name in ("crop", "bbch", "applicator", "rig", "nozzles")} == {""}

    def test_a_record_without_field_and_product_still_has_a_row(
        self, owner: Any, signed: Any
    ) -> None:
        (record,) = exported(owner)["records"]
        record["facts"] |= {"customer": None, "field": None, "products": []}
        record["application"] |= {"products": []}
        (row,) = columns.rows_of(record)
        found = dict(zip(columns.NAMES, row, strict=True))
        assert {found[name] for name in ("customer", "field", "plot", "product")} == {""}
        assert found["seal_number"] == "1"

    @pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n", "'"])
    def test_a_cell_that_a_spreadsheet_would_compute_is_text(self, start: str) -> None:
        # The starts that OWASP names under "CSV Injection", from memory.
        cell = f'{start}HYPERLINK("x")'
        assert guarded(cell) == f"'{cell}"
        assert without_guard(guarded(cell)) == cell

    @pytest.mark.parametrize("cell", ["", "wheat", "it's", "12.5", "''tis", "'", "a=b"])
    def test_any_cell_comes_back_as_it_was(self, cell: str) -> None:
        assert without_guard(guarded(cell)) == cell

    def test_a_formula_in_a_note_is_not_one_in_the_file(
        self, owner: Any, sealed_record: Any
    ) -> None:
        sealed_record(note="=1+1")
        assert cells(exported_csv(owner))[0]["note"] == "'=1+1"


def test_a_record_without_field_has_no_plot_and_utc_times() -> None:
    facts = {
        "record": {
            "started_at": None,
            "finished_at": "2026-06-12T09:30:00+00:00",
            "treated_area": None,
        },
        "products": [],
        **dict.fromkeys(("field", "crop", "applicator")),
    }
    application = layout.application_of(facts, ())
    assert application["plot"] is None
    assert application["start"] is None
    assert application["date"] == "2026-06-12"
    assert (
        layout.application_of({**facts, "record": {**facts["record"], "finished_at": None}}, ())[
            "date"
        ]
        is None
    )
