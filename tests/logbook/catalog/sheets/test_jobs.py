"""From the choice to the deed: all or nothing, nothing twice, nothing silently changed."""

from __future__ import annotations

import io
from decimal import Decimal

import openpyxl
import pytest

from logbook.catalog import models as shelf
from logbook.catalog.sheets import jobs, templates
from logbook.catalog.sheets.kinds import SHEETS
from logbook.errors.exceptions import Conflict, NotThere, Refused
from tests import factories as make


@pytest.fixture
def bring(owner, now):
    """Return what keeps a file and looks at it."""

    def brought(kind, text, *, name="file.csv", actor=owner, options=None):
        raw = text.encode() if isinstance(text, str) else text
        file = jobs.keep_file(
            business=actor.business,
            user=actor.user,
            kind=kind,
            name=name,
            content=raw,
            options=options or {},
            now=now,
        )
        list(jobs.look_at(file=file))
        file.refresh_from_db()
        return file

    return brought


def written(file, *, change=False):
    list(jobs.write(file=file, change=change))
    file.refresh_from_db()
    return file


def problems(file):
    return [(p["row"], p["column"], p["value"], p["allowed"]) for p in file.report["problems"]]


CUSTOMERS = "name,address,phone,email\nFlat Creek,12 Road,555 0100,a@b.example\nHill,9 Way,,\n"


def test_customers_are_looked_at_and_then_written_once(bring, business):
    file = bring("customers", CUSTOMERS)
    assert file.report["new"] == 2
    assert not shelf.Customer.objects.exists()
    written(file)
    written(file)
    rows = shelf.Customer.objects.within(business)
    assert [(row.name, row.address, row.phone, row.email) for row in rows] == [
        ("Flat Creek", "12 Road", "555 0100", "a@b.example"),
        ("Hill", "9 Way", "", ""),
    ]
    assert bytes(file.content) == b""


def test_a_bad_row_is_called_by_its_name_too(bring, business):
    """So that it is found in a sheet that was sorted since."""
    make.CustomerFactory(business=business, name="Flat Creek")
    file = bring("fields", FIELD + "Flat Creek,North,Nodak,,,,,\nFlat Creek,,US-ND,,,,,\n")
    found = [(one["row"], one["which"], one["column"]) for one in file.report["problems"]]
    assert found == [(2, "Flat Creek, North", "place"), (3, "Flat Creek", "name")]
    file = bring("customers", f"name,address\nB,\n{'y' * 999},\n,1 Road\n")
    which = [one["which"] for one in file.report["problems"]]
    assert (which[0], which[-1]) == ("B", "")
    assert max(map(len, which)) == 200


def test_a_place_by_name_stands_on_the_shelf_by_its_code(bring, business):
    make.CustomerFactory(business=business, name="Flat Creek")
    rows = FIELD + "Flat Creek,North,North Dakota,,,,,\n"
    written(bring("fields", rows))
    assert shelf.Field.objects.within(business).get().place == "US-ND"
    assert bring("fields", rows).report["standing"] == 1


def test_each_bad_place_is_named_and_nothing_is_written(bring):
    file = bring(
        "customers",
        f"name,address,email\n,1 Road,\nA,,\nB,2 Road,no mail\n{'x' * 201},3 Road,\nC,4,,more\n",
    )
    found = problems(file)
    assert [(row, column) for row, column, _value, _why in found] == [
        (2, "name"),
        (3, "address"),
        (4, "email"),
        (5, "name"),
        (6, "beyond the last"),
    ]
    assert found[2][2] == "no mail"
    assert "at most 200" in found[3][3]
    with pytest.raises(Refused, match="bad row"):
        written(file)
    assert not shelf.Customer.objects.exists()


@pytest.mark.parametrize(
    ("head", "words"),
    [
        ("name,adress", "“adress” is not known; “address” is missing"),
        ("name", "“address” is missing"),
        ("name,address,name", "“name” stands twice"),
        ("name,,address", "column 2 has no name"),
    ],
)
def test_a_wrong_head_is_refused_by_name(bring, head, words):
    refused = bring("customers", f"{head}\nA,B,C\n").report["refused"]
    assert words in refused
    assert "Known are: name, address, phone, email" in refused


