"""The notices to the farm: every element that the law wants in them, and blanks as words."""

from __future__ import annotations

import io
from dataclasses import fields, replace
from datetime import UTC, datetime
from decimal import Decimal

import pytest
from pypdf import PdfReader

from logbook.documents.notices import notice_before, notice_completed
from logbook.documents.source import Delivery, Source
from logbook.errors.exceptions import Refused
from logbook.facts.record import LocationFacts
from logbook.law.cautions import AUTHORITY_PREVAILS, NOT_LEGAL_ADVICE
from tests.logbook.checks.build import clean, given, herbicide, label, q
from tests.logbook.documents.reading import Page, flat, has, read, whole
from tests.logbook.documents.sealed import SEALED_AT, seal

MADE_AT = datetime(2026, 6, 9, 20, 0, tzinfo=UTC)


def draft(snapshot=None, /, **changes) -> Source:
    return Source(facts=given(snapshot, **changes), dated=MADE_AT)


def before(snapshot=None, /, *, size="letter", **changes) -> Page:
    return whole(notice_before(draft(snapshot, **changes), paper=size))


def completed(*, size="letter", **changes) -> Page:
    return whole(notice_completed(Source.of(seal(given(**changes))), paper=size))


# --- before the work -----------------------------------------------------------------------------


@pytest.mark.parametrize("size", ["letter", "a4"])
def test_the_notice_before_holds_what_the_worker_protection_standard_asks(size):
    # 40 CFR 170.313, as EPA305-F-01-010 puts it: place and description of the area; date, start and
    # estimated end; product, EPA number, active ingredients; REI; oral and posted; other limits.
    has(
        before(size=size),
        "To C. Dahl, Box 2",
        "From Coulee Custom Spraying, Box 1, licence B-100, telephone blank",
        "Field North L, US-ND",
        "Description north of the coulee",
        "Treated area 125 ac (50.6 ha)",
        "Planned start 2026-06-10 09:00 CDT (UTC−05:00)",
        "Planned end 2026-06-10 12:15 CDT (UTC−05:00)",
        "Fenland 4 EC, RESTRICTED USE 00000-1 inventol 4 lb/gal 24 h 60 d",
        "No entry before 2026-06-11 12:15 CDT (UTC−05:00)",
        "asks for both oral and posted warning",
        "does not ask for both, by the label in hand",
        "Other limits of the labels for the protection of workers and others",
        "Application exclusion zone: 25 ft (7.62 m)",
    )


def test_the_notice_before_says_which_change_restarts_its_clock():
    # The same fact sheet: before the job; others within 2 hours after the end; less than 1 hour
    # needs none.
    has(
        before(),
        "A change before the start",
        "goes to the farm before the start",
        "Any other change goes to the farm within 2 hours after the end",
        "An end that shifts by less than 1 hour needs no notice",
        "40 CFR 170.309, 170.313 (agency page, last read",
    )


def test_the_notice_before_tells_the_waits_and_precautions_that_wyoming_asks():
    # Wyo. Dep't of Agriculture Rules ch. 28 s. 12: waits before entry and harvest, precautions.
    said = {"precautions": "Residue stays on leaves for 3 days."}
    text = before(field__place="US-WY", record__statements=said)
    has(text, "Precautions Residue stays on leaves for 3 days.", "inventol 4 lb/gal 24 h 60 d")
    assert "Precautions" not in before(field__place="US-WY")


def test_the_notice_before_is_due_before_the_start():
    has(before(), "By when", "2026-06-10 09:00 CDT (UTC−05:00), before the start;")
    has(before(), "before the start, if the plan changed before the start")


def test_elsewhere_the_rule_of_changes_is_named_as_that_of_the_united_states():
    text = before(field__place="CA-AB")
    has(text, "This is the rule of the United States (40 CFR 170.313)")
    has(text, "Due No duty set that is carried asks for it here.")


def test_before_the_work_the_times_are_planned_and_after_its_begin_the_notice_is_late():
    # 40 CFR 170.313, as EPA305-F-01-010 puts it: the farm is told before; start and estimated end.
    assert "given late" not in before()
    began = datetime(2026, 6, 10, 14, 0, tzinfo=UTC)
    text = whole(notice_before(Source(facts=given(), dated=began)))
    has(text, "Notice before spraying, given late", "Given late: the work had begun when this was")
    has(text, "Started 2026-06-10 09:00 CDT", "Planned end 2026-06-10 12:15 CDT")
    text = whole(notice_before(Source.of(seal())))
    has(text, "given late", "Started 2026-06-10 09:00 CDT", "Finished 2026-06-10 12:15 CDT")
    # Without a start nothing can be said to have begun.
    assert "given late" not in before(record__started_at=None)


