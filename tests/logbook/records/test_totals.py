"""Totals by product: sums as entered, exact conversions, and words where there is none."""

from __future__ import annotations

import csv
import io
import json
import uuid
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pint
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given as always
from hypothesis import strategies as st

from logbook.errors.exceptions import NotThere, RefusedInput
from logbook.facts.record import IngredientFacts
from logbook.records.models import ApplicationRecord
from logbook.records.reading.examine import examine
from logbook.records.reading.totals import (
    LITRE_RULES,
    NO_DENSITY,
    OTHER_UNITS,
    Amount,
    ProductTotal,
    Use,
    remarks,
    rows_of,
    to_csv,
    to_json_text,
    totals,
    totals_of,
)
from logbook.records.writing.amend import begin_amendment
from logbook.records.writing.draft import begin_draft, save_draft
from logbook.records.writing.purge import purge
from logbook.records.writing.sign import sign
from logbook.tables.cells import guarded
from tests import factories as make
from tests.conftest import said_of
from tests.logbook.checks.build import herbicide, label, q

BC = LITRE_RULES["ca-bc"]
YEAR = {"day_from": date(2026, 1, 1), "day_to": date(2026, 12, 31)}


def product(total: str | None, **changes: Any) -> Any:
    return replace(herbicide(), total_used=q(total) if total else None, **changes)


def of(*products: Any, **options: Any) -> ProductTotal:
    """Return the only total of some uses of one product."""
    uses = [Use(record_number=n, product=one) for n, one in enumerate(products, start=1)]
    (total,) = totals_of(uses, **options)
    return total


def holding(*ingredients: IngredientFacts, **changes: Any) -> Any:
    return label(ingredients=ingredients, **changes)


def ingredient(content: str, acid: str = "") -> IngredientFacts:
    acid_equivalent = q(acid) if acid else None
    return IngredientFacts(name="inventol", content=q(content), acid_equivalent=acid_equivalent)


class TestAsEntered:
    def test_sums_are_exact_one_a_unit(self) -> None:
        total = of(product("0.1 gal"), product("0.2 gal"), product("3 L"))
        assert total.entered == (q("0.3 gal"), q("3 L"))
        assert total.applications == 3

    def test_words_are_left_out_and_named_and_none_counts_nothing(self) -> None:
        total = of(
            product("5 L"), product(None), product("none"), product("not measured: meter broke")
        )
        assert total.entered == (q("5 L"),)
        assert total.left_out == (
            "no. 2: blank",
            "no. 3: none",
            "no. 4: not measured: meter broke",
        )

    def test_a_product_renamed_stands_under_both_names(self) -> None:
        uses = [
            Use(record_number=1, product=product("1 L", name="B")),
            Use(record_number=2, product=product("1 L", name="A")),
            Use(record_number=3, product=product("1 L", name="A", registration_number="2")),
        ]
        assert [(one.name, one.registration_number) for one in totals_of(uses)] == [
            ("A", "00000-1"),
            ("A", "2"),
            ("B", "00000-1"),
        ]


class TestLabelUnits:
    def test_the_unit_is_that_of_the_label_s_rate(self) -> None:
        # 1 gal = 128 fl oz by definition (NIST Handbook 44): 10 gal + 20 fl oz = 1300 fl oz.
        total = of(product("10 gal"), product("20 fl oz"))
        assert total.label_units == Amount(value=Decimal("1300.000"), unit="fl oz")

    def test_a_silent_label_leaves_the_unit_first_entered(self) -> None:
        total = of(product("10 gal", label=label()))
        assert total.label_units.unit == "gal"
        assert total.label_units.note == "the label sets no rate; in the unit first entered"

    def test_a_blank_label_leaves_the_unit_first_entered(self) -> None:
        total = of(product("10 gal", label=None))
        assert total.label_units.note == "the label is blank; in the unit first entered"

    def test_a_rate_in_the_mix_names_no_unit_of_amount(self) -> None:
        total = of(product("10 gal", label=label(rate_max=q("0.25 % v/v"))))
        assert total.label_units.unit == "gal"
        assert "the label's rate is in % v/v" in total.label_units.note

    def test_a_label_in_pounds_does_not_measure_gallons(self) -> None:
        total = of(product("10 gal", label=label(rate_min=q("2 lb/ac"))))
        assert total.label_units == Amount(value=None, unit="lb", note=OTHER_UNITS)

    def test_nothing_counted_has_no_unit(self) -> None:
        assert of(product(None)).label_units == Amount(
            value=Decimal(0), unit="", note="nothing counted"
        )


