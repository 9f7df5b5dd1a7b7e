"""From facts to flow, pressure and rate: against published examples, with their sources."""

from __future__ import annotations

import math
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from calc.coverage import AreaBasis
from calc.droplets import DropletClass
from calc.units import convert
from logbook.checks.core import CannotRun
from logbook.checks.setting import Setting, caught, class_of, nozzle_state, setting
from tests.logbook.checks.build import catch_test, clean, given, q

RATED = {"catch_test": None, "rig__line_loss": q("none"), "record__pressure": q("40 psi")}


def gal_ac(laid: Setting) -> float:
    return convert(laid.laid.rate_l_ha, from_unit="L/ha", to_unit="gal/ac")


def test_the_clean_rig_delivers_fifteen_gallons() -> None:
    # 5940 · q / (v · s), UF/IFAS WG013.
    assert gal_ac(setting(clean())) == pytest.approx(5940 * 0.303 / (6.0 * 20), rel=1e-4)


def test_a_rated_nozzle_follows_the_published_shortcut() -> None:
    # Montana State Extension: 20 gal/ac, 30 in, 5 mph ask for 0.505 gal/min.
    laid = setting(
        given(
            **RATED,
            nozzle__rated_flow=q("0.505 gal/min"),
            rig__spacing=q("30 in"),
            record__speed=q("5 mph"),
        )
    )
    assert gal_ac(laid) == pytest.approx(20.0, abs=0.05)
    assert laid.basis == "Flow as rated, 0.505 gal/min at 40 psi"


def test_flow_goes_with_the_root_of_pressure() -> None:
    # 0.40 gal/min at 40 psi gives 0.283 at 20 and 0.490 at 60 psi (square-root law).
    for pressure, flow in (("20 psi", 0.283), ("60 psi", 0.490)):
        state = nozzle_state(
            given(
                **(
                    RATED
                    | {"nozzle__rated_flow": q("0.40 gal/min"), "record__pressure": q(pressure)}
                )
            )
        )
        shown = convert(state.mix_flow_l_min, from_unit="L/min", to_unit="gal/min")
        assert shown == pytest.approx(flow, abs=0.0005)


def test_a_heavy_mix_comes_out_slower_once() -> None:
    # UNL CropWatch 2016, example 1: 10.65 lb/gal is SG 1.28, CF 1.13: 22.6 gal/ac of water are 20
    # gal/ac of the solution.
    water = setting(clean())
    mix = setting(given(record__density=q("10.65 lb/gal"), rig__line_loss=q("none")))
    no_loss = setting(given(rig__line_loss=q("none")))
    assert gal_ac(no_loss) / gal_ac(mix) == pytest.approx(1.13, abs=0.005)
    assert gal_ac(no_loss) > gal_ac(water)


def test_a_pulsing_valve_open_half_the_time_gives_half() -> None:
    # UGA C1305: linear in the duty cycle.
    full, half = (
        setting(given(rig__line_loss=q("none"), record__duty=q(duty))) for duty in ("100 %", "50 %")
    )
    assert gal_ac(half) == pytest.approx(gal_ac(full) / 2.0, rel=1e-12)


def test_the_line_loss_is_taken_off_and_scaled_to_the_flow() -> None:
    # Turbulent loss and square-root flow: at twice the gauge pressure all pressures double.
    assert nozzle_state(clean()).pressure_kpa == pytest.approx(q("40 psi").si, rel=1e-6)
    doubled = nozzle_state(given(record__pressure=q("84 psi")))
    assert doubled.pressure_kpa == pytest.approx(q("80 psi").si, rel=1e-6)


