"""Tank mix, product and active ingredient, totals and intervals."""

import math
from datetime import UTC, date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc import dose
from calc.errors import OutOfRange
from calc.units import convert
from tests.calc.contract import (
    NEGATIVE,
    ZERO_OR_NEGATIVE,
    Contract,
    assert_broadcasts,
    assert_refused,
    assert_refuses_one_bad_element,
    named,
    positive_in_all,
    refusals,
)
from tests.calc.vectors import Row, check, ids
from tests.walked import walked

RATES = st.floats(min_value=10, max_value=2000)
AREAS = st.floats(min_value=0.01, max_value=500)
TANKS = st.floats(min_value=50, max_value=6000)
CONTENTS = st.floats(min_value=1, max_value=2000)


def us_rate(value: float) -> float:
    return convert(value, from_unit="gal/ac", to_unit="L/ha")


def gallons(value: float) -> float:
    return convert(value, from_unit="gal", to_unit="L")


def acres(value: float) -> float:
    return convert(value, from_unit="ac", to_unit="ha")


def to_acres(value: float) -> float:
    return convert(value, from_unit="ha", to_unit="ac")


def area_of_load(row: Row) -> float:
    area = dose.area_per_load_ha(
        mix_volume_l=gallons(row.inputs["volume"]), rate_l_ha=us_rate(row.inputs["rate"])
    )
    return to_acres(area)


def product_for_acres(row: Row) -> float:
    litres = dose.amount_for_area(
        rate_per_ha=convert(row.inputs["rate_pt_ac"], from_unit="pt/ac", to_unit="L/ha"),
        area_ha=acres(row.inputs["area_ac"]),
    )
    return convert(litres, from_unit="L", to_unit=row.unit)


def liquid_for_active(row: Row) -> float:
    rate = dose.liquid_rate_for_active_l_ha(
        active_rate_g_ha=convert(row.inputs["ai"], from_unit="lb/ac", to_unit="kg/ha") * 1000,
        content_g_l=convert(row.inputs["content"], from_unit="lb/gal", to_unit="g/L"),
    )
    return convert(rate, from_unit="L/ha", to_unit=row.unit)


def dry_for_active(row: Row) -> float:
    rate = dose.dry_rate_for_active_kg_ha(
        active_rate_g_ha=convert(row.inputs["ai"], from_unit="lb/ac", to_unit="kg/ha") * 1000,
        content_percent=row.inputs["percent"],
    )
    return convert(rate, from_unit="kg/ha", to_unit="lb/ac")


def mix_or_product(row: Row) -> float:
    area = acres(row.inputs["area_ac"])
    if row.unit == "gal":
        mix = dose.amount_for_area(rate_per_ha=us_rate(row.inputs["rate_gal_ac"]), area_ha=area)
        return convert(mix, from_unit="L", to_unit="gal")
    product = dose.amount_for_area(
        rate_per_ha=convert(row.inputs["rate_lb_ac"], from_unit="lb/ac", to_unit="kg/ha"),
        area_ha=area,
    )
    return convert(product, from_unit="kg", to_unit="lb")


def product_per_tank(row: Row) -> float:
    given = row.inputs
    area = dose.area_per_load_ha(
        mix_volume_l=gallons(given["tank_gal"]), rate_l_ha=us_rate(given["rate"])
    )
    product = dose.amount_for_area(
        rate_per_ha=convert(given["product"], from_unit="fl oz/ac", to_unit="L/ha"), area_ha=area
    )
    return convert(product, from_unit="L", to_unit="fl oz")


def metric_loads(row: Row) -> float:
    given = row.inputs
    plan = dose.plan_loads(area_ha=given["area"], rate_l_ha=given["rate"], tank_l=given["tank"])
    return plan.total_l if row.unit == "L" else plan.loads


def litres_on_acres(row: Row) -> float:
    return dose.amount_for_area(
        rate_per_ha=convert(row.inputs["rate_l_ac"], from_unit="L/ac", to_unit="L/ha"),
        area_ha=acres(row.inputs["area_ac"]),
    )


def per_gallon(row: Row) -> float:
    carrier = us_rate(row.inputs["carrier"])
    if row.unit == "ft2":
        area = dose.area_per_load_ha(mix_volume_l=gallons(1.0), rate_l_ha=carrier)
        return convert(area, from_unit="ha", to_unit="ft2")
    rate = convert(row.inputs["rate_qt_ac"], from_unit="qt/ac", to_unit="L/ha")
    per_litre = dose.concentration_per_l(amount=rate, mix_volume_l=carrier)
    return per_litre * gallons(1.0) / convert(1.0, from_unit="fl oz", to_unit="L")


