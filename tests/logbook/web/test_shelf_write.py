"""Writing on the shelf: new rows and changes, refusals with their sentences, nothing half done."""

from __future__ import annotations

import json
import re
import uuid
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import QueryDict
from django.test import Client
from django.utils import timezone

from calc.units import UNITS
from logbook.accounts.services import PEOPLE
from logbook.catalog import models as shelf
from logbook.catalog.services import SHELVES
from logbook.errors.exceptions import RefusedInput
from logbook.facts.quantity import Absence, Nothing
from logbook.facts.units import usual_unit
from logbook.forms.rows import MAX_ROWS, NOT_WHOLE, Sheet
from logbook.localization.places import offered
from logbook.tenancy.rows import fingerprint
from logbook.web.catalog.kinds import KINDS
from tests import factories as make
from tests.factories import L_SHAPE, q
from tests.logbook.web.posts import answer, as_shown, good_post, rows

pytestmark = pytest.mark.django_db


def rows_in(kind: str, actor: Any) -> Any:
    return KINDS[kind].rows(actor=actor)


def complaints(response: Any) -> str:
    """Return what the page says cannot be taken."""
    assert response.status_code == 422, response.content.decode()
    text = response.content.decode()
    assert "Nothing was saved." in text
    return " ".join(re.findall(r"<li>(.*?)</li>", text)).replace("&quot;", '"')


@pytest.mark.parametrize("kind", KINDS)
def test_a_new_row_is_written_down_and_shown(
    kind: str, browser: Client, owner: Any, yard: Any
) -> None:
    before = rows_in(kind, owner).count()
    row_id = uuid.uuid4()
    response = browser.post(f"/shelf/{kind}/new/", {"row_id": row_id, **good_post(kind, yard)})
    assert response.status_code == 302, complaints(response)
    assert response["Location"] == f"/shelf/{kind}/{row_id}/"
    assert rows_in(kind, owner).count() == before + 1
    assert "is written down." in browser.get(response["Location"]).content.decode()


@pytest.mark.parametrize("kind", KINDS)
def test_sending_twice_makes_one_row(kind: str, browser: Client, owner: Any, yard: Any) -> None:
    before = rows_in(kind, owner).count()
    post = {"row_id": uuid.uuid4(), **good_post(kind, yard)}
    for _ in range(2):
        assert browser.post(f"/shelf/{kind}/new/", post).status_code == 302
    assert rows_in(kind, owner).count() == before + 1


@pytest.mark.parametrize("kind", KINDS)
def test_a_row_can_be_saved_as_it_is_shown_and_stays_the_same(
    kind: str, browser: Client, owner: Any, yard: Any
) -> None:
    row = rows_in(kind, owner)[0]
    before = fingerprint(row, KINDS[kind].lists)
    address = f"/shelf/{kind}/{row.pk}/edit/"
    response = browser.post(address, as_shown(browser, address))
    assert response.status_code == 302, complaints(response)
    assert fingerprint(rows_in(kind, owner).get(pk=row.pk), KINDS[kind].lists) == before


@pytest.mark.parametrize("kind", KINDS)
def test_going_back_to_write_another_row_does_not_overwrite_the_first(
    kind: str, browser: Client, owner: Any, yard: Any
) -> None:
    column = next(
        name
        for name in ("name", "edition", "tested_by", "removed_on")
        if name in KINDS[kind].form.columns()
    )
    post = {"row_id": uuid.uuid4(), **good_post(kind, yard)}
    assert browser.post(f"/shelf/{kind}/new/", post).status_code == 302
    first = rows_in(kind, owner).get(pk=post["row_id"])
    before = fingerprint(first, KINDS[kind].lists)
    typed = "2026-07-09" if column == "removed_on" else "Another one 8003"
    response = browser.post(f"/shelf/{kind}/new/", {**post, column: typed})
    text = response.content.decode()
    assert response.status_code == 409
    assert f"This page has already written down a {KINDS[kind].one}, with other words." in text
    assert f'href="/shelf/{kind}/{first.pk}/"' in text
    assert f'value="{typed}"' in text
    assert fingerprint(rows_in(kind, owner).get(pk=first.pk), KINDS[kind].lists) == before


def test_going_back_to_take_a_hanging_row_away_does_not_overwrite(
    browser: Client, owner: Any, yard: Any
) -> None:
    post = {"row_id": uuid.uuid4(), **good_post("fields", yard)}
    assert browser.post("/shelf/fields/new/", post).status_code == 302
    response = browser.post("/shelf/fields/new/", {**post, **rows("plantings")})
    assert response.status_code == 409
    assert rows_in("fields", owner).get(pk=post["row_id"]).plantings.count() == 1


