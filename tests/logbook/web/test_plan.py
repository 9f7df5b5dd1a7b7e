"""The nozzle choice: refusals in the person's words, streams, the set point, where it jumps to."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from tests import factories as make
from tests.factories import q

pytestmark = pytest.mark.django_db

ASKED = {
    "carrier_min_value": "10",
    "carrier_min_unit": "gal/ac",
    "carrier_max_value": "20",
    "carrier_max_unit": "gal/ac",
    "spacing_value": "20",
    "spacing_unit": "in",
    "speed_low_value": "6",
    "speed_low_unit": "mph",
    "speed_high_value": "9",
    "speed_high_unit": "mph",
    "purpose": "contact herbicide",
}


def page(browser: Client, **changed: str) -> str:
    return browser.get(reverse("plan"), ASKED | changed).content.decode()


def complaint(text: str) -> str:
    assert 'role="alert" id="found"' in text
    return " ".join(re.findall(r'class="errorlist[^>]*>(.*?)</ul>', text, re.DOTALL))


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        (
            {"speed_low_value": "10", "speed_high_value": "6"},
            "6 mph is slower than the slowest speed, 10 mph.",
        ),
        ({"carrier_min_value": "30"}, "20 gal/ac is less than the least carrier, 30 gal/ac."),
        (
            {"wished_carrier_value": "60", "wished_carrier_unit": "L/ha"},
            "60 L/ha is less than the least carrier, 10 gal/ac.",
        ),
        (
            {"wished_carrier_value": "25", "wished_carrier_unit": "gal/ac"},
            "25 gal/ac is more than the most carrier, 20 gal/ac.",
        ),
        (
            {"carrier_min_value": "", "carrier_max_value": ""},
            "Say which carrier is wished for; no label here limits it.",
        ),
        (
            {"finest_class": "VC", "coarsest_class": "M"},
            "Medium is finer than the finest, Very Coarse.",
        ),
        ({"spacing_value": "0"}, "0 in is not possible; it must be more than zero."),
        ({"speed_low_value": "-6"}, "-6 mph is not possible; it must be more than zero."),
        (
            {"density_value": "3", "density_unit": "lb/gal"},
            # 0.75 and 1.95 × 8.345 lb/gal, the density of water that `calc.units` takes.
            "3 lb/gal is no density of a spray mix; from 6.26 to 16.3 lb/gal is taken.",
        ),
    ],
)
def test_what_contradicts_is_said_in_the_words_and_units_typed(
    changed: dict[str, str], sentence: str, browser: Client, yard: Any
) -> None:
    text = page(browser, **changed)
    assert sentence in complaint(text)
    for word in ("km_h", "l_ha", "_cm", "specific_gravity", "it must be between"):
        assert word not in complaint(text)
    assert "What fits" not in text


def test_a_nozzle_that_cannot_be_computed_with_is_said_without_program_words(
    browser: Client, yard: Any
) -> None:
    type(yard.nozzle).objects.filter(pk=yard.nozzle.pk).update(pressure_max=q("15 psi"))
    text = complaint(page(browser))
    assert f"{yard.nozzle.name}: its highest rated pressure is not above its lowest" in text
    assert "kpa" not in text


def test_a_limit_of_the_label_that_is_met_exactly_is_met(browser: Client, yard: Any) -> None:
    text = page(browser, wished_carrier_value="20", wished_carrier_unit="gal/ac")
    assert "What fits at 20 gal/ac" in text


@pytest.fixture
def streamer(yard: Any) -> Any:
    """The same flow as the flat fan, so that it would fit by its numbers."""
    return make.NozzleModelFactory(
        business=yard.nozzle.business,
        name="A stream bar",
        kind="streamer",
        size="04",
        angle=None,
        pressure_min=q("10 psi"),
        pressure_max=q("90 psi"),
    )


def parts(text: str) -> tuple[str, str]:
    """Return what fits, and what does not."""
    fits, _, rest = text.partition('id="title-refused"')
    return fits.partition('id="title-fits"')[2], rest


def test_streams_do_not_fit_a_spray(browser: Client, streamer: Any) -> None:
    fits, refused = parts(page(browser))
    assert streamer.name not in fits
    assert "Flat fan 11004" in fits
    assert streamer.name in refused
    assert "Streams are for liquid fertilizer; they cover nothing else (common practice)." in (
        refused
    )


def test_streams_come_last_where_no_purpose_is_said(browser: Client, streamer: Any) -> None:
    fits, _ = parts(page(browser, purpose=""))
    assert 0 < fits.index("Flat fan 11004") < fits.index(streamer.name)


def test_streams_fit_liquid_fertilizer(browser: Client, streamer: Any) -> None:
    fits, refused = parts(page(browser, purpose="liquid fertilizer"))
    assert streamer.name in fits
    assert "Streams are for" not in refused
    # Its range is wider on both sides than the fan's, so its margin is larger and it comes first.
    assert fits.index(streamer.name) < fits.index("Flat fan 11004")


def test_the_set_point_says_where_the_pressure_counts(browser: Client, yard: Any) -> None:
    text = page(browser)
    assert re.search(r"\d+(\.\d+)? psi at the nozzle and \d+\.\d+ mph; add the pressure", text)
    # The margin of m either way: 1 + m times as fast, or 1 / (1 + m).
    found = re.search(r"At the same rate, (\d+) % faster or (\d+) % slower still keeps", text)
    assert found
    faster, slower = (int(share) / 100 for share in found.groups())
    assert 1.0 - slower == pytest.approx(1.0 / (1.0 + faster), abs=0.01)
    assert "from memory of textbooks" not in text


def test_the_form_jumps_to_what_was_found(browser: Client, yard: Any) -> None:
    assert 'action="#found"' in browser.get(reverse("plan")).content.decode()
    assert page(browser).count('id="found"') == 1
    assert page(browser, speed_low_value="").count('id="found"') == 1


def test_what_is_needed_is_marked_and_asked_for_in_its_own_words(
    browser: Client, yard: Any
) -> None:
    text = browser.get(reverse("plan"), {"purpose": ""}).content.decode()
    for label in ("Slowest speed", "Fastest speed"):
        line = text[text.index(f">{label}</") :].split("</div>")[0]
        assert "(needed)" in line, label
    assert "Needed, unless you enter the nozzle spacing." in text
    assert "Choose a rig, or enter the spacing." in complaint(text)
    assert complaint(text).count("This is needed to choose a nozzle.") == 2
    unreadable = complaint(page(browser, spacing_value="wide"))
    assert "Choose a rig" not in unreadable
    chosen = page(browser, spacing_value="", rig=str(yard.rig.pk))
    assert "What fits at" in chosen


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        # The middle of 10 and 20 is 14.1: 14.1 / 10 = 20 / 14.1, the square root of 2. Computed.
        ({}, "14.1 gal/ac</h2>\n  <p>You wished for no carrier, so this is the middle, by ratio, "),
        ({}, "between the least, 10 gal/ac, and the most, 20 gal/ac."),
        (
            {"carrier_max_value": ""},
            "11.0 gal/ac</h2>\n  <p>You wished for no carrier, so this is the least, 10 gal/ac, "
            "times 1.1.",
        ),
        (
            {"carrier_min_value": ""},
            "18.2 gal/ac</h2>\n  <p>You wished for no carrier, so this is the most, 20 gal/ac, "
            "divided by 1.1.",
        ),
        ({"carrier_min_value": "20"}, "Least and most carrier are both 20 gal/ac."),
        (
            {"wished_carrier_value": "15", "wished_carrier_unit": "gal/ac"},
            "15 gal/ac</h2>\n  <p>The carrier you wished for.",
        ),
    ],
)
def test_the_page_says_where_its_carrier_comes_from(
    changed: dict[str, str], sentence: str, browser: Client, yard: Any
) -> None:
    assert f"{sentence}" in page(browser, **changed)


def test_room_beyond_the_speeds_that_were_named_is_said_to_be_beyond(
    browser: Client, yard: Any
) -> None:
    beyond = "Part of that is beyond the speeds you named"
    assert f"{beyond}, 6 mph to 9 mph." in page(browser)
    # Between 1 and 40 mph the whole range of the nozzle lies inside what was named.
    wide = page(browser, speed_low_value="1", speed_high_value="40")
    assert "still keeps this nozzle within its limits." in wide
    assert beyond not in wide


def test_a_label_that_is_not_in_force_says_so_and_stands_last(browser: Client, yard: Any) -> None:
    for edition, begins, ends in (
        ("2024-01", date(2024, 1, 1), None),  # a newer one took its place
        ("2023-01", date(2023, 1, 1), date(2023, 12, 31)),
        ("2999-01", date(2999, 1, 1), None),
    ):
        make.LabelEditionFactory(
            product=yard.product, edition=edition, in_force_from=begins, in_force_to=ends
        )
    other = make.ProductFactory(business=yard.product.business, name="Zebra")
    make.LabelEditionFactory(product=other, edition="2025-01", in_force_from=date(2025, 1, 1))
    text = browser.get(reverse("plan")).content.decode()
    labels = text[text.index('<select name="label"') :].split("</select>")[0]
    assert re.findall(r"<option[^>]*>([^<]*)</option>", labels) == [
        "no label chosen",
        "Leafkill, label 2025-11",
        "Zebra, label 2025-01",
        "Leafkill, label 2999-01 (not yet in force)",
        "Leafkill, label 2024-01 (no longer in force)",
        "Leafkill, label 2023-01 (no longer in force)",
    ]


@pytest.mark.parametrize(("value", "unit"), [("12.25", "gal/ac"), ("140", "L/ha")])
def test_the_carrier_wished_for_goes_along_as_it_was_entered(
    value: str, unit: str, browser: Client, yard: Any
) -> None:
    text = page(browser, wished_carrier_value=value, wished_carrier_unit=unit)
    assert f"What fits at {value} {unit}" in text
    assert f'name="planned_carrier" value="{value} {unit}"' in text


def test_each_choice_begins_a_draft_of_its_own(browser: Client, yard: Any) -> None:
    make.NozzleSetFactory(business=yard.rig.business, rig=yard.rig, nozzle=yard.nozzle)
    ids = re.findall(r'name="id" value="([^"]+)"', page(browser))
    assert len(ids) == len(set(ids)) == 2


def test_the_label_goes_along_to_the_record(browser: Client, yard: Any) -> None:
    hidden = f'<input type="hidden" name="label" value="{yard.label.pk}">'
    text = page(browser, label=str(yard.label.pk), rig=str(yard.rig.pk))
    assert hidden in text
    assert "The draft takes Leafkill too; you write its rate." in text
    assert 'type="hidden" name="label"' not in page(browser, rig=str(yard.rig.pk))


def test_a_table_with_one_pressure_twice_is_named_and_not_guessed_about(
    browser: Client, yard: Any
) -> None:
    row = yard.nozzle.class_rows.first()
    make.NozzleClassRowFactory(nozzle=yard.nozzle, pressure=row.pressure, droplet_class="UC")
    said = complaint(page(browser))
    assert f"{yard.nozzle.name}: its table of droplet classes gives one pressure twice" in said
