"""The signed record on paper: every fact stands on it, and the same seal gives the same bytes."""

from __future__ import annotations

import io
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from datetime import UTC, date, datetime
from decimal import Decimal
from functools import cache
from typing import Any

import pytest
import segno
from pypdf import PdfReader

from calc.droplets import parse_class
from logbook.checks.core import Run, RunState
from logbook.documents.drawing import Text
from logbook.documents.page import BODY, LEFT
from logbook.documents.record import Amended, code_of, lay_out, render_record
from logbook.facts.duty import (
    Asked,
    Clock,
    Deadline,
    HowRead,
    KeepFrom,
    Kind,
    Party,
    Retention,
    Since,
)
from logbook.facts.quantity import Nothing, Quantity
from logbook.facts.record import (
    AmendmentFacts,
    ContinuedFacts,
    LoadPartFacts,
    LocationFacts,
    TrainingFacts,
)
from logbook.law.elements import ELEMENTS
from logbook.records.sealing.changes import changes_between
from tests.logbook.checks.build import (
    clean,
    earlier,
    given,
    herbicide,
    label,
    load,
    person,
    q,
    reading,
    surfactant,
    training,
)
from tests.logbook.documents.reading import Page, flat, has, read
from tests.logbook.documents.sealed import PREVIOUS, SEALED_AT, finding, seal

# --- reading the paper back ----------------------------------------------------------------------


def pages(sealed, **options) -> list[Page]:
    """Return the text of each page."""
    return read(render_record(sealed, **options))


def paper(sealed, **options) -> Page:
    """Return the text of all pages, without what every page repeats."""
    repeated = r"Application record no\. .*? seal [0-9a-f]{64} "
    return Page("".join(re.sub(repeated, "", page) for page in pages(sealed, **options)))


@cache
def clean_paper() -> Page:
    """Return the text of the record on which every check agrees; many tests read it."""
    return paper(seal())


# --- every entered fact --------------------------------------------------------------------------

# Shown in another way, which a test below looks at: ids, the outline, booleans and computed places.
_SHOWN_OTHERWISE = ("id", "product_id", "boundary", "area_ha", "latitude", "longitude")
# Of the catch test stand the mean and the spread; what each nozzle gave is in the seal.
_IN_THE_SEAL = ("volumes", "volume_unit")
_AS_DUTIES = ("asks", "deadlines", "retention")
_CLASSES = ("finest_class", "coarsest_class")


def entered(facts: Any) -> Iterator[str]:
    """Yield every fact of the snapshot as it has to stand on the paper."""
    for one in fields(facts):
        value = getattr(facts, one.name)
        if (
            one.name in (*_SHOWN_OTHERWISE, *_IN_THE_SEAL, *_AS_DUTIES)
            or value is None
            or value == ""
        ):
            continue
        partner = getattr(facts, one.name.replace("_min", "_max"), None)
        if one.name.endswith("_min") and partner and partner.unit == value.unit:
            yield f"{value.value:f} to {partner}"
        elif one.name in _CLASSES:
            yield parse_class(value).words
        elif one.name == "locations":
            for place in value:
                yield f"{place.kind.capitalize()} {place.text}"
        else:
            yield from _shown(value)


def _shown(value: Any) -> Iterator[str]:
    if isinstance(value, Quantity):
        degree = value.unit == "°"
        yield f"{value.value:f}{'' if degree else ' '}{value.unit}"
    elif isinstance(value, Nothing):
        yield str(value)
    elif is_dataclass(value):
        yield from entered(value)
    elif isinstance(value, tuple):
        for item in value:
            yield from _shown(item)
    elif isinstance(value, bool):
        return
    elif isinstance(value, datetime):
        # North Dakota keeps Central Daylight Time in June: five hours behind UTC.
        yield f"2026-06-10 {value.hour - 5:02d}:{value.minute:02d} CDT"
    elif isinstance(value, date):
        yield value.isoformat()
    elif isinstance(value, Decimal):
        yield f"{value:f}"
    elif isinstance(value, dict):
        for name, text in value.items():
            title = ELEMENTS[name].title
            yield f"{title[0].upper()}{title[1:]} {text}"
    else:
        yield str(value)


def full():
    """Return a record on which nothing is left out."""
    return given(
        applicator=person("A. Lund", trainings=(training(),)),
        supervisor=person("B. Moen"),
        crew=(person("C. Ruud", licences=(), trainings=(training(trainer="E. Vik"),)),),
        continues=ContinuedFacts(id="earlier", number=56, day=date(2026, 6, 9)),
        products__0__label__classes=("auxin herbicide",),
        products__0__label__training="the yearly course of the registrant",
        record__note="Drift fence set up along the school road.",
        record__pattern="banded",
        record__band_width=q("12 in"),
        record__row_spacing=q("30 in"),
        record__nozzles_per_row=2,
        record__duty=q("80 %"),
        record__density=q("1.05 SG"),
        record__distance=q("not measured: the odometer was broken"),
        products__1__label=label(id="s", edition="adj-3"),
        loads__0__shared=True,
        weather__1__signs=("dew", "cumulus"),
        weather__2__cloud=q("none"),
        earlier=(earlier(), earlier(rate=None, product_id="gone", record_number=12)),
        amends=AmendmentFacts(
            number=41,
            seal_sha256="ab" * 32,
            reason="The wrong pressure was copied.",
            changes=("pressure: 40 psi, now 42 psi",),
        ),
    )


