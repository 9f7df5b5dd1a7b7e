"""Each duty set: one complete record passes it, and each element taken out is reported.

Every case is named by the law that asks for the element.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from logbook.checks import law
from logbook.checks.core import CannotRun, Severity, run_all
from logbook.checks.registry import CHECKS
from logbook.facts.duty import Asked, DutySet, HowRead, Kind, Obligation, Role, When
from logbook.facts.record import Snapshot
from logbook.law.applicability import Outcome, Row, applicable, statement
from logbook.law.cautions import CONFIRM, NOT_SETTLED, doubt_words, source_words
from logbook.law.elements import ELEMENTS, State
from tests.logbook.checks.build import given, look, person, q
from tests.logbook.law.complete import SETS, STATE_TABLE, complete, day_for, place_for, without
from tests.walked import walked

WALKED_HERE = [one for one in SETS.values() if one.id not in STATE_TABLE]
BY_CITATION = [pytest.param(one, id=f"{one.id}: {one.citation}") for one in WALKED_HERE]
CASES = [
    pytest.param(one, asked, id=f"{one.citation}: {asked.name}")
    for one in WALKED_HERE
    for asked in one.elements
    if asked.obligation is Obligation.REQUIRED
]
CANNOT_BE_BLANK = {
    # 3 CCR 6619 names adjuvants where there are several products, and each has its line.
    ("us-ca", "tank-mix"),
    # 4 TAC 7.33 wants the order where a load is shared; a shared load has it.
    ("us-tx", "field-order"),
    # 40 CFR 170 speaks of products with an interval, so one whose label gives none is not covered.
    ("us-40-cfr-170", "reentry-interval"),
    ("us-40-cfr-170-311", "reentry-interval"),
}


def record_for(one: DutySet) -> Snapshot:
    return complete(place_for(one), day_for(one))


def role_of(one: DutySet) -> Role:
    """Return for hire, or the first role of a set that does not bind who sprays for hire."""
    return Role.FOR_HIRE if one.products_for(Role.FOR_HIRE) else one.bound[0].role


def row(s: Snapshot, one: DutySet, name: str) -> Row | None:
    rows = statement(s, role=role_of(one), sets=(one,))
    return next((row for row in rows if row.asked.name == name), None)


@walked("one", BY_CITATION)
def test_a_complete_record_passes(one: DutySet) -> None:
    s = record_for(one)
    assert one in [applied.duty_set for applied in applicable(s, role=role_of(one))], one.citation
    assert look(law.record_elements, s) == []
    assert look(law.location_format, s) == []
    rows = statement(s, role=role_of(one), sets=(one,))
    asked = [row for row in rows if row.outcome is not Outcome.NOT_ASKED]
    assert [row.asked.name for row in asked if row.stand.state is not State.GIVEN] == []
    for row in asked:
        firm = (
            row.asked.how_read.firm
            and row.asked.obligation is Obligation.REQUIRED
            and row.asked.when is not When.NO_STATE_RULE
        )
        assert (row.outcome is Outcome.STANDS) == firm, (one.citation, row.asked.name)


@walked(("one", "asked"), CASES)
def test_an_element_taken_out_is_reported(one: DutySet, asked: Asked) -> None:
    s = record_for(one)
    before = row(s, one, asked.name)
    assert before is not None
    taken = without(s, asked.name)
    # Of two that stand for each other, both have to lack.
    for other in asked.unless[:1]:
        taken = without(taken, other)
    if asked.name in ("date", "time-of-day"):
        # Without a day no law can be named: that is what is reported.
        with pytest.raises(CannotRun) as lack:
            list(law.record_elements.look(taken))
        assert lack.value.needs == {"started_at": "start of the spraying"}
        return
    if (one.id, asked.name) in CANNOT_BE_BLANK:
        after = row(taken, one, asked.name)
        assert after is None or after.outcome is Outcome.NOT_ASKED
        return
    after = row(taken, one, asked.name)
    assert after is not None
    assert after.stand.state is State.MISSING
    # Where the state's own rule is not carried, what only steps in for it is never certain.
    uncertain = (When.WHERE_IT_APPLIES, When.NO_STATE_RULE)
    binding = asked.how_read.firm and asked.when not in uncertain
    if asked.when is not When.NO_STATE_RULE:
        assert after.outcome is (Outcome.MISSING if binding else Outcome.CONFIRM), one.citation
    if role_of(one) is not Role.FOR_HIRE:
        return  # the checks are those of who sprays for hire
    title = ELEMENTS[asked.name].title
    found = [
        finding
        for finding in look(law.record_elements, taken)
        if title in finding.sentence and one.citation in finding.basis
    ]
    assert found, one.citation
    if binding:
        assert {finding.severity for finding in found} == {Severity.MISSING}
        assert all(one.title in finding.sentence for finding in found)


@walked(("one", "asked"), [case for case in CASES if not case.values[1].how_read.firm])
def test_what_only_memory_or_a_summary_says_is_never_shown_as_law_satisfied(
    one: DutySet, asked: Asked
) -> None:
    stands = row(record_for(one), one, asked.name)
    assert stands is not None
    assert stands.outcome in (Outcome.CONFIRM, Outcome.NOT_ASKED), one.citation
    assert Outcome.CONFIRM.value == "confirm with your authority"


@walked("one", BY_CITATION)
def test_what_is_advised_or_not_settled_is_never_reported(one: DutySet) -> None:
    s = record_for(one)
    for asked in one.elements:
        if asked.obligation is Obligation.REQUIRED:
            continue
        taken = without(s, asked.name)
        after = row(taken, one, asked.name)
        if after is None:  # the day is gone with it
            continue
        words = {Obligation.ADVISED: Outcome.ADVISED, Obligation.UNSETTLED: Outcome.UNSETTLED}
        assert after.outcome is words[asked.obligation]
        said = [
            finding
            for finding in look(law.record_elements, taken)
            if one.citation in finding.basis and ELEMENTS[asked.name].title in finding.sentence
        ]
        assert said == [], one.citation


def ids(s: Snapshot, role: Role = Role.FOR_HIRE) -> set[str]:
    return {one.duty_set.id for one in applicable(s, role=role)}


def test_7_cfr_110_binds_a_record_of_10_july_2025_and_none_of_11_july() -> None:
    # FR Doc. 2025-08220, effective 11 July 2025; 40 CFR 171.303 and 7 U.S.C. 136i-1 remain.
    tenth = complete("US-IL", date(2025, 7, 10))
    eleventh = complete("US-IL", date(2025, 7, 11))
    assert ids(tenth) - ids(eleventh) == {"us-7-cfr-110"}
    assert {"us-40-cfr-171-303", "us-7-usc-136i-1"} <= ids(tenth) & ids(eleventh)


def test_7_cfr_110_ends_with_the_local_day_at_the_field() -> None:
    # FR Doc. 2025-08220: midnight of 10 July in Illinois is 05:00 UTC of the 11th.
    s = complete("US-IL", date(2025, 7, 10))
    last = given(s, record__finished_at=datetime(2025, 7, 11, 4, 59, 59, tzinfo=UTC))
    midnight = datetime(2025, 7, 11, 5, 0, 0, tzinfo=UTC)
    begun_before = given(s, record__finished_at=midnight)
    over = given(begun_before, record__started_at=midnight)
    assert "us-7-cfr-110" in ids(last)
    # The part before midnight was under it: a set binds that is in force on any day of the work.
    assert "us-7-cfr-110" in ids(begun_before)
    assert "us-7-cfr-110" not in ids(over)


def test_the_total_of_an_illinois_record_was_missing_by_law_before_and_is_a_caution_after() -> None:
    # 7 CFR 110.3(a) asked for the total; 8 Ill. Adm. Code 250.150(b) does not, 40 CFR 171.303 does
    # by two summaries.
    for day, severity in ((10, Severity.MISSING), (11, Severity.CAUTION)):
        s = without(complete("US-IL", date(2025, 7, day)), "product-total")
        (finding,) = look(law.record_elements, s)
        assert finding.severity is severity
        assert finding.about == "products.0.total_used"
        assert "40 CFR 171.303" in finding.basis


def test_the_eu_content_binds_uses_from_1_january_2026() -> None:
    # Implementing Regulation (EU) 2023/564; midnight in Paris is 23:00 UTC.
    s = complete("FR", date(2025, 12, 31))
    assert ids(s) == {"eu-1107-2009", "label-herbicide-label"}
    new_year = given(s, record__finished_at=datetime(2025, 12, 31, 23, 0, tzinfo=UTC))
    assert ids(new_year) == {"eu-1107-2009", "eu-2023-564", "label-herbicide-label"}


def test_new_south_wales_binds_from_1_september_2017() -> None:
    # Pesticides Regulation 2017 (NSW) cl. 35-37.
    day = date(2017, 9, 1)
    assert "au-nsw" in ids(complete("AU-NSW", day))
    assert "au-nsw" not in ids(complete("AU-NSW", date(2017, 8, 30)))


def test_the_federal_minimum_holds_where_a_state_asks_less() -> None:
    # 8 Ill. Adm. Code 250.150(b) asks for no name of the customer; 40 CFR 171.303(b)(7) does.
    rows = [row for row in statement(complete("US-IL")) if row.asked.name == "customer-name"]
    assert [row.applied.duty_set.id for row in rows] == ["us-40-cfr-171-303"]
    (finding,) = look(law.record_elements, without(complete("US-IL"), "customer-name"))
    assert "US federal minimum" in finding.sentence


def test_the_statute_asks_for_its_four_elements_only_where_the_state_has_no_rule() -> None:
    # 7 U.S.C. 136i-1: product name, amount, approximate date and location. That Utah has
    # rules of its own is known (R68-7-17), but not what they ask, so none of them is certain.
    def asked(s: Snapshot) -> dict[str, Outcome]:
        rows = statement(s)
        ours = [row for row in rows if row.applied.duty_set.id == "us-7-usc-136i-1"]
        return {row.asked.name: row.outcome for row in ours}

    four = ("date", "product-name", "product-total", "location-description")
    assert asked(complete("US-UT")) == dict.fromkeys(four, Outcome.NO_STATE_RULE)
    # Where the state has a rule they are left out, not listed as "not asked".
    assert asked(complete("US-IL")) == {}
    lacks = without(complete("US-UT"), "product-total")
    (found,) = look(law.record_elements, lacks)
    assert found.severity is Severity.CAUTION


def test_a_set_without_a_record_of_its_own_says_only_how_long() -> None:
    assert [one.name for one in SETS["de"].elements] == ["applicator-name"]
    assert "de" in ids(complete("DE"))
    assert "de" not in ids(complete("FR"))


def test_the_complete_record_is_found_whole_by_the_run() -> None:
    report = run_all(complete("US-ND"), CHECKS)
    codes = {finding.code for finding in report.findings}
    assert not codes & {"record-elements", "location-format", "fact-missing"}


def test_georgia_asks_for_the_name_of_who_applied_and_for_no_licence() -> None:
    # Ga. Rule 40-21-5-.02 (a) to (k), effective 30 July 1978; (i) is the name of the applicator.
    asked = {one.name for one in SETS["us-ga"].elements}
    assert "applicator-name" in asked
    assert not asked & {"licence-number", "supervisor-name"}
    assert SETS["us-ga"].in_force_from == date(1978, 7, 30)


def test_the_years_of_the_eu_are_read_in_the_text() -> None:
    # Regulation (EC) 1107/2009 Art. 67(1): at least three years.
    for one in ("eu-1107-2009", "eu-2023-564"):
        (kept,) = SETS[one].retention
        assert (kept.years, kept.how_read) == (3, HowRead.LEGAL_TEXT)


def test_new_south_wales_asks_for_names_of_the_supervised_and_no_training() -> None:
    # Pesticides Regulation 2017 (NSW) cl. 36(1)(g): the name of each person supervised.
    s = complete("AU-NSW", crew=(person("B. Moen", licences=(), trainings=()),))
    rows = {one.asked.name: one for one in statement(s, sets=(SETS["au-nsw"],))}
    assert "training-proof" not in rows
    assert "B. Moen" in rows["applicator-name"].stand.value


def test_victoria_is_content_with_the_name_of_who_sprayed_or_supervised() -> None:
    # Department's page on S.R. 68/2017 (Victoria): "name and address of the applicator/supervisor".
    def outcome(taken: str) -> Outcome:
        s = without(complete("AU-VIC"), taken)
        found = row(s, SETS["au-vic"], "supervisor-name")
        assert found is not None
        return found.outcome

    assert outcome("supervisor-name") is Outcome.NOT_ASKED
    assert outcome("applicator-name") is Outcome.STANDS


def test_pennsylvania_asks_a_farmer_for_restricted_use_alone_and_for_no_customer() -> None:
    # 7 Pa. Code 128.65(a): each application of a restricted use pesticide by a private applicator.
    restricted = complete("US-PA")
    assert "us-pa" in ids(restricted, Role.OWN_LAND)
    rows = {one.asked.name: one for one in statement(restricted, role=Role.OWN_LAND)}
    assert rows["customer-name"].outcome is Outcome.NOT_ASKED
    label = restricted.products[0].label
    assert label is not None
    free = given(restricted, products__0__label=replace(label, restricted_use=False))
    assert "us-pa" in ids(free)
    assert "us-pa" not in ids(free, Role.OWN_LAND)


def test_nothing_of_nebraska_for_hire_rests_on_more_than_the_statute() -> None:
    # 25 NAC 2-006.01 is headed private applicators; the paragraph for commercial ones was not
    # reached. Neb. Rev. Stat. 2-2643 binds all who apply restricted-use pesticides.
    firm = [one.name for one in SETS["us-ne"].elements if one.how_read.firm]
    assert firm == ["training-proof"]
    assert SETS["us-ne"].retention[0].how_read is HowRead.LEGAL_TEXT
    night = given(
        complete("US-NE"), record__finished_at=datetime(2026, 6, 11, 19, tzinfo=UTC), weather=()
    )
    found = look(law.one_record_each, night)
    assert {one.severity for one in found} == {Severity.CAUTION}
    # 006.01 was read: a farmer's own record has its elements missing, not to be confirmed.
    private = {one.name for one in SETS["us-ne-private"].elements if one.how_read.firm}
    assert private >= {"product-name", "registration-number", "product-total", "licence-number"}
    assert "us-ne-private" in ids(complete("US-NE"), Role.OWN_LAND)
    assert "us-ne-private" not in ids(complete("US-NE"))


def test_the_farms_display_is_a_set_of_its_own_and_known_from_memory() -> None:
    # 40 CFR 170.311: product, number, ingredient, crop, place, times, interval, from memory; 24 h,
    # 30 days and two years by state copies of the part and the federal resource centre.
    shown = SETS["us-40-cfr-170-311"]
    assert not any(one.how_read.firm for one in shown.elements)
    assert {one.name for one in shown.elements} >= {"data-sheet", "worker-limits", "crop"}
    (kept,) = shown.retention
    assert (kept.years, kept.how_read) == (2, HowRead.AGENCY_PAGE)
    assert shown.display is not None
    assert (shown.display.days_after_reentry, shown.display.how_read) == (30, HowRead.AGENCY_PAGE)
    # 15 days by one source, two weeks by another: the stricter.
    (copy,) = [one for one in shown.deadlines if one.on_request]
    assert (copy.count, copy.how_read) == (14, HowRead.SUMMARY)
    assert "15 days" in copy.detail


def test_what_was_not_reached_of_britain_and_the_union_is_marked_so() -> None:
    # Art. 67 as assimilated was not reached; Art. 1(3) of (EU) 2023/564 binds the member states.
    required = [one for one in SETS["gb"].elements if one.obligation is Obligation.REQUIRED]
    assert not any(one.how_read.firm for one in required)
    (code,) = [one for one in SETS["eu-2023-564"].elements if one.name == "crop-code"]
    assert code.how_read is HowRead.AGENCY_PAGE


def test_a_duty_of_which_it_is_not_settled_whether_it_binds_says_so() -> None:
    # 7 U.S.C. 136i-1(a)(2) without 7 CFR 110; OAR 603-057-0410(2): nothing follows for a year
    # without an effective means to report.
    for one, kind in (("us-7-usc-136i-1", Kind.COPY), ("us-or", Kind.REPORT)):
        (deadline,) = [each for each in SETS[one].deadlines if each.kind is kind and each.certain]
        assert deadline.how_read is HowRead.LEGAL_TEXT
        assert doubt_words(deadline.how_read, deadline.obligation) == NOT_SETTLED
    assert doubt_words(HowRead.LEGAL_TEXT) == ""
    assert doubt_words(HowRead.SUMMARY) == CONFIRM


def test_the_day_of_the_rescission_is_marked_apart_from_the_rule() -> None:
    # 7 CFR 110.3 was read; FR Doc. 2025-08220 is known by two digests.
    ended = SETS["us-7-cfr-110"]
    assert (ended.how_read, ended.dates_how_read) == (HowRead.LEGAL_TEXT, HowRead.SUMMARY)
    assert "legal text, in parts summary, its dates summary, last read" in (source_words(ended))


@pytest.mark.parametrize(("area", "asked"), [("0.99 ac", False), ("1 ac", True), ("1.01 ac", True)])
def test_washington_asks_for_the_map_at_one_acre_or_more(area: str, asked: bool) -> None:
    # Form AGR 4226 (rev. 5/03), item 9: "one acre or more of agricultural land".
    s = given(complete("US-WA"), record__treated_area=q(area))
    found = row(s, SETS["us-wa"], "location-structured")
    assert found is not None
    assert (found.outcome is Outcome.STANDS) is asked