def test_sending_a_new_row_twice_keeps_the_rows_that_hang_on_it(
    browser: Client, owner: Any, yard: Any
) -> None:
    post = {"row_id": uuid.uuid4(), **good_post("fields", yard)}
    found = []
    for _ in range(2):
        assert browser.post("/shelf/fields/new/", post).status_code == 302
        field = rows_in("fields", owner).get(pk=post["row_id"])
        found.append([planting.pk for planting in field.plantings.all()])
    assert found[0] == found[1]


def test_a_window_left_open_does_not_undo_what_was_written_since(
    browser: Client, yard: Any
) -> None:
    address = f"/shelf/fields/{yard.field.pk}/edit/"
    left_open = as_shown(browser, address)
    make.PlantingFactory(field=yard.field, season=2027, crop="oats")
    response = browser.post(address, {**left_open, "name": "Old idea"})
    text = response.content.decode()
    assert response.status_code == 409
    assert "This field was changed elsewhere after this page was opened." in text
    assert 'value="Old idea"' in text
    yard.field.refresh_from_db()
    assert yard.field.name == "North L"
    assert yard.field.plantings.filter(crop="oats").exists()
    # It stays refused: saving again from the same window is not a decision to overwrite.
    again = {**left_open, "name": "Old idea"}
    assert browser.post(address, again).status_code == 409


def test_a_window_whose_hanging_row_is_gone_is_told_so(browser: Client, yard: Any) -> None:
    address = f"/shelf/fields/{yard.field.pk}/edit/"
    left_open = as_shown(browser, address)
    yard.planting.delete()
    response = browser.post(address, left_open)
    assert response.status_code == 409
    assert b"This field was changed elsewhere" in response.content
    assert not yard.field.plantings.exists()


def test_a_change_sent_twice_is_one_change(browser: Client, yard: Any) -> None:
    address = f"/shelf/fields/{yard.field.pk}/edit/"
    post = {**as_shown(browser, address), "name": "South end"}
    for _ in range(2):
        assert browser.post(address, post).status_code == 302


def test_a_change_without_its_fingerprint_is_refused(browser: Client, yard: Any) -> None:
    address = f"/shelf/fields/{yard.field.pk}/edit/"
    post = {**as_shown(browser, address), "name": "South end"}
    del post["seen"]
    assert browser.post(address, post).status_code == 409


@pytest.mark.parametrize("kind", KINDS)
def test_page_and_service_take_the_fingerprint_over_the_same_lists(kind: str) -> None:
    shape = PEOPLE if kind == "people" else SHELVES[kind]
    assert set(shape.children) == set(KINDS[kind].lists)


@pytest.mark.parametrize("kind", KINDS)
def test_an_empty_form_names_what_is_needed_and_writes_nothing(
    kind: str, browser: Client, owner: Any, yard: Any
) -> None:
    before = rows_in(kind, owner).count()
    blank = {k: v for name in KINDS[kind].lists for k, v in rows(name).items()}
    text = complaints(browser.post(f"/shelf/{kind}/new/", blank))
    for name in KINDS[kind].form.columns():
        field = KINDS[kind].form.base_fields[name]
        assert (f"{field.label} is needed." in text) == field.required
    assert rows_in(kind, owner).count() == before


@pytest.mark.parametrize("kind", KINDS)
def test_a_helper_may_neither_open_nor_send_the_form(
    kind: str, browser_of: Any, helper: Any, yard: Any
) -> None:
    client = browser_of(helper)
    row = rows_in(kind, helper)[0]
    before = rows_in(kind, helper).count()
    for address in (f"/shelf/{kind}/new/", f"/shelf/{kind}/{row.pk}/edit/"):
        assert client.get(address).status_code == 403
        response = client.post(address, good_post(kind, yard))
        assert response.status_code == 403
        assert b"As helper you may not change" in response.content
    assert rows_in(kind, helper).count() == before


@pytest.mark.parametrize("kind", KINDS)
def test_a_row_of_another_business_can_be_neither_opened_nor_changed(
    kind: str, browser_of: Any, stranger: Any, owner: Any, yard: Any
) -> None:
    row = rows_in(kind, owner)[0]
    client = browser_of(stranger)
    address = f"/shelf/{kind}/{row.pk}/edit/"
    assert client.get(address).status_code == 404
    assert client.post(address, good_post(kind, yard)).status_code == 404
    assert str(rows_in(kind, owner).get(pk=row.pk)) == str(row)


@pytest.mark.parametrize(
    ("kind", "column", "label"),
    [
        ("fields", "customer", "customer"),
        ("labels", "product", "product"),
        ("nozzle-sets", "rig", "rig"),
        ("nozzle-sets", "nozzle", "nozzle"),
        ("catch-tests", "nozzle_set", "nozzle set"),
    ],
)
def test_a_reference_into_another_business_is_refused(
    kind: str, column: str, label: str, browser_of: Any, stranger: Any, yard: Any
) -> None:
    client = browser_of(stranger)
    assert str(getattr(yard, column).pk) not in client.get(f"/shelf/{kind}/new/").content.decode()
    text = complaints(client.post(f"/shelf/{kind}/new/", good_post(kind, yard)))
    assert f"There is no such {label} here." in text
    assert rows_in(kind, stranger).count() == 0