def test_every_entered_fact_stands_on_the_paper_as_it_was_entered():
    snapshot = full()
    text = paper(seal(snapshot))
    missing = [fact for fact in entered(snapshot) if fact not in text]
    assert not missing
    assert len(list(entered(snapshot))) > 180


@pytest.mark.parametrize("size", ["letter", "a4"])
def test_both_papers_have_their_size_and_all_the_facts(size):
    data = render_record(seal(full()), paper=size)
    box = PdfReader(io.BytesIO(data)).pages[0].mediabox
    wide, tall = {"letter": (612, 792), "a4": (595.28, 841.89)}[size]
    assert (float(box.width), float(box.height)) == pytest.approx((wide, tall))
    text = paper(seal(full()), paper=size)
    assert not [fact for fact in entered(full()) if fact not in text]


def test_an_unknown_paper_is_refused():
    with pytest.raises(KeyError, match="legal"):
        render_record(seal(), paper="legal")


def test_the_middle_and_the_size_by_the_outline_are_printed():
    # The L is 125.119 ac on the ellipsoid: geographiclib, see tests.logbook.checks.build.
    has(clean_paper(), "47.10300, -97.19600", "by the outline 125 ac")


def test_a_restricted_use_product_is_marked():
    assert clean_paper().count("RESTRICTED USE") == 1
    assert "RESTRICTED USE" not in paper(seal(products__0__label__restricted_use=False))


def test_what_the_label_says_is_printed_in_words():
    has(
        clean_paper(),
        "Label edition 2025-01, in force 2025-01-01 to 2027-12-31",
        "inventol 4 lb/gal",
        "rate 16 to 32 fl oz/ac",
        "droplets Medium to Very Coarse",
        "not before 60 min after sunrise",
        "not later than 120 min before sunset",
        "not in an inversion",
        "re-entry 24 h",
        "before harvest 60 d",
        "no drift reducer with air-induction nozzles",
    )


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"finest_class": "C"}, "droplets Coarse or coarser"),
        ({"coarsest_class": "C"}, "droplets Coarse or finer"),
        ({"carrier_min": q("10 gal/ac")}, "carrier at least 10 gal/ac"),
        ({"wind_max": q("15 mph")}, "wind at most 15 mph"),
        ({"supervised_use_allowed": False}, "not by a helper under supervision"),
        ({}, "sets no limit on file"),
        ({}, "edition 2025-01, in force 2025-01-01 on"),
    ],
)
def test_a_label_says_what_it_sets(changes, said):
    assert said in paper(seal(products__0__label=label(**changes)))


def test_what_a_label_adds_to_the_law_is_printed():
    def due(clock, **changes):
        facts = {"kind": Kind.RECORD, "how_read": HowRead.LEGAL_TEXT} | changes
        return Deadline(clock=clock, **facts)

    text = paper(
        seal(
            products__0__label__asks=(
                Asked(name="clean-out", how_read=HowRead.LEGAL_TEXT, detail="three rinses"),
            ),
            products__0__label__retention=(
                Retention(years=2, since=KeepFrom.APPLICATION, how_read=HowRead.LEGAL_TEXT),
            ),
            # Dicamba over the top, 2019 labels: within 72 hours (Illinois farm bureau).
            products__0__label__deadlines=(
                due(Clock.HOURS, count=72, detail="after each application"),
                due(Clock.HOURS, since=Since.BEFORE_START, kind=Kind.NOTICE_BEFORE, to=Party.FARM),
                due(Clock.HOURS, since=Since.BEFORE_START, count=24),
                due(Clock.WORKING_DAYS, count=2),
                due(Clock.SAME_DAY),
                due(Clock.FIXED_DATE, month=1, day=31),
                due(Clock.FIXED_DATE, day=10),
                due(Clock.WITHOUT_DELAY),
                due(Clock.NO_COUNT),
            ),
        )
    )
    has(
        text,
        "wants recorded the tank clean-out (three rinses)",
        "kept 2 years from the application",
        "record within 72 hours from the end, after each application; notice before to the farm "
        "before the start; record 24 hours before the start; record within 2 working days from the "
        "end; record on the same local day; record by 01-31 of the next year; record by day 10 of "
        "the next month; record without delay; record with no time stated",
    )


def test_who_sprayed_too_and_which_job_goes_on_is_printed():
    text = paper(seal(full()))
    has(text, "Also sprayed by C. Ruud, trained 2026-03-01 by E. Vik")
    has(text, "Resumes the job of record no. 56, begun 2026-06-09")
    draft = ContinuedFacts(id="earlier", number=None, day=None)
    has(paper(seal(continues=draft)), "a draft not yet signed, begun on a day left blank")


def test_a_statement_under_a_name_no_longer_in_use_is_printed_with_its_name():
    stated = {"old-name": "kept", "buffer": "", "rinsate-note": "none"}
    has(
        paper(seal(record__statements=stated)),
        "Asked for by law The buffer kept blank The note on rinsate, spills and incidents none "
        "Old-name kept",
    )