def percent_of_tank(row: Row) -> float:
    litres = dose.amount_for_percent_l(
        percent_v_v=row.inputs["percent"], mix_volume_l=gallons(row.inputs["tank_gal"])
    )
    return convert(litres, from_unit="L", to_unit=row.unit)


def split_loads(row: Row) -> float:
    given = row.inputs
    plan = dose.plan_loads(
        area_ha=acres(given["area_ac"]),
        rate_l_ha=us_rate(given["rate"]),
        tank_l=gallons(given["tank_gal"]),
    )
    rate = convert(given["product"], from_unit="fl oz/ac", to_unit="L/ha")

    def ounces(area_ha: float) -> float:
        litres = dose.amount_for_area(rate_per_ha=rate, area_ha=area_ha)
        return convert(litres, from_unit="L", to_unit="fl oz")

    full = ounces(plan.full_area_ha)
    part = ounces(plan.part_area_ha)
    return {
        "full loads": plan.full_loads,
        "area of full loads": to_acres(plan.full_loads * plan.full_area_ha),
        "product of a full load": full,
        "part load": convert(plan.part_l, from_unit="L", to_unit="gal"),
        "area of the part load": to_acres(plan.part_area_ha),
        "product of the part load": part,
        "product of all": plan.full_loads * full + part,
    }[given["find"]]


def fertilizer(row: Row) -> float:
    given = row.inputs
    density_g_l = convert(given["density"], from_unit="lb/gal", to_unit="g/L")
    content_g_l = dose.concentrate_for_strength(
        mix_amount=density_g_l, strength_percent=given["percent"], content_percent=100.0
    )
    if row.unit == "lb/gal":
        return convert(content_g_l, from_unit="g/L", to_unit="lb/gal")
    rate = dose.liquid_rate_for_active_l_ha(
        active_rate_g_ha=convert(given["nitrogen"], from_unit="lb/ac", to_unit="g/ha"),
        content_g_l=content_g_l,
    )
    return convert(rate, from_unit="L/ha", to_unit="gal/ac")


def reentry(row: Row) -> str:
    given = row.inputs
    hours = given["hours"] if isinstance(given["hours"], list) else [given["hours"]]
    end = dose.reentry_end(ended_at=datetime.fromisoformat(given["end"]), intervals_h=hours)
    return end.astimezone(ZoneInfo(given["zone"])).isoformat()


def reconciled(row: Row) -> object:
    given = row.inputs
    expected = dose.amount_for_area(
        rate_per_ha=us_rate(given["rate"]), area_ha=acres(given["area"])
    )
    result = dose.reconcile(used=gallons(given["used"]), expected=expected)
    return 100 * result.difference if row.unit == "%" else result.agreement


PUBLISHED = {
    "EX-TANK-01": area_of_load,
    "EX-TANK-02": product_for_acres,
    "EX-TANK-03": liquid_for_active,
    "EX-TANK-04": mix_or_product,
    "EX-TANK-05": dry_for_active,
    "EX-TANK-06": product_per_tank,
    "EX-TANK-07": metric_loads,
    "EX-TANK-08": litres_on_acres,
    "EX-TANK-09": lambda row: dose.powder_for_suspension_lb(
        mix_gal=row.inputs["gal"],
        strength_percent=row.inputs["strength"],
        content_percent=row.inputs["content"],
    ),
    "EX-TANK-10": dry_for_active,
    "EX-TANK-11": lambda row: dose.rate_of_one_gallon_to_fl_oz_ac(acres=row.inputs["acres"]),
    "EX-TANK-12": per_gallon,
    "EX-TANK-13": percent_of_tank,
    "EX-TANK-14": lambda row: dose.ammonium_sulfate_lb_100_gal(
        potassium_ppm=row.inputs["k"],
        sodium_ppm=row.inputs["na"],
        calcium_ppm=row.inputs["ca"],
        magnesium_ppm=row.inputs["mg"],
        iron_ppm=row.inputs["fe"],
    ),
    "EX-TANK-15": split_loads,
    "EX-DENS-02": fertilizer,
    "TABLE-PNW": liquid_for_active,
    "EX-REI-01": reentry,
    "EX-REI-02": reentry,
    "EX-PHI-01": lambda row: dose.earliest_harvest(
        ended_on=date.fromisoformat(row.inputs["ended"]), interval_days=int(row.inputs["days"])
    ).isoformat(),
    "EX-REC-01": reconciled,
}


@pytest.mark.parametrize("example", ids("dose"))
def test_a_published_example_comes_out(example: str) -> None:
    check("dose", example, PUBLISHED)