def test_what_is_written_down_as_given_stands_on_the_notice():
    told = Delivery(
        to_whom="The farm's manager",
        how="by telephone",
        given_at=MADE_AT,
        consent_on=None,
        note="",
        by="A. Lund",
    )
    text = whole(notice_before(replace(draft(), given=(told,))))
    has(text, "The farm's manager by telephone 2026-06-09 15:00 CDT", "A. Lund")
    assert "Nothing is written down yet" not in text


def test_a_line_for_the_warning_stands_for_pesticides_alone():
    text = before()
    assert text.count("asks for both oral") == 1
    assert "Fenland 4 EC asks for both oral" in text


@pytest.mark.parametrize(
    ("on_file", "said"),
    [
        ("both", "asks for both oral and posted warning, by the label edition 2025-01"),
        ("not both", "does not ask for both warnings, by the label edition 2025-01"),
    ],
)
def test_what_the_label_on_file_says_of_the_warning_stands_in_place_of_the_boxes(on_file, said):
    # 40 CFR 156.210(b)(1): the statement of the label; 40 CFR 170.409(a): both, where it says so.
    text = before(products__0__label=label(worker_warning=on_file))
    has(text, f"Fenland 4 EC {said}")
    assert "by the label in hand" not in text


def test_the_notice_is_given_by_hand_on_its_lines():
    has(before(), "Nothing is written down yet of its being given", "Given by To On, at How")
    has(before(), "Printed 2026-06-09 15:00 CDT (UTC−05:00); what was written down later is not")


def test_blanks_of_the_plan_are_said_in_words():
    s = clean()
    kept = ("id", "purpose", "pattern", "note", "started_at")
    blank = {one.name: None for one in fields(s.record) if one.name not in kept}
    record = replace(s.record, **blank | {"statements": {}})
    facts = replace(s, record=record, customer=None, crop=None, applicator=None, products=())
    text = before(facts)
    has(text, "To blank", "Sprays blank", "Site number blank", "Crop blank", "Treated area blank")
    has(text, "Planned end blank", "Products blank")
    assert "Field blank" in before(replace(facts, field=None))


def test_a_product_whose_label_is_blank_says_so_in_each_column():
    second = replace(herbicide(), product_id="b", name="Unread 5", label=None)
    text = before(products=(herbicide(), second))
    has(text, "Unread 5 00000-1 blank blank blank", "not counted, for the label is blank: Unread 5")


def test_a_label_without_intervals_has_none_on_file():
    text = before(products__0__label=label())
    has(text, "Fenland 4 EC 00000-1 blank none on file none on file")


def test_metric_entries_stand_as_entered_with_the_other_system_beside_them():
    metric = {"record__treated_area": q("50.6 ha"), "record__planned_carrier": q("140 L/ha")}
    has(before(**metric), "Treated area 50.6 ha (125 ac)")


def test_the_draft_is_named_as_what_the_notice_is_made_from():
    assert "from a draft as it stood 2026-06-09 15:00 CDT (UTC−05:00); not signed" in before()
    sealed = seal()
    text = whole(notice_before(Source.of(sealed)))
    assert f"from record no. 57, seal {sealed.link}" in text


def test_long_names_are_printed_whole():
    name = "The Very Long Named Farm Partnership of the Lower Valley " * 4
    text = before(customer__name=name.strip(), products__0__name="Longname " * 12 + "4 EC")
    assert name.strip() in text
    assert text.replace(" ", "").count("Longname" * 12 + "4EC") >= 1


def test_letters_that_the_type_lacks_are_shown_by_number_with_a_note():
    has(before(customer__name="田中"), "[U+7530][U+4E2D]", "A letter that the print type lacks")


# --- of the completed application ----------------------------------------------------------------

CALIFORNIA = {
    "field__place": "US-CA",
    "field__time_zone": "America/Los_Angeles",
    "record__statements": {"government-id": "34-26-0012 / A7"},
    "products__1__registration_number": "1050000-50001",
}