class TestKilograms:
    def test_a_mass_is_converted_exactly(self) -> None:
        # The pound is 0.45359237 kg (NIST SP 811): 100 lb + 1 kg = 46.359 kg to the gram.
        assert of(product("100 lb"), product("1 kg")).kilograms == Amount(
            value=Decimal("46.359"), unit="kg"
        )

    def test_a_volume_without_a_density_is_not_convertible(self) -> None:
        assert of(product("10 gal"), product("1 kg")).kilograms == Amount(
            value=None, unit="kg", note=NO_DENSITY
        )

    def test_a_stated_density_converts_a_volume(self) -> None:
        # 10 gal = 37.85411784 L; × 1.1 kg/L = 41.640 kg, by hand.
        assert of(product("10 gal"), densities={"herbicide": q("1.1 kg/L")}).kilograms == Amount(
            value=Decimal("41.640"), unit="kg"
        )
        assert of(product("10 gal"), densities={"other": q("1.1 kg/L")}).kilograms.value is None

    def test_british_columbia_counts_a_litre_as_a_kilogram(self) -> None:
        # Yearly totals in kilograms of product as it leaves the container, 1 L counts as 1 kg.
        total = of(product("100 L"), product("10 kg"), rule=BC)
        assert total.kilograms == Amount(value=Decimal("110.000"), unit="kg")
        assert "B.C. Reg. 604/2004 (agency page, in parts from memory, last read" in BC.source

    def test_the_litre_rule_does_not_touch_active_ingredients(self) -> None:
        dry = product("100 L", label=holding(ingredient("50 % w/w")))
        assert of(dry, rule=BC).actives[0].kilograms == Amount(
            value=None, unit="kg", note=NO_DENSITY
        )


