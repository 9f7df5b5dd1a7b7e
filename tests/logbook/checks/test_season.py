"""The season against the label: totals of what was used, numbers of applications, days between."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import pytest

from logbook.checks import season
from logbook.checks.core import Severity
from tests.logbook.checks.build import earlier, lack, look, q, the
from tests.logbook.checks.build import label as a_label

LABEL = "products__0__label"


def with_second(**limits: Any) -> dict[str, Any]:
    """Return the change that gives the second product a label with these limits."""
    return {"products__1__label": a_label(edition="2026-02", **limits)}


TWICE = (
    earlier(basis="total"),
    earlier(applied_on=date(2026, 5, 26), record_number=44, basis="total"),
)


def test_the_season_total_up_to_the_limit_agrees() -> None:
    # 22 + 22 = 44 of at most 64 fl oz/ac; what was used in another year does not count.
    last_year = earlier(applied_on=date(2025, 6, 20), rate=q("32 fl oz/ac"))
    assert look(season.season_maximum, earlier=(last_year, earlier())) == []
    assert look(season.season_maximum, **{f"{LABEL}__season_max": q("22 fl oz/ac")}) == []


def test_a_season_total_above_the_limit_is_a_breach() -> None:
    # 22 + 22 + 22 = 66 of at most 64 fl oz/ac.
    finding = the(season.season_maximum, earlier=TWICE)
    assert finding.severity is Severity.BREACH
    assert finding.sentence == (
        "Fenland 4 EC comes to 66.0 fl oz/ac on this field in 2026, no. 41 and no. 44 included; "
        "label asks at most 64 fl oz/ac."
    )


def test_one_rate_above_the_season_limit_is_a_breach_of_its_own() -> None:
    finding = the(season.season_maximum, **{f"{LABEL}__season_max": q("1 pt/ac")})
    assert finding.sentence == (
        "Fenland 4 EC comes to 1.38 pt/ac on this field in 2026; label asks at most 1 pt/ac "
        "(16.0 fl oz/ac)."
    )


PER_VOLUME = with_second(season_max=q("4 fl oz/ac"))


def test_a_rate_per_volume_counts_by_the_total_used() -> None:
    # 600 fl oz on 125 ac = 4.8 fl oz/ac.
    finding = the(season.season_maximum, **PER_VOLUME)
    assert "Wetting 90 comes to 4.80 fl oz/ac on this field" in finding.sentence


def test_the_season_check_cannot_run_without_any_rate() -> None:
    nothing = {"record__speed": None, "products__0__planned_rate": None}
    lacking = lack(season.season_maximum, products__0__total_used=None, **nothing)
    assert set(lacking.needs) == {"products.0.planned_rate", "products.0.total_used"}
    kinds = lack(season.season_maximum, products__1__total_used=q("40 lb"), **PER_VOLUME)
    assert kinds.why == "Wetting 90 was used in lb/ac and is limited in fl oz/ac"
    unknown = lack(season.season_maximum, earlier=(earlier(rate=None),))
    assert unknown.why == "record no. 41 has no rate of Fenland 4 EC in fl oz/ac"


# What was used, by hand: 3850 fl oz on 125 ac = 30.8 fl oz/ac (definition of a rate). The delivered
# rate of the clean record is 22.0 fl oz/ac to within its accuracy; computed.
ONCE = {f"{LABEL}__season_max": q("30 fl oz/ac")}
NO_TOTAL = {"products__0__total_used": None}


def test_what_was_used_counts_and_not_what_was_planned() -> None:
    # A plan of 22 passes the maximum of 30 that 30.8 used breaks.
    finding = the(season.season_maximum, **ONCE, products__0__total_used=q("3850 fl oz"))
    assert finding.severity is Severity.BREACH
    assert finding.about == "products.0.total_used"
    assert finding.sentence == (
        "Fenland 4 EC comes to 30.8 fl oz/ac on this field in 2026; label asks at most 30 fl oz/ac."
    )


def test_a_plan_above_the_maximum_is_none_where_less_was_used() -> None:
    plan = {"products__0__planned_rate": q("32 fl oz/ac")}
    assert look(season.season_maximum, **ONCE, **plan) == []


def test_without_a_total_the_delivered_rate_counts_and_is_said() -> None:
    # At half the speed twice the mix, and twice the product, is laid down: 44 fl oz/ac. The amounts
    # that would speak against that speed are not given.
    settings_alone = {"record__mix_used": None, "products__1__total_used": None}
    finding = the(
        season.season_maximum, **ONCE, **NO_TOTAL, **settings_alone, record__speed=q("3 mph")
    )
    assert finding.about == "products.0.planned_rate"
    assert finding.sentence.endswith(
        "; label asks at most 30 fl oz/ac; no total over its area is given for this record, so the "
        "delivered rate as computed counts."
    )


def test_a_computed_rate_breaks_no_maximum_within_its_own_doubt() -> None:
    # The plan is the maximum itself, and the computed rate is that to within the look-again share.
    at_most = {f"{LABEL}__season_max": q("22 fl oz/ac")}
    for speed in ("5.8 mph", "6 mph", "6.2 mph"):
        assert look(season.season_maximum, **at_most, **NO_TOTAL, record__speed=q(speed)) == []


def test_a_computed_rate_that_bears_out_too_high_a_plan_breaks_it() -> None:
    at_most = {f"{LABEL}__season_max": q("21.5 fl oz/ac")}
    assert the(season.season_maximum, **at_most, **NO_TOTAL).severity is Severity.BREACH


def test_the_plan_counts_only_where_nothing_else_is_known_and_it_is_said() -> None:
    at_most = {f"{LABEL}__season_max": q("20 fl oz/ac")}
    finding = the(season.season_maximum, **at_most, **NO_TOTAL, record__speed=None)
    assert finding.sentence.endswith(
        "; no total over its area is given for this record, so the planned rate counts."
    )
    assert look(season.season_maximum, **ONCE, **NO_TOTAL, record__speed=None) == []


def test_parts_of_a_maximum_come_to_the_maximum_exactly() -> None:
    # Three thirds of 64 fl oz/ac, each used on 125 ac at 2666.67 of 2666.666… fl oz, cut off.
    third = earlier(basis="total", rate=q("21.333333333 fl oz/ac"))
    here = {"record__treated_area": q("3 ac"), "products__0__total_used": q("64 fl oz")}
    assert look(season.season_maximum, earlier=(third, third), **here) == []


def test_a_product_that_was_planned_and_not_used_is_no_application() -> None:
    for total in ("0 fl oz", "none"):
        unused = {"products__0__total_used": q(total)}
        assert look(season.season_maximum, earlier=TWICE, **unused) == []
        assert look(season.applications_maximum, earlier=TWICE, **unused) == []
        near = earlier(applied_on=date(2026, 6, 1))
        assert look(season.application_interval, earlier=(near,), **unused) == []
    none = earlier(applied_on=date(2026, 6, 1), rate=q("0 fl oz/ac"), basis="total")
    assert look(season.applications_maximum, earlier=(none, none)) == []
    assert look(season.application_interval, earlier=(none,)) == []


def test_the_last_allowed_application_agrees() -> None:
    assert look(season.applications_maximum, earlier=(earlier(),)) == []


def test_an_application_too_many_is_a_breach() -> None:
    finding = the(season.applications_maximum, earlier=TWICE)
    assert finding.sentence == (
        "This record with no. 41 and no. 44 makes 3 applications of Fenland 4 EC to this field in "
        "2026; label asks at most 2."
    )


PART = {
    "same_job": True,
    "applied_on": date(2026, 6, 9),
    "treated_area": q("60 ac"),
    "basis": "total",
}
"""The day before, on 60 of the 125 ac; the record itself is of 60 ac too."""
REST = {"record__treated_area": q("60 ac"), "products__0__total_used": q("1320 fl oz")}


def test_a_job_resumed_on_other_area_is_one_application() -> None:
    # At most 2 in the year: one in May, and this one in two parts.
    parts = (earlier(), earlier(record_number=44, **PART))
    assert look(season.applications_maximum, earlier=parts, **REST) == []
    assert look(season.application_interval, earlier=parts, **REST) == []


@pytest.mark.parametrize(
    ("part", "rest"),
    [
        ({"treated_area": q("90 ac")}, {}),  # 150 ac of a field of 125: the parts overlap
        ({"treated_area": None}, {}),
        ({}, {"record__treated_area": None}),
        ({"same_job": False}, {}),
    ],
)
def test_parts_that_may_overlap_count_each_for_itself(
    part: dict[str, Any], rest: dict[str, Any]
) -> None:
    parts = (earlier(), earlier(record_number=44, **PART | part))
    assert (
        the(season.applications_maximum, earlier=parts, **REST | rest).severity is Severity.BREACH
    )
    assert (
        the(season.application_interval, earlier=parts, **REST | rest).severity is Severity.BREACH
    )


def test_the_parts_of_a_job_add_to_the_season_but_are_no_breach_by_themselves() -> None:
    # 22 + 22 = 44 of at most 40, but each on ground of its own: 22 there.
    finding = the(
        season.season_maximum,
        earlier=(earlier(record_number=44, **PART),),
        **REST,
        **{f"{LABEL}__season_max": q("40 fl oz/ac")},
    )
    assert finding.severity is Severity.CAUTION
    assert finding.sentence == (
        "Fenland 4 EC comes to 44.0 fl oz/ac on this field in 2026, no. 44 included; label asks at "
        "most 40 fl oz/ac; no. 44 treated another part of the field in the same job, so that no "
        "ground had more than 22.0 fl oz/ac."
    )


def test_a_season_over_the_limit_without_the_parts_stays_a_breach() -> None:
    # 22 in May and 22 on either part: 44 on the ground, of at most 40.
    finding = the(
        season.season_maximum,
        earlier=(earlier(), earlier(record_number=44, **PART)),
        **REST,
        **{f"{LABEL}__season_max": q("40 fl oz/ac")},
    )
    assert finding.severity is Severity.BREACH


def test_the_count_needs_the_label() -> None:
    assert "products.0.label" in lack(season.applications_maximum, products__0__label=None).needs


def test_an_interval_kept_agrees() -> None:
    assert look(season.application_interval) == []
    assert look(season.application_interval, earlier=(earlier(applied_on=date(2026, 5, 27)),)) == []


def test_an_application_too_early_is_a_breach() -> None:
    finding = the(season.application_interval, earlier=(earlier(applied_on=date(2026, 5, 28)),))
    assert finding.severity is Severity.BREACH
    assert finding.sentence == (
        "Fenland 4 EC was also applied to this field on 2026-05-28 (no. 41), 13 days before; label "
        "asks at least 14 days."
    )


@pytest.mark.parametrize(
    ("applied_on", "apart"),
    [
        (date(2026, 6, 10), "the same day"),
        (date(2026, 6, 11), "1 day after"),
        (date(2026, 6, 23), "13 days after"),
    ],
)
def test_a_later_application_signed_first_counts_as_well(applied_on: date, apart: str) -> None:
    finding = the(season.application_interval, earlier=(earlier(applied_on=applied_on),))
    assert f"on {applied_on} (no. 41), {apart}; label" in finding.sentence


def test_the_interval_needs_the_day() -> None:
    undated = {"record__started_at": None, "record__finished_at": None}
    assert "started_at" in lack(season.application_interval, **undated).needs


NEW_YEARS_NIGHT = {
    # 22:30 CST on 31 December 2026 to 01:30.
    "record__started_at": datetime(2027, 1, 1, 4, 30, tzinfo=UTC),
    "record__finished_at": datetime(2027, 1, 1, 7, 30, tzinfo=UTC),
}


def test_a_job_over_the_year_s_end_is_of_the_season_in_which_it_began() -> None:
    # 22 + 22 + 22 = 66 of at most 64 fl oz/ac in 2026; in 2027 there is nothing beside it.
    assert "in 2026" in the(season.season_maximum, earlier=TWICE, **NEW_YEARS_NIGHT).sentence
    next_year = tuple(earlier(applied_on=date(2027, 1, 20), basis="total") for _ in TWICE)
    assert look(season.season_maximum, earlier=next_year, **NEW_YEARS_NIGHT) == []


def test_the_interval_counts_calendar_days_over_the_year_s_end() -> None:
    # From 31 December to 13 January are 13 days, to the 14th fourteen.
    for day, kept in ((13, False), (14, True)):
        use = earlier(applied_on=date(2027, 1, day))
        found = look(season.application_interval, earlier=(use,), **NEW_YEARS_NIGHT)
        assert (found == []) is kept