def test_acid_equivalent_stands_beside_the_content():
    ingredient = replace(herbicide().label.ingredients[0], acid_equivalent=q("3.8 lb/gal"))
    sealed = seal(products__0__label=label(ingredients=(ingredient,)))
    assert "inventol 4 lb/gal (acid equivalent 3.8 lb/gal)" in paper(sealed)


# --- words for nothing ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("answer", "word"),
    [
        (None, "blank"),
        (q("none"), "none"),
        (q("not applicable"), "not applicable"),
        (q("not measured: the meter was wet"), "not measured: the meter was wet"),
    ],
)
def test_each_kind_of_nothing_prints_as_its_word(answer, word):
    assert f"(140 L/ha) {word} 10 to 20 gal/ac " in paper(seal(record__mix_used=answer))


def test_a_reading_without_a_direction_has_no_point_of_the_compass():
    text = paper(seal(weather=(reading("9:00", wind_from=q("none"), gust=None),)))
    assert "09:00 CDT none 8 mph (12.9 km/h) blank 72 °F" in text


def nothing():
    """Return a record on which everything that may be blank is blank."""
    s = clean()
    kept = ("id", "purpose", "pattern", "note", "started_at")
    blank = {one.name: None for one in fields(s.record) if one.name not in kept}
    return replace(
        s,
        record=replace(s.record, **blank | {"purpose": "", "note": "", "statements": {}}),
        **dict.fromkeys(("customer", "field", "crop", "applicator", "rig", "nozzle")),
        **dict.fromkeys(("catch_test", "nozzle_mounted_on")),
        products=(),
        loads=(),
        weather=(),
    )


def test_a_blank_record_says_blank_in_every_place():
    text = paper(seal(nothing()))
    names = "Customer, Field, Crop, Growth stage, Sprayed by, Products, Purpose, Note, Rig, Nozzle"
    names += ", Gauge pressure, Ground speed, Boom height, Pulse-width duty, Mix density, Finished"
    names += ", Readings, Loads, Treated area, Sprayed over"
    has(text, *(f"{name} blank" for name in names.split(", ")))
    has(text, "Started 2026-06-10 14:00 UTC ", "At the nozzle not computed")
    has(
        text,
        "Carrier the mix as sprayed blank blank silent not computed no rate planned, labelled or",
    )
    has(text, "nothing to compare", "Catch test none on file")
    assert "field blank · 2026-06-10" in pages(seal(nothing()))[0]


def test_a_record_without_a_time_has_no_day():
    sealed = seal(replace(nothing(), record=replace(nothing().record, started_at=None)))
    has(pages(sealed)[0], "field blank · day blank", "Started blank")


def test_facts_that_a_place_or_person_lacks_are_blank():
    text = paper(
        seal(
            business__licence_number="",
            business__address="",
            customer__address=" ",
            field__boundary=None,
            field__area_ha=None,
            field__latitude=None,
            crop__eppo_code="",
            crop__planted_on=None,
            crop__growth_stage_bbch=None,
            applicator__licences=(),
            rig__plate="",
            nozzle_mounted_on=None,
            nozzle__angle=None,
            nozzle__size="",
            nozzle__class_table=(),
            catch_test__tested_by="",
            products__0__registrant="",
            loads__0__parts=(LoadPartFacts(product_id="other", amount=q("3 gal")),),
            loads__1__parts=(),
        )
    )
    has(
        text,
        "Coulee Custom Spraying, address blank, licence blank, telephone blank",
        "C. Dahl, address blank",
        "North L, US-ND, America/Chicago, outline blank",
        "soybean, planted blank",
        "Growth stage blank",
        "A. Lund, no licence and no training on file",
        "plate blank",
        "no ISO 10625 size",
        "mounted blank",
        "no droplet classes",
        "2026-04-02 by blank",
        "registrant blank",
        "a product not in this record 3 gal",
        "not known from the nozzle's own table",
    )
    assert "middle" not in text


def test_a_size_outside_the_standard_is_named_without_a_colour():
    assert "size 0125," in paper(seal(nozzle__size="0125"))


def test_a_licence_without_category_and_certification_says_so():
    snapshot = given(
        applicator__licences__0__categories=(), applicator__licences__0__certified=False
    )
    has(
        paper(seal(snapshot)),
        "no category, not certified for restricted use, valid 2024-04-01 to 2027-03-31",
    )


def test_a_training_without_an_end_has_none():
    one = TrainingFacts(
        trained_on=date(2026, 3, 1), trainer="B. Moen", content="course", expires_on=None
    )
    assert "trained 2026-03-01 by B. Moen: course" in paper(seal(applicator__trainings=(one,)))


# --- times ---------------------------------------------------------------------------------------


def test_start_and_end_are_local_with_their_zone():
    has(
        clean_paper(),
        "Started 2026-06-10 09:00 CDT (UTC−05:00)",
        "Finished 2026-06-10 12:15 CDT (UTC−05:00)",
    )


def test_a_zone_without_an_abbreviation_shows_its_offset():
    text = paper(seal(field__time_zone="America/Sao_Paulo"))
    assert "Started 2026-06-10 11:00 UTC−03:00" in text


def test_a_zone_ahead_of_utc_shows_a_plus():
    assert "UTC+05:30" in paper(seal(field__time_zone="Asia/Kolkata"))