def test_an_id_of_another_business_cannot_be_taken_for_a_new_row(
    browser_of: Any, stranger: Any, yard: Any
) -> None:
    post = {"row_id": yard.customer.pk, **good_post("customers", yard)}
    response = browser_of(stranger).post("/shelf/customers/new/", post)
    assert "This id is taken; choose another." in complaints(response)
    yard.customer.refresh_from_db()
    assert yard.customer.name != "Alder Farm"


def test_a_form_opened_from_a_row_begins_with_that_row(browser: Client, yard: Any) -> None:
    text = browser.get(f"/shelf/labels/new/?product={yard.product.pk}").content.decode()
    assert f'<option value="{yard.product.pk}" selected>' in text


def test_units_stand_ready_in_the_system_of_the_person(
    browser: Client, owner: Any, yard: Any
) -> None:
    assert '<option value="gal" selected>' in browser.get("/shelf/rigs/new/").content.decode()
    owner.user.unit_system = "metric"
    owner.user.save()
    text = browser.get("/shelf/rigs/new/").content.decode()
    assert '<option value="L" selected>' in text
    # A gauge may be good to within a pressure or a percentage: nothing stands ready.
    assert '<option value="%" selected>' not in text


def test_a_number_without_a_unit_is_refused_and_kept_on_the_page(
    browser: Client, yard: Any
) -> None:
    post = {**good_post("rigs", yard), **answer("tank", "1000", "")}
    response = browser.post("/shelf/rigs/new/", post)
    assert "1000 needs its unit." in complaints(response)
    assert 'value="1000"' in response.content.decode()
    assert 'value="no second gauge"' in response.content.decode()


def test_an_error_is_tied_to_its_inputs(browser: Client, yard: Any) -> None:
    post = {**good_post("rigs", yard), "name": "", **answer("tank", "-3", "gal")}
    text = browser.post("/shelf/rigs/new/", post).content.decode()
    assert 'aria-describedby="id_name_error"' in text
    assert 'id="id_name_error"' in text
    assert 'aria-labelledby="id_tank_label" aria-describedby="id_tank_error"' in text
    assert "-3 gal is not possible; it must be more than 0 gal." in text


def test_not_measured_is_an_answer_and_needs_its_reason(
    browser: Client, business: Any, yard: Any
) -> None:
    post = good_post("rigs", yard)
    text = complaints(browser.post("/shelf/rigs/new/", {**post, "line_loss_reason": ""}))
    assert '"not measured" needs the reason why it was not measured.' in text
    assert browser.post("/shelf/rigs/new/", post).status_code == 302
    rig = shelf.Rig.objects.get(name="Rig 2")
    assert rig.line_loss == Nothing(Absence.NOT_MEASURED, "no second gauge")


# --- rows that hang on a form ---------------------------------------------------------------------


def test_a_row_more_keeps_what_was_typed_and_saves_nothing(
    browser: Client, owner: Any, yard: Any
) -> None:
    post = {**good_post("nozzles", yard), "name": "", "add-row-class_rows": "1"}
    before = rows_in("nozzles", owner).count()
    response = browser.post("/shelf/nozzles/new/", post)
    text = response.content.decode()
    assert response.status_code == 200
    assert 'name="class_rows-TOTAL_FORMS" value="3"' in text
    assert '<option value="VC" selected>' in text
    assert 'name="rated_flow_value" value="0.40"' in text
    assert "errorlist" not in text
    assert rows_in("nozzles", owner).count() == before


def test_the_row_more_stands_as_blank_as_a_first_one(browser: Client, yard: Any) -> None:
    post = {**good_post("people", yard), "add-row-licences": "1"}
    text = browser.post("/shelf/people/new/", post).content.decode()
    assert re.search(
        r'name="licences-1-certified"[^>]*>\s*<option value="unknown" selected>not said<', text
    )
    post = {**good_post("nozzles", yard), "add-row-class_rows": "1"}
    text = browser.post("/shelf/nozzles/new/", post).content.decode()
    assert re.search(r'name="class_rows-2-pressure_unit".*?"psi" selected', text, re.DOTALL)


def test_a_blank_row_more_is_no_row(browser: Client, owner: Any, yard: Any) -> None:
    post = good_post("people", yard)
    blank = {"licences-TOTAL_FORMS": "2", "licences-1-certified": "unknown"}
    assert browser.post("/shelf/people/new/", {**post, **blank}).status_code == 302
    person = KINDS["people"].rows(actor=owner).get(name="B. Lind")
    assert person.licences.count() == 1