NOT_A_PERCENT = (100.1, *ZERO_OR_NEGATIVE)
NOT_A_CONTENT = (2000.1, *ZERO_OR_NEGATIVE)

FORMULAS = [
    positive_in_all(dose.area_per_load_ha, mix_volume_l=1000.0, rate_l_ha=120.0),
    positive_in_all(dose.rate_of_one_gallon_to_fl_oz_ac, acres=32.0),
    Contract(
        dose.amount_for_area,
        {"rate_per_ha": 1.5, "area_ha": 20.0},
        {"rate_per_ha": NEGATIVE, "area_ha": NEGATIVE},
    ),
    Contract(
        dose.amount_for_percent_l,
        {"percent_v_v": 0.25, "mix_volume_l": 1000.0},
        {"percent_v_v": (100.1, *NEGATIVE), "mix_volume_l": NEGATIVE},
    ),
    Contract(
        dose.amount_per_hundred,
        {"amount_per_100": 8.5, "mix_volume": 500.0},
        {"amount_per_100": NEGATIVE, "mix_volume": NEGATIVE},
    ),
    Contract(
        dose.concentration_per_l,
        {"amount": 10.0, "mix_volume_l": 1000.0},
        {"amount": NEGATIVE, "mix_volume_l": ZERO_OR_NEGATIVE},
    ),
    Contract(
        dose.delivered_product_rate,
        {"delivered_rate_l_ha": 120.0, "concentration_per_l": 0.01},
        {"delivered_rate_l_ha": ZERO_OR_NEGATIVE, "concentration_per_l": NEGATIVE},
    ),
    Contract(
        dose.active_rate_of_liquid_g_ha,
        {"product_rate_l_ha": 2.0, "content_g_l": 480.0},
        {"product_rate_l_ha": NEGATIVE, "content_g_l": NOT_A_CONTENT},
    ),
    Contract(
        dose.active_rate_of_dry_g_ha,
        {"product_rate_kg_ha": 2.0, "content_percent": 80.0},
        {"product_rate_kg_ha": NEGATIVE, "content_percent": NOT_A_PERCENT},
    ),
    Contract(
        dose.liquid_rate_for_active_l_ha,
        {"active_rate_g_ha": 960.0, "content_g_l": 480.0},
        {"active_rate_g_ha": NEGATIVE, "content_g_l": NOT_A_CONTENT},
    ),
    Contract(
        dose.dry_rate_for_active_kg_ha,
        {"active_rate_g_ha": 960.0, "content_percent": 80.0},
        {"active_rate_g_ha": NEGATIVE, "content_percent": NOT_A_PERCENT},
    ),
    Contract(
        dose.acid_equivalent,
        {"active": 480.0, "acid_molar_mass": 221.04, "form_molar_mass": 266.12},
        {
            "active": NEGATIVE,
            "acid_molar_mass": ZERO_OR_NEGATIVE,
            "form_molar_mass": ZERO_OR_NEGATIVE,
        },
    ),
    Contract(
        dose.ammonium_sulfate_lb_100_gal,
        ions := {
            "potassium_ppm": 10.0,
            "sodium_ppm": 40.0,
            "calcium_ppm": 300.0,
            "magnesium_ppm": 100.0,
            "iron_ppm": 1.0,
        },
        dict.fromkeys(ions, NEGATIVE),
    ),
    Contract(
        dose.concentrate_for_strength,
        {"mix_amount": 100.0, "strength_percent": 2.0, "content_percent": 80.0},
        {
            "mix_amount": NEGATIVE,
            "strength_percent": (80.1, *NEGATIVE),
            "content_percent": (1.9, *NOT_A_PERCENT),
        },
    ),
    Contract(
        dose.powder_for_suspension_lb,
        {"mix_gal": 5.0, "strength_percent": 2.0, "content_percent": 80.0},
        {"strength_percent": (80.1, *NEGATIVE), "content_percent": (1.9, *NOT_A_PERCENT)},
    ),
]
OF_ONE_VALUE = [
    positive_in_all(dose.plan_loads, area_ha=20.0, rate_l_ha=200.0, tank_l=1000.0),
    Contract(
        dose.reconcile,
        {"used": 830.0, "expected": 800.0},
        {"used": NEGATIVE, "expected": ZERO_OR_NEGATIVE},
    ),
    Contract(
        dose.reentry_end,
        {"ended_at": datetime(2025, 6, 1, 12, tzinfo=UTC), "intervals_h": [12.0]},
        {
            "ended_at": (datetime(2025, 6, 1, 12),),  # noqa: DTZ001 – a naive time, to be refused
            "intervals_h": ([], [100_000.0], *([12.0, value] for value in NEGATIVE)),
        },
    ),
    Contract(
        dose.earliest_harvest,
        {"ended_on": date(2025, 6, 14), "interval_days": 21},
        {"interval_days": (-1, 32_768, 1.5, math.nan)},
    ),
]