def test_re_entry_counts_the_longest_interval_from_the_end():
    # 40 CFR 170.112(a)(3) (2007 text): the longest of the mix, from the end of the application.
    other = replace(
        herbicide(), product_id="b", name="Slow 2", label=label(reentry_hours=Decimal(48))
    )
    text = paper(seal(products=(herbicide(), other)))
    assert "2026-06-12 12:15 CDT (UTC−05:00), 48 h from the end, by Slow 2" in text


def test_re_entry_is_counted_in_elapsed_hours_over_a_change_of_clocks():
    # Clocks go back on 1 November 2026 in the US: 24 h after 12:15 CDT is 11:15 CST.
    day = datetime(2026, 10, 31, 17, 15, tzinfo=UTC)
    text = paper(seal(record__started_at=day, record__finished_at=day, weather=()))
    assert "2026-11-01 11:15 CST (UTC−06:00), 24 h from the end" in text


def test_the_earliest_harvest_day_says_how_it_was_counted():
    # 10 June + 60 days, computed by hand: 20 left in June, 31 in July, 9 August.
    has(
        clean_paper(),
        "2026-08-09, 60 d by Fenland 4 EC, day 1 being the day after the end",
    )


def test_numbers_lose_the_zeros_that_say_nothing():
    changes = {"rig__tank_accuracy_percent": Decimal("3.0"), "nozzle__exponent": Decimal("0.500")}
    text = paper(seal(**changes, products__0__label__reentry_hours=Decimal("100.0")))
    has(text, "tank ±3 %", "flow by pressure to the power 0.5", "100 h from the end")


def test_without_an_end_neither_interval_is_computed():
    text = paper(seal(record__finished_at=None))
    assert text.count("not computed: the end of the spraying is blank") == 2


def test_labels_without_an_interval_say_so():
    text = paper(seal(products__0__label=label()))
    assert text.count("no interval on the labels on file") == 2


def test_a_product_whose_label_is_blank_is_named_as_not_counted():
    second = replace(herbicide(), product_id="b", name="Unread 5", label=None)
    text = paper(seal(products=(herbicide(), second)))
    assert text.count("not counted, for the label is blank: Unread 5") == 2


# --- amounts -------------------------------------------------------------------------------------


def test_delivered_stands_against_planned_and_label_with_its_uncertainty():
    # 5940 · 0.303 / (6.0 · 20) = 15.0 gal/ac (UF/IFAS WG013).
    has(
        clean_paper(),
        "15.0 gal/ac (140 L/ha) 1875 gal (7098 L) 10 to 20 gal/ac 15.0 gal/ac 14.7 to 15.3",
        "delivered 15.0",
        "label: agrees plan: agrees",
        "22 fl oz/ac (1610 mL/ha) 2750 fl oz (81330 mL) 22.0 fl oz/ac 16 to 32 fl oz/ac",
        "16 to 32 fl oz/ac 22.0 fl oz/ac 21.6 to",
        "Flow from the catch test of 2026-04-02",
    )


def test_a_rate_that_was_not_computed_says_so():
    snapshot = given(record__pressure=None, products__1__planned_rate=q("not applicable"))
    text = paper(seal(snapshot))
    has(
        text,
        "15.0 gal/ac (140 L/ha) 1875 gal (7098 L) 10 to 20 gal/ac not computed",
        "delivered: not computed",
    )
    has(
        text,
        # 600 fl oz on 125 ac; definition of a rate.
        "not applicable 600 fl oz (17700 mL) 4.80 fl oz/ac label blank not computed",
    )


@pytest.mark.parametrize(
    ("speed", "said"),
    [
        ("9.9 mph", "label: outside the label plan: does not agree"),
        ("6.4 mph", "label: agrees plan: look again"),
    ],
)
def test_a_rate_that_does_not_agree_says_so_for_label_and_plan(speed, said):
    # The settings alone: 5940 · 0.303 / (v · 20) is 9.09 and 14.06 gal/ac.
    used = {"record__mix_used": None, "products__0__total_used": None, "record__distance": None}
    used |= {"products__1__total_used": None}
    assert said in paper(seal(record__speed=q(speed), **used))


def test_a_line_without_an_uncertainty_shows_the_rate_alone():
    sealed = seal()
    line = replace(
        sealed.assessment.lines[0], expanded=None, least=None, label_min=None, label_max=None
    )
    sealed = replace(sealed, assessment=replace(sealed.assessment, lines=(line,)))
    has(
        paper(sealed),
        "15.0 gal/ac (140 L/ha) 1875 gal (7098 L) silent 15.0 gal/ac gal/ac delivered 15.0",
    )


def test_loads_print_what_went_in_and_the_order_of_fields():
    has(
        paper(seal(loads__0__shared=True, loads__0__order=2)),
        "1000 gal (3785 L) 1000 gal (3785 L) Fenland 4 EC 1466.7 fl oz (43375 mL); "
        "Wetting 90 320 fl oz (9460 mL) field 2, load shared",
        "field 1, load not shared",
    )


def test_bands_print_their_measures_and_a_broadcast_needs_none():
    assert "Pattern broadcast When and by whom" in clean_paper()
    text = paper(seal(record__pattern="directed", record__row_spacing=None))
    has(
        text,
        "Pattern directed Band width not applicable",
        "Row spacing blank Nozzles per row blank",
    )


