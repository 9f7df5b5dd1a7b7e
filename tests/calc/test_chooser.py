"""Choosing a nozzle. The nozzles are invented; their flows are the sizes of ISO 10625.

What the chooser promises is checked by the forward computation of `delivery` and by the extension
example EX-PRES-04; the guidance is common practice, no source.
"""

import math
import random
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.chooser import (
    ANGLE_NOTE,
    GUIDANCE,
    KIND_NOTES,
    Candidate,
    Choice,
    Label,
    Limit,
    NozzleKind,
    Purpose,
    Rig,
    choose,
)
from calc.delivery import Settings, Uncertainties, delivered
from calc.droplets import DropletClass, this_or_coarser
from calc.errors import OutOfRange
from calc.units import convert

F, M, C, VC, XC = (
    DropletClass.F,
    DropletClass.M,
    DropletClass.C,
    DropletClass.VC,
    DropletClass.XC,
)

EXACT = Uncertainties(
    flow=0.0, pressure_kpa=0.0, speed=0.0, spacing=0.0, specific_gravity=0.0, duty=0.0
)
OPEN_LABEL = Label(
    low_l_ha=100.0,
    high_l_ha=196.0,
    classes=None,
    product_low_per_ha=None,
    product_high_per_ha=None,
)
RIG = Rig(spacing_cm=50.0, low_km_h=8.0, high_km_h=14.0)


def fan(name: str, flow: float, **changes: object) -> Candidate:
    plain = Candidate(
        name=name,
        kind=NozzleKind.FLAT_FAN,
        size=name,
        angle_deg=110.0,
        rated_flow_l_min=flow,
        rated_pressure_kpa=300.0,
        exponent=0.5,
        low_kpa=100.0,
        high_kpa=400.0,
        induction_kpa=None,
        classes=((100.0, C), (200.0, M), (400.0, F)),
    )
    return replace(plain, **changes)


def ask(
    candidates: list[Candidate],
    label: Label = OPEN_LABEL,
    rig: Rig = RIG,
    wished: float | None = None,
    gravity: float = 1.0,
) -> Choice:
    return choose(
        label=label, rig=rig, candidates=candidates, specific_gravity=gravity, wished_l_ha=wished
    )


SIZES = [fan("015", 0.6), fan("02", 0.8), fan("03", 1.2), fan("04", 1.6), fan("08", 3.2)]


def test_without_a_wish_the_middle_of_the_label_is_aimed_at():
    choice = ask(SIZES)
    assert choice.rate_l_ha == pytest.approx(140.0)
    # 100 is 28.6 % below 140, 196 is 40 % above: the nearer one counts.
    assert choice.rate_margin == pytest.approx(1 - 100 / 140)


def test_one_limit_alone_is_kept_away_from():
    low = replace(OPEN_LABEL, high_l_ha=None)
    high = replace(OPEN_LABEL, low_l_ha=None)
    assert ask(SIZES, low).rate_l_ha == pytest.approx(110.0)
    assert ask(SIZES, high).rate_l_ha == pytest.approx(196.0 / 1.1)


def test_a_label_without_a_carrier_rate_follows_the_wish():
    label = replace(OPEN_LABEL, low_l_ha=None, high_l_ha=None)
    choice = ask(SIZES, label, wished=150.0)
    assert (choice.rate_l_ha, choice.rate_margin) == (150.0, None)


def test_a_wish_on_the_limit_of_the_label_is_within_it():
    assert ask(SIZES, wished=100.0).rate_margin == pytest.approx(0.0)
    assert ask(SIZES, wished=196.0).rate_l_ha == 196.0


def test_ex_pres_04_window_is_found_from_the_other_side():
    # A size 04, 15 gal/ac, 20 in, 20–60 psi runs 5.60 to 9.70 mph; computed, no published example.
    us = {"from_unit": "psi", "to_unit": "kPa"}
    nozzle = fan(
        "04",
        convert(0.40, from_unit="gal/min", to_unit="L/min"),
        rated_pressure_kpa=convert(40.0, **us),
        low_kpa=convert(20.0, **us),
        high_kpa=convert(60.0, **us),
        classes=(),
    )
    rig = Rig(
        spacing_cm=50.8,
        low_km_h=convert(2.0, from_unit="mph", to_unit="km/h"),
        high_km_h=convert(20.0, from_unit="mph", to_unit="km/h"),
    )
    wished = convert(15.0, from_unit="gal/ac", to_unit="L/ha")
    (found,) = ask([nozzle], replace(OPEN_LABEL, high_l_ha=None), rig, wished).accepted
    mph = {"from_unit": "km/h", "to_unit": "mph"}
    assert convert(found.speed_low_km_h, **mph) == pytest.approx(5.60, abs=0.005)
    assert convert(found.speed_high_km_h, **mph) == pytest.approx(9.70, abs=0.005)
    # The middle of 20–60 psi, and ±√(60/20)^½ in speed.
    assert convert(found.pressure_kpa, from_unit="kPa", to_unit="psi") == pytest.approx(34.64, 1e-3)
    assert found.margin == pytest.approx(3.0**0.25 - 1.0)
    assert found.classes == ()