@pytest.mark.parametrize("size", ["letter", "a4"])
def test_the_notice_of_completion_holds_what_california_asks(size):
    # 3 CCR 6619: location with site number and acreage; product, registration number, active
    # ingredients; adjuvants with their number; started and ended; REI and PHI.
    has(
        completed(size=size, **CALIFORNIA),
        "Field North L, US-CA",
        "Site number 34-26-0012 / A7",
        "Treated area 125 ac (50.6 ha)",
        "Started 2026-06-10 07:00 PDT (UTC−07:00)",
        "Finished 2026-06-10 10:15 PDT (UTC−07:00)",
        "No entry before 2026-06-11 10:15 PDT (UTC−07:00), 24 h from the end, by Fenland 4 EC",
        "No harvest before 2026-08-09, 60 d by Fenland 4 EC",
        "Fenland 4 EC, RESTRICTED USE 00000-1 inventol 4 lb/gal 24 h 60 d",
        "Adjuvant State number Function Wetting 90 1050000-50001 nonionic surfactant",
    )


def test_the_notice_of_completion_is_due_24_hours_after_the_end_in_california():
    text = completed(**CALIFORNIA)
    has(text, "California 2026-06-11 10:15 PDT (UTC−07:00), within 24 hours from the end")
    has(text, "if the work differed from the notice")


def test_a_site_number_may_be_the_parcel_of_the_field():
    parcel = LocationFacts(kind="parcel", text="12-44-0071")
    text = completed(**CALIFORNIA | {"record__statements": {}, "field__locations": (parcel,)})
    assert "Site number 12-44-0071" in text


def test_without_an_adjuvant_there_is_none():
    assert "Adjuvants none" in completed(products=(herbicide(),))
    bare = replace(given().products[1], adjuvant_functions=())
    assert "function blank" in completed(products=(herbicide(), bare))


def test_an_application_that_has_not_ended_is_not_completed():
    with pytest.raises(Refused, match="The end of the spraying is blank"):
        notice_completed(draft(record__finished_at=None))


def test_a_finished_draft_may_be_told_of_before_it_is_signed():
    assert "not signed" in whole(notice_completed(draft()))


# --- every notice --------------------------------------------------------------------------------


@pytest.mark.parametrize("made", [notice_before, notice_completed])
def test_each_notice_states_how_the_law_was_read_and_that_it_is_no_advice(made):
    text = whole(made(draft()))
    has(text, NOT_LEGAL_ADVICE, AUTHORITY_PREVAILS, "Read: US worker protection", "last read 20")
    has(text, "40 CFR 171.303(b)(7) (summary, last read 2026-11-25), confirm with your authority")


@pytest.mark.parametrize("made", [notice_before, notice_completed])
def test_the_same_facts_give_the_same_bytes(made):
    assert made(draft()) == made(draft())
    assert made(draft()) != made(draft(customer__name="D. Dahl"))


@pytest.mark.parametrize(
    ("made", "title"),
    [
        (notice_before, "Notice before spraying, given late: North L, 2026-06-10"),
        (notice_completed, "Notice of completed application: North L, 2026-06-10"),
    ],
)
def test_the_file_says_what_it_is(made, title):
    reader = PdfReader(io.BytesIO(made(Source.of(seal()))))
    assert reader.metadata.title == title
    assert reader.metadata.author == "Coulee Custom Spraying"
    assert reader.metadata.creation_date == SEALED_AT
    assert reader.trailer["/Root"]["/Lang"] == "en-US"


@pytest.mark.parametrize("made", [notice_before, notice_completed])
def test_an_unknown_paper_is_refused(made):
    with pytest.raises(KeyError, match="legal"):
        made(draft(), paper="legal")


def test_a_long_mix_flows_over_pages_under_the_repeated_head():
    products = tuple(
        replace(herbicide(), product_id=f"p{n}", name=f"Product {n} of a long mix")
        for n in range(30)
    )
    found = read(notice_before(draft(products=products)))
    assert len(found) >= 2
    for number, page in enumerate(found, start=1):
        has(page, "Notice before spraying", f"page {number} of {len(found)}")
    text = Page(flat(" ".join(found)))
    has(text, *(f"Product {n} of a long mix" for n in range(30)))


def test_a_field_without_an_outline_has_no_sketch():
    bare = {"field__boundary": None, "field__area_ha": None, "field__latitude": None}
    text = before(**bare, products__0__label__reentry_hours=Decimal("4.5"))
    assert "wind from" not in text
    assert "4.5 h" in text