class TestActiveIngredient:
    def test_a_liquid_s_content_counts_by_volume(self) -> None:
        # Montana MT 2000-14 example 7a: 3 lb of ingredient of a product of 8 lb/gal are 0.375 gal;
        # turned round, 0.375 gal hold 3 lb = 1.36078 kg.
        total = of(product("0.375 gal", label=holding(ingredient("8 lb/gal"))))
        assert total.actives[0].kilograms == Amount(value=Decimal("1.361"), unit="kg")

    def test_a_dry_product_s_content_counts_by_mass(self) -> None:
        # Pesticide safety handbook, example 5: 2 lb of ingredient at 80 % are 2.5 lb of product.
        total = of(product("2.5 lb", label=holding(ingredient("80 % w/w"))))
        assert total.actives[0].kilograms == Amount(value=Decimal("0.907"), unit="kg")

    def test_content_of_the_other_kind_needs_the_density(self) -> None:
        by_mass = product("10 L", label=holding(ingredient("40 % w/w")))
        by_volume = product("10 kg", label=holding(ingredient("400 g/L")))
        assert of(by_mass).actives[0].kilograms.note == NO_DENSITY
        assert of(by_volume).actives[0].kilograms.note == NO_DENSITY
        stated = {"densities": {"herbicide": q("1.25 kg/L")}}
        # 10 L × 1.25 kg/L × 40 % = 5 kg; 10 kg ÷ 1.25 kg/L × 400 g/L = 3.2 kg.
        assert of(by_mass, **stated).actives[0].kilograms.value == Decimal("5.000")
        assert of(by_volume, **stated).actives[0].kilograms.value == Decimal("3.200")

    def test_the_acid_equivalent_is_counted_beside_it(self) -> None:
        total = of(product("10 L", label=holding(ingredient("480 g/L", acid="360 g/L"))))
        (active,) = total.actives
        assert active.kilograms.value == Decimal("4.800")
        assert active.acid_equivalent == Amount(value=Decimal("3.600"), unit="kg")

    def test_without_a_printed_acid_equivalent_there_is_none(self) -> None:
        assert (
            of(product("10 L", label=holding(ingredient("480 g/L")))).actives[0].acid_equivalent
            is None
        )

    def test_each_line_counts_by_the_label_edition_of_its_day(self) -> None:
        old = product("10 L", label=holding(ingredient("400 g/L")))
        new = product("10 L", label=holding(ingredient("500 g/L"), edition="2026-01"))
        assert of(old, new).actives[0].kilograms.value == Decimal("9.000")

    def test_an_edition_without_the_acid_equivalent_leaves_it_open(self) -> None:
        old = product("10 L", label=holding(ingredient("480 g/L")))
        new = product("10 L", label=holding(ingredient("480 g/L", acid="360 g/L")))
        (active,) = of(old, new).actives
        assert active.kilograms.value == Decimal("9.600")
        assert active.acid_equivalent == Amount(
            value=None, unit="kg", note="not convertible: no acid equivalent on label 2025-01"
        )

    def test_an_edition_that_names_another_ingredient_leaves_both_open(self) -> None:
        other = replace(ingredient("100 g/L"), name="fictol")
        total = of(
            product("10 L", label=holding(ingredient("480 g/L"))),
            product("10 L", label=holding(other)),
        )
        assert [(one.name, one.kilograms.note) for one in total.actives] == [
            ("inventol", "not convertible: label 2025-01 names no inventol"),
            ("fictol", "not convertible: label 2025-01 names no fictol"),
        ]

    def test_a_line_with_a_blank_label_leaves_it_open(self) -> None:
        total = of(
            product("10 L", label=holding(ingredient("480 g/L"))), product("1 L", label=None)
        )
        assert total.actives[0].kilograms.note == "not convertible: the label is blank"


UREG = pint.UnitRegistry()
NAMES = {
    "gal": "gallon",
    "qt": "quart",
    "pt": "pint",
    "fl oz": "fluid_ounce",
    "imp gal": "imperial_gallon",
    "L": "liter",
    "mL": "milliliter",
    "lb": "pound",
    "oz": "ounce",
    "kg": "kilogram",
    "g": "gram",
    "t": "metric_ton",
}


class TestAgainstPint:
    @always(
        st.lists(
            st.tuples(
                st.decimals(Decimal("0.01"), Decimal(100000), places=2),
                st.sampled_from(["gal", "qt", "pt", "fl oz", "imp gal", "L", "mL"]),
            ),
            min_size=1,
            max_size=6,
        )
    )
    def test_volumes_come_to_the_same_in_label_units_and_as_active(self, entries: Any) -> None:
        volume = sum(float(value) * UREG(NAMES[unit]) for value, unit in entries)
        total = of(*(product(f"{value} {unit}") for value, unit in entries))
        assert float(total.label_units.value) == pytest.approx(
            volume.to("fluid_ounce").magnitude, rel=1e-9, abs=5.1e-4
        )
        # The build's herbicide holds 4 lb/gal.
        active = (volume * UREG("4 pound / gallon")).to("kilogram").magnitude
        assert float(total.actives[0].kilograms.value) == pytest.approx(
            active, rel=1e-9, abs=5.1e-4
        )

    @always(
        st.decimals(Decimal("0.01"), Decimal(100000), places=2),
        st.sampled_from(["lb", "oz", "kg", "g", "t"]),
    )
    def test_masses_come_to_the_same_in_kilograms(self, value: Decimal, unit: str) -> None:
        expected = (float(value) * UREG(NAMES[unit])).to("kilogram").magnitude
        kilograms = of(product(f"{value} {unit}")).kilograms.value
        assert float(kilograms or 0) == pytest.approx(expected, rel=1e-9, abs=5.1e-4)


