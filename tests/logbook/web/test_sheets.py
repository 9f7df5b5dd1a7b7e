"""The pages of bringing in by the sheet: choose, look, confirm; boundaries as files; the map."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils.translation import get_language, override

from logbook.catalog import models as shelf
from logbook.catalog.sheets import jobs
from logbook.records.exchange import columns
from logbook.records.exchange.spreadsheet import as_text
from logbook.tables.cells import guarded, without_guard
from tests import factories as make
from tests.logbook.catalog.sheets.test_reading import workbook

GOOD = b"name,address\nFlat Creek,12 Road\nHill,9 Way\n"


def sent(browser: Client, raw: bytes, kind: str = "customers", name: str = "c.csv") -> str:
    """Return the address of the report, after the growing page has come to its end."""
    answer = browser.post(
        reverse("sheets-look", args=[kind]), {"file": SimpleUploadedFile(name, raw)}
    )
    page = b"".join(answer.streaming_content).decode()
    assert "See what it came to" in page
    target = str(answer["Refresh"].partition("url=")[2])
    assert answer["Refresh"].startswith("0;")
    return target


def written(browser: Client, address: str, **post: str) -> str:
    """Return the page of the report after the deed."""
    answer = browser.post(f"{address}write/", post)
    b"".join(answer.streaming_content)
    return browser.get(address).content.decode()


def test_a_file_is_looked_at_then_written_once(browser: Client, business: Any) -> None:
    address = sent(browser, GOOD)
    page = browser.get(address).content.decode()
    assert "Write 2 new customers" in page
    assert not shelf.Customer.objects.exists()
    assert "2 new customers written" in written(browser, address)
    assert "2 new customers written" in written(browser, address)
    assert shelf.Customer.objects.within(business).count() == 2


def test_bad_rows_are_named_and_there_is_no_button(browser: Client) -> None:
    address = sent(browser, b"name,address\n,12 Road\n<b>A,\n")
    page = browser.get(address).content.decode()
    assert "2 places cannot be taken" in page
    assert "Row 2" in page
    assert "It is needed." in page
    assert "<b>A" not in page
    assert "write/" not in page
    assert "bad row" in written(browser, address)
    assert not shelf.Customer.objects.exists()


def test_what_is_said_while_the_answer_streams_is_in_the_language_of_the_page(
    browser: Client, owner: Any
) -> None:
    type(owner.user).objects.filter(pk=owner.user.pk).update(language="es")
    rows = "".join(f"Farm {n},Road\n" for n in range(jobs.STEP))
    raw = f"name,address\n{rows},12 Road\n".encode()
    answer = browser.post(
        reverse("sheets-look", args=["customers"]), {"file": SimpleUploadedFile("c.csv", raw)}
    )
    before = get_language()
    with override("en"):
        text = b"".join(answer.streaming_content).decode()
        assert get_language() == "en"
    assert get_language() == before
    assert "2,000 de 2,001 filas" in text
    page = browser.get(answer["Refresh"].partition("url=")[2]).content.decode()
    assert "Hace falta." in page
    answer = browser.post(f"{answer['Refresh'].partition('url=')[2]}write/")
    text = b"".join(answer.streaming_content).decode()
    assert "Examine primero el archivo" in text


def test_a_refused_file_says_why(browser: Client) -> None:
    page = browser.get(sent(browser, b"nam,address\nA,B\n")).content.decode()
    assert "“nam” is not known" in page


def test_rows_that_say_otherwise_are_shown_and_changed_only_when_asked(
    browser: Client, business: Any
) -> None:
    row = make.CustomerFactory(business=business, name="Hill", address="old")
    address = sent(browser, GOOD)
    page = browser.get(address).content.decode()
    assert "Says otherwise than the shelf" in page
    assert 'name="change"' in page
    written(browser, address, change="yes")
    row.refresh_from_db()
    assert row.address == "9 Way"


def test_what_one_looked_at_no_other_can_write(
    browser: Client, browser_of: Any, stranger: Any, helper: Any, office: Any
) -> None:
    address = sent(browser, GOOD)
    for actor, status in ((stranger, 404), (office, 404), (helper, 403)):
        other = browser_of(actor)
        assert other.get(address).status_code == status
        assert other.post(f"{address}write/").status_code == status
        assert other.post(f"{address}look/").status_code == status
    assert not shelf.Customer.objects.exists()


def test_a_helper_may_neither_choose_nor_send(browser_of: Any, helper: Any) -> None:
    other = browser_of(helper)
    for kind in ("customers", "fields"):
        assert other.get(reverse("sheets", args=[kind])).status_code == 403
        assert other.post(reverse("sheets-look", args=[kind])).status_code == 403


def test_an_empty_choice_and_an_unknown_kind_are_refused(browser: Client) -> None:
    answer = browser.post(reverse("sheets-look", args=["customers"]))
    assert answer.status_code == 303
    assert "Choose the file first" in browser.get("/").content.decode()
    assert browser.get(reverse("sheets", args=["wishes"])).status_code == 404


@pytest.mark.parametrize("kind", ["customers", "fields", "products", "nozzles"])
def test_each_kind_has_its_page_and_its_templates(browser: Client, kind: str) -> None:
    page = browser.get(reverse("sheets", args=[kind])).content.decode()
    assert "The columns" in page
    assert (
        f'href="{reverse("sheets", args=[kind])}"'
        in browser.get(reverse("shelf-list", args=[kind])).content.decode()
    )
    for ending in ("csv", "xlsx"):
        answer = browser.get(reverse("sheets-template", args=[kind, ending]))
        assert f"{kind}-template.{ending}" in answer["Content-Disposition"]
        address = sent(browser, answer.content, kind, f"t.{ending}")
        assert "without the example row" in browser.get(address).content.decode()
    assert browser.get(f"/exchange/sheets/{kind}/template.ods").status_code == 404


def test_records_come_from_a_workbook_as_from_the_csv(
    browser: Client, owner: Any, signed: Any
) -> None:
    taken = browser.get(reverse("exchange-csv"))
    text = b"".join(taken.streaming_content).decode()
    rows = columns.strict.csv_rows(text)
    raw = workbook(*(cells for _line, cells in rows))
    answer = browser.post(
        reverse("exchange-look"), {"file": SimpleUploadedFile("records.xlsx", raw)}
    )
    assert answer.status_code == 200
    assert answer.context["report"].count("there already") == 1


def test_a_sheet_of_records_keeps_its_row_numbers_and_our_own_csv_its_bytes() -> None:
    ours = b"version,record_id\r\n1,'=x\r\n"
    assert as_text(ours, most_records=10) is ours
    assert as_text(b'{"records": []}', most_records=10) == b'{"records": []}'
    theirs = "version;record_id\n\n1;é\n".encode("cp1252")
    assert as_text(theirs, most_records=10).decode() == "version,record_id\r\n\r\n1,é\r\n"


@pytest.mark.parametrize("text", ["=1+1", "-5 rows", "'quoted'", "@corner", "plain", "'=x"])
def test_our_csv_saved_as_a_workbook_by_another_program_gives_the_texts_back(text: str) -> None:
    """A program that opens a CSV takes each cell as it stands, apostrophe and all."""
    ours = f"version,record_id\r\n1.0,{guarded(text)}\r\n"
    book = openpyxl.Workbook()
    for row in csv.reader(io.StringIO(ours)):
        book.active.append(row)
    saved = io.BytesIO()
    book.save(saved)
    again = as_text(saved.getvalue(), most_records=10).decode()
    assert again == ours
    assert [without_guard(cell) for cell in list(csv.reader(io.StringIO(again)))[1]] == [
        "1.0",
        text,
    ]


def test_the_template_of_records_passes_over_its_example(browser: Client, owner: Any) -> None:
    for ending in ("csv", "xlsx"):
        raw = browser.get(reverse("sheets-template", args=["records", ending])).content
        answer = browser.post(
            reverse("exchange-look"), {"file": SimpleUploadedFile(f"r.{ending}", raw)}
        )
        assert answer.status_code == 200
        assert answer.context["report"].outcomes == ()


@pytest.mark.parametrize("ending", ["geojson", "kml", "zip"])
def test_boundaries_are_taken_out_of_the_own_business_alone(
    browser: Client, business: Any, other_business: Any, yard: Any, ending: str
) -> None:
    other = make.FieldFactory(business=other_business, name="Secret field")
    address = reverse("boundaries", args=[ending])
    answer = browser.get(address)
    assert answer.status_code == 200
    assert b"Secret" not in answer.content
    assert browser.get(address, {"field": str(yard.field.pk)}).status_code == 200
    assert browser.get(address, {"field": str(other.pk)}).status_code == 404
    assert browser.get(address, {"field": "x"}).status_code == 303
    assert browser.get(address, {"customer": str(other.customer_id)}).status_code == 303
    if ending == "geojson":
        (feature,) = json.loads(answer.content)["features"]
        assert feature["properties"]["name"] == "North L"


def test_the_page_of_a_field_shows_what_is_near_and_the_files(
    browser: Client, business: Any, other_business: Any, yard: Any
) -> None:
    make.SensitivePlaceFactory(business=business, name="Mill pond")
    page = browser.get(f"/shelf/fields/{yard.field.pk}/").content.decode()
    assert "Mill pond" in page
    assert "Map of North L" in page
    assert f"{reverse('boundaries', args=['kml'])}?field={yard.field.pk}" in page


def test_a_draft_shows_the_map_with_its_wind_and_a_sealed_record_does_not(
    browser: Client, business: Any, clean_draft: Any
) -> None:
    make.SensitivePlaceFactory(business=business, name="Mill pond")
    page = browser.get(reverse("record", args=[clean_draft.pk])).content.decode()
    assert "Mill pond" in page
    # The wind of the clean draft comes from 290°; the pond lies to the east of the field.
    assert "downwind" in page


def test_a_sealed_record_shows_its_own_sketch(browser: Client, business: Any, signed: Any) -> None:
    make.SensitivePlaceFactory(business=business, name="Mill pond")
    page = browser.get(reverse("record", args=[signed.pk])).content.decode()
    assert "Mill pond" not in page
    assert "Sketch of North L" in page


@pytest.mark.parametrize(
    ("shape", "kept"),
    [
        ("47.1034, -97.19", {"type": "Point", "coordinates": [-97.19, 47.1034]}),
        (
            '{"type": "Feature", "geometry": {"type": "Point", "coordinates": [-97.1, 47]}}',
            {"type": "Point", "coordinates": [-97.1, 47]},
        ),
    ],
)
def test_a_sensitive_place_is_written_down(
    browser: Client, business: Any, shape: str, kept: Any
) -> None:
    post = {"name": "Pond", "kind": "water", "shape": shape, "keep_off_value": "100"}
    post["keep_off_unit"] = "ft"
    assert browser.post(reverse("shelf-new", args=["places"]), post).status_code == 302
    row = shelf.SensitivePlace.objects.get(business=business)
    assert row.shape == kept
    assert (row.west, row.north) == (kept["coordinates"][0], kept["coordinates"][1])
    assert "47" in browser.get(f"/shelf/places/{row.pk}/").content.decode()


@pytest.mark.parametrize(
    ("shape", "words"),
    [
        ("by the creek", "Write latitude and longitude"),
        ("97.1, 47.1", "between −90 and 90"),
        ('{"type": "FeatureCollection", "features": []}', "this holds 0"),
        ('{"type": "Point", "coordinates": "x"}', "no lists of positions"),
        ('{"type": "Circle", "coordinates": [1, 2]}', "one of Point"),
    ],
)
def test_a_sensitive_place_that_is_nowhere_is_refused(
    browser: Client, shape: str, words: str
) -> None:
    answer = browser.post(
        reverse("shelf-new", args=["places"]), {"name": "P", "kind": "water", "shape": shape}
    )
    assert answer.status_code == 422
    assert words in answer.content.decode()


def test_a_zipped_shapefile_is_taken_by_the_form_of_a_field(
    browser: Client, yard: Any, tmp_path: Any
) -> None:
    from tests.logbook.catalog.sheets.test_shapes import shapefile
    from tests.logbook.web.posts import good_post

    raw = shapefile(make.L_SHAPE, "EPSG:26914", folder=tmp_path)
    chosen = SimpleUploadedFile("bench.zip", raw)
    post = {**good_post("fields", yard), "boundary": "", "boundary_file": chosen}
    assert browser.post("/shelf/fields/new/", post).status_code == 302
    field = shelf.Field.objects.get(name="South bench")
    assert field.area_ha == pytest.approx(50.63, abs=0.01)


def test_a_damaged_shapefile_is_named_beside_its_input(browser: Client, yard: Any) -> None:
    from tests.logbook.web.posts import good_post

    chosen = SimpleUploadedFile("bench.zip", b"PK\x03\x04 cut off")
    post = {**good_post("fields", yard), "boundary": "", "boundary_file": chosen}
    answer = browser.post("/shelf/fields/new/", post)
    assert answer.status_code == 422
    assert "The zip is damaged" in answer.content.decode()