@given(
    flow=st.floats(0.4, 4.0),
    gravity=st.floats(0.8, 1.6),
    wished=st.floats(100.0, 196.0),
    low=st.floats(4.0, 12.0),
    ratio=st.floats(1.0, 2.5),
)
def test_what_is_accepted_delivers_the_rate_at_both_ends_and_where_suggested(
    flow, gravity, wished, low, ratio
):
    rig = Rig(spacing_cm=50.0, low_km_h=low, high_km_h=low * ratio)
    for found in ask([fan("x", flow)], rig=rig, wished=wished, gravity=gravity).accepted:
        for pressure, speed in (
            (found.pressure_low_kpa, found.speed_low_km_h),
            (found.pressure_high_kpa, found.speed_high_km_h),
            (found.pressure_kpa, found.speed_km_h),
        ):
            settings = Settings(
                known_flow_l_min=flow,
                known_at_kpa=300.0,
                exponent=0.5,
                gauge_kpa=pressure,
                line_loss_kpa=0.0,
                speed_km_h=speed,
                spacing_cm=50.0,
                specific_gravity=gravity,
                duty=1.0,
            )
            laid = delivered(settings=settings, uncertainties=EXACT)
            assert laid.rate_l_ha == pytest.approx(wished)
        assert 100.0 <= found.pressure_low_kpa <= found.pressure_kpa <= found.pressure_high_kpa
        assert found.pressure_high_kpa <= 400.0
        assert low * (1 - 1e-9) <= found.speed_low_km_h
        assert found.speed_high_km_h <= low * ratio * (1 + 1e-9)
        assert found.margin > 0.0


@given(flow=st.floats(0.2, 8.0), wished=st.floats(100.0, 196.0))
def test_every_candidate_is_accepted_or_rejected_once(flow, wished):
    label = replace(OPEN_LABEL, classes=this_or_coarser(M))
    nozzles = [*SIZES, fan("x", flow)]
    choice = ask(nozzles, label, wished=wished)
    names = [one.candidate.name for one in (*choice.accepted, *choice.rejected)]
    assert sorted(names) == sorted(nozzle.name for nozzle in nozzles)


def test_best_margin_comes_first():
    margins = [one.margin for one in ask(SIZES).accepted]
    assert len(margins) >= 2
    assert margins == sorted(margins, reverse=True)


@given(seed=st.integers(0, 1000))
def test_order_of_the_candidates_does_not_matter(seed):
    nozzles = [*SIZES, fan("03 b", 1.2), fan("03 a", 1.2), fan("04 wide", 1.6, high_kpa=600.0)]
    shuffled = nozzles.copy()
    random.Random(seed).shuffle(shuffled)
    assert ask(shuffled) == ask(nozzles)


def test_equal_margins_go_by_the_middle_of_the_speeds_and_then_by_name():
    # A rig with speeds wide enough for both to run in the middle of their range.
    rig = Rig(spacing_cm=50.0, low_km_h=4.0, high_km_h=30.0)
    names = [
        one.candidate.name
        for one in ask([fan("b", 1.2), fan("z", 0.9), fan("a", 1.2)], rig=rig).accepted
    ]
    # 1.2 L/min runs in its middle at 8.4 km/h, 0.9 at 6.3; the middle of the speeds is 11.0.
    assert names == ["a", "b", "z"]


def test_one_speed_has_one_pressure_and_still_a_margin():
    rig = replace(RIG, low_km_h=10.0, high_km_h=10.0)
    (found,) = ask([fan("03", 1.2)], rig=rig).accepted
    # 140 L/ha at 10 km/h and 50 cm are 1.1667 L/min: 283.6 kPa of a 03.
    assert found.pressure_low_kpa == found.pressure_high_kpa == pytest.approx(283.56, abs=0.01)
    assert found.margin == pytest.approx(math.sqrt(400 / 283.56) - 1, abs=1e-4)