@walked(("function", "arguments", "name", "value"), refusals([*FORMULAS, *OF_ONE_VALUE]))
def test_a_bad_argument_is_refused_by_name(function, arguments, name, value) -> None:
    assert_refused(function, arguments, name)


@pytest.mark.parametrize("contract", named(FORMULAS))
def test_one_bad_element_of_an_array_is_refused(contract: Contract) -> None:
    assert_refuses_one_bad_element(contract)


@pytest.mark.parametrize("contract", named(FORMULAS))
def test_arrays_give_what_floats_give(contract: Contract) -> None:
    assert_broadcasts(contract)


@given(area=AREAS, rate=RATES, tank=TANKS)
def test_the_loads_add_up_to_the_area_and_the_mix(area, rate, tank) -> None:
    plan = dose.plan_loads(area_ha=area, rate_l_ha=rate, tank_l=tank)
    assert plan.total_l == pytest.approx(area * rate, rel=1e-12)
    assert plan.full_loads * tank + plan.part_l == pytest.approx(area * rate, rel=1e-8)
    assert plan.full_loads * plan.full_area_ha + plan.part_area_ha == pytest.approx(area, rel=1e-8)
    assert 0.0 <= plan.part_l < tank
    assert plan.loads == pytest.approx(math.ceil(area * rate / tank), abs=1)


@walked("loads", range(1, 60))
def test_a_whole_number_of_tanks_leaves_no_crumb_of_a_load(loads: int) -> None:
    # 0.1 · 7 and its like are a hair off in binary; a load of a billionth of a tank is none.
    plan = dose.plan_loads(area_ha=loads * 0.1, rate_l_ha=0.7 / 0.1 * 10, tank_l=7.0)
    assert (plan.full_loads, plan.part_l, plan.part_area_ha) == (loads, 0.0, 0.0)
    assert plan.loads == loads


def test_less_than_a_tank_is_one_part_load() -> None:
    plan = dose.plan_loads(area_ha=1.0, rate_l_ha=120.0, tank_l=1000.0)
    assert (plan.full_loads, plan.loads, plan.part_l, plan.part_area_ha) == (0, 1, 120.0, 1.0)


def test_pounds_per_hundred_gallons_go_with_the_volume() -> None:
    assert dose.amount_per_hundred(amount_per_100=8.5, mix_volume=500.0) == pytest.approx(42.5)


@pytest.mark.parametrize(
    ("ion", "factor"),
    [
        ("potassium_ppm", 0.002),
        ("sodium_ppm", 0.005),
        ("calcium_ppm", 0.009),
        ("magnesium_ppm", 0.014),
        ("iron_ppm", 0.042),
    ],
)
def test_each_ion_asks_for_its_own_share_of_ammonium_sulfate(ion: str, factor: float) -> None:
    # NDSU equation, read in excerpt.
    water = {**dict.fromkeys(ions, 0.0), ion: 50.0}
    assert dose.ammonium_sulfate_lb_100_gal(**water) == pytest.approx(50.0 * factor, rel=1e-12)


def test_a_wrong_carrier_volume_moves_every_product_alike() -> None:
    planned, delivered = 120.0, 138.0
    for rate in (0.2, 1.0, 3.5):
        concentration = dose.concentration_per_l(amount=rate, mix_volume_l=planned)
        laid_down = dose.delivered_product_rate(
            delivered_rate_l_ha=delivered, concentration_per_l=concentration
        )
        assert laid_down / rate == pytest.approx(delivered / planned, rel=1e-12)


@given(rate=st.floats(min_value=0.01, max_value=50), content=CONTENTS)
def test_product_and_active_ingredient_undo_each_other(rate, content) -> None:
    active = dose.active_rate_of_liquid_g_ha(product_rate_l_ha=rate, content_g_l=content)
    back = dose.liquid_rate_for_active_l_ha(active_rate_g_ha=active, content_g_l=content)
    assert back == pytest.approx(rate, rel=1e-12)
    percent = content / 20
    dry = dose.active_rate_of_dry_g_ha(product_rate_kg_ha=rate, content_percent=percent)
    again = dose.dry_rate_for_active_kg_ha(active_rate_g_ha=dry, content_percent=percent)
    assert again == pytest.approx(rate, rel=1e-12)