def test_a_strong_line_loss_is_solved_not_overshot() -> None:
    # 25 psi is lost at 20 gal/min; each nozzle gives 0.303 gal/min at 40 psi. Flow goes with the
    # root of the pressure p left and loss with the square of flow, so 40 − p = c·p: computed.
    strong = {"rig__line_loss": q("25 psi"), "rig__line_loss_flow": q("20 gal/min")}
    for boom_at_known, nozzles in ((10.908, 36), (36.36, 120)):
        state = nozzle_state(
            given(record__pressure=q("40 psi"), rig__nozzle_count=nozzles, **strong)
        )
        c = 25.0 / 20.0**2 * boom_at_known**2 / 40.0
        assert convert(state.line_loss_kpa, from_unit="kPa", to_unit="psi") == pytest.approx(
            40.0 * c / (1.0 + c), rel=1e-9
        )


def test_a_loss_read_at_a_higher_pressure_than_that_of_the_work_still_counts() -> None:
    state = nozzle_state(
        given(
            record__pressure=q("20 psi"),
            rig__line_loss=q("25 psi"),
            rig__line_loss_flow=q("20 gal/min"),
        )
    )
    assert 0.0 < state.line_loss_kpa < q("20 psi").si


@pytest.mark.parametrize("loss", [None, q("not measured: no gauge at the boom")])
def test_a_loss_that_is_not_known_is_said_in_the_basis(loss: Any) -> None:
    state = nozzle_state(given(rig__line_loss=loss))
    assert state.line_loss_kpa == 0.0
    assert state.basis.endswith("to 42.0 psi (pressure loss to the nozzle not known)")


def test_a_loss_needs_the_flow_at_which_it_was_read() -> None:
    with pytest.raises(CannotRun) as lack:
        nozzle_state(given(rig__line_loss_flow=None))
    assert set(lack.value.needs) == {"rig.line_loss_flow"}


def test_a_catch_test_in_force_outranks_the_data_sheet() -> None:
    state = nozzle_state(clean())
    assert state.test is not None
    assert state.basis == "Flow from the catch test of 2026-04-02"
    other = nozzle_state(given(record__pressure=q("300 kPa"), rig__line_loss=q("none")))
    assert other.basis.endswith(", pressure law from 40 psi (276 kPa) to 300 kPa")


@pytest.mark.parametrize(
    ("tested_on", "caught_flow"),
    [
        (date(2025, 6, 10), True),  # 365 days before
        (date(2025, 6, 9), False),
        (date(2026, 6, 10), True),
        (date(2026, 6, 11), False),
    ],
)
def test_an_old_or_later_catch_test_is_not_taken(tested_on: date, caught_flow: bool) -> None:
    state = nozzle_state(given(catch_test=catch_test(tested_on=tested_on)))
    assert (state.test is not None) is caught_flow


def test_while_the_day_is_blank_the_last_catch_test_counts() -> None:
    state = nozzle_state(given(record__started_at=None, record__finished_at=None))
    assert state.test is not None


def test_a_catch_test_is_read_as_published() -> None:
    # Eight nozzles, 60 s, mL; new 1184: mean 1205, CV 3.48 %, no. 5 is +8.3 % and worn by 10.2 %.
    volumes = tuple(map(Decimal, (1180, 1195, 1210, 1175, 1305, 1190, 1200, 1185)))
    test = catch_test(volumes=volumes, volume_unit="mL", pressure=q("300 kPa"))
    new = given(nozzle__rated_flow=q("1.184 L/min"), nozzle__rated_pressure=q("300 kPa")).nozzle
    shown = caught(test, new=new)
    assert shown.mean_l_min == pytest.approx(1.205, abs=1e-9)
    assert shown.cv == pytest.approx(0.0348, abs=5e-5)
    assert (shown.uneven, shown.worn) == ((5,), (5,))


def test_a_band_is_as_wide_as_its_nozzle_serves() -> None:
    # Univ. of Florida UF00067548: 26 fl oz in 300 ft on a 12-in band is 29.5 gal/ac. 300 ft at
    # 5 mph take 300 / (5 · 88/60) s.
    seconds = 300.0 / (5.0 * 88.0 / 60.0)
    flow = q(f"{26.0 * 60.0 / seconds:.6f} fl oz/min")
    laid = setting(
        given(
            **RATED,
            nozzle__rated_flow=flow,
            record__pattern="banded",
            record__band_width=q("12 in"),
            record__row_spacing=q("30 in"),
            record__nozzles_per_row=1,
            record__speed=q("5 mph"),
        )
    )
    assert gal_ac(laid) == pytest.approx(29.5, abs=0.05)
    assert laid.width.basis is AreaBasis.TREATED


