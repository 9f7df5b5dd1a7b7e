"""The posting sheet: large, and never a time that is not known."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from logbook.documents.page import Sheet
from logbook.documents.posting import ALARM, LARGE, NOT_THE_SIGN, posting_sheet
from logbook.documents.source import Delivery, Source
from logbook.errors.exceptions import Refused
from logbook.law.cautions import AUTHORITY_PREVAILS, NOT_LEGAL_ADVICE
from tests.logbook.checks.build import clean, given, herbicide, label, q, surfactant
from tests.logbook.documents.reading import Page, has, read, whole
from tests.logbook.documents.sealed import seal


def sheet(snapshot=None, /, *, size="letter", **changes) -> Page:
    return whole(posting_sheet(Source.of(seal(given(snapshot, **changes))), paper=size))


def planned(**changes) -> Page:
    made_at = datetime(2026, 6, 9, 20, tzinfo=UTC)
    return whole(posting_sheet(Source(facts=given(**changes), dated=made_at)))


@pytest.mark.parametrize("size", ["letter", "a4"])
def test_the_sheet_shows_area_times_re_entry_and_how_long_it_is_shown(size):
    # 40 CFR 170.311: product, registration number, active ingredient, crop, area, start and end,
    # REI; shown until 30 days after the REI ends (North Carolina's summary): 11 June + 30 days.
    has(
        sheet(size=size),
        "Treated area: keep out until 2026-06-11 12:15 CDT (UTC−05:00)",
        "The longest interval of the mix, that of Fenland 4 EC.",
        "Field North L",
        "Crop soybean",
        "Treated area 125 ac (50.6 ha)",
        "wind from WNW (300°)",
        "Started 2026-06-10 09:00 CDT (UTC−05:00)",
        "Finished 2026-06-10 12:15 CDT (UTC−05:00)",
        "Shown until 2026-07-11",
        "Fenland 4 EC 00000-1 inventol 24 h",
        "Farm C. Dahl, Box 2",
        "Sprayed by Coulee Custom Spraying, Box 1",
    )


def test_the_re_entry_end_is_local_over_a_change_of_clocks():
    # Clocks go back on 1 November 2026 in the US: 24 h after 12:15 CDT is 11:15 CST.
    day = datetime(2026, 10, 31, 17, 15, tzinfo=UTC)
    text = sheet(record__started_at=day, record__finished_at=day, weather=())
    assert "keep out until 2026-11-01 11:15 CST (UTC−06:00)" in text


def test_it_fits_one_page_and_is_set_large():
    assert len(read(posting_sheet(Source.of(seal())))) == 1
    assert (LARGE, ALARM) >= (12.0, 20.0)
    assert Sheet("letter", type_sizes=(LARGE, 8.0)).body == LARGE


def test_without_an_end_no_time_is_shown():
    text = planned(record__finished_at=None)
    has(
        text,
        "Treated area: keep out Until when is not known: the end of the spraying is blank",
        "Read the labels before anybody enters.",
        "Planned start 2026-06-10 09:00 CDT",
        "Planned end blank",
        "Shown until not computed: the end of the spraying is blank",
    )
    assert "2026-06-11" not in text


def test_a_sheet_from_a_draft_says_that_it_is_planned():
    assert "Planned: made from a draft. Print it again when the work has ended." in planned()
    assert "Planned" not in sheet()


def test_labels_without_an_interval_leave_it_open():
    text = sheet(products=(replace(herbicide(), label=label()),))
    has(text, "keep out Until when is not known: no label on file sets an interval", "none on file")
    assert "keep out until" not in text


def test_a_product_whose_label_is_blank_is_named_before_all_else():
    second = replace(herbicide(), product_id="b", name="Unread 5", label=None)
    text = sheet(products=(herbicide(), second))
    told = "Not counted, for the label is blank: Unread 5. Read that label first."
    assert text.index(told) < text.index("Area Field")


def test_an_adjuvant_is_not_missed():
    assert "Not counted" not in sheet(products=(herbicide(), surfactant()))


def test_blanks_stand_as_words():
    bare = replace(clean(), customer=None, field=None, crop=None, products=())
    text = sheet(bare, record__treated_area=None)
    has(text, "Field blank", "Crop blank", "Treated area blank", "Products blank", "Farm blank")


def test_a_field_without_an_outline_is_named_without_a_sketch():
    text = sheet(field__boundary=None, field__area_ha=None, field__latitude=None)
    assert "wind from" not in text
    assert "Field North L" in text


def test_where_no_set_says_how_long_the_authority_does():
    text = sheet(field__place="CA-AB")
    has(text, "Shown until as your authority and the label say; no set that is carried says it")


def test_the_cautions_stand_below():
    has(
        sheet(),
        NOT_THE_SIGN,
        "40 CFR 170.309, 170.311 (agency page, in parts summary or from memory, last read",
    )
    has(sheet(), NOT_LEGAL_ADVICE, AUTHORITY_PREVAILS)


def test_letters_that_the_type_lacks_stop_the_print_and_are_named():
    # Common practice, no source: a sheet that workers read shows no code points.
    with pytest.raises(Refused, match=r"no letters for “.*田中.*”, and a sheet that workers read"):
        sheet(customer__name="田中")
    assert "José Ñandú" in sheet(customer__name="José Ñandú")


def test_a_sheet_says_when_it_was_printed_and_whether_it_was_put_up():
    # 40 CFR 170.311: shown until 30 days after the interval; when it was put up is written down.
    has(sheet(), "Printed 2026-06-10 17:05 CDT", "That it was put up is not written down yet.")
    shown = Delivery(
        to_whom="Workers, at the shop",
        how="posted",
        given_at=datetime(2026, 6, 10, 18, 0, tzinfo=UTC),
        consent_on=None,
        note="",
        by="A. Lund",
    )
    text = whole(posting_sheet(replace(Source.of(seal()), given=(shown,))))
    has(text, "Workers, at the shop posted 2026-06-10 13:00 CDT")
    assert "not written down yet" not in text


def test_a_draft_of_work_that_is_over_is_not_planned():
    over = datetime(2026, 6, 10, 20, tzinfo=UTC)
    text = whole(posting_sheet(Source(facts=given(), dated=over)))
    assert "Planned" not in text
    has(text, "Started 2026-06-10 09:00 CDT", "Finished 2026-06-10 12:15 CDT")


def test_metric_entries_stand_as_entered():
    metric = {"record__treated_area": q("50.6 ha"), "record__planned_carrier": q("140 L/ha")}
    has(sheet(**metric), "Treated area 50.6 ha (125 ac)", "500 m")


def test_a_label_that_asks_for_both_warnings_is_named():
    # 40 CFR 170.409(a): posted and oral warning, where the label asks for both.
    text = sheet(products__0__label=label(worker_warning="both"))
    has(text, "The label of Fenland 4 EC asks for both: warn every worker orally, and post signs")
    assert "asks for both" not in sheet(products__0__label=label(worker_warning="not both"))
    assert "asks for both" not in sheet()


def test_the_sheet_asks_for_the_safety_data_sheets_beside_it():
    # 40 CFR 170.309(h) and 170.311, in summaries: the safety data sheets are shown too.
    has(sheet(), "Show the safety data sheet of each product beside this sheet")