def test_the_suggestion_stays_within_the_rigs_speeds():
    rig = replace(RIG, low_km_h=11.0, high_km_h=12.0)
    (found,) = ask([fan("03", 1.2)], rig=rig).accepted
    assert found.speed_km_h == pytest.approx(11.0)


def test_a_nozzle_too_large_is_rejected_by_the_bottom_of_its_range_with_numbers():
    (found,) = ask([fan("08", 3.2)]).rejected
    assert found.limit is Limit.BELOW_RATED
    # 140 L/ha, 50 cm: 0.933 L/min at 8 km/h and 1.633 at 14; of 3.2 at 300 kPa.
    assert found.needed_low_kpa == pytest.approx(300 * (0.9333 / 3.2) ** 2, rel=1e-3)
    assert found.needed_high_kpa == pytest.approx(300 * (1.6333 / 3.2) ** 2, rel=1e-3)
    assert (found.limit_low_kpa, found.limit_high_kpa, found.classes) == (100.0, 400.0, ())
    assert found.sentence == (
        "At 8.0–14.0 km/h and 140 L/ha it needs 26–78 kPa; its rated range is 100–400 kPa."
    )


def test_a_nozzle_too_small_is_rejected_by_the_top_of_its_range():
    (found,) = ask([fan("015", 0.6)]).rejected
    assert found.limit is Limit.ABOVE_RATED
    assert found.needed_low_kpa > 400.0


def test_at_one_speed_the_sentence_names_one_speed_and_one_pressure():
    rig = replace(RIG, low_km_h=10.0, high_km_h=10.0)
    (found,) = ask([fan("08", 3.2)], rig=rig).rejected
    assert found.sentence == (
        "At 10.0 km/h and 140 L/ha it needs 40 kPa; its rated range is 100–400 kPa."
    )


def test_a_window_that_only_touches_the_range_has_no_room():
    # 1.2 L/min at 300 kPa: needs exactly 100 kPa at the highest speed.
    speed = 60_000 * 1.2 / math.sqrt(3.0) / (140.0 * 50.0)
    rig = replace(RIG, low_km_h=2.0, high_km_h=speed * (1 - 1e-12))
    (found,) = ask([fan("03", 1.2)], rig=rig).rejected
    assert found.limit is Limit.BELOW_RATED


INDUCTION = {
    "kind": NozzleKind.AIR_INDUCTION_FLAT_FAN,
    "high_kpa": 800.0,
    "classes": ((200.0, XC), (400.0, VC), (800.0, C)),
}


def test_air_induction_is_held_to_the_pressure_it_draws_air_at():
    low = fan("04 ai", 1.6, **INDUCTION, induction_kpa=(400.0, 800.0))
    (found,) = ask([low]).rejected
    assert found.limit is Limit.BELOW_INDUCTION
    assert (found.limit_low_kpa, found.limit_high_kpa) == (400.0, 800.0)
    assert "it draws air at 400–800 kPa" in found.sentence
    high = fan("02 ai", 0.8, **INDUCTION, induction_kpa=(200.0, 400.0))
    (found,) = ask([high]).rejected
    assert found.limit is Limit.ABOVE_INDUCTION


def test_air_induction_within_its_own_range_is_accepted_with_margin_to_that_range():
    nozzle = fan("02 ai", 0.8, **INDUCTION, induction_kpa=(300.0, 800.0))
    (found,) = ask([nozzle]).accepted
    assert found.pressure_low_kpa >= 300.0
    assert found.margin <= math.sqrt(math.sqrt(800 / 300)) - 1 + 1e-12


COARSER = replace(OPEN_LABEL, classes=this_or_coarser(C))


def test_class_narrows_the_window_to_where_every_possible_class_is_allowed():
    medium = replace(OPEN_LABEL, classes=this_or_coarser(M))
    (found,) = ask([fan("03", 1.2, low_kpa=50.0)], medium).accepted
    # Coarse at 100, Medium at 200, Fine at 400 kPa: allowed up to 200, unknown below 100.
    assert found.pressure_high_kpa == pytest.approx(200.0)
    assert found.pressure_low_kpa > 100.0
    assert found.classes == (M, C)


