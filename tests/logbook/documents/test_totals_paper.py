"""The totals by product on paper."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from pypdf import PdfReader

from logbook.documents.totals import render_totals
from logbook.law.cautions import AUTHORITY_PREVAILS, NOT_LEGAL_ADVICE
from logbook.records.reading.totals import LITRE_RULES, Totals, Use, totals_of
from tests.logbook.checks.build import herbicide, q, surfactant
from tests.logbook.documents.reading import Page, has, read, whole

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


def found(*products, **changes) -> Totals:
    uses = [Use(record_number=n, product=one) for n, one in enumerate(products, start=1)]
    facts = {
        "day_from": date(2026, 1, 1),
        "day_to": date(2026, 12, 31),
        "business": "Coulee Custom Spraying",
        "customer": "",
        "products": totals_of(uses),
        "records": len(uses),
    }
    return Totals(**facts | changes)


def paper(*products, size="letter", **changes) -> Page:
    return whole(render_totals(found(*products, **changes), now=NOW, paper=size))


@pytest.mark.parametrize("size", ["letter", "a4"])
def test_the_paper_shows_each_total_with_its_unit(size):
    # 2750 fl oz = 21.484375 gal; × 4 lb/gal = 85.9375 lb = 38.981 kg, by hand.
    has(
        paper(herbicide(), surfactant(), size=size),
        "From, to 2026-01-01 to 2026-12-31, both days counted, local at the field",
        "Work for all customers",
        "Fields in all places",
        "Done by Coulee Custom Spraying",
        "Fenland 4 EC 00000-1 1 2750 fl oz 2750 fl oz not convertible: density not given inventol: "
        "38.981 kg",
        "Wetting 90 blank 1 600 fl oz",
        "no active ingredient on the label on file",
    )


def test_the_acid_equivalent_stands_beside_the_active_ingredient():
    salt = replace(
        herbicide().label.ingredients[0], content=q("5 lb/gal"), acid_equivalent=q("4 lb/gal")
    )
    one = replace(herbicide(), label=replace(herbicide().label, ingredients=(salt,)))
    has(paper(one), "inventol: 48.726 kg acid equivalent 38.981 kg")


def test_what_is_not_counted_is_named_by_record():
    one, other = replace(herbicide(), total_used=None), replace(herbicide(), total_used=q("none"))
    has(paper(one, other), "no total entered", "Not counted: no. 1: blank; no. 2: none.")


def test_a_customer_a_rule_and_a_density_are_named():
    rule = LITRE_RULES["ca-bc"]
    text = paper(herbicide(), customer="C. Dahl", rule=rule, densities={"herbicide": q("1.1 kg/L")})
    has(text, "Work for C. Dahl", "C. Dahl · 2026-01-01 to 2026-12-31", "1 L of product counts as")
    has(text, "B.C. Reg. 604/2004 (agency page, in parts from memory, last read 20")
    has(text, "Density of Fenland 4 EC as stated by who asked for these totals: 1.1 kg/L.")


def test_a_period_without_a_record_says_so():
    assert "No signed record lies in this period: nothing was used." in paper()


def test_what_was_purged_is_counted():
    text = paper(herbicide(), purged=3)
    has(text, "Purged records of the whole book, in no total: 3.")


def test_the_cautions_stand_below():
    has(paper(herbicide()), NOT_LEGAL_ADVICE, AUTHORITY_PREVAILS)
    odd = replace(herbicide(), name="田 4 EC")
    assert "A letter that the print type lacks" in paper(odd)


def test_many_products_flow_over_pages_under_the_repeated_head():
    products = [replace(herbicide(), product_id=f"{n}", name=f"Product {n:02d}") for n in range(80)]
    pages = read(render_totals(found(*products), now=NOW))
    assert len(pages) >= 2
    for number, page in enumerate(pages, start=1):
        has(page, "Totals by product", f"page {number} of {len(pages)}", "As entered Label units")


def test_the_same_totals_at_the_same_instant_give_the_same_bytes():
    one, other = (render_totals(found(herbicide()), now=NOW) for _ in range(2))
    assert one == other
    about = PdfReader(io.BytesIO(one)).metadata
    assert about.title == "Totals by product: all customers, 2026-01-01 to 2026-12-31"
    assert about.creation_date == NOW