def test_a_name_that_stands_twice_in_the_file_is_named(bring):
    file = bring("customers", "name,address\nA,1\n a ,2\n")
    assert problems(file)[0][0] == 3
    assert "Row 2 is this customer already." in problems(file)[0][3]


def test_what_is_there_already_is_left_alone_unless_a_change_is_asked_for(bring, business):
    same = make.CustomerFactory(business=business, name="Hill", address="9 Way")
    other = make.CustomerFactory(
        business=business, name="Flat Creek", address="old", phone="555 0199"
    )
    file = bring("customers", "name,address,phone\nHill,9 Way,\nFlat creek,12 Road,\nNew,1,\n")
    assert (file.report["new"], file.report["standing"], file.report["differing"]) == (1, 1, 1)
    assert file.report["differences"][0]["lines"] == [
        ["name", "Flat Creek", "Flat creek"],
        ["address", "old", "12 Road"],
    ]
    written(file)
    other.refresh_from_db()
    assert other.address == "old"
    file = written(bring("customers", "name,address,phone\nFlat Creek,12 Road,\n"), change=True)
    other.refresh_from_db()
    # A blank cell says nothing, so the telephone number stays.
    assert (other.address, other.phone) == ("12 Road", "555 0199")
    assert shelf.Customer.objects.within(business).count() == 3
    assert shelf.Customer.objects.get(pk=same.pk).address == "9 Way"


def test_a_shelf_that_changed_since_the_look_is_not_written_on(bring, business):
    file = bring("customers", CUSTOMERS)
    make.CustomerFactory(business=business, name="Hill", address="elsewhere")
    with pytest.raises(Conflict, match="changed since"):
        written(file)
    assert shelf.Customer.objects.within(business).count() == 1


def test_work_broken_off_writes_nothing(bring, monkeypatch):
    monkeypatch.setattr(jobs, "STEP", 1)
    file = bring("customers", CUSTOMERS)
    work = jobs.write(file=file, change=False)
    for _ in range(3):
        next(work)
    work.close()
    assert not shelf.Customer.objects.exists()


def test_progress_is_told_row_by_row(owner, now, monkeypatch):
    monkeypatch.setattr(jobs, "STEP", 1)
    file = jobs.keep_file(
        business=owner.business,
        user=owner.user,
        kind="customers",
        name="x.csv",
        content=CUSTOMERS.encode(),
        options={},
        now=now,
    )
    assert list(jobs.look_at(file=file)) == [(1, 2), (2, 2)]


def test_nobody_else_sees_a_kept_file(bring, owner, office, stranger):
    file = bring("customers", CUSTOMERS)
    for other in (office, stranger):
        with pytest.raises(NotThere):
            jobs.kept_file(business=other.business, user=other.user, file_id=file.pk)


FIELD = "customer,name,place,planted_size,planted_size_unit,boundary,crops,locations\n"


