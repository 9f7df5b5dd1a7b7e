"""Wind: [FAO-56] example 14, vector means, the log law; Beaufort rows against their sources."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.errors import OutOfRange
from calc.units import convert
from calc.wind import (
    BEAUFORT,
    SECTORS,
    crop_displacement_m,
    crop_roughness_m,
    is_downwind,
    sector,
    speed_at_2_m_km_h,
    speed_at_height_km_h,
    vector_mean,
)
from tests.calc.vectors import Row, check, ids

direction = st.floats(0.0, 360.0)
speed = st.floats(0.0, 60.0)


def compute(row: Row) -> object:
    x = row.inputs
    if x["want"] == "fao":
        return speed_at_2_m_km_h(speed_km_h=x["u"], height_m=x["z"])
    if x["want"] == "ratio":
        return speed_at_height_km_h(
            speed_km_h=1.0, from_height_m=x["below"], to_height_m=x["above"], roughness_m=0.03
        )
    in_mph = row.unit == "mph"
    speeds = [convert(s, from_unit="mph", to_unit="km/h") if in_mph else s for s in x["speeds"]]
    mean = vector_mean(speeds_km_h=speeds, from_deg=x["from"])
    if x["want"] == "speed" and in_mph:
        return convert(mean.speed_km_h, from_unit="km/h", to_unit="mph")
    if x["want"] == "from" and mean.from_deg is not None:
        # North is 0 and 360; rounding may land on either side.
        return 0.0 if mean.from_deg > 360.0 - 1e-9 else mean.from_deg
    return {
        "speed": mean.speed_km_h,
        "from": mean.from_deg,
        "scalar": mean.scalar_mean_km_h,
    }[x["want"]]


@pytest.mark.parametrize("example", ids("wind"))
def test_published_example(example):
    check("wind", example, {example: compute})


@pytest.mark.parametrize(
    ("degrees", "name"),
    [
        (0.0, "N"),
        (11.24, "N"),
        (11.26, "NNE"),
        (45.0, "NE"),
        (90.0, "E"),
        (202.5, "SSW"),
        (225.0, "SW"),
        (348.74, "NNW"),
        (348.76, "N"),
        (360.0, "N"),
    ],
)
def test_sector(degrees, name):
    assert sector(direction_deg=degrees) == name


def test_every_sector_is_named_at_its_own_centre():
    assert [sector(direction_deg=22.5 * n) for n in range(16)] == list(SECTORS)


@given(speed=st.floats(0.1, 60.0), angle=direction)
def test_mean_of_one_reading_is_that_reading(speed, angle):
    mean = vector_mean(speeds_km_h=[speed], from_deg=[angle])
    assert mean.speed_km_h == pytest.approx(speed)
    turn = abs(mean.from_deg - angle) % 360.0
    assert min(turn, 360.0 - turn) < 1e-9
    assert 0.0 <= mean.from_deg < 360.0
    assert mean.persistence == pytest.approx(1.0)


@given(readings=st.lists(st.tuples(speed, direction), min_size=1, max_size=12))
def test_vector_mean_never_exceeds_the_scalar_mean(readings):
    speeds, angles = zip(*readings, strict=True)
    mean = vector_mean(speeds_km_h=speeds, from_deg=angles)
    assert mean.speed_km_h <= mean.scalar_mean_km_h * (1 + 1e-12)
    assert mean.strongest_km_h == max(speeds)


def test_calm_has_no_direction_and_no_persistence():
    mean = vector_mean(speeds_km_h=[0.0, 0.0], from_deg=[90.0, 180.0])
    assert (mean.from_deg, mean.persistence, mean.scalar_mean_km_h) == (None, None, 0.0)


def test_opposed_winds_have_a_speed_each_but_no_direction():
    mean = vector_mean(speeds_km_h=[5.0, 5.0], from_deg=[90.0, 270.0])
    assert mean.from_deg is None
    assert mean.scalar_mean_km_h == 5.0
    assert mean.persistence == pytest.approx(0.0, abs=1e-12)


def test_a_hair_west_of_north_is_north_and_not_360():
    mean = vector_mean(speeds_km_h=[5.0, 5.0], from_deg=[360.0, 360.0])
    assert mean.from_deg == 0.0


@given(u=speed, low=st.floats(0.5, 3.0), high=st.floats(3.0, 20.0))
def test_height_correction_there_and_back_returns_the_reading(u, low, high):
    up = speed_at_height_km_h(speed_km_h=u, from_height_m=low, to_height_m=high)
    assert up >= u
    back = speed_at_height_km_h(speed_km_h=up, from_height_m=high, to_height_m=low)
    assert back == pytest.approx(u)


def test_two_height_formulas_agree_over_short_grass():
    # [FAO-56] eq. 47 is the profile of eq. 4 over 12 cm grass: d = 0.08 m, z0 = 0.0148 m.
    for height in (3.0, 5.0, 10.0):
        short = speed_at_2_m_km_h(speed_km_h=10.0, height_m=height)
        profile = speed_at_height_km_h(
            speed_km_h=10.0,
            from_height_m=height,
            to_height_m=2.0,
            roughness_m=crop_roughness_m(crop_height_m=0.12),
            displacement_m=crop_displacement_m(crop_height_m=0.12),
        )
        assert short == pytest.approx(profile, rel=0.002)


def test_a_reading_at_2_m_stays_nearly_as_it_is():
    assert speed_at_2_m_km_h(speed_km_h=10.0, height_m=2.0) == pytest.approx(10.0, rel=0.001)


def test_arrays_give_arrays():
    column = np.array([5.0, 10.0])
    assert speed_at_2_m_km_h(speed_km_h=column, height_m=10.0).shape == (2,)
    assert speed_at_height_km_h(speed_km_h=column, from_height_m=2.0, to_height_m=10.0).shape == (
        2,
    )


@pytest.mark.parametrize(
    ("bearing", "downwind"),
    [(90.0, True), (45.0, True), (135.0, True), (44.9, False), (135.1, False), (270.0, False)],
)
def test_wind_from_the_west_carries_east(bearing, downwind):
    assert is_downwind(wind_from_deg=270.0, wind_speed_km_h=10.0, bearing_deg=bearing) is downwind


def test_downwind_wraps_round_north():
    assert is_downwind(wind_from_deg=190.0, wind_speed_km_h=10.0, bearing_deg=340.0)
    assert is_downwind(wind_from_deg=170.0, wind_speed_km_h=10.0, bearing_deg=20.0)
    assert is_downwind(wind_from_deg=90.0, wind_speed_km_h=10.0, bearing_deg=-90.0)


@pytest.mark.parametrize("bearing", [0.0, 90.0, 180.0, 270.0])
def test_in_light_or_directionless_wind_every_place_is_downwind(bearing):
    assert is_downwind(wind_from_deg=0.0, wind_speed_km_h=4.8, bearing_deg=bearing)
    assert is_downwind(wind_from_deg=None, wind_speed_km_h=20.0, bearing_deg=bearing)


def test_a_narrower_angle_is_the_callers_choice():
    assert not is_downwind(
        wind_from_deg=270.0, wind_speed_km_h=10.0, bearing_deg=110.0, half_angle_deg=15.0
    )


@pytest.mark.parametrize(
    ("number", "at_10_m"),
    [(0, (None, 1)), (1, (1, 5)), (2, (6, 11)), (3, (12, 19)), (4, (20, 28)), (5, (29, 38))],
)
def test_beaufort_at_10_m_is_the_published_table(number, at_10_m):
    # [VIC-BEAUFORT], read in excerpt.
    assert BEAUFORT[number].number == number
    assert BEAUFORT[number].at_10_m_km_h == at_10_m


def test_beaufort_2_is_another_speed_at_the_nozzle():
    # [DEFRA-DRIFT], read in excerpt: 3.2 to 6.5 km/h; at 10 m the same number is 6 to 11.
    assert BEAUFORT[2].at_nozzle_km_h == (3.2, 6.5)


def test_beaufort_at_nozzle_height_is_what_the_log_law_makes_of_10_m_within_a_number():
    for row in BEAUFORT[2:5]:
        middle = sum(row.at_10_m_km_h) / 2.0
        below = speed_at_height_km_h(
            speed_km_h=middle, from_height_m=10.0, to_height_m=0.5, roughness_m=0.03
        )
        low, high = row.at_nozzle_km_h
        assert 0.8 * low <= below <= 1.2 * high


@pytest.mark.parametrize("bad", [-1.0, 360.1, math.nan])
def test_refuses_a_direction_that_is_none(bad):
    with pytest.raises(OutOfRange, match=rf"^direction_deg is {bad}; it must be between 0 and 360"):
        sector(direction_deg=bad)
    with pytest.raises(OutOfRange, match=rf"^from_deg is {bad}; it must be between 0 and 360 °"):
        vector_mean(speeds_km_h=[5.0, 5.0], from_deg=[10.0, bad])
    with pytest.raises(OutOfRange, match=rf"^wind_from_deg is {bad}; it must be between 0 and 360"):
        is_downwind(wind_from_deg=bad, wind_speed_km_h=10.0, bearing_deg=0.0)


@pytest.mark.parametrize("bad", [-1.0, math.nan, math.inf])
def test_refuses_a_speed_that_is_none(bad):
    with pytest.raises(OutOfRange, match=rf"^speeds_km_h is {bad}; it must be zero or more"):
        vector_mean(speeds_km_h=[bad], from_deg=[0.0])
    with pytest.raises(OutOfRange, match=rf"^speed_km_h is {bad}; it must be zero or more"):
        speed_at_2_m_km_h(speed_km_h=bad, height_m=2.0)
    with pytest.raises(OutOfRange, match=rf"^speed_km_h is {bad}; it must be zero or more"):
        speed_at_height_km_h(speed_km_h=bad, from_height_m=2.0, to_height_m=10.0)
    with pytest.raises(OutOfRange, match=rf"^wind_speed_km_h is {bad}; it must be zero or more"):
        is_downwind(wind_from_deg=0.0, wind_speed_km_h=bad, bearing_deg=0.0)


@pytest.mark.parametrize(("speeds", "angles"), [([], []), ([1.0], [1.0, 2.0]), ([1.0, 2.0], [1.0])])
def test_refuses_speeds_without_their_directions(speeds, angles):
    with pytest.raises(OutOfRange, match=r"it must be one direction for each speed, one or more"):
        vector_mean(speeds_km_h=speeds, from_deg=angles)


@pytest.mark.parametrize("bad", [0.3, 0.0, -1.0, math.nan, math.inf])
def test_refuses_a_height_in_the_canopy(bad):
    with pytest.raises(
        OutOfRange, match=rf"^to_height_m is {bad}; it must be finite and above 0.3"
    ):
        speed_at_height_km_h(speed_km_h=5.0, from_height_m=2.0, to_height_m=bad)
    with pytest.raises(OutOfRange, match=rf"^from_height_m is {bad}; it must be finite and above"):
        speed_at_height_km_h(speed_km_h=5.0, from_height_m=bad, to_height_m=2.0)


def test_refuses_other_arguments_out_of_range():
    with pytest.raises(OutOfRange, match=r"^roughness_m is 0.0; it must be positive"):
        speed_at_height_km_h(speed_km_h=5.0, from_height_m=2.0, to_height_m=10.0, roughness_m=0.0)
    with pytest.raises(OutOfRange, match=r"^displacement_m is -1.0; it must be zero or more"):
        speed_at_height_km_h(
            speed_km_h=5.0, from_height_m=2.0, to_height_m=10.0, displacement_m=-1.0
        )
    with pytest.raises(OutOfRange, match=r"^height_m is 0.4; it must be between 0.5 and 100 m"):
        speed_at_2_m_km_h(speed_km_h=5.0, height_m=0.4)
    with pytest.raises(OutOfRange, match=r"^bearing_deg is 400.0; it must be between -180 and 360"):
        is_downwind(wind_from_deg=0.0, wind_speed_km_h=5.0, bearing_deg=400.0)
    with pytest.raises(OutOfRange, match=r"^half_angle_deg is 181.0; it must be between 0 and 180"):
        is_downwind(wind_from_deg=0.0, wind_speed_km_h=5.0, bearing_deg=0.0, half_angle_deg=181.0)
    with pytest.raises(OutOfRange, match=r"^crop_height_m is -1.0; it must be zero or more"):
        crop_displacement_m(crop_height_m=-1.0)
    with pytest.raises(OutOfRange, match=r"^crop_height_m is 0.0; it must be positive"):
        crop_roughness_m(crop_height_m=0.0)