def test_rows_are_kept_changed_struck_out_and_added_in_one_go(
    browser: Client, business: Any, yard: Any
) -> None:
    kept, gone, *rest = yard.nozzle.class_rows.all()
    for row in rest:
        row.delete()
    address = f"/shelf/nozzles/{yard.nozzle.pk}/edit/"
    post = {
        **as_shown(browser, address),
        **good_post("nozzles", yard),
        **rows(
            "class_rows",
            {"id": kept.pk, **answer("pressure", "16", "psi"), "droplet_class": "VC"},
            {
                "id": gone.pk,
                **answer("pressure", "20", "psi"),
                "droplet_class": "C",
                "DELETE": "on",
            },
            {**answer("pressure", "90", "psi"), "droplet_class": "F"},
            standing=2,
        ),
    }
    response = browser.post(address, post)
    assert response.status_code == 302, complaints(response)
    found = [(str(row.pressure), row.droplet_class) for row in yard.nozzle.class_rows.all()]
    assert found == [("16 psi", "VC"), ("90 psi", "F")]
    assert yard.nozzle.class_rows.first().pk == kept.pk


def test_one_bad_row_leaves_everything_as_it_was(browser: Client, yard: Any) -> None:
    address = f"/shelf/fields/{yard.field.pk}/edit/"
    post = {
        **as_shown(browser, address),
        "name": "South bench",
        "plantings-TOTAL_FORMS": "2",
        "plantings-1-season": "1066",
        "plantings-1-crop": "barley",
    }
    text = complaints(browser.post(address, post))
    assert "greater than or equal to 1990" in text
    yard.field.refresh_from_db()
    assert yard.field.name == "North L"
    assert [str(planting) for planting in yard.field.plantings.all()] == ["soybean 2026"]


def test_a_row_that_a_record_uses_cannot_be_struck_out(
    browser: Client, yard: Any, clean_draft: Any
) -> None:
    address = f"/shelf/fields/{yard.field.pk}/edit/"
    post = {**as_shown(browser, address), "name": "South bench", "plantings-0-DELETE": "on"}
    text = complaints(browser.post(address, post))
    assert "It is used by a record" in text
    yard.field.refresh_from_db()
    assert yard.field.name == "North L"


def test_rows_of_another_row_cannot_be_pulled_over(browser: Client, yard: Any) -> None:
    elsewhere = make.PlantingFactory(field=make.FieldFactory(business=yard.field.business))
    address = f"/shelf/fields/{yard.field.pk}/edit/"
    pulled = {"plantings-0-id": elsewhere.pk, "plantings-0-crop": "oats"}
    complaints(browser.post(address, {**as_shown(browser, address), **pulled}))
    elsewhere.refresh_from_db()
    assert elsewhere.crop == "soybean"


def test_a_form_without_its_count_of_rows_is_refused(browser: Client, yard: Any) -> None:
    post = good_post("labels", yard)
    del post["ingredients-TOTAL_FORMS"]
    assert str(NOT_WHOLE) in complaints(browser.post("/shelf/labels/new/", post))


@pytest.mark.parametrize(
    "counts",
    [
        {"plantings-TOTAL_FORMS": "-1"},
        {"plantings-TOTAL_FORMS": "0"},
        {"plantings-TOTAL_FORMS": ""},
        {"plantings-TOTAL_FORMS": "9" * 5000},
        {"plantings-INITIAL_FORMS": "0"},
        {"plantings-INITIAL_FORMS": "-1"},
        {"plantings-INITIAL_FORMS": ""},
        {"plantings-TOTAL_FORMS": "0", "plantings-INITIAL_FORMS": "0"},
        {"plantings-0-id": ""},
        {"plantings-0-id": "9" * 30},
        {"plantings-1-id": "same"},
    ],
)
def test_counts_that_disagree_with_the_rows_take_no_row_away(
    counts: dict[str, str], browser: Client, yard: Any
) -> None:
    other = make.PlantingFactory(field=yard.field, season=2025, crop="oats")
    address = f"/shelf/fields/{yard.field.pk}/edit/"
    post = as_shown(browser, address)
    if counts.get("plantings-1-id") == "same":
        counts = {"plantings-1-id": post["plantings-0-id"]}
    text = complaints(browser.post(address, {**post, "name": "Other", **counts}))
    assert str(NOT_WHOLE) in text
    assert {other, yard.planting} == set(yard.field.plantings.all())


@pytest.mark.parametrize("count", ["9" * 5000, "²", "-1", "many"])
def test_a_count_that_is_none_adds_no_row(count: str, browser: Client, yard: Any) -> None:
    post = {**good_post("nozzles", yard), "class_rows-TOTAL_FORMS": count}
    response = browser.post("/shelf/nozzles/new/", {**post, "add-row-class_rows": "1"})
    assert response.status_code == 200