def test_fields_come_with_crop_location_and_measured_boundary(bring, business):
    make.CustomerFactory(business=business, name="Flat Creek")
    ring = "[[-97.2,47.1],[-97.19,47.1],[-97.19,47.104],[-97.2,47.104],[-97.2,47.1]]"
    shape = '"{""type"":""Polygon"",""coordinates"":[' + ring + ']}"'
    row = f'flat  CREEK,North,US-ND,80.50,ac,{shape},2026 soybeans,"parcel: 12-345"\n'
    written(bring("fields", FIELD + row))
    field = shelf.Field.objects.get(business=business)
    assert str(field.planted_size) == "80.50 ac"
    assert field.time_zone == business.time_zone
    # 0.01° × 0.004° at 47.1°: 758.9 m × 444.7 m, computed from the WGS 84 radii.
    assert field.area_ha == pytest.approx(33.75, abs=0.05)
    assert [str(crop) for crop in field.plantings.all()] == ["soybeans 2026"]
    assert field.locations.get().text == "12-345"


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        ("Flat Creek,North,US-ND,80,acres,,,", "planted_size", "allowed are"),
        ("Flat Creek,North,US-ND,80,,,,", "planted_size", "needs its unit"),
        ("Flat Creek,North,US-ND,-1,ac,,,", "planted_size", "more than"),
        ("Flat Creek,North,US-ND,80,psi,,,", "planted_size", "not a unit for this"),
        ("Flat Creek,North,Nodak,,,,,", "place", "ISO 3166-2"),
        ("Flat Creek,North,,,,,,", "place", "needed"),
        ("Other Farm,North,US-ND,,,,,", "customer", "no such customer"),
        (",North,US-ND,,,,,", "customer", "needed"),
        ("Flat Creek,North,US-ND,,,,soybeans,", "crops", "2026 soybeans"),
        ("Flat Creek,North,US-ND,,,,,parcel: none", "locations", "number"),
        ("Flat Creek,North,US-ND,,,here,,", "boundary", "GeoJSON"),
    ],
)
def test_a_bad_field_is_named_by_column(bring, business, other_business, row, column, words):
    make.CustomerFactory(business=business, name="Flat Creek")
    make.CustomerFactory(business=other_business, name="Other Farm")
    found = problems(bring("fields", FIELD + row + "\n"))
    assert [one[1] for one in found] == [column]
    assert words in found[0][3]


def test_two_customers_of_one_name_are_told_apart_by_address(bring, business):
    first, _second = (
        make.CustomerFactory(business=business, name="Flat Creek", address=a) for a in "ab"
    )
    head = "customer,customer_address,name,place\n"
    assert "2 customers" in problems(bring("fields", f"{head}Flat Creek,,N,US-ND\n"))[0][3]
    written(bring("fields", f"{head}Flat Creek,a,N,US-ND\n"))
    assert shelf.Field.objects.get(name="N").customer_id == first.pk


PRODUCT = (
    "name,kind,registration_number,edition,in_force_from,restricted_use,rate_max,rate_max_unit,"
    "finest_class,ingredients\n"
)


def test_products_come_with_their_label_editions(bring, business):
    written(
        bring(
            "products",
            PRODUCT
            + 'Leafkill,"herbicide, to the leaf",00001-2,1/26,2026-01-01,yes,32,fl oz/ac,medium,'
            + "ingredient A 4.5 lb/gal; B 1 lb/gal\n"
            + "Leafkill,foliar herbicide,00001-2,6/26,2026-06-01,no,24,fl oz/ac,,\n"
            + "Plain,adjuvant,,,,,,,,\n",
        )
    )
    product = shelf.Product.objects.get(name="Leafkill")
    assert (product.business, product.registration_number) == (business, "00001-2")
    new, old = product.editions.all()
    assert (str(old.rate_max), old.restricted_use, old.finest_class) == ("32 fl oz/ac", True, "M")
    assert [str(one.content) for one in old.ingredients.all()] == ["4.5 lb/gal", "1 lb/gal"]
    assert (new.edition, new.restricted_use) == ("6/26", False)
    assert old.rate_max_si == pytest.approx(2.338, abs=0.001)  # 32 × 29.5735 mL / 0.404686 ha
    assert not shelf.Product.objects.get(name="Plain").editions.exists()


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        ("L,poison,,,,,,,,", "kind", "allowed are"),
        ("L,other,,1,46000,,,,,", "in_force_from", "year-month-day"),
        ("L,other,,1,,,,,,", "in_force_from", "needed"),
        ("L,other,,,2026-01-01,,,,,", "edition", "needed"),
        ("L,other,,1,2026-01-01,perhaps,,,,", "restricted_use", "yes or no"),
        ("L,other,,1,2026-01-01,,,,,A nothing", "ingredients", "Write it like"),
        ('L,other,,1,2026-01-01,,"1,200",gal/ac,,', "rate_max", "two ways"),
    ],
)
def test_a_bad_product_is_named_by_column(bring, row, column, words):
    found = problems(bring("products", PRODUCT + row + "\n"))
    assert [one[1] for one in found] == [column]
    assert words in found[0][3]