def test_nozzles_directed_at_a_row_share_its_spacing() -> None:
    # Missouri G1270A: row spacing ÷ nozzles per row.
    laid = setting(
        given(
            record__pattern="directed",
            record__row_spacing=q("30 in"),
            record__nozzles_per_row=3,
        )
    )
    assert laid.width.width_cm == pytest.approx(25.4)
    assert laid.basis.endswith(", per field area")


@pytest.mark.parametrize(
    ("pattern", "needs"),
    [
        ("banded", {"band_width", "row_spacing", "nozzles_per_row"}),
        ("directed", {"row_spacing", "nozzles_per_row"}),
    ],
)
def test_bands_and_rows_need_their_widths(pattern: str, needs: set[str]) -> None:
    with pytest.raises(CannotRun) as lack:
        setting(given(record__pattern=pattern, record__band_width=None, record__row_spacing=None))
    assert set(lack.value.needs) == needs


def test_all_that_lacks_is_named_at_once() -> None:
    with pytest.raises(CannotRun) as lack:
        setting(
            given(
                rig=None,
                nozzle=None,
                record__speed=None,
                record__pressure=None,
            )
        )
    assert set(lack.value.needs) == {"rig", "nozzle", "speed", "pressure"}


def test_duty_and_density_not_said_are_taken_as_steady_water() -> None:
    unsaid = setting(given(record__duty=None, record__density=None))
    assert unsaid.laid == setting(clean()).laid
    assert (unsaid.state.duty, unsaid.state.specific_gravity) == (1.0, 1.0)


@pytest.mark.parametrize(
    ("fact", "why"),
    [
        ("speed", "ground speed was not measured: no meter"),
        ("density", "density of the spray mix was not measured: no meter"),
        ("duty", "pulse-width duty was not measured: no meter"),
    ],
)
def test_a_fact_not_measured_is_quoted(fact: str, why: str) -> None:
    with pytest.raises(CannotRun) as lack:
        setting(given(**{f"record__{fact}": q("not measured: no meter")}))
    assert (lack.value.needs, lack.value.why) == ({}, why)


UNSURE = RATED | {
    "nozzle__rated_pressure": q("2 bar"),
    "record__pressure": q("2.0 bar"),
    "rig__gauge_accuracy": q("0.2 bar"),
    # u = a / √3: a speed known to u = 1.5 % is right within 2.598 %.
    "rig__speed_accuracy": q(f"{1.5 * math.sqrt(3.0):.9f} %"),
    "rig__spacing_accuracy_percent": Decimal(0),
}


def test_uncertainty_follows_the_guide() -> None:
    # JCGM 100, by hand: rated ±5 % and gauge 2.0 ± 0.2 bar rectangular, speed u 1.5 % → u 4.35 %.
    assert setting(given(**UNSURE)).laid.relative_u == pytest.approx(0.0435, abs=5e-5)


def test_a_gauge_may_be_given_in_per_cent() -> None:
    percent = UNSURE | {"rig__gauge_accuracy": q("10 %")}
    assert setting(given(**percent)).laid.relative_u == pytest.approx(0.0435, abs=5e-5)


def test_the_right_speed_and_gauge_pressure_are_computed() -> None:
    # At 5.5 mph the rig lays 16.36 gal/ac. 15 gal/ac is back at 6.00 mph, or at 40 · (15/16.36)²
    # = 33.6 psi at the nozzle and, with the loss in proportion, 35.3 psi at the gauge.
    laid = setting(given(record__speed=q("5.5 mph")))
    # Neither is said finer than this rig reads it: 0.1 mph, 2 psi.
    assert laid.speed_for(q("15 gal/ac").si) == q("6.0 mph")
    assert laid.gauge_for(q("15 gal/ac").si) == q("35 psi")
    exact = setting(given(record__speed=q("5.5 mph"), rig__gauge_accuracy=q("0.1 psi")))
    assert exact.gauge_for(q("15 gal/ac").si) == q("35.3 psi")