def test_a_class_not_allowed_rejects_with_the_classes_it_may_spray():
    (found,) = ask([fan("03", 1.2)], COARSER).rejected
    assert found.limit is Limit.CLASS_NOT_ALLOWED
    assert found.classes == (F, M, C)
    assert found.sentence == (
        "At 8.0–14.0 km/h and 140 L/ha it needs 181–400 kPa; there it may spray Fine, Medium, "
        "Coarse, the label allows Coarse, Very Coarse, Extremely Coarse, Ultra Coarse."
    )


def test_classes_at_a_single_allowed_pressure_are_no_window():
    # Coarse at 300 kPa alone: beside it Medium is possible.
    nozzle = fan("03", 1.2, classes=((200.0, M), (300.0, C), (400.0, M)))
    (found,) = ask([nozzle], COARSER).rejected
    assert found.limit is Limit.CLASS_NOT_ALLOWED


def test_of_two_allowed_stretches_the_one_with_more_room_is_taken():
    label = replace(OPEN_LABEL, classes=frozenset({C}))
    table = ((100.0, C), (190.0, C), (220.0, M), (250.0, C), (300.0, C), (400.0, C))
    (found,) = ask([fan("03", 1.2, classes=table)], label).accepted
    assert found.pressure_low_kpa == pytest.approx(250.0)
    assert found.margin == pytest.approx((400 / 250) ** 0.25 - 1)


def test_a_class_is_not_guessed_outside_the_table():
    nozzle = fan("03", 1.2, high_kpa=900.0, classes=((600.0, C), (900.0, C)))
    (found,) = ask([nozzle], COARSER).rejected
    assert found.limit is Limit.CLASS_NOT_LISTED
    assert (found.limit_low_kpa, found.limit_high_kpa) == (600.0, 900.0)
    assert "its class table covers 600–900 kPa" in found.sentence


def test_a_single_row_of_class_is_no_stretch():
    (found,) = ask([fan("03", 1.2, classes=((300.0, C),))], COARSER).rejected
    assert found.limit is Limit.CLASS_NOT_LISTED
    assert "its class table covers 300 kPa" in found.sentence


def test_an_empty_class_table_cannot_meet_a_label_with_a_class():
    (found,) = ask([fan("03", 1.2, classes=())], COARSER).rejected
    assert found.limit is Limit.CLASS_NOT_LISTED
    assert (found.limit_low_kpa, found.limit_high_kpa) == (None, None)
    assert "its class table is empty" in found.sentence


def test_a_label_without_a_class_takes_any_and_still_names_it():
    (found,) = ask([fan("03", 1.2)]).accepted
    assert found.classes


def test_rejected_come_by_name():
    nozzles = [fan("z", 3.2), fan("a", 3.2), fan("m", 0.3)]
    assert [one.candidate.name for one in ask(nozzles).rejected] == ["a", "m", "z"]


def test_a_heavy_solution_needs_more_pressure_by_its_specific_gravity():
    # [UNL-2016]: flow falls by √SG, so pressure rises by SG.
    rig = replace(RIG, low_km_h=9.0, high_km_h=9.0)
    water, heavy = (
        ask([fan("03", 1.2)], rig=rig, gravity=gravity).accepted[0] for gravity in (1.0, 1.28)
    )
    assert heavy.pressure_kpa / water.pressure_kpa == pytest.approx(1.28)


def test_product_rates_become_what_a_litre_of_mix_must_hold():
    label = replace(OPEN_LABEL, product_low_per_ha=0.7, product_high_per_ha=1.4)
    low, high = ask(SIZES, label).concentration_per_l
    assert (low, high) == (pytest.approx(0.005), pytest.approx(0.01))
    assert ask(SIZES).concentration_per_l == (None, None)


def test_guidance_covers_every_purpose_once_and_says_what_it_is():
    assert [row.purpose for row in GUIDANCE] == list(Purpose)
    for row in GUIDANCE:
        assert row.finest < row.coarsest
        assert row.basis == "common practice, no source"
        assert row.kinds


def test_guidance_never_starts_below_medium():
    assert min(row.finest for row in GUIDANCE) >= M


def test_notes_say_what_air_induction_and_streamers_want():
    for kind in (NozzleKind.AIR_INDUCTION_FLAT_FAN, NozzleKind.AIR_INDUCTION_TWIN_FLAT_FAN):
        assert "higher pressure" in KIND_NOTES[kind]
        assert "drift-retardant" in KIND_NOTES[kind]
    assert "liquid fertilizer" in KIND_NOTES[NozzleKind.STREAMER]
    assert "lower boom" in ANGLE_NOTE