def test_the_colour_codes_always_carry_their_word():
    has(clean_paper(), "size 03, blue", "Droplet class Coarse or Very Coarse")


def test_the_computed_flow_and_pressure_are_in_the_system_of_the_entries():
    assert "At the nozzle 40.0 psi, 0.303 gal/min each" in clean_paper()
    metric = paper(seal(record__planned_carrier=q("140 L/ha")))
    # The gauge was read in psi all the same.
    assert "At the nozzle 40.0 psi, 1.15 L/min each" in metric
    barred = paper(seal(record__planned_carrier=q("140 L/ha"), record__pressure=q("3 bar")))
    assert "At the nozzle 2.86 bar, 1.17 L/min each" in barred  # 2 psi of line loss
    assert "by the outline 50.6 ha" in metric


def test_a_line_loss_that_was_not_measured_has_no_flow():
    assert "Line loss not measured: no second gauge" in paper(
        seal(rig__line_loss=q("not measured: no second gauge"))
    )


# --- findings ------------------------------------------------------------------------------------


def test_findings_print_with_severity_basis_remedy_and_explanation():
    found = [finding("breach"), finding("missing", about="density"), finding("caution", code="c")]
    said = {found[0].key: "The controller showed 6.0 mph.", found[2].key: "Agreed with C. Dahl."}
    text = paper(seal(findings=found, explanations=said))
    has(
        text,
        "Breach. The rig went at 6.0 mph. Stands on: Common practice. To settle: Measure the "
        "speed. The signer says: The controller showed 6.0 mph.",
        "Missing. The rig went",
        "The signer says: blank",
        "Caution. The rig went",
        "The signer says: Agreed with C. Dahl.",
    )


def test_what_cannot_be_decided_says_so():
    assert "Caution, cannot be decided. The rig" in paper(
        seal(findings=[finding("caution", undecided=True)])
    )


def test_the_margin_marks_the_line_that_a_finding_speaks_of():
    found = [finding(about="pressure"), finding("mismatch", about="weather.2.wind_speed")]
    text = paper(seal(findings=found))
    has(text, "1 Gauge pressure 42 psi", "2 2026-06-10 11:00 CDT")


@pytest.mark.parametrize(
    ("about", "line"),
    [
        ("weather", "1 2026-06-10 09:00 CDT"),
        ("loads", "1 1 1000 gal"),
        ("loads.1.used_here", "1 2 875 gal"),
        ("products", "1 Fenland 4 EC, RESTRICTED USE"),
        ("products.1.target", "1 Wetting 90 adjuvant"),
        ("products.1.planned_rate", "1 Wetting 90 0.25 % v/v"),
        ("products.0.total_used", "1 Fenland 4 EC 22 fl oz/ac"),
        ("rig.tank", "1 Rig Big Green"),
        ("rig.line_loss", "1 Line loss 2 psi"),
        ("nozzle_mounted_on", "1 Nozzle AI"),
    ],
)
def test_every_input_has_a_line_for_its_mark(about, line):
    sealed = seal(findings=[finding(about=about)])
    assert line in paper(sealed)


def test_a_mark_stands_in_the_gutter_of_the_ledger_to_the_right():
    sheet = lay_out(seal(findings=[finding(about="distance")]), amended_by=(), paper="letter")
    texts = [shape for page in sheet.pages for shape in page if isinstance(shape, Text)]
    (name,) = (text for text in texts if text.text == "Sprayed over")
    (number,) = (
        text for text in texts if text.text == "1" and abs(text.y - name.y) < 3.0 and text.x > LEFT
    )
    assert name.x - 16.0 < number.x < name.x


def test_a_mark_stands_once_by_a_product_s_amounts_and_not_by_its_name():
    text = paper(seal(findings=[finding(about="products.0.planned_rate")]))
    assert "1 Fenland 4 EC, RESTRICTED" not in text


def test_many_findings_about_one_line_are_counted():
    found = [finding(about="pressure", code=f"c{number}") for number in range(30)]
    text = paper(seal(findings=found))
    assert "1 2 3 +27 Gauge pressure" in text
    assert text.count("Breach. The rig went") == 30


def test_no_finding_says_that_all_agreed_and_what_was_looked_at():
    sealed = seal(findings=())
    text = paper(sealed)
    agreed = [run.title for run in sealed.runs if run.state is RunState.AGREED]
    told = f"{len(agreed)} looked and agreed; the sealed record lists them."
    has(text, f"Every check that could look agreed. {told}")
    assert not [title for title in agreed if title in text]


def test_beside_findings_the_checks_that_agreed_are_counted():
    sealed = seal(record__speed=q("9.5 mph"))
    agreed = sum(run.state is RunState.AGREED for run in sealed.runs)
    text = paper(sealed)
    assert 20 < agreed < len(sealed.runs)
    assert f"Other checks: {agreed} looked and agreed; the sealed record lists them." in text
    assert "Every check that could look agreed" not in text


def test_a_check_that_could_not_look_is_named_with_its_reason():
    run = Run(id="x", title="the boom", about=(), state=RunState.NOT_RUN, why="needs rig")
    text = paper(replace(seal(), runs=(run,)))
    assert "Could not be looked at (1): the boom (needs rig)" in text
    assert "0 looked and agreed" in text