def test_as_many_rows_as_a_list_takes_can_be_sent(browser: Client, owner: Any, yard: Any) -> None:
    lines = [{**answer("pressure", f"{10 + n}", "psi"), "droplet_class": "C"} for n in range(200)]
    post = {**good_post("nozzles", yard), **rows("class_rows", *lines)}
    address = "/shelf/nozzles/new/"
    response = browser.post(address, {"row_id": uuid.uuid4(), **post})
    assert response.status_code == 302, complaints(response)
    edit = response["Location"] + "edit/"
    assert browser.post(edit, as_shown(browser, edit)).status_code == 302


@pytest.mark.parametrize("kind", KINDS)
def test_no_full_form_has_more_inputs_than_the_server_reads(kind: str, settings: Any) -> None:
    def inputs(form: Any) -> int:
        # The answers have the most inputs: number, unit and reason.
        return 3 * len(form.base_fields)

    lists = KINDS[kind].lists.values()
    # Beside the fields of a row, its id and the box that removes it.
    most = inputs(KINDS[kind].form) + sum(MAX_ROWS * (inputs(one.form) + 2) for one in lists)
    assert most < settings.DATA_UPLOAD_MAX_NUMBER_FIELDS


def test_a_list_has_an_end(browser: Client, yard: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("logbook.forms.rows.MAX_ROWS", 5)
    for there, shown in (("4", "5"), ("5", "5")):
        post = {**good_post("nozzles", yard), "class_rows-TOTAL_FORMS": there}
        text = browser.post("/shelf/nozzles/new/", post | {"add-row-class_rows": ""}).content
        assert f'name="class_rows-TOTAL_FORMS" value="{shown}"' in text.decode()


def test_what_only_the_service_finds_stands_beside_its_line(business: Any, yard: Any) -> None:
    sheet = Sheet(KINDS["fields"].form, {}, business=business, system="us", data=QueryDict("name="))
    sheet.take(RefusedInput({"name": ["Not this name."], "plantings.0.crop": ["Not this crop."]}))
    assert "Not this name." in sheet.form.errors["name"]
    assert sheet.form.non_field_errors() == ["plantings 0 crop: Not this crop."]


# --- what each kind reads ------------------------------------------------------------------------


def test_a_boundary_comes_from_a_file_before_pasted_text(
    browser: Client, business: Any, yard: Any
) -> None:
    feature = {
        "type": "FeatureCollection",
        "features": [{"type": "Feature", "properties": {}, "geometry": L_SHAPE}],
    }
    chosen = SimpleUploadedFile("bench.geojson", json.dumps(feature).encode())
    post = {**good_post("fields", yard), "boundary": "", "boundary_file": chosen}
    assert browser.post("/shelf/fields/new/", post).status_code == 302
    field = shelf.Field.objects.get(name="South bench")
    assert field.boundary == L_SHAPE
    assert field.area_ha == pytest.approx(50.63, abs=0.01)  # the factory's L, by pyproj


def test_a_chosen_file_is_not_lost_when_the_form_comes_back(browser: Client, yard: Any) -> None:
    chosen = SimpleUploadedFile("bench.geojson", json.dumps(L_SHAPE).encode())
    post = {**good_post("fields", yard), "boundary": "", "boundary_file": chosen}
    text = browser.post("/shelf/fields/new/", {**post, "add-row-locations": "1"}).content.decode()
    assert "-97.195, 47.104" in text


def test_several_shapes_of_a_file_are_one_field(browser: Client, yard: Any) -> None:
    other = {
        "type": "MultiPolygon",
        "coordinates": [[[[-97.1, 47.1], [-97.09, 47.1], [-97.09, 47.11], [-97.1, 47.1]]]],
    }
    both = {
        "type": "FeatureCollection",
        "features": [{"type": "Feature", "geometry": shape} for shape in (L_SHAPE, other)],
    }
    post = {**good_post("fields", yard), "boundary": json.dumps(both)}
    assert browser.post("/shelf/fields/new/", post).status_code == 302
    field = shelf.Field.objects.get(name="South bench")
    assert field.boundary["type"] == "MultiPolygon"
    assert len(field.boundary["coordinates"]) == 2


@pytest.mark.parametrize(
    ("pasted", "sentence"),
    [
        ("POLYGON((1 2))", "This is not GeoJSON: it cannot be read as JSON."),
        ("[]", "There is no shape in this GeoJSON"),
        ('{"type": "FeatureCollection", "features": 3}', "There is no shape in this GeoJSON"),
        ('{"type": "FeatureCollection"}', "There is no shape in this GeoJSON"),
        ("[" * 100_000, "nested too deep"),
        ('{"type":"Feature","geometry":' * 900 + "null" + "}" * 900, "nested too deep"),
        ("[[-97.2, 47.1], [-97.1, 47.1]]", "These are bare coordinates. Write them as GeoJSON"),
        ("-97.2, 47.1\n-97.1, 47.1", "These are bare coordinates. Write them as GeoJSON"),
        ("47°06' N 97°12' W", "These are bare coordinates. Write them as GeoJSON"),
        (
            '{"type": "GeometryCollection", "geometries": ['
            '{"type": "MultiPolygon", "coordinates": 5}, {"type": "Polygon", "coordinates": []}]}',
            "The coordinates of this MultiPolygon are no lists of positions.",
        ),
        ('{"type": "MultiPolygon", "coordinates": 5}', "no lists of positions."),
        ('{"type": "Polygon", "coordinates": [[[NaN, 1]]]}', "no lists of positions."),
        ('{"type": "Polygon", "coordinates": [[[1e400, 1]]]}', "no lists of positions."),
        (f'{{"type": "Polygon", "coordinates": [[[{"9" * 400}, 1]]]}}', "no lists of positions."),
        (f'{{"type": "Polygon", "coordinates": [[[{"9" * 9000}, 1]]]}}', "not GeoJSON"),
        ('{"type": "Polygon", "coordinates": [[[true, 1]]]}', "no lists of positions."),
        ('{"type": "Polygon", "coordinates": []}', " must be "),
        ('{"type": "Polygon", "coordinates": [[]]}', " must be "),
        ('{"type": "Polygon", "coordinates": [5]}', " must be "),
        ('{"type": "MultiPolygon", "coordinates": [[[[]]]]}', " must be "),
        ('{"type": ["Polygon"], "coordinates": []}', "no field"),
        ('{"type": "Point", "coordinates": [1, 2]}', "Polygon"),
        (
            '{"type": "FeatureCollection", "features": ['
            '{"type": "Point", "coordinates": [1, 2]}, {"type": "Point", "coordinates": [1, 2]}]}',
            "A Point is no field; only Polygon and MultiPolygon are.",
        ),
        (
            '{"type": "Polygon", "coordinates": [[[0, 0], [1, 1], [1, 0], [0, 1], [0, 0]]]}',
            "cross",
        ),
    ],
)
def test_a_boundary_that_is_none_is_refused_with_the_reason(
    pasted: str, sentence: str, browser: Client, yard: Any
) -> None:
    post = {**good_post("fields", yard), "boundary": pasted}
    assert sentence in complaints(browser.post("/shelf/fields/new/", post))
    assert not shelf.Field.objects.filter(name="South bench").exists()


def test_the_polygons_of_a_geometry_collection_are_one_field(browser: Client, yard: Any) -> None:
    both = {"type": "GeometryCollection", "geometries": [L_SHAPE]}
    post = {**good_post("fields", yard), "boundary": json.dumps(both)}
    assert browser.post("/shelf/fields/new/", post).status_code == 302
    assert shelf.Field.objects.get(name="South bench").boundary == L_SHAPE


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        # ISO 3166-2:US and 3166-2:CA, from memory; no two of their letters are the same.
        ("North Dakota", "US-ND"),
        ("saskatchewan", "CA-SK"),
        ("ND", "US-ND"),
        ("Québec", "CA-QC"),
        (" district  of columbia ", "US-DC"),
        ("DE-NI", "DE-NI"),
    ],
)
def test_a_place_is_taken_by_name_or_code(
    typed: str, code: str, browser: Client, yard: Any
) -> None:
    post = {**good_post("fields", yard), "place": typed}
    assert browser.post("/shelf/fields/new/", post).status_code == 302
    assert shelf.Field.objects.get(name="South bench").place == code


