"""Whether the amounts bear each other out: mix, product, distance, loads."""

from __future__ import annotations

from logbook.checks import amounts
from logbook.checks.core import Severity
from tests.logbook.checks.build import lack, look, nothing, q, the

# --- mix -------------------------------------------------------------------------------------


def test_the_mix_that_the_setting_takes_agrees() -> None:
    assert look(amounts.mix_used) == []


def test_mix_within_five_per_cent_agrees() -> None:
    # The trade's yardstick: 830 gal on 40 ac at 20 gal/ac is +3.75 % and agrees.
    assert look(amounts.mix_used, record__mix_used=q(f"{1875 * 1.0375:.1f} gal")) == []


def test_mix_that_the_others_contradict_is_a_mismatch() -> None:
    # 2400 gal on 125 ac are 19.2 gal/ac; the settings and both products say 15.
    finding = the(amounts.mix_used, record__mix_used=q("2400 gal"), record__distance=None)
    assert finding.severity is Severity.MISMATCH
    assert finding.about == "mix_used"
    assert finding.sentence == (
        "15.0 gal/ac by the settings; 19.2 gal/ac by the mix used; 15.0 gal/ac by the total of "
        "Fenland 4 EC used; 15.0 gal/ac by the total of Wetting 90 used. The others contradict the "
        "mix used."
    )


def test_two_that_contradict_each_other_name_none() -> None:
    # Cox 2007: of two, the larger consistent subset is neither.
    two = {"products__0__total_used": None, "products__1__total_used": None}
    finding = the(amounts.mix_used, **two, record__mix_used=q("2400 gal"), record__distance=None)
    assert finding.sentence == (
        "15.0 gal/ac by the settings; 19.2 gal/ac by the mix used. They contradict one another; "
        "which of them is wrong cannot be told."
    )


def test_settings_that_the_amounts_contradict_are_told_at_their_first_box() -> None:
    finding = the(amounts.mix_used, record__speed=q("5.0 mph"))
    assert finding.about == "speed"
    assert finding.sentence.endswith("The others contradict the settings.")


def test_without_distance_it_may_as_well_be_the_area() -> None:
    # Settings 15.0, tank and products 12.3 each: they share the area (computed).
    finding = the(amounts.mix_used, record__treated_area=q("152 ac"), record__distance=None)
    assert finding.sentence.endswith("The others contradict the settings or the treated area.")


def test_a_contradiction_is_told_once() -> None:
    for wrong in ({"record__mix_used": q("2400 gal")}, {"record__speed": q("4.0 mph")}):
        told = [
            finding
            for check in (amounts.mix_used, amounts.product_used, amounts.distance_driven)
            for finding in look(check, **wrong)
        ]
        assert len(told) == 1


def test_without_a_plan_the_rates_are_shown_in_the_reference_unit() -> None:
    finding = the(amounts.mix_used, record__mix_used=q("2400 gal"), record__planned_carrier=None)
    assert finding.sentence.startswith("140 L/ha by the settings; 180 L/ha by the mix used; ")


def test_the_mix_check_needs_mix_area_and_setting() -> None:
    lacking = lack(
        amounts.mix_used,
        record__mix_used=None,
        record__treated_area=None,
        record__speed=None,
    )
    assert set(lacking.needs) == {"mix_used", "treated_area", "speed"}
    words = lack(amounts.mix_used, record__mix_used=q("not measured: no marks"))
    assert words.why == "spray mix used on this field was not measured: no marks"


# --- product ---------------------------------------------------------------------------------


def test_the_products_that_the_rates_take_agree() -> None:
    assert look(amounts.product_used) == []


def test_a_product_total_that_the_others_contradict_is_a_mismatch() -> None:
    # Montana MT 2000-14, formula 6a: 125 ac · 22 fl oz/ac = 2750 fl oz; 25.8 gal are 3302.4.
    finding = the(amounts.product_used, products__0__total_used=q("25.8 gal"))
    assert finding.severity is Severity.MISMATCH
    assert finding.about == "products.0.total_used"
    # 15 · 3302.4 / 2750.
    assert "18.0 gal/ac by the total of Fenland 4 EC used" in finding.sentence
    assert finding.sentence.endswith("The others contradict the total of Fenland 4 EC used.")


