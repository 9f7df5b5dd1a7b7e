"""Where each element stands in the facts, and the four kinds of nothing beside a value."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest

from logbook.facts.duty import LocationFormat
from logbook.facts.quantity import Absence, BadAnswer, Nothing
from logbook.facts.record import LocationFacts
from logbook.law.elements import (
    ELEMENTS,
    LONGEST,
    STATED,
    State,
    formats_of,
    has_helper,
    read_statement,
    refused_statements,
)
from tests.logbook.checks.build import (
    clean,
    earlier,
    given,
    label,
    licence,
    paths,
    person,
    q,
    reading,
    training,
)

CREW = (person("P. Vik", licences=(), trainings=(training(),)),)
PATHS = set(paths(given(earlier=(earlier(),), applicator__trainings=(training(),), crew=CREW)))
BOTH = (0, 1)


def stand(name: str, covered: tuple[int, ...] = (0,), **changes: Any) -> tuple[State, str]:
    found = ELEMENTS[name].look(given(**changes), covered)
    return found.state, found.value


def blank(name: str, covered: tuple[int, ...] = (0,), **changes: Any) -> tuple[str, ...]:
    found = ELEMENTS[name].look(given(**changes), covered)
    assert found.state is State.MISSING
    return found.blank


def test_every_element_stands_at_facts_that_exist() -> None:
    for one in ELEMENTS.values():
        places = set(one.stands_in) - {"statements", "supervisor.name"}
        assert places <= PATHS, one.name
        assert one.title.split()[0] in {"the", "a", "who", "where", "humidity,"}


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("customer-name", "C. Dahl"),
        ("customer-address", "Box 2"),
        ("applicator-name", "A. Lund"),
        ("supervisor-name", "A. Lund, who sprayed"),
        ("licence-number", "C-1001 (A. Lund)"),
        ("business", "Coulee Custom Spraying; Box 1"),
        ("date", "2026-06-10"),
        ("time-of-day", "09:00"),
        ("start-time", "09:00"),
        ("finish-time", "12:15"),
        ("product-name", "Fenland 4 EC"),
        ("registration-number", "00000-1"),
        ("active-ingredient", "inventol"),
        ("label-company", "Invented Chemical"),
        ("rate", "22.0 fl oz/ac, as used"),
        ("product-total", "2750 fl oz"),
        (
            "dilution",
            "1466.7 fl oz Fenland 4 EC in 1000 gal; 1283.3 fl oz Fenland 4 EC in 875 gal",
        ),
        ("mix-volume", "15.0 gal/ac; 1875 gal"),
        ("tank-mix", "Fenland 4 EC; Wetting 90"),
        ("target", "wild mustard"),
        ("crop", "soybean"),
        ("crop-code", "GLXMA"),
        ("growth-stage", "BBCH 14"),
        ("treated-area", "125 ac"),
        ("planted-size", "125 ac"),
        ("pressure", "42 psi"),
        ("nozzle", "AI 110-03: air-induction flat fan, 0.30 gal/min at 40 psi, 110°"),
        ("equipment", "Big Green (ABC 123)"),
        ("application-method", "ground rig, broadcast"),
        ("reentry-interval", "24 h"),
        ("preharvest-interval", "60 days"),
        ("rinsate-note", ""),
        ("field-order", "field no. 1 from load 1; field no. 1 from load 2"),
    ],
)
def test_a_value_is_given_as_a_paper_prints_it(name: str, value: str) -> None:
    state, words = stand(name)
    assert words == value
    assert state is (State.NONE if name == "rinsate-note" else State.GIVEN)


def test_a_location_is_every_format_and_the_outline() -> None:
    assert stand("location-description")[1].startswith("north of the coulee; part of SW 1/4")
    state, words = stand("location-structured")
    assert state is State.GIVEN
    assert words == "part of SW 1/4, section 11 (demo); outline of North L"


def test_weather_is_given_with_the_time_at_the_field() -> None:
    readings = (reading("9:00"), reading("12:00", wind_speed=q("9 mph")))
    assert stand("wind-speed", weather=readings)[1] == "8 mph at 09:00; 9 mph at 12:00"
    assert stand("wind-direction", weather=readings[:1])[1] == "300 ° at 09:00"
    assert stand("repeat-wind", weather=readings)[0] is State.GIVEN


@pytest.mark.parametrize(
    ("text", "state", "value"),
    [
        ("none", State.NONE, ""),
        ("not applicable", State.NOT_APPLICABLE, ""),
        ("not measured: no meter", State.NOT_MEASURED, "no meter"),
        ("", State.MISSING, ""),
    ],
)
def test_a_word_is_an_answer_and_a_blank_is_not(text: str, state: State, value: str) -> None:
    assert stand("treated-area", record__treated_area=q(text)) == (state, value)
    assert stand("air-temperature", weather=(reading("9:00", temperature=q(text)),)) == (
        state,
        value,
    )
    assert stand("rinsate-note", record__statements={"rinsate-note": text}) == (state, value)
    assert stand("mix-volume", record__planned_carrier=q(text), record__mix_used=None) == (
        state,
        value,
    )
    no_total = {"products__0__total_used": None}
    assert stand("rate", products__0__planned_rate=q(text), **no_total) == (state, value)


@pytest.mark.parametrize(
    ("name", "changes", "where"),
    [
        ("customer-name", {"customer": None}, ("customer",)),
        ("applicator-name", {"applicator": None}, ("applicator",)),
        ("supervisor-name", {"applicator": None}, ("applicator",)),
        ("supervisor-name", {"applicator__licences": ()}, ("supervisor",)),
        ("licence-number", {"applicator": None}, ("applicator",)),
        ("licence-number", {"applicator__licences": ()}, ("applicator.licences",)),
        ("training-proof", {"applicator": None}, ("applicator",)),
        ("training-proof", {}, ("applicator.trainings",)),
        ("start-time", {"record__started_at": None}, ("started_at",)),
        ("location-description", {"field": None}, ("field",)),
        (
            "location-description",
            {"field__locations": (), "field__boundary": None},
            ("field.locations",),
        ),
        ("planted-size", {"field": None}, ("field",)),
        ("government-id", {}, ("statements.government-id",)),
        ("active-ingredient", {"products__0__label": None}, ("products.0.label",)),
        (
            "active-ingredient",
            {"products__0__label": label()},
            ("products.0.label.ingredients",),
        ),
        ("dilution", {"loads": (), "record__planned_carrier": None}, ("planned_carrier",)),
        ("tank-mix", {"products": clean().products[:1]}, ("statements.tank-mix",)),
        ("target", {"products__0__target": "", "record__purpose": ""}, ("products.0.target",)),
        ("crop", {"crop": None}, ("crop",)),
        ("crop-code", {"crop__eppo_code": ""}, ("crop.eppo_code",)),
        ("wind-speed", {"weather": ()}, ("weather",)),
        (
            "wind-speed",
            {"weather": (reading("9:00", wind_speed=None),)},
            ("weather.0.wind_speed",),
        ),
        ("repeat-wind", {"weather": (reading("9:00"),)}, ("weather",)),
        (
            "other-weather",
            {"weather": (reading("9:00", humidity=None, cloud=None),)},
            ("weather.0.humidity",),
        ),
        ("nozzle", {"nozzle": None}, ("nozzle",)),
        ("equipment", {"rig": None}, ("rig",)),
        ("field-order", {"loads": ()}, ("loads",)),
        ("buffer", {}, ("statements.buffer",)),
    ],
)
def test_what_is_missing_names_the_fact_to_enter(
    name: str, changes: dict[str, Any], where: tuple[str, ...]
) -> None:
    assert blank(name, **changes) == where


def test_a_record_without_products_lacks_the_products() -> None:
    assert blank("product-name", (), products=()) == ("products",)


def test_each_covered_product_has_to_have_its_own() -> None:
    assert blank("registration-number", BOTH) == ("products.1.registration_number",)
    # 2750 and 600 fl oz on 125 ac; definition of a rate.
    assert stand("rate", BOTH)[1] == (
        "Fenland 4 EC: 22.0 fl oz/ac, as used; Wetting 90: 4.80 fl oz/ac, as used"
    )
    assert stand("rate", BOTH, record__treated_area=None)[1] == (
        "Fenland 4 EC: 22 fl oz/ac, as planned; Wetting 90: 0.25 % v/v, as planned"
    )
    assert stand("product-name", BOTH)[1] == "Fenland 4 EC; Wetting 90"


def test_a_mixture_of_words_and_values_is_given() -> None:
    state, words = stand("product-total", BOTH, products__1__total_used=q("none"))
    assert (state, words) == (State.GIVEN, "Fenland 4 EC: 2750 fl oz")


def test_a_dilution_is_of_all_products_in_the_loads_or_else_of_the_area() -> None:
    # Product and carrier stay side by side as entered: none is derived from the other.
    per_area = "22 fl oz/ac in 15.0 gal/ac"
    assert stand("dilution", loads=())[1] == per_area
    parts = clean().loads[0].parts[1:]
    assert stand("dilution", loads__0__parts=parts, loads__1__parts=parts)[1] == per_area
    none = Nothing(Absence.NONE)
    assert stand("dilution", loads=(), products__0__planned_rate=none)[0] is State.NONE
    said = {"dilution": "1 %"}
    assert stand("dilution", (), loads=(), record__statements=said) == (State.GIVEN, "1 %")


def test_the_purpose_stands_for_the_target_where_no_line_has_one() -> None:
    assert stand("target", products__0__target="") == (State.GIVEN, "weeds")


def test_a_planting_date_stands_for_the_growth_stage() -> None:
    assert stand("growth-stage", crop__growth_stage_bbch=None)[1] == "planted 2026-05-15"


def test_the_mix_used_stands_for_the_planned_carrier() -> None:
    assert stand("mix-volume", record__planned_carrier=None)[1] == "1875 gal"


def test_a_label_without_an_interval_answers_none() -> None:
    assert stand("reentry-interval", products__0__label=label()) == (State.NONE, "")
    assert stand("preharvest-interval", products__0__label=label()) == (State.NONE, "")
    assert stand("reentry-interval", products__0__label=label(reentry_hours=Decimal("4.5"))) == (
        State.GIVEN,
        "4.5 h",
    )


def test_cloud_stands_for_humidity_and_a_statement_for_both() -> None:
    dry = (reading("9:00", humidity=None),)
    assert stand("other-weather", weather=dry)[1] == "40 % at 09:00"
    said = {"other-weather": "rain in the evening"}
    assert stand("other-weather", weather=(), record__statements=said)[1] == "rain in the evening"


def test_a_second_reading_that_is_a_word_does_not_repeat_the_wind() -> None:
    readings = (reading("9:00"), reading("12:00", wind_speed=q("not measured: no meter")))
    assert blank("repeat-wind", weather=readings) == ("weather",)
    said = {"repeat-wind": "none"}
    assert stand("repeat-wind", weather=readings, record__statements=said)[0] is State.NONE


def test_a_repeated_wind_reading_is_one_during_the_work() -> None:
    # Pesticides Regulation 2017 (NSW) cl. 36(1)(h): at the start and at every significant change.
    before = (reading("8:00"), reading("9:00"))
    assert blank("repeat-wind", weather=before) == ("weather",)
    after = (reading("9:00"), reading("12:30"))
    assert blank("repeat-wind", weather=after) == ("weather",)
    assert stand("repeat-wind", weather=(reading("9:00"), reading("12:15")))[0] is State.GIVEN


@pytest.mark.parametrize(
    ("clocks", "state"),
    [
        (("9:00", "10:00", "11:00", "12:00"), State.GIVEN),
        (("9:30", "10:59", "11:00", "12:15"), State.GIVEN),
        (("9:00", "10:00", "11:00"), State.MISSING),  # none in the last quarter of an hour
        (("8:30", "10:00", "11:00", "12:00"), State.MISSING),  # the first is before the start
        (("9:00", "11:00", "12:00"), State.MISSING),
    ],
)
def test_hourly_is_a_reading_in_every_hour_of_the_work(
    clocks: tuple[str, ...], state: State
) -> None:
    # F.A.C. 5E-2.033, by a summary: measured hourly. The work lasts from 9:00 to 12:15.
    readings = tuple(reading(clock) for clock in clocks)
    assert stand("hourly-wind", weather=readings)[0] is state
    assert blank("hourly-wind", record__finished_at=None) == ("finished_at",)


def test_the_number_of_the_operator_is_not_that_of_the_site() -> None:
    # 3 CCR 6624(c)(3) and (4): operator and site identification number.
    parcel = (LocationFacts(kind="parcel", text="DEMO 12-3"),)
    assert blank("operator-id", field__locations=parcel) == ("statements.operator-id",)
    said = {"operator-id": "34-0007"}
    assert stand("operator-id", record__statements=said)[1] == "34-0007"
    assert blank("government-id", record__statements=said) == ("statements.government-id",)


def test_contact_details_are_a_telephone() -> None:
    # Pesticides Regulation 2017 (NSW) cl. 36(1)(f): address and contact details.
    assert blank("telephone") == ("business.phone",)
    assert stand("telephone", business__phone="555-0100") == (State.GIVEN, "555-0100")


def test_an_adjuvant_has_its_line_and_no_ingredient() -> None:
    # 3 CCR 6619: adjuvants with their state number, beside the active ingredients of pesticides.
    assert stand("active-ingredient", BOTH, products__1__label=None) == (State.GIVEN, "inventol")
    assert stand("active-ingredient", (1,), products__1__label=None)[0] is State.NOT_APPLICABLE
    assert blank("product-total", BOTH, products__1__total_used=None) == ("products.1.total_used",)


def test_a_parcel_is_the_government_number_and_so_is_a_statement() -> None:
    parcel = (LocationFacts(kind="parcel", text="DEMO 12-3"),)
    found = ELEMENTS["government-id"].look(given(field__locations=parcel), ())
    assert (found.value, found.where) == ("DEMO 12-3", ("field.locations.0",))
    said = {"government-id": "operator 7"}
    assert stand("government-id", record__statements=said)[1] == "operator 7"
    assert blank("government-id", field=None) == ("statements.government-id",)


def test_a_rig_without_a_plate_has_its_name_and_a_nozzle_without_an_angle_its_flow() -> None:
    assert stand("equipment", rig__plate="")[1] == "Big Green"
    assert stand("nozzle", nozzle__angle=None)[1].endswith("0.30 gal/min at 40 psi")


def test_the_method_can_be_stated_without_a_rig() -> None:
    said = {"application-method": "hand-held boom"}
    assert stand("application-method", rig=None, record__statements=said)[1] == "hand-held boom"


def test_formats_are_those_entered_and_those_that_the_boundary_draws() -> None:
    drawn = {LocationFormat.OUTLINE, LocationFormat.MAP, LocationFormat.COORDINATES}
    assert formats_of(clean()).keys() == drawn | {
        LocationFormat.DESCRIPTION,
        LocationFormat.LEGAL,
    }
    entered = (
        LocationFacts(kind="coordinates", text="47.1, -97.2"),
        LocationFacts(kind="address", text=""),
        LocationFacts(kind="a kind of another day", text="x"),
    )
    assert formats_of(given(field__locations=entered, field__boundary=None)) == {
        LocationFormat.COORDINATES: "field.locations.0"
    }
    assert formats_of(given(field=None)) == {}


def test_crew_and_helpers_are_named_and_each_helper_has_to_be_trained() -> None:
    # 40 CFR 171.201: a record of training per noncertified helper.
    helper = person("P. Vik", licences=(), trainings=(training(),))
    assert stand("applicator-name", crew=(helper,))[1] == "A. Lund; P. Vik"
    assert has_helper(given(crew=(helper,)))
    assert not has_helper(given(crew=(person("C. Ness"),)))
    assert stand("training-proof", crew=(helper,))[1] == (
        "P. Vik: helper's course, 2026-03-01 by B. Moen"
    )
    untrained = replace(helper, trainings=())
    assert blank("training-proof", crew=(helper, untrained)) == ("crew.1.trainings",)


def test_each_licence_of_several_applicators_is_named_and_that_of_who_answers() -> None:
    # 40 CFR 171.303(b)(7): name and number of the certified applicator who made or supervised it.
    second = person("C. Ness", licences=(licence(number="C-2002"),))
    helper = person("P. Vik", licences=())
    answers = person("D. Orr", licences=(licence(number="C-3003"),))
    found = ELEMENTS["licence-number"].look(given(crew=(second, helper), supervisor=answers), (0,))
    assert found.value == "C-1001 (A. Lund); C-2002 (C. Ness); C-3003 (D. Orr)"
    assert found.where == ("applicator.licences", "crew.0.licences", "supervisor.licences")


def test_work_over_midnight_is_dated_with_both_days() -> None:
    # Neb. Rev. Stat. 2-2643: the date; an end after midnight has a date of its own.
    night = {
        "record__started_at": datetime(2026, 6, 11, 4, tzinfo=UTC),
        "record__finished_at": datetime(2026, 6, 11, 6, tzinfo=UTC),
    }
    assert stand("date", **night)[1] == "2026-06-10; 2026-06-11"


@pytest.mark.parametrize(
    "changes",
    [{"expires_on": date(2026, 6, 9)}, {"trained_on": date(2026, 6, 11), "expires_on": None}],
)
def test_a_training_not_valid_on_the_day_is_no_proof(changes: dict[str, Any]) -> None:
    assert blank("training-proof", applicator__trainings=(training(**changes),)) == (
        "applicator.trainings",
    )
    lasting = training(expires_on=None)
    assert stand("training-proof", applicator__trainings=(lasting,))[0] is State.GIVEN


def test_the_licence_is_the_one_of_the_place_and_the_day() -> None:
    held = (
        licence(number="OLD", valid_from=date(2020, 1, 1), expires_on=date(2024, 1, 1)),
        licence(number="NOW"),
        licence(number="NEXT", valid_from=date(2027, 4, 1), expires_on=date(2030, 3, 31)),
        licence(number="FAR", place="US-SD", expires_on=date(2040, 1, 1)),
        licence(number="ALL", place="US", expires_on=date(2026, 12, 31)),
    )
    assert stand("licence-number", applicator__licences=held)[1] == "NOW (A. Lund)"
    assert stand("licence-number", applicator__licences=held[:1])[1] == "OLD (A. Lund)"
    assert stand("licence-number", applicator__licences=held[4:])[1] == "ALL (A. Lund)"
    assert blank("licence-number", applicator__licences=held, field=None) == (
        "applicator.licences",
    )
    helper = {"applicator__licences": (), "supervisor": person("B. Moen")}
    assert stand("licence-number", **helper)[1] == "C-1001 (B. Moen)"
    assert stand("supervisor-name", **helper)[1] == "B. Moen"


def test_a_statement_is_a_text_or_a_word_and_is_not_measured_only_with_a_reason() -> None:
    assert read_statement("  washed on the field ") == "washed on the field"
    assert read_statement("None") == Nothing(Absence.NONE)
    assert read_statement("not measured: no scale") == Nothing(Absence.NOT_MEASURED, "no scale")
    assert read_statement("none of it was left") == "none of it was left"
    assert read_statement("  ") is None
    with pytest.raises(BadAnswer, match='"not measured" needs the reason'):
        read_statement("not measured")
    with pytest.raises(BadAnswer, match=f"501 characters; at most {LONGEST}"):
        read_statement("x" * 501)


def test_a_statement_that_could_not_be_read_counts_as_not_said() -> None:
    assert blank("buffer", record__statements={"buffer": "not measured"}) == ("statements.buffer",)


def test_statements_are_refused_by_path_with_what_is_allowed() -> None:
    assert refused_statements({"buffer": "30 m", "rinsate-note": "none"}) == {}
    refused = refused_statements(
        {
            "customer-name": "C. Dahl",
            "buffer": "not measured",
            "clean-out": 3,
            "tank-mix": "x" * 501,
        }
    )
    assert set(refused) == {
        "statements.customer-name",
        "statements.buffer",
        "statements.clean-out",
        "statements.tank-mix",
    }
    assert (
        "allowed are customer-telephone, authorised-by, instructions"
        in refused["statements.customer-name"]
    )
    assert refused["statements.clean-out"] == "A statement is a text."


def test_what_has_a_fact_of_its_own_is_not_stated() -> None:
    assert set(STATED) == {
        *("product-supplier", "dilution", "tank-mix", "government-id", "repeat-wind"),
        *("other-weather", "application-method", "buffer", "neighbour-check", "clean-out"),
        *("rinsate-note", "mixing-place", "permit-number", "field-order", "purchase-receipts"),
        *("customer-telephone", "instructions", "insurer", "formulation", "product-class"),
        *("below-label-rate", "crop-variety", "county", "start-finish-weather", "reentry-time"),
        *("farm-contact", "precautions", "label-copy", "guarantee"),
        *("data-sheet", "worker-limits", "authorised-by", "operator-id", "use-type", "active-rate"),
    }