class TestWhatAuthoritiesAsk:
    """Totals item by item against the texts. Regulation (EC) 1107/2009 Art. 67(1) asks the dose of
    each use and no totals of a period."""

    def test_british_columbia_s_yearly_report(self) -> None:
        # The ministry's page on annual use reports, and a trade association's summary of its form:
        # kilograms; as it leaves the container before mixing; 1 L is 1 kg; not the active
        # ingredient; each product of a mix on a line of its own.
        mix = [
            product("10 L", label=holding(ingredient("360 g/L"))),
            replace(product("2.5 kg"), product_id="other", name="Zedkill"),
        ]
        uses = [Use(record_number=1, product=one) for one in mix]
        # A litre is a kilogram whatever the product weighs.
        found = totals_of(uses, rule=BC, densities={"herbicide": q("1.2 kg/L")})
        assert [(one.name, one.kilograms.value) for one in found] == [
            ("Fenland 4 EC", Decimal("10.000")),
            ("Zedkill", Decimal("2.500")),
        ]
        assert found[0].actives[0].kilograms.value == Decimal("3.600")

    def test_new_york_s_yearly_report(self) -> None:
        # 6 NYCRR 325.25(b): the quantity of pesticides used, reported for each product, with the
        # EPA registration number as the reference.
        other = product("1 gal", registration_number="2")
        found = totals_of(
            Use(record_number=n, product=one)
            for n, one in enumerate((product("10 gal"), product("5 gal"), other), start=1)
        )
        assert [(one.registration_number, one.entered) for one in found] == [
            ("00000-1", (q("15 gal"),)),
            ("2", (q("1 gal"),)),
        ]

    def test_oregon_s_use_report(self) -> None:
        # OAR 603-057-0412(1), (2), (4): name, EPA number, amount of undiluted product with its
        # unit of measure: the mix that was sprayed counts in none.
        total = of(product("22 fl oz"))
        assert (total.name, total.registration_number) == ("Fenland 4 EC", "00000-1")
        assert [str(one) for one in total.entered] == ["22 fl oz"]


# --- out of the book -----------------------------------------------------------------------------


@pytest.fixture
def seal_one(owner: Any, entry: dict[str, Any], confirmed: Any) -> Any:
    """Return what signs one more record like the clean one, with facts changed."""

    def made(**changes: Any) -> ApplicationRecord:
        draft = begin_draft(actor=owner, record_id=uuid.uuid4())
        draft = save_draft(
            actor=owner, record_id=draft.pk, revision=draft.revision, data=entry | changes
        )
        return signed(owner, draft, confirmed)

    return made


SIGNED_AT = datetime(2027, 2, 1, tzinfo=UTC)


def signed(owner: Any, draft: Any, confirmed: Any) -> ApplicationRecord:
    """Return the draft, signed, whatever has to be explained explained."""
    seen = examine(actor=owner, record_id=draft.pk)
    sign(
        actor=owner,
        record_id=draft.pk,
        revision=draft.revision,
        explanations={
            f.key: said_of(f, "Looked at again.") for f in seen.report.must_be_explained()
        },
        confirmation=confirmed(owner),
        now=SIGNED_AT,
    )
    draft.refresh_from_db()
    return draft


def line(yard: Any, total: str, **changes: Any) -> dict[str, Any]:
    facts = {
        "product": yard.product.pk,
        "planned_rate": make.q("22 fl oz/ac"),
        "total_used": make.q(total),
        "target": "weeds",
    }
    return facts | changes


def test_the_sealed_records_of_the_period_are_summed(owner: Any, seal_one: Any, yard: Any) -> None:
    seal_one()
    seal_one(products=[line(yard, "10 gal")])
    begin_draft(actor=owner, record_id=uuid.uuid4())
    found = totals(actor=owner, **YEAR)
    (one,) = found.products
    assert (found.records, one.name, one.applications) == (2, "Leafkill", 2)
    assert one.entered == (make.q("2752 fl oz"), make.q("10 gal"))
    # 2752 + 1280 = 4032 fl oz = 31.5 gal; × 3.8 lb/gal × 0.45359237 kg/lb = 54.295 kg.
    assert one.label_units.value == Decimal("4032.000")
    assert one.actives[0].kilograms.value == Decimal("54.295")