def test_a_total_off_its_concentration_is_a_mismatch() -> None:
    # Montana MT 2000-14, formula 10a: 0.25 % of 1875 gal = 4.6875 gal = 600 fl oz.
    finding = the(amounts.product_used, products__1__total_used=q("800 fl oz"))
    assert finding.about == "products.1.total_used"
    assert "20.0 gal/ac by the total of Wetting 90 used" in finding.sentence


def test_a_mass_per_volume_is_counted_too() -> None:
    # 17 lb/100 gal of 1875 gal = 318.75 lb.
    salt = {"products__1__planned_rate": q("17 lb/100 gal"), "loads": ()}
    assert look(amounts.product_used, products__1__total_used=q("318.75 lb"), **salt) == []
    finding = the(amounts.product_used, products__1__total_used=q("400 lb"), **salt)
    assert "18.8 gal/ac by the total of Wetting 90 used" in finding.sentence


def test_a_dry_product_per_area_is_counted_in_mass() -> None:
    # Agrochemical and Pesticide Safety Handbook, ex. 4: 3.5 ac at 3 lb/ac is 10.5 lb.
    dry = {
        "record__treated_area": q("3.5 ac"),
        "products__0__planned_rate": q("3 lb/ac"),
        "products__0__total_used": q("10.5 lb"),
    }
    assert look(amounts.product_used, **dry) == []


def test_mass_is_not_compared_with_volume() -> None:
    lacking = lack(amounts.product_used, products__0__total_used=q("172 lb"))
    assert lacking.why == "Fenland 4 EC is planned in fl oz/ac and used in lb"


def test_the_product_check_names_every_blank() -> None:
    lacking = lack(
        amounts.product_used,
        products__0__planned_rate=None,
        products__0__total_used=None,
        record__mix_used=None,
    )
    assert set(lacking.needs) == {
        "products.0.planned_rate",
        "products.0.total_used",
        "mix_used",
    }
    assert "treated_area" in lack(amounts.product_used, record__treated_area=None).needs


# --- distance --------------------------------------------------------------------------------


def test_distance_times_swath_is_the_treated_area() -> None:
    assert look(amounts.distance_driven) == []


NO_MIX = {"record__mix_used": None}


def test_a_distance_that_the_others_contradict_is_a_mismatch() -> None:
    # 12.9 mi · 5280 ft · 60 ft / 43,560 ft² = 93.8 ac (NASDA Core Manual, ch. 11): 1875 gal on them
    # are 20.0 gal/ac.
    finding = the(amounts.distance_driven, record__distance=q("12.9 mi"))
    assert finding.severity is Severity.MISMATCH
    assert finding.about == "distance"
    assert "20.0 gal/ac by the distance driven" in finding.sentence


def test_without_the_mix_a_distance_is_held_to_the_area() -> None:
    finding = the(amounts.distance_driven, record__distance=q("12.9 mi"), **NO_MIX)
    assert finding.sentence == (
        "Sprayed 12.9 mi with a swath of 60.0 ft, which makes 93.8 ac; treated area 125 ac: "
        "24.9 % less."
    )


def test_the_swath_of_a_metric_rig_is_in_metres() -> None:
    finding = the(
        amounts.distance_driven,
        record__distance=q("12.9 mi"),
        rig__spacing=q("50.8 cm"),
        **NO_MIX,
    )
    assert "a swath of 18.3 m" in finding.sentence


def test_bands_make_a_narrower_swath() -> None:
    # 10-in bands from 36 nozzles are 30 ft wide: half of 60 ft.
    banded = {
        "record__pattern": "banded",
        "record__band_width": q("10 in"),
        "record__row_spacing": q("30 in"),
        "record__nozzles_per_row": 1,
    }
    finding = the(amounts.distance_driven, **banded, **NO_MIX)
    assert "a swath of 30.0 ft, which makes 62.5 ac" in finding.sentence