def test_letters_and_names_of_places_mean_one_each() -> None:
    called = [code[3:] for code in offered()] + [name.upper() for name in offered().values()]
    assert len(set(called)) == len(called)


@pytest.mark.parametrize("typed", ["N DAK", "n.d.", "US", "US-", "U" * 90])
def test_a_place_that_is_none_is_refused_with_what_is_taken(
    typed: str, browser: Client, yard: Any
) -> None:
    post = {**good_post("fields", yard), "place": typed}
    said = complaints(browser.post("/shelf/fields/new/", post))
    assert typed[:60] in said
    assert "write its name, such as North Dakota, or its code of ISO 3166-2, such as US-ND" in said
    assert not shelf.Field.objects.filter(name="South bench").exists()


def test_a_new_field_stands_ready_in_the_place_of_all_the_others(
    browser: Client, yard: Any, other_business: Any
) -> None:
    make.FieldFactory(business=other_business, place="US-TX")
    make.FieldFactory(business=yard.field.business, place="US-ND")

    def ready() -> str:
        found = browser.get("/shelf/fields/new/").context["sheet"].form["place"].value()
        return found or ""

    assert ready() == "US-ND"
    make.FieldFactory(business=yard.field.business, place="US-MN")
    assert ready() == ""
    shelf.Field.objects.within(yard.field.business).update(place="US-SD")
    assert ready() == "US-SD"