def test_a_pressure_outside_the_rated_range_is_not_offered() -> None:
    assert setting(clean()).gauge_for(q("10 gal/ac").si) is None
    assert setting(clean()).gauge_for(q("30 gal/ac").si) is None


def test_the_class_comes_from_the_table_alone() -> None:
    between = class_of(nozzle_state(clean()))
    assert between.candidates == (DropletClass.C, DropletClass.VC)
    none = class_of(nozzle_state(given(nozzle__class_table=())))
    assert (none.candidates, none.reason) == ((), "the nozzle has no table of classes")


# --- the gauge of the catch test, the line loss, the exponent ------------------------------------


def gauge_sources(**changes: Any) -> dict[str, float]:
    sources = setting(given(rig__line_loss=q("none"), record__pressure=q("40 psi"), **changes))
    return dict(sources.laid.sources)


def test_where_the_gauge_of_the_test_was_not_said_its_accuracy_counts_once() -> None:
    # JCGM 100:2008, 4.3.7: ½ · 2/40 over √3.
    sources = gauge_sources()
    assert sources["gauge"] == pytest.approx(0.5 * 2 / 40 / 3**0.5)
    assert "gauge of the test" not in sources
    repeats = gauge_sources(rig__gauge_repeatability=q("0.2 psi"))
    assert repeats["gauge"] == pytest.approx(sources["gauge"])


def test_a_test_on_the_own_gauge_cancels_what_it_reads_wrong() -> None:
    # At the same reading nothing is left of it but how well the needle comes back, twice (JCGM 100,
    # 5.2: what two readings share is one source).
    own = {"catch_test__gauge": "own", "rig__gauge_repeatability": q("0.2 psi")}
    sources = gauge_sources(**own)
    assert "gauge" not in sources
    for name in ("reading", "reading of the test"):
        assert sources[name] == pytest.approx(0.5 * 0.2 / 40 / 3**0.5)
    # How well it repeats itself is not known: then the accuracy counts, as before.
    assert gauge_sources(catch_test__gauge="own")["gauge"] > 0.0


def test_a_test_on_another_gauge_brings_the_accuracy_of_that_one() -> None:
    other = {"catch_test__gauge": "other", "catch_test__gauge_accuracy": q("1 %")}
    sources = gauge_sources(**other)
    assert sources["gauge of the test"] == pytest.approx(0.5 * 0.01 / 3**0.5)
    assert sources["gauge"] == pytest.approx(0.5 * 2 / 40 / 3**0.5)


def test_the_line_loss_is_a_fixed_share_whatever_the_density() -> None:
    # Loss ∝ density · flow² and flow² ∝ pressure / density: 5 of 40 psi lost, at any density.
    lossy = {
        "record__pressure": q("42 psi"),
        "rig__line_loss": q("2 psi"),
        "rig__line_loss_flow": q("10.908 gal/min"),
    }
    water, heavy = (
        nozzle_state(given(**lossy, record__density=q(density)))
        for density in ("not applicable", "1.28 SG")
    )
    assert heavy.pressure_kpa == pytest.approx(water.pressure_kpa, rel=1e-12)
    assert heavy.line_loss_kpa == pytest.approx(q("2 psi").si, rel=1e-9)
    low = nozzle_state(given(**lossy | {"record__pressure": q("21 psi")}))
    assert low.line_loss_kpa == pytest.approx(q("1 psi").si, rel=1e-9)


def test_the_exponent_is_in_doubt_away_from_the_known_pressure() -> None:
    # |ln(p/p₀)| · 0.03 over √3.
    assert "exponent" not in gauge_sources()
    half = setting(given(rig__line_loss=q("none"), record__pressure=q("20 psi"))).laid.sources
    assert half["exponent"] == pytest.approx(math.log(2.0) * 0.03 / 3**0.5)