def test_the_distance_check_needs_its_facts() -> None:
    lacking = lack(amounts.distance_driven, record__treated_area=None, rig=None)
    assert set(lacking.needs) == {"treated_area", "rig"}
    # The distance is evidence that a record may do without: nothing is asked for its sake.
    assert nothing(amounts.distance_driven, record__distance=None, rig=None) == (
        "distance driven with the boom on, further evidence, was not entered"
    )


# --- loads -----------------------------------------------------------------------------------


def test_the_loads_used_are_the_mix_used() -> None:
    assert look(amounts.loads_used) == []


def test_loads_that_come_to_another_mix_are_a_mismatch() -> None:
    finding = the(amounts.loads_used, loads__1__used_here=q("400 gal"))
    assert finding.severity is Severity.MISMATCH
    assert finding.about == "mix_used"
    assert finding.sentence == (
        "Mix used 1875 gal; the loads used here come to 1400 gal: 33.9 % more."
    )


def test_more_used_than_mixed_is_a_mismatch_beside_that_load() -> None:
    finding = the(amounts.loads_used, loads__1__used_here=q("880 gal"))
    assert finding.about == "loads.1.used_here"
    assert finding.sentence == "Load 2: 880 gal used here, but only 875 gal mixed."


def test_the_loads_check_needs_loads_uses_and_mix() -> None:
    assert nothing(amounts.loads_used, loads=()) == "loads, further evidence, was not entered"
    lacking = lack(amounts.loads_used, loads__0__used_here=None, record__mix_used=None)
    assert set(lacking.needs) == {"loads.0.used_here", "mix_used"}
    unused = {"loads__0__used_here": q("0 gal"), "loads__1__used_here": q("0 gal")}
    assert lack(amounts.loads_used, **unused).why == "nothing of the loads was used here"


def test_without_the_rig_the_tank_marks_are_taken_as_exact() -> None:
    assert look(amounts.loads_used, rig=None) == []


def test_the_products_in_the_loads_are_the_totals() -> None:
    assert look(amounts.product_in_loads) == []


def test_a_total_that_the_loads_did_not_hold_is_a_mismatch() -> None:
    finding = the(amounts.product_in_loads, loads__1__parts__0__amount=q("640 fl oz"))
    assert finding.severity is Severity.MISMATCH
    assert finding.about == "products.0.total_used"
    # 1466.7 + 640 = 2106.7 fl oz.
    assert finding.sentence == (
        "Used 2750 fl oz of Fenland 4 EC; the part of the loads used here held 2110 fl oz: "
        "30.5 % more."
    )


def test_only_the_part_used_here_counts() -> None:
    # Half of the second load went elsewhere: 1466.7 + 641.65 fl oz.
    shared = {"loads__1__used_here": q("437.5 gal")}
    assert len(look(amounts.product_in_loads, **shared)) == 2
    totals = {"products__0__total_used": q("2108 fl oz"), "products__1__total_used": q("460 fl oz")}
    assert look(amounts.product_in_loads, **shared, **totals) == []


def test_the_loads_of_a_product_need_their_facts() -> None:
    assert "loads" in nothing(amounts.product_in_loads, loads=())
    assert "products" in lack(amounts.product_in_loads, products=()).needs
    assert (
        "products.0.total_used"
        in lack(amounts.product_in_loads, products__0__total_used=None).needs
    )
    assert set(lack(amounts.product_in_loads, loads__0__used_here=None).needs) == {
        "loads.0.used_here"
    }
    kinds = lack(amounts.product_in_loads, loads__0__parts__0__amount=q("90 lb"))
    assert kinds.why == "load 1 holds 90 lb, the total is in fl oz"
    other = lack(amounts.product_in_loads, products__1__product_id="another")
    assert other.why == "no load holds Wetting 90"