def test_a_record_without_a_total_is_in_none_and_its_rate_is_said(
    owner: Any, seal_one: Any, yard: Any
) -> None:
    told = line(yard, "1 gal")
    seal_one(products=[told | {"total_used": None}], loads=[], speed=None)
    (total,) = totals(actor=owner, **YEAR).products
    assert total.entered == ()
    assert total.left_out == (
        "no. 1: blank, 22.0 fl oz/ac (planned rate; total used or treated area is not given)",
    )


def test_the_seal_counts_not_what_the_shelf_says_today(
    owner: Any, seal_one: Any, yard: Any
) -> None:
    seal_one()
    yard.product.name = "Renamed since"
    yard.product.save()
    assert totals(actor=owner, **YEAR).products[0].name == "Leafkill"


def test_a_corrected_record_counts_as_its_amendment_says(
    owner: Any, seal_one: Any, yard: Any, entry: Any, confirmed: Any
) -> None:
    first = seal_one()
    draft = begin_amendment(
        actor=owner, record_id=first.pk, new_id=uuid.uuid4(), reason="The total was wrong."
    )
    assert totals(actor=owner, **YEAR).products[0].entered == (make.q("2752 fl oz"),)
    data = entry | {"products": [line(yard, "2700 fl oz")]}
    data["loads"] = []
    draft = save_draft(actor=owner, record_id=draft.pk, revision=draft.revision, data=data)
    signed(owner, draft, confirmed)
    found = totals(actor=owner, **YEAR)
    assert found.products[0].entered == (make.q("2700 fl oz"),)
    assert found.records == 1


@pytest.mark.parametrize(
    ("day_from", "day_to", "records"),
    [
        (date(2026, 6, 12), date(2026, 6, 12), 1),
        (date(2026, 6, 13), date(2026, 12, 31), 0),
        (date(2026, 1, 1), date(2026, 6, 11), 0),
    ],
)
def test_the_day_is_the_local_one_at_the_start_of_the_work(
    owner: Any, seal_one: Any, day_from: date, day_to: date, records: int
) -> None:
    # 23:30 CDT on 12 June is 04:30 UTC on 13 June.
    ended = datetime.fromisoformat("2026-06-12T23:30")
    make_late = {"finished_at": ended, "started_at": datetime.fromisoformat("2026-06-12T21:00")}
    seal_one(**make_late, weather=[])
    assert totals(actor=owner, day_from=day_from, day_to=day_to).records == records


def test_work_past_midnight_counts_on_the_day_it_began(owner: Any, seal_one: Any) -> None:
    seal_one(
        started_at=datetime.fromisoformat("2026-12-31T22:00"),
        finished_at=datetime.fromisoformat("2027-01-01T00:30"),
        weather=[],
    )
    assert totals(actor=owner, **YEAR).records == 1
    day = date(2027, 1, 1)
    assert totals(actor=owner, day_from=day, day_to=day).records == 0


def test_a_record_whose_end_is_blank_counts_on_the_day_it_began(owner: Any, seal_one: Any) -> None:
    seal_one(finished_at=None)
    assert totals(actor=owner, **YEAR).records == 1


def test_one_customer_s_totals_are_those_of_the_work_for_it(
    owner: Any, seal_one: Any, yard: Any
) -> None:
    other = make.CustomerFactory(business=owner.business, name="D. Holt")
    idle = make.CustomerFactory(business=owner.business, name="E. Idle")
    theirs = make.FieldFactory(business=owner.business, customer=other)
    seal_one()
    seal_one(customer=other.pk, field=theirs.pk, planting=None)
    mine = totals(actor=owner, **YEAR, customer_id=yard.customer.pk)
    assert (mine.records, mine.customer) == (1, yard.customer.name)
    none = totals(actor=owner, **YEAR, customer_id=idle.pk)
    assert (none.records, none.customer, none.products) == (0, "E. Idle", ())
    assert totals(actor=owner, **YEAR).records == 2


