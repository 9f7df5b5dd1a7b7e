"""Propagation of uncertainty: [JCGM-100], and the worked rows of its table of vectors."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.delivery import Delivered, Settings, Uncertainties, delivered
from calc.errors import OutOfRange
from calc.flow import line_loss_at_gauge_kpa, line_loss_share
from calc.limits import judge_within
from calc.uncertainty import (
    TYPICAL_HALF_WIDTHS,
    combined,
    coverage_factor,
    coverage_factor_of,
    expanded,
    exponent_source,
    interval,
    pressure_sources,
    relative_from_absolute_accuracy,
    relative_from_relative_accuracy,
    relative_of_product_rate,
    relative_of_ratio,
    standard_from_half_width,
    worst_case,
)
from calc.units import convert
from tests.calc.vectors import Row, check, ids

small = st.floats(min_value=0.0, max_value=0.5)
ROOT_3 = math.sqrt(3.0)


def relative(row: Row) -> float:
    given = row.inputs
    sources = {"speed": given["speed"], "spacing": given.get("spacing", 0.0)}
    if "nozzle" in given:
        sources["flow"] = relative_from_relative_accuracy(accuracy=given["nozzle"])
        sources |= pressure_sources(
            exponent=0.5,
            gauge_kpa=given["gauge"],
            known_at_kpa=given["gauge"],
            u_gauge_kpa=standard_from_half_width(half_width=given["accuracy"]),
        )
    else:
        sources["flow"] = given["flow"]
    return combined(sources=sources)


def compute_interval(row: Row) -> object:
    """The rows whose numbers are standard uncertainties, judged with U = 2 u."""
    u = relative(row)
    if row.inputs["want"] == "relative":
        return u
    rate = row.inputs["rate"]
    big_u = expanded(standard=u) * rate
    if row.inputs["want"] == "expanded":
        return big_u
    return judge_within(
        value=rate, expanded=big_u, low=row.inputs.get("low"), high=row.inputs["high"]
    )


def kpa(x: dict, name: str, default: float = 0.0) -> float:
    """Return a pressure given in kPa or in psi."""
    if f"{name}_psi" in x:
        return convert(x[f"{name}_psi"], from_unit="psi", to_unit="kPa")
    return x.get(name, default)


def share_of(x: dict) -> float:
    """Return the line loss, read when the gauge stood at read_psi or else as in use, as a share."""
    read = kpa(x, "read", kpa(x, "use"))
    return line_loss_share(gauge_kpa=read, loss_kpa=kpa(x, "loss"))


def rig(x: dict) -> tuple[Settings, Uncertainties]:
    """Return the rig of a row; its accuracies are half-widths."""
    us = "mph" in x
    read = kpa(x, "read", kpa(x, "use"))
    settings = Settings(
        known_flow_l_min=convert(x["q_gpm"], from_unit="gal/min", to_unit="L/min")
        if us
        else x["q"],
        known_at_kpa=kpa(x, "test"),
        exponent=0.5,
        gauge_kpa=kpa(x, "use"),
        line_loss_kpa=line_loss_at_gauge_kpa(gauge_kpa=kpa(x, "use"), share=share_of(x)),
        speed_km_h=convert(x["mph"], from_unit="mph", to_unit="km/h") if us else x["v"],
        spacing_cm=convert(x["inch"], from_unit="in", to_unit="cm") if us else x["s"],
        specific_gravity=x.get("sg", 1.0),
        duty=x.get("duty", 1.0),
    )
    uncertainties = Uncertainties(
        flow=x["uq"] / ROOT_3,
        pressure_kpa=kpa(x, "gauge") / ROOT_3,
        speed=x["uv"] / ROOT_3,
        spacing=x["us"] / ROOT_3,
        specific_gravity=x.get("usg", 0.0) / ROOT_3,
        duty=x.get("uduty", 0.0) / ROOT_3,
        repeatability_kpa=x["again"] / ROOT_3 if "again" in x else None,
        known_at_kpa=x.get("other", 0.0) / ROOT_3,
        exponent=x.get("un", 0.0) / ROOT_3,
        line_loss=relative_from_absolute_accuracy(
            accuracy=kpa(x, "uloss"), value=read - kpa(x, "loss")
        ),
    )
    return settings, uncertainties


def compute_rig(x: dict) -> object:
    settings, uncertainties = rig(x)
    laid = delivered(settings=settings, uncertainties=uncertainties)
    rate = (
        convert(laid.rate_l_ha, from_unit="L/ha", to_unit="gal/ac")
        if "mph" in x
        else (laid.rate_l_ha * x.get("concentration", 1.0))
    )
    extra = {f"mix {n}": part / 100 / ROOT_3 for n, part in enumerate(x.get("parts", []))}
    sources = {**laid.sources, **extra}
    u, k = combined(sources=sources), coverage_factor_of(sources=sources)
    low, high = interval(estimate=rate, relative_u=u, k=k)
    return {
        "R": rate,
        "u": 100.0 * u,
        "k": k,
        "kur": k * u * rate,
        "low": low,
        "high": high,
        "worst-high": worst_case(estimate=rate, sources=sources)[1],
        "psi": convert(laid.nozzle_pressure_kpa, from_unit="kPa", to_unit="psi"),
        "share": share_of(x),
    }[x["want"]]


def compute_parts(x: dict) -> object:
    sources = {f"part {n}": part / ROOT_3 for n, part in enumerate(x["parts"])}
    u, k = combined(sources=sources), coverage_factor_of(sources=sources)
    halved = combined(sources={name: part * ROOT_3 / 2.0 for name, part in sources.items()})
    return {
        "u-of": u,
        "k-of": k,
        "kur-of": k * u / 100.0 * x.get("r", 0.0),
        # Accuracies that are said to be k = 2 of a normal spread: no rectangle rules.
        "u-of-normals": halved,
        "k-of-normals": coverage_factor(ruling=0.0, rest=halved),
    }[x["want"]]


def compute(row: Row) -> object:
    if "q" in row.inputs or "q_gpm" in row.inputs:
        return compute_rig(row.inputs)
    return compute_parts(row.inputs) if "parts" in row.inputs else compute_interval(row)


@pytest.mark.parametrize("example", ids("uncertainty"))
def test_worked_example(example):
    check("uncertainty", example, {example: compute})


def test_half_width_of_one_is_a_standard_uncertainty_of_one_over_root_three():
    # [JCGM-100] 4.3.7: a rectangular spread of half-width a has the variance a²/3.
    assert standard_from_half_width(half_width=1.0) == pytest.approx(0.57735, abs=5e-6)


def test_three_and_four_percent_make_five():
    assert relative_of_product_rate(u_rate=0.03, u_concentration=0.04) == pytest.approx(0.05)
    assert relative_of_ratio(u_above=0.03, u_below=0.04) == pytest.approx(0.05)


@given(st.dictionaries(st.text(max_size=3), small, min_size=1, max_size=6))
def test_combined_is_at_least_the_largest_part_and_at_most_their_sum(sources):
    u, parts = combined(sources=sources), sources.values()
    # The square of a number below 1e-162 is zero to a double.
    assert max(parts) * (1 - 1e-12) - 1e-160 <= u <= sum(parts) * (1 + 1e-12)


# --- the budget of a rig, against Monte Carlo ----------------------------------------------------


def simulated(
    *, q=0.02, v=0.02, s=0.01, test=300.0, use=300.0, gauge=0.0, again=None, other=0.0, loss=None,
    n=0.0, duty=0.0, sg=0.0,
) -> np.ndarray:  # fmt: skip
    """Draw the truth of a rate that reads 1, every input a rectangle: [JCGM-101].

    What is drawn are the errors; the truth is computed by the physics with them taken out, so none
    of the derivatives of the budget is used. loss is (gauge, loss, its half-width) as measured.
    """
    random, count = np.random.default_rng(17), 400_000

    def within(half_width: float) -> np.ndarray:
        return random.uniform(-half_width, half_width, count)

    off = within(gauge)
    if again is None:
        true_test, true_use = test + within(other), use + off
    else:  # one gauge, twice: the same offset, and how well it comes back each time
        true_test, true_use = test + off + within(again), use + off + within(again)
    behind = 1.0
    if loss is not None:
        read, lost, doubt = loss
        # p = G / (1 + c) with c = loss / (gauge − loss), that is G · (gauge − loss) / gauge.
        behind = (read - lost - within(doubt)) / (read - lost)
    known = (1.0 + within(q)) * (1.0 + within(duty)) / np.sqrt(1.0 + within(sg))
    exponent = 0.5 + within(n)
    rate = known * (true_use * behind / true_test) ** exponent / (use / test) ** 0.5
    rate /= (1.0 + within(v)) * (1.0 + within(s))
    return rate


def laid_with(**x: float) -> Delivered[float]:
    settings, uncertainties = rig(
        {
            "q": 1.2,
            "uq": 0.02,
            "v": 8.0,
            "uv": 0.02,
            "s": 50.0,
            "us": 0.01,
            "test": 300.0,
            "use": 300.0,
            **x,
        }
    )
    return delivered(settings=settings, uncertainties=uncertainties)


BUDGETS = {
    "EX-UNC-201": (simulated(gauge=15.0, again=3.0), laid_with(gauge=15.0, again=3.0)),
    "EX-UNC-202": (
        simulated(use=200.0, gauge=15.0, again=3.0),
        laid_with(use=200.0, gauge=15.0, again=3.0),
    ),
    "EX-UNC-203": (
        simulated(use=200.0, gauge=15.0, other=10.0),
        laid_with(use=200.0, gauge=15.0, other=10.0),
    ),
    "EX-UNC-204": (simulated(q=0.05, gauge=15.0), laid_with(uq=0.05, gauge=15.0)),
    "EX-UNC-206": (
        simulated(q=0.05, gauge=11.25, loss=(300.0, 37.5, 7.5)),
        laid_with(uq=0.05, gauge=11.25, loss=37.5, uloss=7.5),
    ),
    "EX-UNC-208": (simulated(use=150.0, n=0.03), laid_with(use=150.0, un=0.03)),
    "EX-UNC-209": (
        simulated(q=0.01, v=0.4 / 6.0, s=0.005),
        laid_with(uq=0.01, uv=0.4 / 6.0, us=0.005),
    ),
    "EX-UNC-212": (
        simulated(duty=0.02 / 0.6, sg=0.01),
        laid_with(duty=0.6, uduty=0.02 / 0.6, sg=1.28, usg=0.01),
    ),
    "one rectangle alone": (simulated(q=0.0, v=0.05, s=0.0), laid_with(uq=0.0, uv=0.05, us=0.0)),
}


@pytest.mark.parametrize("case", BUDGETS)
def test_budget_and_interval_agree_with_a_simulation(case):
    drawn, laid = BUDGETS[case]
    assert drawn.std() / drawn.mean() == pytest.approx(laid.relative_u, rel=0.01)
    low, high = np.quantile(drawn, [0.025, 0.975])
    assert laid.k * laid.relative_u == pytest.approx((high - low) / 2.0, rel=0.02)
    ends = interval(estimate=1.0, relative_u=laid.relative_u, k=laid.k)
    assert ends == pytest.approx((low, high), abs=0.05 * (high - low))


def test_twice_the_standard_uncertainty_is_too_wide_where_one_rectangle_rules():
    # What k is for: 2 u would be off by a fifth on EX-UNC-209.
    drawn, laid = BUDGETS["EX-UNC-209"]
    low, high = np.quantile(drawn, [0.025, 0.975])
    assert 2.0 * laid.relative_u / ((high - low) / 2.0) == pytest.approx(1.19, abs=0.01)


def test_a_gauge_that_is_wrong_by_a_factor_cancels_at_any_reading():
    # It shows 90 % of the truth, in the test and in use: what the rig delivers is what it read.
    read, truth = laid_with(test=270.0, use=180.0), laid_with(test=300.0, use=200.0)
    assert read.rate_l_ha == pytest.approx(truth.rate_l_ha)


def test_own_gauge_at_the_same_reading_leaves_its_repeatability_alone():
    sources = pressure_sources(
        exponent=0.5, gauge_kpa=300.0, known_at_kpa=300.0, u_gauge_kpa=9.0, u_repeatability_kpa=3.0
    )
    assert sources["gauge"] == 0.0
    assert sources["reading"] == sources["reading of the test"] == pytest.approx(0.005)


def test_a_line_loss_cancels_in_a_catch_on_the_own_gauge():
    # Caught at 300 on the gauge, 250 at the nozzle; the same share is lost in use at the same mark.
    laid = laid_with(gauge=15.0, again=3.0, loss=50.0, uloss=20.0, test=250.0)
    plain = laid_with(gauge=15.0, again=3.0)
    assert "line loss" not in laid.sources
    assert laid.relative_u == pytest.approx(plain.relative_u)
    assert laid.rate_l_ha == pytest.approx(plain.rate_l_ha)


def test_sources_that_add_nothing_are_not_listed():
    assert list(laid_with(uv=0.0, us=0.0).sources) == ["flow"]


# k of a rectangle and a normal, by how much the rectangle is of the rest; computed twice.
@pytest.mark.parametrize(
    ("ratio", "k"),
    [
        (0.0, 1.9600),
        (0.5, 1.9553),
        (1.0, 1.9174),
        (2.0, 1.8102),
        (3.0, 1.7438),
        (5.0, 1.6854),
        (10.0, 1.6508),
        (1e9, 1.6454),
    ],
)
def test_coverage_factor_of_one_rectangle_and_a_normal(ratio, k):
    found = coverage_factor(ruling=ratio, rest=1.0)
    assert found == pytest.approx(k, abs=6e-5)
    random = np.random.default_rng(29)
    drawn = random.uniform(-ratio * ROOT_3, ratio * ROOT_3, 400_000) + random.normal(size=400_000)
    half = np.quantile(np.abs(drawn), 0.95)
    assert found * math.hypot(ratio, 1.0) == pytest.approx(half, rel=0.006)


def test_a_budget_of_nothing_but_zeros_has_the_factor_of_a_normal():
    assert coverage_factor_of(sources={"flow": 0.0}) == pytest.approx(1.96, abs=1e-4)


@given(ruling=small, rest=small, scale=st.floats(1e-3, 1e3))
def test_coverage_factor_lies_between_rectangle_and_normal_in_any_unit(ruling, rest, scale):
    k = coverage_factor(ruling=ruling, rest=rest)
    assert 0.95 * ROOT_3 - 1e-9 <= k <= 1.9600
    if ruling > 1e-100 or rest > 1e-100:
        assert coverage_factor(ruling=ruling * scale, rest=rest * scale) == pytest.approx(k)


@given(estimate=st.floats(0.0, 1e6), u=st.floats(0.0, 10.0), k=st.floats(0.0, 3.0))
def test_the_interval_is_never_negative_and_holds_the_estimate(estimate, u, k):
    low, high = interval(estimate=estimate, relative_u=u, k=k)
    assert 0.0 <= low <= estimate <= high
    assert (high == math.inf) == (k * u > 1.0 - 1e-12)


def test_the_interval_is_that_of_a_truth_whose_reading_was_so_far_off():
    # Both ends read as the estimate when the error is k u of the truth. By hand: 12.5 · 0.8 = 10.
    low, high = interval(estimate=10.0, relative_u=0.1, k=2.0)
    assert (low, high) == (pytest.approx(10.0 / 1.2), pytest.approx(12.5))


def test_worst_case_sums_the_half_widths():
    # Rectangles of ± 2, 3 and 5 %: by hand 100 · (1 − 0.10) and 100 / (1 − 0.10).
    sources = {name: part / ROOT_3 for name, part in {"a": 0.02, "b": 0.03, "c": -0.05}.items()}
    low, high = worst_case(estimate=100.0, sources=sources)
    assert (low, high) == (pytest.approx(90.0), pytest.approx(100.0 / 0.9))


def test_the_worst_case_of_an_input_that_may_be_zero_has_no_upper_end():
    assert worst_case(estimate=5000.0, sources={"speed": 1.0 / ROOT_3}) == (0.0, math.inf)


@given(
    drawn=st.lists(st.tuples(st.floats(0.0, 0.05), st.floats(-1.0, 1.0)), min_size=1, max_size=5)
)
def test_no_draw_of_the_inputs_lies_beyond_the_worst_case(drawn):
    # Half of the inputs multiply, half divide.
    value = 100.0
    for n, (half_width, place) in enumerate(drawn):
        value *= (1.0 + half_width * place) ** (1 if n % 2 else -1)
    sources = {str(n): half_width / ROOT_3 for n, (half_width, _) in enumerate(drawn)}
    low, high = worst_case(estimate=100.0, sources=sources)
    assert low * (1.0 - 1e-12) <= value <= high * (1.0 + 1e-12)


def test_arrays_give_arrays_and_floats_give_floats():
    column = np.array([0.01, 0.02])
    assert isinstance(relative_of_product_rate(u_rate=column, u_concentration=column), np.ndarray)
    assert type(relative_of_product_rate(u_rate=0.01, u_concentration=0.02)) is float
    assert type(expanded(standard=0.5)) is float
    for function in (combined, coverage_factor_of):
        assert type(function(sources={"a": 0.01, "b": 0.02})) is float
        many = function(sources={"a": column, "b": column * 3.0})
        assert many.shape == (2,)
        for n in range(2):
            alone = {"a": float(column[n]), "b": float(column[n]) * 3.0}
            assert many[n] == pytest.approx(function(sources=alone))


def test_intervals_of_many_rows_are_those_of_each():
    u = np.array([0.1, 0.5, 0.7])
    low, high = interval(estimate=np.full(3, 10.0), relative_u=u, k=np.full(3, 2.0))
    assert low == pytest.approx([10 / 1.2, 5.0, 10 / 2.4])
    assert high.tolist() == [pytest.approx(12.5), math.inf, math.inf]
    low, high = worst_case(estimate=np.array([10.0, 20.0]), sources={"a": np.array([0.1, 1.0])})
    assert low.tolist() == [pytest.approx(10.0 * (1.0 - 0.1 * ROOT_3)), 0.0]
    assert high.tolist() == [pytest.approx(10.0 / (1.0 - 0.1 * ROOT_3)), math.inf]


def test_exponent_counts_away_from_the_known_pressure_in_many_rows():
    far = exponent_source(
        pressure_kpa=np.array([300.0, 150.0, 600.0]),
        known_at_kpa=np.full(3, 300.0),
        u_exponent=0.02,
    )
    assert far == pytest.approx([0.0, 0.02 * math.log(2.0), 0.02 * math.log(2.0)])


def test_typical_values_are_positive():
    assert all(value > 0 for value in TYPICAL_HALF_WIDTHS.values())


GAUGE = {"exponent": 0.5, "gauge_kpa": 300.0, "known_at_kpa": 300.0}


@pytest.mark.parametrize("bad", [-0.01, math.nan, math.inf])
@pytest.mark.parametrize(
    ("function", "name", "others"),
    [
        (standard_from_half_width, "half_width", {}),
        (relative_from_relative_accuracy, "accuracy", {}),
        (relative_from_absolute_accuracy, "accuracy", {"value": 1.0}),
        (exponent_source, "u_exponent", {"pressure_kpa": 1.0, "known_at_kpa": 2.0}),
        (coverage_factor, "ruling", {"rest": 0.1}),
        (coverage_factor, "rest", {"ruling": 0.1}),
        (interval, "estimate", {"relative_u": 0.1, "k": 2.0}),
        (interval, "relative_u", {"estimate": 1.0, "k": 2.0}),
        (interval, "k", {"estimate": 1.0, "relative_u": 0.1}),
        (worst_case, "estimate", {"sources": {"a": 0.1}}),
        (pressure_sources, "u_gauge_kpa", GAUGE),
        (pressure_sources, "u_repeatability_kpa", {**GAUGE, "u_gauge_kpa": 1.0}),
        (pressure_sources, "u_known_at_kpa", {**GAUGE, "u_gauge_kpa": 1.0}),
        (relative_of_product_rate, "u_rate", {"u_concentration": 0.0}),
        (relative_of_product_rate, "u_concentration", {"u_rate": 0.0}),
        (relative_of_ratio, "u_above", {"u_below": 0.0}),
        (relative_of_ratio, "u_below", {"u_above": 0.0}),
        (expanded, "standard", {}),
    ],
)
def test_refuses_what_is_no_uncertainty(function, name, others, bad):
    with pytest.raises(OutOfRange, match=rf"^{name} is {bad}; it must be zero or more, and finite"):
        function(**{name: bad}, **others)


def test_refuses_a_reading_of_zero_under_an_absolute_accuracy():
    with pytest.raises(OutOfRange, match=r"^value is 0.0; it must be positive and finite"):
        relative_from_absolute_accuracy(accuracy=0.1, value=0.0)


@pytest.mark.parametrize("name", ["exponent", "gauge_kpa", "known_at_kpa"])
def test_refuses_a_gauge_that_reads_nothing_and_an_exponent_of_zero(name):
    with pytest.raises(OutOfRange, match=rf"^{name} is 0.0; it must be positive"):
        pressure_sources(**{**GAUGE, "u_gauge_kpa": 1.0, name: 0.0})


@pytest.mark.parametrize("name", ["pressure_kpa", "known_at_kpa"])
def test_refuses_a_pressure_of_zero_under_a_doubtful_exponent(name):
    with pytest.raises(OutOfRange, match=rf"^{name} is 0.0; it must be positive"):
        exponent_source(**{"pressure_kpa": 1.0, "known_at_kpa": 1.0, "u_exponent": 0.1, name: 0.0})


@pytest.mark.parametrize("function", [combined, coverage_factor_of])
def test_refuses_a_budget_without_sources(function):
    with pytest.raises(OutOfRange, match=r"^sources is \{\}; it must be one or more"):
        function(sources={})