def test_what_was_not_computed_and_what_goes_with_the_setting_is_printed():
    sealed = seal(record__pressure=None)
    has(paper(sealed), *sealed.assessment.not_computed)
    has(clean_paper(), "Goes with this setting: Application exclusion zone: 25 ft (7.62 m)")


# --- signature, seal, amendments -----------------------------------------------------------------


def test_the_signature_names_signer_role_time_and_hashes():
    sealed = seal()
    has(
        paper(sealed),
        "Signed by A. Lund, applicator",
        "Signed at 2026-06-10 17:05 CDT (UTC−05:00), sealed with spray-logbook 1.0",
        f"Leaf {sealed.leaf}",
        f"Previous link {PREVIOUS}",
        f"Link {sealed.link}",
    )
    assert "Computed with" not in paper(sealed)


def test_the_signature_names_the_libraries_that_were_sealed():
    sealed = replace(seal(), libraries={"numpy": "2.4.6", "tzdata": "2025b"})
    has(paper(sealed), "Computed with numpy 2.4.6, tzdata 2025b")


def test_the_usual_cautions_are_printed():
    has(
        clean_paper(),
        "The product label is the law and decides wherever this paper differs from it",
        "Wear the protective equipment that the label names",
        "What the computation does not know",
    )


def modules(data: bytes) -> list[list[bool]]:
    """Return the modules of the one image mask of the paper, as a viewer would read it."""
    for page in PdfReader(io.BytesIO(data)).pages:
        content = page.get_contents().get_data()
        found = re.search(
            rb"BI /W (\d+) /H (\d+) /IM true /D \[1 0\] /F /AHx ID\s+([0-9a-f]+)>\s+EI", content
        )
        if found:
            count, tall = int(found[1]), int(found[2])
            row_bytes = (count + 7) // 8
            raw = bytes.fromhex(found[3].decode())
            assert len(raw) == tall * row_bytes
            rows = [raw[start : start + row_bytes] for start in range(0, len(raw), row_bytes)]
            return [[bool(row[x // 8] >> (7 - x % 8) & 1) for x in range(count)] for row in rows]
    raise AssertionError("there is no code on the paper")


def test_the_code_holds_number_and_link():
    sealed = seal()
    expected = segno.make(f"57 {sealed.link}", error="m", version=5, mask=3, boost_error=False)
    drawn = modules(render_record(sealed))
    assert drawn == [[bool(module) for module in row] for row in expected.matrix]
    assert drawn == [list(row) for row in code_of(sealed)]
    assert expected.designator == "5-M"


def test_another_seal_has_another_code():
    assert code_of(seal()) != code_of(seal(number=58))


def test_a_number_of_many_digits_still_fits_the_code():
    assert len(code_of(seal(number=9_999_999_999))) == 37


def test_an_amendment_names_what_it_corrects_why_and_what_changed():
    changed = given(record__speed=q("5.0 mph"))
    amends = AmendmentFacts(
        number=41,
        seal_sha256="ab" * 32,
        reason="The speed was copied wrong.",
        changes=tuple(changes_between(clean(), changed)),
    )
    text = paper(seal(changed, amends=amends))
    assert text.count("The speed was copied wrong.") == 2
    has(text, "Corrects record no. 41:", "ab" * 32, "Ground speed: 6.0 mph, now 5.0 mph")


def test_an_amendment_that_changes_no_entry_says_so():
    amends = AmendmentFacts(number=41, seal_sha256="ab" * 32, reason="Signed twice.", changes=())
    assert "What changed no entry differs" in paper(seal(amends=amends))


def test_a_corrected_record_names_what_corrects_it_first_and_last():
    later = Amended(number=61, reason="The speed was copied wrong.", sealed_at=SEALED_AT)
    last = Amended(number=70, reason="", sealed_at=SEALED_AT)
    first_page, *_ = found = pages(seal(), amended_by=[later, last])
    assert "Corrected since: record no. 70 holds in place of this one." in first_page
    has(
        Page(flat(" ".join(found))),
        "record no. 61, sealed 2026-06-10 17:05 CDT (UTC−05:00). Reason: The speed was copied",
        "record no. 70, sealed 2026-06-10 17:05 CDT (UTC−05:00). Reason: blank",
    )


def test_an_uncorrected_record_has_no_amendments():
    assert "Amendments" not in clean_paper()


def test_what_amends_is_named_from_its_own_seal():
    amends = AmendmentFacts(number=57, seal_sha256="ab" * 32, reason="Why.", changes=())
    later = seal(number=61, amends=amends)
    assert Amended.of(later) == Amended(number=61, reason="Why.", sealed_at=SEALED_AT)
    assert Amended.of(seal()).reason == ""


# --- the catch test ------------------------------------------------------------------------------


def caught_paper(*volumes: str, **changes: Any) -> Page:
    return paper(seal(catch_test__volumes=tuple(map(Decimal, volumes)), **changes))


def test_a_catch_test_prints_its_mean_and_spread_and_leaves_the_volumes_to_the_seal():
    # Mean 38.784 fl oz a minute = 0.303 gal/min; s = 0.366 fl oz, by hand, so CV = 0.94 %.
    has(
        clean_paper(),
        "2026-04-02 by A. Lund, 5 nozzles for 60 s at 40 psi, ±1.5 %: mean 0.303 gal/min, CV "
        "0.9 %; all within ±5 % of it; none worn",
    )
    assert "39.268" not in clean_paper()


def test_uneven_and_worn_nozzles_are_named():
    # New is 38.4 fl oz, 0.30 gal/min at 40 psi; 42.3 is 10.2 % more, and 10 % is worn: Nebraska
    # Extension (Klein).
    text = caught_paper("38.4", "38.4", "42.3", "38.4", "35.0")
    has(text, "nozzles 3 and 5 outside ±5 % of it; nozzle 3 worn")


def test_without_a_nozzle_the_wear_is_not_known():
    assert "all within ±5 % of it; wear not known" in paper(seal(nozzle=None))


def test_a_catch_test_that_cannot_be_evaluated_says_why():
    assert "not evaluated, volumes caught must be the catches of two" in caught_paper("38.4")


# --- pages ---------------------------------------------------------------------------------------


def normal(**changes: Any):
    """Return a usual day: two products, three loads, five readings, 48 nozzles caught."""
    volumes = ("38.784", "38.3", "39.268", "38.6", "38.968")
    thirds = (("700 gal", "1026.7 fl oz", "224 fl oz"),) * 2
    return given(
        catch_test__volumes=tuple(Decimal(volumes[number % 5]) for number in range(48)),
        loads=(*(load(*each) for each in thirds), load("475 gal", "696.6 fl oz", "152 fl oz")),
        weather=tuple(reading(clock) for clock in ("9:00", "9:45", "10:30", "11:15", "12:00")),
        **changes,
    )


# No law is carried for Alberta farm land, so no table of duties follows.
WITHOUT_SETS = {"field__place": "CA-AB"}


@pytest.mark.parametrize("size", ["letter", "a4"])
def test_a_normal_record_takes_one_page(size):
    sealed = seal(normal(**WITHOUT_SETS), findings=())
    assert len(pages(sealed, paper=size)) == 1


@pytest.mark.parametrize("size", ["letter", "a4"])
def test_a_normal_record_of_longer_names_takes_one_page(size):
    sealed = seal(
        normal(**WITHOUT_SETS),
        findings=(),
        business__name="Lower Valley Custom Applicators",
        business__address="Lot 3, Elevator Road, Stillwater Flats",
        customer__name="Kettle Brothers Grain Farm",
        customer__address="Section road 12, Stillwater Flats",
        products__0__target="broad-leaved weeds and volunteers",
        record__note="Gate code from the farm; drain at the south end.",
    )
    assert len(pages(sealed, paper=size)) == 1


def test_one_product_and_a_helper_under_supervision_take_one_page():
    sealed = seal(
        normal(**WITHOUT_SETS),
        findings=(),
        products=(herbicide(),),
        applicator=person("B. Moen", licences=(), trainings=(training(),)),
        supervisor=person(),
    )
    assert len(pages(sealed)) == 1


def test_the_body_is_not_set_below_seven_and_a_half_points():
    assert BODY >= 7.5


def long_record(count=12, readings=10, findings=30):
    products = tuple(
        replace(herbicide(), product_id=f"p{number}", name=f"Product {number} of a long mix")
        for number in range(count)
    )
    found = [finding("caution", code=f"c{n}", sentence=f"Finding {n}.") for n in range(findings)]
    weather = tuple(reading(f"{9 + n // 4}:{15 * (n % 4):02d}") for n in range(readings))
    return seal(products=products, weather=weather, findings=found)


def test_every_page_repeats_the_head_and_counts_the_pages():
    found = pages(long_record())
    assert len(found) > 2
    for number, page in enumerate(found, start=1):
        has(page, "Application record no. 57", "Coulee Custom Spraying", "North L · 2026-06-10")
        has(page, f"page {number} of {len(found)}", f"seal {long_record().link}")


def test_a_long_mix_flows_over_pages_under_repeated_heads():
    found = pages(long_record())
    text = flat(" ".join(found))
    for number in range(12):
        # Once among the products, once among the amounts; the loads name others.
        assert len(re.findall(rf"Product {number} of a long mix", text)) >= 2
    heads = sum("Line Planned rate Total used Label asks Delivered" in page for page in found)
    with_amounts = sum(bool(re.search(r"of a long mix 22", page)) for page in found)
    assert heads == with_amounts >= 1


def test_ten_readings_and_thirty_findings_are_all_there():
    text = paper(long_record())
    assert len(re.findall(r"2026-06-10 \d\d:\d\d CDT 300°", text)) == 10
    has(text, *(f"Caution. Finding {number}." for number in range(30)))


def test_forty_readings_repeat_the_head_of_their_table():
    found = pages(long_record(readings=90))
    heads = [page for page in found if "Weather Time" in page]
    assert len(heads) >= 2


def test_long_names_are_shortened_in_the_head_alone():
    name = "The Very Long Named Custom Applicators of the Lower Valley " * 4
    first = pages(seal(business__name=name.strip(), field__name=name.strip()))[0]
    assert first.count(name.strip()) == 2
    assert "…" in first


def test_a_name_without_a_space_is_cut_over_lines_and_nothing_is_lost():
    name = "Unbreakable" * 40
    assert name in paper(seal(customer__name=name)).replace(" ", "")


def test_a_note_longer_than_a_page_is_printed_whole():
    note = " ".join(f"word{number}" for number in range(4000))
    text = paper(seal(record__note=note))
    has(text, *(f"word{number}" for number in range(0, 4000, 37)))


def test_a_ledger_that_outgrows_its_page_beside_a_drawing_goes_on_below():
    places = tuple(
        LocationFacts(kind="legal description", text=f"Section {number}, Township 140 North")
        for number in range(80)
    )
    text = paper(seal(field__locations=places))
    has(text, *(f"Section {number}," for number in range(80)))


def test_letters_of_many_languages_are_printed():
    names = ("Иван Жуков", "Γιώργος Ωμέγα", "Józef Żółć", "Nguyễn Điện Biên")
    for name in names:
        assert name in paper(seal(customer__name=name))
        assert "A letter that the print type lacks" not in paper(seal(customer__name=name))


def test_letters_that_the_type_lacks_are_shown_by_number_with_a_note():
    text = paper(seal(customer__name="田中 Farm"))
    has(text, "[U+7530][U+4E2D] Farm", "A letter that the print type lacks is shown")


def test_an_address_of_several_lines_stands_on_one():
    assert "C. Dahl, Box 2, Fargo" in paper(seal(customer__address="Box 2\r\n\nFargo\n"))


def test_an_adjuvant_without_a_label_is_not_missed_among_the_intervals():
    assert "not counted" not in paper(seal(products=(herbicide(), surfactant())))


# --- the file ------------------------------------------------------------------------------------


def test_the_same_seal_gives_the_same_bytes():
    assert render_record(seal(full())) == render_record(seal(full()))
    assert render_record(seal()) != render_record(seal(number=58))


def test_the_same_seal_gives_the_same_bytes_in_another_process():
    code = (
        "import django, hashlib; django.setup();"
        "from tests.logbook.documents.sealed import seal;"
        "from logbook.documents.record import render_record;"
        "print(hashlib.sha256(render_record(seal())).hexdigest())"
    )
    outputs = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": hash_seed},
            capture_output=True,
            check=True,
            text=True,
        ).stdout
        for hash_seed in ("1", "2")
    }
    assert len(outputs) == 1


def test_the_document_says_what_it_is():
    reader = PdfReader(io.BytesIO(render_record(seal())))
    about = reader.metadata
    assert about.title == "Application record no. 57: North L, 2026-06-10"
    assert about.author == "Coulee Custom Spraying"
    assert about.subject == "Spray application record for C. Dahl"
    assert about.creator == "spray-logbook 1.0"
    assert seal().link in about["/Keywords"]
    assert about.creation_date == about.modification_date == SEALED_AT
    catalog = reader.trailer["/Root"]
    assert catalog["/Lang"] == "en-US"
    assert catalog["/ViewerPreferences"]["/DisplayDocTitle"]
    blank = PdfReader(io.BytesIO(render_record(seal(nothing())))).metadata
    assert blank.title == "Application record no. 57: field blank, 2026-06-10"
    assert blank.subject == "Spray application record for customer blank"


def test_every_font_is_embedded():
    reader = PdfReader(io.BytesIO(render_record(seal(full()))))
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():
            described = font.get_object()
            if described["/BaseFont"] != "/Helvetica":
                assert "/FontFile2" in described["/FontDescriptor"]
        used = set(re.findall(rb"/(F\d+[^ ]*) [\d.]+ Tf", page.get_contents().get_data()))
        helvetica = {
            name[1:].encode()
            for name, font in page["/Resources"]["/Font"].items()
            if font.get_object()["/BaseFont"] == "/Helvetica"
        }
        # reportlab opens each page by naming its default font; no text is set in it.
        for name in used & helvetica:
            shown = rb"/" + name + rb" [\d.]+ Tf [\d.]+ TL\s+(ET|BT.*Tj)"
            assert not re.search(rb"/" + name + rb" [^\n]*Tj", page.get_contents().get_data()), (
                shown
            )


def test_the_paper_speaks_the_units_of_the_business_with_the_entry_beside():
    # 42 psi = 289.6 kPa, 6.0 mph = 9.66 km/h, 15 gal/ac = 140 L/ha: exact factors of NIST SP 811.
    entered = paper(seal())
    assert "42 psi (290 kPa)" in entered
    metric = paper(seal(business__unit_system="metric"))
    has(metric, "290 kPa (entered as 42 psi)")
    has(metric, "9.66 km/h (entered as 6.0 mph)")
    has(metric, "140 L/ha (entered as 15.0 gal/ac)")
    # What is computed speaks them too, and what both systems share stays as it is.
    has(metric, "mean 1.15 L/min")
    has(metric, "At the nozzle 2.76 bar")
    assert "% (entered as" not in metric
    customary = paper(seal(business__unit_system="us"))
    # A record entered in them reads as before but for the one entry in metres; the seal is another.
    customary = customary.replace("6.56 ft (entered as 2 m)", "2 m (6.56 ft)")
    assert customary.partition("Leaf")[0] == entered.partition("Leaf")[0]