def test_a_second_row_that_says_otherwise_of_the_product_is_named(bring):
    rows = "L,other,1,1,2026-01-01,,,,,\nL,adjuvant,1,2,2026-02-01,,,,,\n"
    found = problems(bring("products", PRODUCT + rows))
    assert found[0][:2] == (3, "kind")
    assert "Row 2 says other" in found[0][3]


NOZZLE = (
    "name,kind,rated_flow,rated_flow_unit,rated_pressure,rated_pressure_unit,pressure_min,"
    "pressure_min_unit,pressure_max,pressure_max_unit,droplet_table\n"
)


def test_nozzles_come_from_a_workbook_with_their_droplet_table(bring, business):
    book = openpyxl.Workbook()
    for line in [
        NOZZLE.strip().split(","),
        ["AI 11004", "air-induction flat fan", 0.4, "gal/min", 40, "psi", 20, "psi", 90, "psi",
         "20 psi XC; 40 psi VC"],
    ]:  # fmt: skip
        book.active.append(line)
    out = io.BytesIO()
    book.save(out)
    written(bring("nozzles", out.getvalue(), name="n.xlsx"))
    nozzle = shelf.NozzleModel.objects.get(business=business)
    # Size and angle are read off the name by the form's own code.
    assert (nozzle.size, nozzle.angle, nozzle.exponent) == ("04", 110, Decimal("0.5"))
    assert str(nozzle.rated_flow) == "0.4 gal/min"
    assert [str(row) for row in nozzle.class_rows.all()] == ["20 psi XC", "40 psi VC"]


def test_a_droplet_table_that_differs_is_named_and_stays(bring, business):
    nozzle = make.NozzleModelFactory(business=business, name="AI 11004")
    make.NozzleClassRowFactory(nozzle=nozzle, pressure=make.q("40 psi"), droplet_class="C")
    file = bring("nozzles", "name,kind,droplet_table\nAI 11004," + nozzle.kind + ",40 psi VC\n")
    column, stands, says = file.report["differences"][0]["lines"][0]
    assert "change it on its page" in column
    assert (stands, says) == ("40 psi C", "40 psi VC")
    assert file.report["changing"] == 0


def test_pressures_the_wrong_way_round_are_named(bring):
    row = "N,flat fan,0.4,gal/min,40,psi,90,psi,20,psi,\n"
    found = problems(bring("nozzles", NOZZLE + row))
    assert {one[1] for one in found} == {"pressure_max"}


@pytest.mark.parametrize("kind", SHEETS)
@pytest.mark.parametrize("made", [templates.as_csv, templates.as_xlsx])
def test_a_template_is_read_back_its_example_is_passed_over_and_is_itself_good(
    bring, business, kind, made
):
    explained = SHEETS[kind].explained()
    head, example = [one[0] for one in explained], [one[2] for one in explained]
    report = bring(kind, made([head, example])).report
    assert (report["total"], report["examples"], report["problems"]) == (0, 1, [])
    make.CustomerFactory(business=business, name="Flat Creek Farm")
    good = [cell.removeprefix("EXAMPLE: ") for cell in example]
    assert bring(kind, made([head, good])).report["problems"] == []


def test_the_number_of_queries_does_not_grow_with_the_rows(
    bring, django_assert_max_num_queries, business
):
    make.CustomerFactory(business=business, name="F")
    for count in (2, 200):
        rows = "".join(f"F,Field {count} {n},US-ND\n" for n in range(count))
        file = bring("fields", "customer,name,place\n" + rows)
        # SQLite takes at most 999 values a statement, so that two hundred fields go in by parts.
        with django_assert_max_num_queries(20):
            written(file)


def test_a_number_outside_its_usual_range_is_asked_about_and_taken(bring, business):
    make.CustomerFactory(business=business, name="Flat Creek")
    file = bring(
        "fields", FIELD + "Flat Creek,North,US-ND,80,ft2,,,\nFlat Creek,South,US-ND,80,ac,,,\n"
    )
    (asked,) = file.report["questions"]
    assert (asked["row"], asked["column"], asked["value"]) == (2, "planted_size", "80 ft2")
    assert asked["allowed"].endswith("Was 80 ac meant?")
    assert (file.report["new"], file.report["problems"]) == (2, [])