def test_an_authority_s_totals_are_those_of_the_fields_in_its_place(
    owner: Any, seal_one: Any, yard: Any
) -> None:
    # B.C. Reg. 604/2004 and ECL 33-1205 ask for what was used in the province, in the state.
    north = make.FieldFactory(
        business=owner.business,
        customer=yard.customer,
        place="CA-BC",
        time_zone="America/Vancouver",
    )
    seal_one()
    seal_one(field=north.pk, planting=None)
    assert totals(actor=owner, **YEAR).records == 2
    for place, records in (("CA-BC", 1), ("CA", 1), ("US-ND", 1), ("US", 1), ("US-N", 0)):
        assert totals(actor=owner, **YEAR, place=place).records == records

    def said(place: str) -> str:
        return " ".join(remarks(totals(actor=owner, **YEAR, rule=BC, place=place)))

    assert "The rule is one of CA-BC; these totals are not of the fields there alone." in said("")
    assert "not of the fields there alone" not in said("CA-BC")
    content = json.loads(to_json_text(totals(actor=owner, **YEAR, place="CA-BC")))
    assert (content["place"], content["records"]) == ("CA-BC", 1)


@pytest.mark.parametrize("place", ["us-nd", "US-", "North", "US-ND\n"])
def test_a_place_that_is_no_code_is_refused(owner: Any, place: str) -> None:
    with pytest.raises(RefusedInput, match="is not a place; write it as ISO 3166-2 does") as bad:
        totals(actor=owner, **YEAR, place=place)
    assert set(bad.value.errors) == {"place"}


def test_another_business_sees_none_of_it(stranger: Any, seal_one: Any, yard: Any) -> None:
    seal_one()
    assert totals(actor=stranger, **YEAR).records == 0
    with pytest.raises(NotThere, match="no such customer"):
        totals(actor=stranger, **YEAR, customer_id=yard.customer.pk)


def test_a_period_that_ends_before_it_begins_is_refused(owner: Any) -> None:
    with pytest.raises(RefusedInput, match="The last day, 2025-12-31, is before the first"):
        totals(actor=owner, day_from=date(2026, 1, 1), day_to=date(2025, 12, 31))


def test_the_number_of_queries_does_not_depend_on_the_records(owner: Any, seal_one: Any) -> None:
    counts = []
    for _ in range(2):
        seal_one()
        with CaptureQueriesContext(
            connection,
        ) as seen:
            totals(actor=owner, **YEAR)
        counts.append(len(seen))
    assert counts[0] == counts[1] <= 4