def test_codes_of_places_are_offered_and_not_cut_off(browser: Client, yard: Any) -> None:
    text = browser.get("/shelf/fields/new/").content.decode()
    found = re.search(r'<input type="text" name="place"[^>]*>', text)
    assert found
    assert "maxlength" not in found[0]
    assert 'list="id_place_codes"' in found[0]
    assert '<datalist id="id_place_codes">' in text
    assert '<option value="US-ND">North Dakota</option>' in text


def test_a_code_in_small_letters_is_written_large(browser: Client, yard: Any) -> None:
    post = {**good_post("fields", yard), "place": " us-nd "}
    assert browser.post("/shelf/fields/new/", post).status_code == 302
    assert shelf.Field.objects.get(name="South bench").place == "US-ND"


@pytest.mark.parametrize("name", ["Factory", "localtime", "EST", "Mars/Olympus", "../UTC"])
def test_a_time_zone_that_names_no_place_is_refused(name: str, browser: Client, yard: Any) -> None:
    post = {**good_post("fields", yard), "time_zone": name}
    assert "is not a time zone; write it like" in complaints(
        browser.post("/shelf/fields/new/", post)
    )


def test_utc_is_a_time_zone(browser: Client, yard: Any) -> None:
    post = {**good_post("fields", yard), "time_zone": "UTC"}
    assert browser.post("/shelf/fields/new/", post).status_code == 302


def test_a_row_that_may_stay_empty_asks_for_nothing_and_has_this_year(
    browser: Client, business: Any, yard: Any
) -> None:
    text = browser.get("/shelf/fields/new/").content.decode()
    head, _, crops = text.partition('<h2 id="plantings">')
    assert "(needed)" in head.partition('<h2 id="locations">')[0]
    assert "(needed)" not in crops
    year = timezone.now().astimezone(ZoneInfo(business.time_zone)).year
    assert re.search(rf'name="plantings-0-season" value="{year}"', crops)
    # Nothing but the year that stood ready: no crop is written down.
    post = {**as_shown(browser, "/shelf/fields/new/"), "name": "Bare", "place": "US-ND"}
    post["customer"] = yard.customer.pk
    assert browser.post("/shelf/fields/new/", post).status_code == 302
    assert not shelf.Field.objects.get(name="Bare").plantings.exists()


def test_a_crop_more_has_this_year_too(browser: Client, business: Any, yard: Any) -> None:
    post = {**good_post("fields", yard), "add-row-plantings": "1"}
    text = browser.post("/shelf/fields/new/", post).content.decode()
    year = timezone.now().astimezone(ZoneInfo(business.time_zone)).year
    assert f'name="plantings-1-season" value="{year}"' in text


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b" " * 1_000_001])
def test_a_file_that_is_no_text_or_too_large_is_refused(
    content: bytes, browser: Client, yard: Any
) -> None:
    chosen = SimpleUploadedFile("bench.geojson", content)
    post = {**good_post("fields", yard), "boundary": "", "boundary_file": chosen}
    text = complaints(browser.post("/shelf/fields/new/", post))
    assert f"bench.geojson has {len(content)} bytes; a text file of at most 1000000" in text


def test_an_unchanged_field_can_be_saved_again(browser: Client, yard: Any) -> None:
    address = f"/shelf/fields/{yard.field.pk}/edit/"
    post = as_shown(browser, address)
    assert "-97.195, 47.104" in post["boundary"]
    assert browser.post(address, post).status_code == 302


@pytest.mark.parametrize(
    ("name", "size", "angle"),
    [
        ("AI 11004", "04", 110),
        ("110-03 twin", "03", 110),
        ("8004", "04", 80),
        ("Blue tip", "", None),
        ("11004 or 11003", "", None),
        ("Number 99999", "", None),
    ],
)
def test_size_and_angle_are_read_off_the_name_where_left_blank(
    name: str, size: str, angle: int | None, browser: Client, yard: Any
) -> None:
    assert (
        browser.post(
            "/shelf/nozzles/new/", {**good_post("nozzles", yard), "name": name}
        ).status_code
        == 302
    )
    nozzle = shelf.NozzleModel.objects.get(name=name)
    assert (nozzle.size, nozzle.angle) == (size, angle)


def test_what_was_chosen_goes_before_the_name(browser: Client, yard: Any) -> None:
    post = {**good_post("nozzles", yard), "size": "05", "angle": "80"}
    assert browser.post("/shelf/nozzles/new/", post).status_code == 302
    nozzle = shelf.NozzleModel.objects.get(name="AI 11004")
    assert (nozzle.size, nozzle.angle) == ("05", 80)


