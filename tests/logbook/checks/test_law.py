"""The two checks of record law: what is missing, what is a caution, and how it joins a blank."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from logbook.checks import law
from logbook.checks.core import RunState, Severity, run_all
from logbook.checks.registry import CHECKS
from logbook.facts.duty import Role
from logbook.facts.record import LocationFacts, Snapshot
from logbook.law import applicability as apply
from logbook.law.applicability import lacking_formats
from tests.logbook.checks.build import given, lack, licence, look, person, q, the
from tests.logbook.law.complete import SETS, complete, without


def test_an_element_that_legal_text_asks_for_is_missing() -> None:
    # ARSD 12:56:07:01: customer and address.
    finding = the(law.record_elements, without(complete("US-SD"), "customer-address"))
    assert finding.severity is Severity.MISSING
    assert finding.key == "record-elements@customer.address"
    assert finding.sentence == (
        "Not in the record: the customer's address; asked for by South Dakota."
    )
    assert finding.basis == (
        "40 CFR 171.303(b)(7) (summary, last read 2026-11-25) and "
        "ARSD 12:56:07:01 (legal text, last read 2026-11-27)"
    )


def test_an_element_known_from_memory_or_a_summary_only_is_a_caution() -> None:
    # N.D. Admin. Code 60-03-01-07(2), its list from memory; 40 CFR 171.303(b)(7) by summaries.
    finding = the(law.record_elements, without(complete("US-ND"), "customer-address"))
    assert finding.severity is Severity.CAUTION
    assert finding.sentence == (
        "Not in the record: the customer's address; US federal minimum for commercial applicators "
        "of restricted-use products and North Dakota may ask for it, confirm with your authority."
    )


def test_a_blank_note_on_rinsate_is_missing_and_none_is_an_answer() -> None:
    # N.D. Admin. Code 60-03-01-07(2): the use or disposal of all rinsate.
    finding = the(law.record_elements, record__statements={})
    assert (finding.severity, finding.about) == (Severity.MISSING, "statements.rinsate-note")
    assert look(law.record_elements, record__statements={"rinsate-note": "none"}) == []


def test_one_fact_that_several_elements_stand_on_is_one_finding() -> None:
    # 40 CFR 170.309 asks for start and time of day; one blank, one finding.
    s = given(record__started_at=None)
    finding = the(law.record_elements, s)
    assert finding.about == "started_at"
    assert "the start time" in finding.sentence


def test_what_may_not_apply_is_a_caution_that_asks_for_a_word() -> None:
    # 4 TAC 7.33: a spray permit number in regulated counties.
    finding = the(law.record_elements, without(complete("US-TX"), "permit-number"))
    assert finding.severity is Severity.CAUTION
    assert "write “none” or “not applicable”" in finding.settle


@pytest.mark.parametrize(
    ("place", "element", "about", "takes_word"),
    [
        ("US-SD", "customer-address", "customer.address", False),
        ("US-MN", "rate", "products.0.planned_rate", True),
        ("US-MN", "wind-speed", "weather.0.wind_speed", True),
        ("US-MN", "licence-number", "applicator.licences", False),
    ],
)
def test_a_word_is_asked_for_only_where_one_can_be_entered(
    place: str, element: str, about: str, takes_word: bool
) -> None:
    found = look(law.record_elements, without(complete(place), element))
    finding = next(one for one in found if one.about == about)
    assert ("write “none”" in finding.settle) is takes_word
    assert ("say so beside this finding when you sign" in finding.settle) is not takes_word


def test_each_product_without_its_fact_has_its_own_finding() -> None:
    # Minn. Stat. 18B.37 subd. 2: rate.
    s = complete("US-MN")
    two = replace(s.products[0], product_id="other", name="Fenland 8 EC")
    s = given(s, products=(s.products[0], two))
    s = given(s, products__0__planned_rate=None, products__1__planned_rate=None)
    s = given(s, products__0__total_used=None, products__1__total_used=None)
    found = [finding.about for finding in look(law.record_elements, s)]
    assert [about for about in found if about.endswith("planned_rate")] == [
        "products.0.planned_rate",
        "products.1.planned_rate",
    ]


def test_a_word_with_its_reason_is_no_finding() -> None:
    # Four kinds of nothing: blank alone is missing.
    s = complete("US-MN")
    no_meter = tuple(replace(one, wind_speed=q("not measured: no meter")) for one in s.weather)
    said = given(s, weather=no_meter, record__treated_area=q("none"))
    assert look(law.record_elements, said) == []


@pytest.mark.parametrize("check", ["record_elements", "location_format"])
def test_without_field_or_day_no_law_can_be_named(check: str) -> None:
    one = {
        "record_elements": lack(law.record_elements, field=None),
        "location_format": lack(law.location_format, field=None),
    }[check]
    assert one.needs == {"field": "field"}
    nothing = lack(
        getattr(law, check), field=None, record__started_at=None, record__finished_at=None
    )
    assert set(nothing.needs) == {"started_at", "field"}


# --- the format of the place ---------------------------------------------------------------------


def placed(place: str, *kinds: str, drawn: bool = False) -> Snapshot:
    s = complete(place)
    assert s.field is not None
    return given(
        s,
        field__locations=tuple(LocationFacts(kind=kind, text=f"by {kind}") for kind in kinds),
        field__boundary=s.field.boundary if drawn else None,
    )


def test_california_accepts_the_township_grid_only() -> None:
    # 3 CCR 6624: county, section, township, range, base and meridian.
    assert look(law.location_format, placed("US-CA", "legal description")) == []
    finding = the(law.location_format, placed("US-CA", "description", "parcel"))
    assert finding.severity is Severity.MISSING
    assert finding.sentence == (
        "The place is stated as description and parcel, but California accepts legal description."
    )
    assert finding.basis == "3 CCR 6619, 6624, 6626 (legal text, last read 2026-11-27)"
    # 6624(c) speaks to the operator of the property too.
    s = placed("US-CA", "description")
    for role in (Role.FOR_HIRE, Role.OWN_LAND):
        assert [one.duty_set.id for one, _ in lacking_formats(s, role=role)] == ["us-ca"]


def test_a_rule_of_location_can_speak_to_one_role_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    # No shipped set does now; texts of law that are kept with their seals do.
    (rule,) = SETS["us-ca"].locations
    alone = replace(SETS["us-ca"], locations=(replace(rule, roles=(Role.FOR_HIRE,)),))
    monkeypatch.setattr(apply, "_at", lambda place: (alone,))
    s = placed("US-CA", "description")
    assert lacking_formats(s) != ()
    assert lacking_formats(s, role=Role.OWN_LAND) == ()


def test_new_south_wales_wants_an_address_and_an_outline() -> None:
    # Pesticides Regulation 2017 (NSW) cl. 35-37: property address and outline of the area.
    assert look(law.location_format, placed("AU-NSW", "address", drawn=True)) == []
    finding = the(law.location_format, placed("AU-NSW", "description"))
    assert "accepts address; New South Wales accepts outline or map" in finding.sentence
    drawn = the(law.location_format, placed("AU-NSW", "description", drawn=True))
    assert "accepts address." in drawn.sentence


def test_new_york_wants_an_address() -> None:
    # ECL 33-1205: address with five-digit ZIP code.
    finding = the(law.location_format, placed("US-NY", "description", drawn=True))
    assert "New York accepts address" in finding.sentence


def test_florida_takes_any_one_of_its_formats() -> None:
    # F.A.C. 5E-9.032; a point alone outlines nothing.
    for kind in ("legal description", "description"):
        assert look(law.location_format, placed("US-FL", kind)) == []
    assert look(law.location_format, placed("US-FL", drawn=True)) == []
    assert the(law.location_format, placed("US-FL", "coordinates")).severity is Severity.MISSING


def test_a_format_from_memory_is_a_caution() -> None:
    # N.D. Admin. Code 60-03-01-07(2), the legal description from memory.
    finding = the(law.location_format, placed("US-ND", "address"))
    assert finding.severity is Severity.CAUTION
    assert finding.sentence.endswith("legal description; confirm with your authority.")


def test_a_map_is_asked_from_one_acre_on_in_washington() -> None:
    # Form AGR 4226 (rev. 5/03), item 9: "one acre or more of agricultural land".
    s = placed("US-WA", "description")
    assert the(law.location_format, s).severity is Severity.MISSING
    one = given(s, record__treated_area=q("1 ac"))
    assert the(law.location_format, one).severity is Severity.MISSING
    assert look(law.location_format, given(s, record__treated_area=q("0.99 ac"))) == []


def test_a_member_state_may_provide_another_method() -> None:
    # Implementing Regulation (EU) 2023/564 Art. 1: whether it does, the record cannot tell.
    assert the(law.location_format, placed("FR", "address")).severity is Severity.CAUTION
    assert look(law.location_format, placed("FR", "parcel")) == []


def test_no_place_at_all_is_the_finding_of_the_elements_alone() -> None:
    s = placed("US-CA")
    assert look(law.location_format, s) == []
    assert "where the place is" in the(law.record_elements, s).sentence
    assert look(law.location_format, given(placed("US-CA"), field__place="CA-ON")) == []


# --- together with the run -----------------------------------------------------------------------


def test_a_blank_that_other_checks_need_too_is_one_finding_with_its_law() -> None:
    # Minn. Stat. 18B.37 subd. 2: units treated.
    report = run_all(given(complete("US-MN"), record__treated_area=None), CHECKS)
    (finding,) = [one for one in report.findings if one.about == "treated_area"]
    assert finding.key == "fact-missing@treated_area"
    assert finding.sentence == (
        "Left blank: treated area. Not in the record: the treated area; asked for by Minnesota."
    )
    assert "Minn. Stat. 18B.37 subd. 2" in finding.basis
    assert "Needed by: " in finding.basis
    assert finding.ground.startswith("Stands on: ")
    (run,) = [one for one in report.runs if one.id == "record-elements"]
    assert run.state is RunState.FOUND


def test_a_blank_that_no_other_check_needs_keeps_the_id_of_the_law() -> None:
    report = run_all(without(complete("US-SD"), "customer-address"), CHECKS)
    assert "record-elements@customer.address" in {one.key for one in report.findings}


def test_a_blank_under_no_law_is_reported_as_before() -> None:
    s = given(complete("CA-ON"), record__speed=None)
    (finding,) = [one for one in run_all(s, CHECKS).findings if one.about == "speed"]
    assert finding.basis == (
        "Needed by: delivered carrier rate against the planned one; delivered carrier rate against "
        "the labels; delivered rate of every product against the planned one; and 3 more"
    )
    assert finding.ground == finding.basis


NE_NIGHT = {
    # 2026-06-11 04:00 UTC is 23:00 of 10 June in Nebraska (US Central Daylight Time, UTC-5).
    "record__started_at": datetime(2026, 6, 11, 4, tzinfo=UTC),
    "record__finished_at": datetime(2026, 6, 11, 6, tzinfo=UTC),
}


def test_work_over_two_days_is_told_where_each_day_wants_its_own_record() -> None:
    # 25 NAC 2-006.01: one record per unique location and unique date, of private applicators. That
    # it holds for hire is from memory, so no breach rests on it.
    finding = the(law.one_record_each, complete("US-NE", **NE_NIGHT))
    assert finding.severity is Severity.CAUTION
    assert finding.key == "one-record-each@finished_at"
    assert finding.sentence == (
        "The work began on 2026-06-10 and ended on 2026-06-11; Nebraska wants a record for each "
        "place and each day, with the area of that day."
    )
    assert "25 NAC 2-006" in finding.basis


def test_work_over_two_days_is_a_breach_where_the_text_for_hire_was_read() -> None:
    # 02 NCAC 09L .1402 of North Carolina: a record for each day, read in the text.
    finding = the(law.one_record_each, complete("US-NC", **NE_NIGHT))
    assert finding.severity is Severity.BREACH


def test_a_day_is_one_of_the_field_not_of_greenwich() -> None:
    # 25 NAC 2-006.01 as above; 22:00 to 23:00 Central is 03:00 to 04:00 UTC of the next day.
    evening = {
        "record__started_at": datetime(2026, 6, 10, 23, 30, tzinfo=UTC),
        "record__finished_at": datetime(2026, 6, 11, 4, tzinfo=UTC),
    }
    assert look(law.one_record_each, complete("US-NE", **evening)) == []


def test_where_no_law_wants_it_a_night_is_one_record() -> None:
    # ARSD 12:56:07:01 has no rule of one record a day.
    assert look(law.one_record_each, complete("US-SD", **NE_NIGHT)) == []


def test_products_that_the_law_does_not_cover_make_no_breach_of_it() -> None:
    # Neb. Rev. Stat. 2-2643: restricted-use products.
    s = complete("US-NE", **NE_NIGHT)
    free = tuple(
        replace(one, label=one.label and replace(one.label, restricted_use=False))
        for one in s.products
    )
    assert look(law.one_record_each, replace(s, products=free)) == []


def test_licensees_who_share_a_job_are_told_that_each_keeps_a_record() -> None:
    # 21 IAC 45.26(206): where several licensees share a job, each keeps a record.
    here = licence(place="US-IA", valid_from=date(2020, 1, 1), expires_on=date(2030, 1, 1))
    both = {
        "applicator": person("A. Lund", licences=(here,)),
        "crew": (person("C. Ness", licences=(here,)), person("P. Vik", licences=())),
    }
    finding = the(law.one_record_each, complete("US-IA", **both))
    assert (finding.severity, finding.about) == (Severity.CAUTION, "crew")
    assert finding.sentence == (
        "A. Lund and C. Ness hold licences and share this job; Iowa wants each of them to keep a "
        "record."
    )
    alone = {**both, "crew": (person("P. Vik", licences=()),)}
    assert look(law.one_record_each, complete("US-IA", **alone)) == []


def test_without_an_end_it_cannot_say_how_many_days_it_were() -> None:
    # Neb. Rev. Stat. 2-2643, as above.
    lacking = lack(law.one_record_each, complete("US-NE", record__finished_at=None))
    assert set(lacking.needs) == {"finished_at"}