@pytest.mark.usefixtures("in_iowa")
def test_a_purged_record_is_in_no_total_and_counted_as_such(
    owner: Any, seal_one: Any, confirmed: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(globals(), "SIGNED_AT", datetime(2019, 7, 1, tzinfo=UTC))
    # Iowa keeps three years, the federal sets two: by 2024 every set lets 2019 go.
    gone = seal_one(
        started_at=datetime.fromisoformat("2019-06-12T09:30"),
        finished_at=datetime.fromisoformat("2019-06-12T12:00"),
        weather=[],
    )
    of_2019 = {"day_from": date(2019, 1, 1), "day_to": date(2019, 12, 31)}
    assert totals(actor=owner, **of_2019).records == 1
    purge(
        actor=owner,
        record_id=gone.pk,
        reason="Its days of keeping are over.",
        confirmation=confirmed(owner),
        now=datetime(2024, 1, 1, tzinfo=UTC),
    )
    found = totals(actor=owner, **of_2019)
    assert (found.records, found.purged) == (0, 1)
    assert "Purged records of the whole book, in no total: 1." in remarks(found)


# --- handed out ----------------------------------------------------------------------------------


def book_of(owner: Any, *products: Any, **changes: Any) -> Any:
    uses = [Use(record_number=n, product=one) for n, one in enumerate(products, start=1)]
    return replace(totals(actor=owner, **YEAR), products=totals_of(uses), **changes)


def test_the_csv_has_a_row_a_measure(owner: Any) -> None:
    found = book_of(owner, product("10 gal"), product(None))
    rows = list(csv.DictReader(io.StringIO(to_csv(found))))
    # 10 gal × 4 lb/gal = 40 lb = 18.144 kg.
    assert [(row["measure"], row["value"], row["unit"], row["note"]) for row in rows] == [
        ("as entered", "10", "gal", ""),
        ("label units", "1280", "fl oz", ""),
        ("kilograms", "", "kg", NO_DENSITY),
        ("active ingredient inventol", "18.144", "kg", ""),
        ("not counted", "", "", "no. 2: blank"),
    ]
    assert {(row["product"], row["registration_number"]) for row in rows} == {
        ("Fenland 4 EC", "00000-1")
    }


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_a_name_never_begins_a_formula(owner: Any, start: str) -> None:
    # OWASP, "CSV Injection": cells beginning with one of these are taken for formulas.
    name = f"{start}HYPERLINK(1)"
    assert guarded(name) == f"'{name}"
    found = book_of(owner, product("1 L", name=name, registration_number=name))
    for row in csv.reader(io.StringIO(to_csv(found), newline="")):
        assert not any(cell.startswith(start) for cell in row)


def test_an_ordinary_name_stays_as_it_is() -> None:
    assert guarded("Leafkill-4 = new") == "Leafkill-4 = new"


def test_the_json_says_the_same(owner: Any) -> None:
    salt = holding(ingredient("480 g/L", acid="360 g/L"))
    found = book_of(owner, product("10 L", label=salt), product("none"), rule=BC)
    content = json.loads(to_json_text(found))
    assert (content["format"], content["from"], content["to"]) == (1, "2026-01-01", "2026-12-31")
    assert content["customer"] is None
    assert content["kilogram_rule"] == {"id": "ca-bc", "source": BC.source}
    (one,) = content["products"]
    assert one["as_entered"] == [{"value": "10", "unit": "L"}]
    assert one["kilograms"] == {"value": None, "unit": "kg", "note": NO_DENSITY}
    assert one["active_ingredients"] == [
        {
            "name": "inventol",
            "kilograms": {"value": "4.8", "unit": "kg", "note": None},
            "acid_equivalent": {"value": "3.6", "unit": "kg", "note": None},
        }
    ]
    assert one["not_counted"] == ["no. 2: none"]
    assert any("not legal advice" in told for told in content["remarks"])


def test_the_json_without_a_rule_and_an_acid_has_neither(owner: Any) -> None:
    content = json.loads(to_json_text(book_of(owner, product("10 L"))))
    assert content["kilogram_rule"] is None
    assert content["products"][0]["active_ingredients"][0]["acid_equivalent"] is None


def test_the_acid_equivalent_has_a_row_of_its_own() -> None:
    rows = list(rows_of(of(product("10 L", label=holding(ingredient("480 g/L", acid="360 g/L"))))))
    assert ("active ingredient inventol", "4.8", "kg", "") in rows
    assert ("acid equivalent inventol", "3.6", "kg", "") in rows


def test_a_product_without_an_entered_total_says_so() -> None:
    rows = list(rows_of(of(product(None, label=None))))
    assert ("as entered", "", "", "no total was entered") in rows
    assert ("active ingredient", "", "kg", "no active ingredient on the label on file") in rows


def test_remarks_name_a_density_of_a_counted_product_alone(owner: Any) -> None:
    stated = {"herbicide": q("1.1 kg/L"), "gone": q("1.2 kg/L")}
    told = " ".join(remarks(book_of(owner, product("1 L"), densities=stated)))
    assert "Density of Fenland 4 EC as stated by who asked for these totals: 1.1 kg/L." in told
    assert "1.2 kg/L" not in told