def test_an_acid_is_its_own_acid_equivalent_and_a_salt_is_less() -> None:
    assert (
        dose.acid_equivalent(active=480.0, acid_molar_mass=221.04, form_molar_mass=221.04) == 480.0
    )
    # Dimethylamine (45.08 g/mol) salt of an acid of 221.04 g/mol: share 0.8306; computed.
    salt = dose.acid_equivalent(active=1.0, acid_molar_mass=221.04, form_molar_mass=266.12)
    assert salt == pytest.approx(0.8306, abs=0.00005)


USES = [
    dose.SubstanceUse(date(2025, 4, 30), "substance one", 500.0),
    dose.SubstanceUse(date(2025, 5, 1), "substance one", 600.0),
    dose.SubstanceUse(date(2025, 6, 1), "substance two", 70.0),
    dose.SubstanceUse(date(2025, 6, 30), "substance one", 300.0),
    dose.SubstanceUse(date(2025, 7, 1), "substance one", 400.0),
]


def test_a_season_total_counts_both_ends_of_its_period() -> None:
    totals = dose.season_totals(uses=USES, first_day=date(2025, 5, 1), last_day=date(2025, 6, 30))
    assert totals == {
        "substance one": dose.SeasonTotal(900.0, 2),
        "substance two": dose.SeasonTotal(70.0, 1),
    }


def test_a_season_without_applications_has_no_totals() -> None:
    assert (
        dose.season_totals(uses=USES, first_day=date(2024, 1, 1), last_day=date(2024, 1, 1)) == {}
    )


def test_a_period_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(
        OutOfRange, match=r"^last_day is '2025-04-30'; it must be 2025-05-01 or later\.$"
    ):
        dose.season_totals(uses=USES, first_day=date(2025, 5, 1), last_day=date(2025, 4, 30))


@pytest.mark.parametrize("rate", NEGATIVE)
def test_a_bad_rate_is_named_with_its_substance_and_day(rate: float) -> None:
    bad = [dose.SubstanceUse(date(2025, 5, 1), "substance one", rate)]
    with pytest.raises(OutOfRange, match=r"^rate_g_ha of substance one on 2025-05-01 is "):
        dose.season_totals(uses=bad, first_day=date(2025, 5, 1), last_day=date(2025, 5, 1))


@pytest.mark.parametrize(
    ("used", "agreement"),
    [
        (100.0, "agrees"),
        (105.0, "agrees"),
        (95.0, "agrees"),
        (105.1, "look again"),
        (94.9, "look again"),
        (110.0, "look again"),
        (90.0, "look again"),
        (110.1, "does not agree"),
        (89.9, "does not agree"),
        (0.0, "does not agree"),
    ],
)
def test_used_and_expected_agree_up_to_five_per_cent(used: float, agreement: str) -> None:
    # Common practice, no source.
    result = dose.reconcile(used=used, expected=100.0)
    assert result.agreement == agreement
    assert result.difference == pytest.approx(used / 100 - 1)


def test_the_longest_interval_of_a_mix_counts() -> None:
    end = datetime(2025, 6, 1, 12, tzinfo=UTC)
    result = dose.reentry_end(ended_at=end, intervals_h=[4.0, 48.0, 12.0])
    assert result == datetime(2025, 6, 3, 12, tzinfo=UTC)


@given(
    hours=st.floats(min_value=0, max_value=8784),
    offset=st.integers(min_value=-12, max_value=14),
)
def test_the_zone_of_the_clock_does_not_move_the_end(hours: float, offset: int) -> None:
    zone = timezone(timedelta(hours=offset))
    local = datetime(2025, 6, 1, 12, tzinfo=zone)
    by_local = dose.reentry_end(ended_at=local, intervals_h=[hours])
    by_utc = dose.reentry_end(ended_at=local.astimezone(UTC), intervals_h=[hours])
    assert by_local == by_utc
    assert by_local.tzinfo is UTC
    assert by_local - local == timedelta(hours=hours)


def test_a_pre_harvest_interval_of_zero_allows_harvest_the_same_day() -> None:
    # NPIC, read in excerpt.
    day = date(2025, 6, 14)
    assert dose.earliest_harvest(ended_on=day, interval_days=0) == day


def test_the_mixing_order_begins_with_water_and_names_each_formulation_once() -> None:
    assert dose.MIXING_ORDER[0].what.startswith("water")
    codes = [code for step in dose.MIXING_ORDER for code in step.formulations]
    assert len(set(codes)) == len(codes)
    assert codes.index("WG") < codes.index("SC") < codes.index("EC") < codes.index("SL")
    assert {step.how_read for step in dose.MIXING_ORDER} == {"read in excerpt", "from memory"}