@pytest.mark.parametrize(
    ("low", "high", "wished", "band"),
    [
        (100.0, 196.0, 99.0, "100–196 L/ha"),
        (100.0, 196.0, 197.0, "100–196 L/ha"),
        (100.0, None, 99.0, "at least 100 L/ha"),
        (None, 196.0, 197.0, "at most 196 L/ha"),
    ],
)
def test_refuses_a_wish_outside_the_label(low, high, wished, band):
    label = replace(OPEN_LABEL, low_l_ha=low, high_l_ha=high)
    with pytest.raises(
        OutOfRange, match=rf"^wished_l_ha is {wished}; it must be within the label, {band}"
    ):
        ask(SIZES, label, wished=wished)


def test_refuses_to_guess_a_rate_that_nobody_named():
    label = replace(OPEN_LABEL, low_l_ha=None, high_l_ha=None)
    with pytest.raises(OutOfRange, match=r"^wished_l_ha is None; it must be given where the label"):
        ask(SIZES, label)


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_refuses_a_wish_that_is_no_rate(bad):
    with pytest.raises(OutOfRange, match=rf"^wished_l_ha is {bad}; it must be positive and finite"):
        ask(SIZES, wished=bad)


def test_refuses_a_name_that_comes_twice():
    with pytest.raises(OutOfRange, match=r"^candidates is '03'; it must be named once each"):
        ask([fan("03", 1.2), fan("03", 1.3)])


def test_refuses_a_density_out_of_range():
    with pytest.raises(OutOfRange, match=r"^specific_gravity is 8.34; it must be between 0.75"):
        ask(SIZES, gravity=8.34)


@pytest.mark.parametrize(
    ("name", "bad", "message"),
    [
        ("low_l_ha", 0.0, r"^low_l_ha is 0.0; it must be positive"),
        ("high_l_ha", math.inf, r"^high_l_ha is inf; it must be positive and finite"),
        ("high_l_ha", 90.0, r"^high_l_ha is 90.0; it must be low_l_ha = 100.0 or more"),
        ("classes", frozenset(), r"^classes is set\(\); it must be one class or more, or None"),
        ("product_low_per_ha", -1.0, r"^product_low_per_ha is -1.0; it must be positive"),
        ("product_high_per_ha", math.nan, r"^product_high_per_ha is nan; it must be positive"),
    ],
)
def test_refuses_a_label_that_cannot_be(name, bad, message):
    with pytest.raises(OutOfRange, match=message):
        replace(OPEN_LABEL, **{name: bad})


@pytest.mark.parametrize(
    ("name", "bad", "message"),
    [
        ("spacing_cm", 0.0, r"^spacing_cm is 0.0; it must be positive"),
        ("low_km_h", math.nan, r"^low_km_h is nan; it must be positive"),
        ("high_km_h", 7.0, r"^high_km_h is 7.0; it must be low_km_h = 8.0 or more"),
    ],
)
def test_refuses_a_rig_that_cannot_be(name, bad, message):
    with pytest.raises(OutOfRange, match=message):
        replace(RIG, **{name: bad})


@pytest.mark.parametrize(
    ("name", "bad", "message"),
    [
        ("rated_flow_l_min", 0.0, r"^rated_flow_l_min is 0.0; it must be positive"),
        ("rated_pressure_kpa", math.inf, r"^rated_pressure_kpa is inf; it must be positive"),
        ("exponent", 1.0, r"^exponent is 1.0; it must be between 0.4 and 0.6"),
        ("low_kpa", -1.0, r"^low_kpa is -1.0; it must be positive"),
        ("high_kpa", math.nan, r"^high_kpa is nan; it must be positive"),
        ("high_kpa", 100.0, r"^high_kpa is 100.0; it must be above low_kpa = 100.0"),
        (
            "induction_kpa",
            (50.0, 300.0),
            r"^induction_kpa is \(50.0, 300.0\); it must be a range wi",
        ),
        (
            "induction_kpa",
            (300.0, 300.0),
            r"^induction_kpa is .*; it must be a range within 100–400",
        ),
        ("classes", ((0.0, M),), r"^pressure in classes is 0.0; it must be positive"),
    ],
)
def test_refuses_a_nozzle_that_cannot_be(name, bad, message):
    with pytest.raises(OutOfRange, match=message):
        fan("03", 1.2, **{name: bad})
