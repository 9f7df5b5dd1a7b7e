"""Which sets speak of a record, and why: place, own day, role, products, area and labels."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from logbook.facts.codec import from_json, to_json
from logbook.facts.duty import (
    Asked,
    Clock,
    Deadline,
    HowRead,
    KeepFrom,
    Kind,
    Obligation,
    Products,
    Retention,
    Role,
    When,
    Work,
)
from logbook.facts.record import Snapshot
from logbook.law.applicability import (
    Outcome,
    applicable,
    covered_by,
    holds,
    statement,
)
from logbook.law.cautions import (
    AUTHORITY_PREVAILS,
    NOT_LEGAL_ADVICE,
    firmness_words,
    source_words,
)
from logbook.law.coverage import coverage, lacking, lacking_of, no_set_words
from logbook.law.elements import State
from tests.logbook.checks.build import clean, given, label, q
from tests.logbook.law.complete import SETS, complete


def ids(
    s: Snapshot | None = None,
    /,
    role: Role = Role.FOR_HIRE,
    work: Work = Work.FIELD,
    **changes: Any,
) -> list[str]:
    return [one.duty_set.id for one in applicable(given(s, **changes), role=role, work=work)]


def plain(place: str, **of_label: Any) -> Snapshot:
    """Return a record with one product whose label is silent on all but what is given."""
    return given(complete(place), products=(replace(clean().products[0], label=label(**of_label)),))


def test_the_union_of_state_and_federal_sets_applies_each_with_its_reason() -> None:
    found = applicable(clean())
    assert [one.duty_set.id for one in found] == [
        "us-40-cfr-170",
        "us-40-cfr-171-303",
        "us-7-usc-136i-1",
        "us-nd",
    ]
    assert found[1].why == (
        "The field lies in US-ND, where on 2026-06-10 it binds who sprays for hire; it covers "
        "restricted-use products: Fenland 4 EC."
    )
    assert found[0].products == (0,)


@pytest.mark.parametrize("changes", [{"field": None}, {"record__started_at": None}])
def test_without_a_field_or_a_day_no_law_can_be_named(changes: dict[str, Any]) -> None:
    assert ids(**changes, **({} if "field" in changes else {"record__finished_at": None})) == []
    assert statement(given(field=None)) == ()


def test_no_set_applies_where_none_is_carried_and_it_is_said_what_was_found() -> None:
    # O. Reg. 63/09, AR 43/97 and the Quebec code: no duty for farm land could be confirmed.
    for place in ("CA-AB", "CA-ON", "CA-QC", "GB-NIR"):
        assert ids(complete(place)) == ["label-herbicide-label"]
    told = coverage(complete("CA-ON"))
    assert told.startswith("The rules of Ontario are not carried here. Ask your authority. No duty")
    assert "us-40-cfr-171-303" in ids(complete("US-UT"))


def test_where_a_state_is_not_carried_it_is_said_what_stands_in_its_stead() -> None:
    # R68-7-17 of Utah says that it has record rules; no set of Utah is carried.
    s = plain("US-UT", restricted_use=True)
    assert coverage(s, note=False) == (
        "The rules of Utah are not carried here; only US federal minimum for commercial "
        "applicators of restricted-use products and US statute on records of restricted-use "
        "products stand below. Ask your authority."
    )
    # 40 CFR 171.303 and 7 U.S.C. 136i-1 speak of restricted-use products alone.
    free = plain("US-UT")
    assert (
        coverage(free, note=False) == "The rules of Utah are not carried here. Ask your authority."
    )
    assert no_set_words(free) == ""
    assert lacking("") == ""
    assert coverage(given(field=None)) == ""


def test_what_is_carried_in_part_is_said_to_be_so_and_each_place_of_a_list_once() -> None:
    # N.D. Admin. Code 60-03-01-07(2): the copy that was read broke off within its list.
    told = "Of the rules of North Dakota a part is carried here; the law says more than is shown."
    assert coverage(plain("US-ND"), note=False) == f"{told} Ask your authority."
    said = lacking_of(["US-ND", "US-UT", "US-ND", ""])
    assert [one.partition(".")[0] for one in said] == [
        told[:-1],
        "The rules of Utah are not carried here",
    ]


def test_a_product_not_said_to_be_restricted_or_not_counts_as_one_and_that_is_told() -> None:
    s = plain("US-NE", restricted_use=None)
    (why,) = (one.why for one in applicable(s) if one.duty_set.id == "us-ne")
    assert why.endswith("restricted-use products: Fenland 4 EC (not said whether it is one).")


def test_a_product_that_is_not_restricted_is_under_no_restricted_use_set() -> None:
    # 40 CFR 171.303(b)(7) and 7 U.S.C. 136i-1 speak of restricted-use products.
    assert ids(plain("US-ND")) == ["us-nd"]
    assert ids(plain("US-NE")) == []
    assert "us-ne" in ids(plain("US-NE", restricted_use=True))


def test_fertilizers_and_adjuvants_alone_are_under_no_set() -> None:
    surfactant = clean().products[1]
    assert ids(products=(surfactant,)) == []
    assert ids(products=(replace(surfactant, kind="fertilizer"),)) == []


def test_adjuvants_are_lines_of_their_own_where_the_law_counts_them() -> None:
    # 3 CCR 6624, where adjuvants are registered products, and form AGR 4226 (rev. 5/03),
    # item 8: adjuvants are listed among the products.
    surfactant = clean().products[1]
    for place, set_id in (("US-CA", "us-ca"), ("US-WA", "us-wa")):
        s = complete(place)
        of_set = next(one for one in applicable(s) if one.duty_set.id == set_id)
        assert of_set.products == (0, 1)
        assert set_id in ids(complete(place, products=(surfactant,)))
        fertilizer = replace(surfactant, kind="fertilizer")
        assert set_id not in ids(complete(place, products=(fertilizer,)))
    of_oregon = next(one for one in applicable(complete("US-OR")) if one.duty_set.id == "us-or")
    assert of_oregon.products == (0,)


def test_the_mark_says_what_is_blank_apart_from_how_the_wording_was_read() -> None:
    rows = {row.asked.name: row for row in statement(clean(), sets=(SETS["us-nd"],))}
    # N.D. Admin. Code 60-03-01-07(2): the list from memory, the rinsate read, dilution not settled.
    assert (rows["wind-speed"].mark, rows["rinsate-note"].mark) == ("undecided", "agrees")
    assert rows["dilution"].mark == "undecided"
    blank = {row.asked.name: row for row in statement(given(weather=()), sets=(SETS["us-nd"],))}[
        "wind-speed"
    ]
    assert (blank.outcome, blank.mark) == (Outcome.CONFIRM, "missing")
    advised = statement(complete("GB-ENG"), sets=(SETS["gb"],))
    assert {row.mark for row in advised if row.outcome is Outcome.ADVISED} == {""}


def test_a_record_without_products_is_under_every_set_so_that_they_are_asked_for() -> None:
    found = applicable(given(products=()))
    assert [one.duty_set.id for one in found][-1] == "us-nd"
    assert all(one.why.endswith("no product yet.") for one in found)
    assert [one.products for one in found] == [()] * len(found)


def test_a_product_without_a_label_is_of_no_class_but_all() -> None:
    s = given(products__0__label=None)
    assert covered_by(s, (Products.ALL,)) == (0,)
    assert covered_by(s, (Products.RESTRICTED_USE, Products.REENTRY)) == ()
    assert ids(s) == ["us-nd"]


def test_atrazine_is_known_by_its_ingredient_and_other_classes_by_the_label() -> None:
    # ATCP 30.31(5) keeps atrazine longer; F.A.C. 5E-2.033 names auxin herbicides.
    first = clean().products[0].label
    assert first is not None
    named = (replace(first.ingredients[0], name="Atrazine"),)
    assert covered_by(plain("US-WI", ingredients=named), (Products.ATRAZINE,)) == (0,)
    assert covered_by(plain("US-FL", classes=("auxin herbicide",)), (Products.AUXIN,)) == (0,)
    assert covered_by(clean(), (Products.AUXIN, Products.ATRAZINE)) == ()


@pytest.mark.parametrize(
    ("area", "binds"),
    [("5 ac", False), ("5.01 ac", True), ("2.02 ha", False), ("2.03 ha", True), ("", True)],
)
def test_florida_auxin_records_begin_above_five_acres(area: str, binds: bool) -> None:
    # F.A.C. 5E-2.033; 5 acres are 2.0234 ha. A blank area counts as above.
    s = plain("US-FL", classes=("auxin herbicide",))
    assert ("us-fl-auxin" in ids(s, record__treated_area=q(area))) is binds


def test_dicamba_labels_ask_of_fields_and_not_of_spots() -> None:
    s = plain("US-SD", classes=("dicamba over the top",))
    assert "us-dicamba-label" in ids(s)
    assert "us-dicamba-label" not in ids(s, work=Work.SPOT)
    # Spot work is still recorded: ARSD 12:56:07:01 knows no exception for it.
    assert "us-sd" in ids(s, work=Work.SPOT)


def test_a_private_applicator_is_bound_for_other_products_than_a_for_hire_one() -> None:
    # 4 TAC 7.33: commercial all pesticides; private restricted-use, state-limited and regulated.
    s = plain("US-TX")
    assert ids(s) == ["us-tx"]
    assert ids(s, role=Role.OWN_LAND) == []
    limited = plain("US-TX", classes=("restricted by the state",))
    assert ids(limited, role=Role.OWN_LAND) == ["us-tx"]
    (found,) = applicable(limited, role=Role.OWN_LAND)
    assert "binds who sprays the own land" in found.why


def test_georgia_binds_no_private_applicator() -> None:
    # Ga. Rule 40-21-5: contractors all; private none.
    assert "us-ga" in ids(complete("US-GA"))
    assert "us-ga" not in ids(complete("US-GA"), role=Role.OWN_LAND)


def test_california_asks_the_township_grid_of_the_business_and_of_the_farm() -> None:
    # 3 CCR 6624(c): "the operator of the property which is producing an agricultural commodity,
    # and an agricultural pest control business applying pesticides to such property".
    def outcome(role: Role) -> Outcome:
        rows = statement(complete("US-CA"), role=role, sets=(SETS["us-ca"],))
        return next(row.outcome for row in rows if row.asked.name == "location-structured")

    assert outcome(Role.FOR_HIRE) is Outcome.STANDS
    assert outcome(Role.OWN_LAND) is Outcome.STANDS


def test_a_row_says_where_the_element_stands_and_how_it_was_read() -> None:
    rows = {row.asked.name: row for row in statement(clean(), sets=(SETS["us-nd"],))}
    note = rows["rinsate-note"]
    assert (note.stand.state, note.stand.where) == (State.NONE, ("statements.rinsate-note",))
    assert (note.outcome, note.how_read) == (Outcome.STANDS, HowRead.LEGAL_TEXT)
    wind = rows["wind-speed"]
    assert (wind.outcome, wind.how_read) == (Outcome.CONFIRM, HowRead.MEMORY)
    assert rows["dilution"].outcome is Outcome.UNSETTLED
    assert Outcome.UNSETTLED.value == "not settled; confirm with your authority"


@pytest.mark.parametrize(
    ("when", "name", "of_label", "met"),
    [
        (When.LABEL_ASKS, "air-temperature", {"temperature_max": q("90 °F")}, True),
        (When.LABEL_ASKS, "air-temperature", {}, False),
        (When.LABEL_ASKS, "other-weather", {"inversion_forbidden": True}, True),
        (When.LABEL_ASKS, "start-time", {"minutes_before_sunset": 0}, True),
        (When.LABEL_ASKS, "growth-stage", {}, False),
        (
            When.LABEL_ASKS,
            "growth-stage",
            {"asks": (Asked(name="growth-stage", how_read=HowRead.LEGAL_TEXT),)},
            True,
        ),
        (When.RESTRICTED_USE, "crop", {"restricted_use": True}, True),
        (When.RESTRICTED_USE, "crop", {}, False),
        (When.REENTRY, "finish-time", {"reentry_hours": 4}, True),
        (When.REENTRY, "finish-time", {}, False),
        (When.OUTDOORS, "wind-speed", {}, True),
        (When.LAND_OF_ANOTHER, "customer-name", {}, True),
        (When.WHERE_IT_APPLIES, "permit-number", {}, True),
        (When.ALWAYS, "date", {}, True),
        (When.HELPER, "training-proof", {}, True),
        (When.SEVERAL_PRODUCTS, "tank-mix", {}, False),
        (When.SHARED_LOAD, "field-order", {}, True),
        (When.NO_STATE_RULE, "date", {}, True),
        (When.AREA_OVER, "location-structured", {}, True),
    ],
)
def test_conditions(when: When, name: str, of_label: dict[str, Any], met: bool) -> None:
    s = plain("US-ND", **of_label)
    assert holds(s, when, name=name, area=q("1 ac"), own_rule=False) is met


def test_conditions_that_other_records_do_not_meet() -> None:
    assert not holds(clean(), When.HELPER, name="crop", area=None, own_rule=False)
    assert not holds(clean(), When.SHARED_LOAD, name="crop", area=None, own_rule=False)
    assert not holds(clean(), When.NO_STATE_RULE, name="crop", area=None, own_rule=True)
    assert not holds(clean(), When.AREA_OVER, name="crop", area=q("125 ac"), own_rule=True)
    assert holds(clean(), When.SEVERAL_PRODUCTS, name="crop", area=None, own_rule=True)


LABEL_ADDS = {
    "classes": ("auxin herbicide",),
    "asks": (
        Asked(name="buffer", how_read=HowRead.LEGAL_TEXT, detail="section 4"),
        Asked(
            name="crop",
            how_read=HowRead.LEGAL_TEXT,
            when=When.AREA_OVER,
            area=q("5 ac"),
            obligation=Obligation.ADVISED,
        ),
    ),
    "deadlines": (
        Deadline(kind=Kind.RECORD, clock=Clock.HOURS, count=72, how_read=HowRead.LEGAL_TEXT),
    ),
    "retention": (Retention(years=2, since=KeepFrom.APPLICATION, how_read=HowRead.LEGAL_TEXT),),
    "training": "yearly course of the registrant",
}


def test_a_label_adds_elements_and_training_as_a_set_of_its_own() -> None:
    s = plain("US-ND", **LABEL_ADDS)
    added = applicable(s)[-1]
    assert added.duty_set.title == "Label of Fenland 4 EC, edition 2025-01"
    assert added.why == "Label of Fenland 4 EC, edition 2025-01, asks for it; a label is binding."
    rows = {row.asked.name: row for row in statement(s, sets=())}
    assert rows["buffer"].outcome is Outcome.STANDS
    assert rows["training-proof"].outcome is Outcome.STANDS
    assert rows["training-proof"].asked.detail.endswith("yearly course of the registrant")
    bare = given(s, record__statements={}, applicator__trainings=())
    rows = {row.asked.name: row for row in statement(bare, sets=())}
    assert rows["buffer"].outcome is Outcome.MISSING
    assert rows["training-proof"].outcome is Outcome.MISSING


def test_a_label_that_adds_nothing_is_no_set() -> None:
    assert ids(plain("US-ND")) == ["us-nd"]


def test_what_a_label_adds_and_what_is_stated_survive_the_seal() -> None:
    s = plain("US-ND", **LABEL_ADDS)
    again = from_json(to_json(s), Snapshot)
    assert again == s
    before = to_json(clean())
    del before["record"]["statements"]
    for name in ("classes", "asks", "deadlines", "retention", "training"):
        del before["products"][0]["label"][name]
    # A seal from before these facts were known still opens.
    assert from_json(before, Snapshot) == given(record__statements={})


def test_the_words_that_stand_beside_every_duty() -> None:
    assert "not legal advice" in NOT_LEGAL_ADVICE
    assert "The text of the authority prevails" in AUTHORITY_PREVAILS
    dakota = SETS["us-nd"]
    assert source_words(dakota) == (
        "N.D. Admin. Code 60-03-01-07(2) (legal text, in parts from memory, last read 2026-11-25)"
    )
    assert source_words(dakota, dakota.elements[0]).endswith("(from memory, last read 2026-11-25)")
    (added,) = applicable(plain("US-ND", **LABEL_ADDS), sets=())
    assert source_words(added.duty_set) == "Label of Fenland 4 EC, edition 2025-01 (legal text)"
    assert firmness_words(HowRead.LEGAL_TEXT) == firmness_words(HowRead.AGENCY_PAGE) == ""
    assert firmness_words(HowRead.SUMMARY) == "confirm with your authority"


def test_a_record_is_judged_by_the_rules_of_its_own_day_whatever_today_is() -> None:
    # ARSD 12:56:07:01 as amended, effective 2 December 2020.
    assert "us-sd" in ids(complete("US-SD", date(2020, 12, 2)))
    assert "us-sd" not in ids(complete("US-SD", date(2020, 12, 1)))