def test_a_pressure_range_upside_down_is_refused(browser: Client, yard: Any) -> None:
    post = {**good_post("nozzles", yard), **answer("pressure_max", "20", "psi")}
    text = complaints(browser.post("/shelf/nozzles/new/", post))
    assert "20 psi is not above the lowest pressure, 30 psi." in text


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("1.43\n1.40\n\n 1.41 ", ["1.43", "1.40", "1.41"]),
        ("450, 455, 448", ["450", "455", "448"]),
        ("450 455; 448", ["450", "455", "448"]),
    ],
)
def test_volumes_are_read_as_a_column_or_a_list(
    typed: str, read: list[str], browser: Client, yard: Any
) -> None:
    post = {**good_post("catch-tests", yard), "volumes": typed}
    assert browser.post("/shelf/catch-tests/new/", post).status_code == 302
    assert shelf.CatchTest.objects.get(tested_on="2026-06-02").volumes == read


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("1,43\n1,40", "A comma between two digits can be read in two ways."),
        ("1,43", "A comma between two digits can be read in two ways."),
        ("450,455, 448", "A comma between two digits can be read in two ways."),
        ("450, inf", "nozzle 2: “inf” is not a volume."),
        ("1e400, 450", "nozzle 1: “1e400” is not a volume."),
        ("1e-400", "nozzle 1: “1e-400” is not a volume."),
        ("1_000", "nozzle 1: “1_000” is not a volume."),
        ("٣٠", "nozzle 1: “٣٠” is not a volume."),
        ("9" * 400, "is not a volume."),
        ("+450", "nozzle 1: “+450” is not a volume."),
        ("1.4.3", "nozzle 1: “1.4.3” is not a volume."),
        ("450, wet", "nozzle 2: “wet” is not a volume."),
        ("450, 0", "nozzle 2: &#x27;0&#x27; is not a volume above zero"),
        ("", "Volumes is needed."),
    ],
)
def test_volumes_that_cannot_be_read_are_refused(
    typed: str, sentence: str, browser: Client, yard: Any
) -> None:
    post = {**good_post("catch-tests", yard), "volumes": typed}
    assert sentence in complaints(browser.post("/shelf/catch-tests/new/", post))


def test_the_volumes_stand_one_on_a_line_when_changed(browser: Client, yard: Any) -> None:
    text = browser.get(f"/shelf/catch-tests/{yard.catch_test.pk}/edit/").content.decode()
    assert "1505\n1508\n1511" in text


def test_limits_that_contradict_each_other_are_refused(browser: Client, yard: Any) -> None:
    post = {**good_post("labels", yard), **answer("rate_max", "8", "fl oz/ac")}
    text = complaints(browser.post("/shelf/labels/new/", post))
    assert "8 fl oz/ac is less than the lower limit, 16 fl oz/ac." in text


def test_an_edition_that_is_there_already_is_refused(browser: Client, yard: Any) -> None:
    post = {**good_post("labels", yard), "edition": yard.label.edition}
    assert "already exists" in complaints(browser.post("/shelf/labels/new/", post))


def test_every_limit_of_a_label_is_on_its_form() -> None:
    columns = {
        column.name
        for column in shelf.LabelEdition._meta.concrete_fields
        if column.editable and column.name not in ("id", "business", "created_at")
    }
    form = KINDS["labels"].form
    assert set(form.columns()) == columns
    assert {name for _, names in form.sections for name in names} == columns


@pytest.mark.parametrize("kind", KINDS)
def test_every_column_is_on_the_form(kind: str) -> None:
    form = KINDS[kind].form
    columns = {
        column.name
        for column in form._meta.model._meta.concrete_fields
        if column.editable and column.name not in ("id", "business", "created_at")
    }
    assert set(form.columns()) == columns


def test_changing_a_label_says_that_signed_records_keep_their_copy(
    browser: Client, yard: Any, signed: Any
) -> None:
    address = f"/shelf/labels/{yard.label.pk}/edit/"
    assert "Signed records keep the copy that was sealed with them." in (
        browser.get(address).content.decode()
    )
    before = signed.seal.text
    post = {
        **as_shown(browser, address),
        "edition": "2026-02",
        **answer("rate_min", "16", "fl oz/ac"),
    }
    assert browser.post(address, post).status_code == 302
    yard.label.refresh_from_db()
    assert yard.label.edition == "2026-02"
    signed.seal.refresh_from_db()
    assert signed.seal.text == before
    assert yard.label.rate_min == q("16 fl oz/ac")


def test_a_day_that_is_none_is_refused_in_plain_words(browser: Client, yard: Any) -> None:
    post = {**good_post("nozzle-sets", yard), "mounted_on": "6/1/26th"}
    text = complaints(browser.post("/shelf/nozzle-sets/new/", post))
    assert "Write the day as year-month-day, such as 2026-05-14." in text


def test_every_usual_unit_is_a_unit() -> None:
    for dimension in {unit.dimension for unit in UNITS.values()}:
        for system in ("us", "metric"):
            unit = usual_unit([dimension], system=system)
            assert unit == "" or UNITS[unit].dimension == dimension
