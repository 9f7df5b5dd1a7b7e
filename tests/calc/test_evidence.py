"""Estimates combined, [COX-2007] and [JCGM-100] 5.2; the likely cause, by simulation as well."""

import math
from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from calc.errors import OutOfRange
from calc.evidence import (
    Cause,
    Estimate,
    combine,
    likely_cause,
    signatures,
    tail_of_chi_squared,
    weighted_mean,
)
from tests.calc.vectors import Row, check, ids

# Relative standard uncertainties of a usual rig: settings 2.1, tank 1.73, product 1.15, area 0.58,
# distance and width 1.15 %. Common practice, no source.
USUAL = {
    "settings": {"settings": 0.021},
    "tank": {"tank": 0.0173, "area": 0.0058},
    "product": {"product": 0.0115, "area": 0.0058},
    "distance": {"tank": 0.0173, "distance and width": 0.0115},
}


def usual(**values: float) -> list[Estimate]:
    return [Estimate(name, value, USUAL[name]) for name, value in values.items()]


def estimates_of(row: Row) -> list[Estimate]:
    """Values, and for each source its standard uncertainty in each of them, in L/ha."""
    parts = {name: x for name, x in row.inputs.items() if name not in ("values", "want")}
    return [
        Estimate(
            f"E{n}",
            value,
            {name: part[n - 1] / value for name, part in parts.items() if part[n - 1]},
        )
        for n, value in enumerate(row.inputs["values"], start=1)
    ]


def compute_combination(row: Row) -> object:
    estimates = estimates_of(row)
    whole = combine(estimates)
    want = row.inputs["want"]
    if want.startswith("w"):
        return whole.weights[f"E{want[1:]}"]
    rest = combine([each for each in estimates if each.name not in whole.odd] or estimates)
    return {
        "value": whole.value,
        "u": whole.value * whole.relative_u,
        "chi": whole.chi_squared,
        "birge": whole.birge_ratio,
        "odd": " ".join(whole.odd) or "none",
        "shared": " ".join(whole.or_shared),
        "rest-value": rest.value,
        "rest-u": rest.value * rest.relative_u,
        "rest-chi": rest.chi_squared,
        "odd-by": 100.0 * (estimates[0].value / rest.value - 1.0),
    }[want]


def compute_cause(row: Row) -> object:
    estimates = usual(**dict(zip(USUAL, row.inputs["values"], strict=True)))
    causes = likely_cause(estimates, signatures(exponent=0.5, one_speed_sensor=True))
    area = causes[-1]
    return {
        # [JCGM-100] 5.2 straight, in logarithms: not what `likely_cause` calls.
        "chi": chi_squared_of_logarithms(estimates),
        "named": " ".join(cause.name for cause in causes),
        "left": area.chi_squared,
        # The rate goes down as the area entered goes up.
        "factor": 1.0 / area.factor,
        "rate": area.value,
    }[row.inputs["want"]]


def covariance(estimates: list[Estimate]) -> np.ndarray:
    """Relative covariances, written out pair by pair."""
    return np.array(
        [
            [sum(a.sources[s] * b.sources.get(s, 0.0) for s in a.sources) for b in estimates]
            for a in estimates
        ]
    )


def chi_squared_of_logarithms(estimates: list[Estimate]) -> float:
    inverse = np.linalg.inv(covariance(estimates))
    logs = np.log([each.value for each in estimates])
    away = logs - (inverse @ logs).sum() / inverse.sum()
    return float(away @ inverse @ away)


@pytest.mark.parametrize("example", ids("evidence"))
def test_worked_example(example):
    compute = compute_cause if "CAUSE" in example else compute_combination
    check("evidence", example, {example: compute})


# --- the combination ---------------------------------------------------------------------------

values = st.floats(90.0, 110.0)
parts = st.floats(0.005, 0.05)
drawn = st.lists(st.tuples(values, parts, parts), min_size=1, max_size=5).map(
    lambda rows: [
        Estimate(f"E{n}", value, {f"own {n}": own, "shared": shared if n % 2 else -shared})
        for n, (value, own, shared) in enumerate(rows)
    ]
)


@given(drawn)
def test_the_mean_is_that_of_the_textbook(estimates):
    # V⁻¹ in absolute numbers, by numpy, against what is computed from relative ones.
    x = np.array([each.value for each in estimates])
    inverse = np.linalg.inv(np.outer(x, x) * covariance(estimates))
    weights = inverse.sum(axis=0) / inverse.sum()
    found = combine(estimates)
    assert found.value == pytest.approx(float(weights @ x), rel=1e-6)
    assert found.value * found.relative_u == pytest.approx(inverse.sum() ** -0.5, rel=1e-6)
    assert list(found.weights.values()) == pytest.approx(weights.tolist(), rel=1e-4, abs=1e-6)
    assert sum(found.weights.values()) == pytest.approx(1.0)
    away = x - weights @ x
    assert found.chi_squared == pytest.approx(float(away @ inverse @ away), rel=1e-4, abs=1e-6)


@given(drawn)
def test_the_order_does_not_matter(estimates):
    first, *others = [combine(order) for order in permutations(estimates[:4])]
    for other in others:
        assert other.value == pytest.approx(first.value)
        assert other.relative_u == pytest.approx(first.relative_u)
        assert other.weights == pytest.approx(first.weights)
        assert other.chi_squared == pytest.approx(first.chi_squared, abs=1e-6)
        assert (sorted(other.odd), other.or_shared) == (sorted(first.odd), first.or_shared)


@given(drawn, st.integers(-30, 30))
def test_the_unit_does_not_matter(estimates, power):
    here = combine(estimates)
    there = combine([replace(each, value=each.value * 2.0**power) for each in estimates])
    assert there.value == here.value * 2.0**power
    assert (there.weights, there.chi_squared, there.odd) == (
        here.weights,
        here.chi_squared,
        here.odd,
    )


@given(drawn)
def test_one_more_estimate_never_raises_the_uncertainty(estimates):
    assume(len(estimates) > 1)
    more, fewer = combine(estimates), combine(estimates[:-1])
    assert more.value * more.relative_u <= fewer.value * fewer.relative_u * (1.0 + 1e-9)


@given(drawn)
def test_the_sources_of_the_mean_add_up_to_its_uncertainty(estimates):
    found = combine(estimates)
    x = np.array([each.value for each in estimates])
    inverse = np.linalg.inv(np.outer(x, x) * covariance(estimates))
    assert found.relative_u == pytest.approx(inverse.sum() ** -0.5 / found.value, rel=1e-6)
    assert 1.645 < found.k < 1.961


def test_the_uncertainty_of_the_mean_agrees_with_a_simulation():
    # [JCGM-101]: each source one rectangular error, shared by all estimates that name it.
    random, n = np.random.default_rng(5), 200_000
    names = dict.fromkeys(source for sources in USUAL.values() for source in sources)
    errors = {name: random.uniform(-(3.0**0.5), 3.0**0.5, n) for name in names}
    rows = np.stack(
        [
            150.0 * (1.0 + sum(part * errors[name] for name, part in sources.items()))
            for sources in USUAL.values()
        ],
        axis=1,
    )
    estimates = usual(**dict.fromkeys(USUAL, 150.0))
    many = weighted_mean(values=rows, relation=covariance(estimates))
    found = combine(estimates)
    assert many.value.std() == pytest.approx(found.value * found.relative_u, rel=0.02)
    assert many.weights.sum(axis=1) == pytest.approx(np.ones(n))
    # Chance alone contradicts in at most 1 % of cases; rectangles have no tails, so in fewer.
    beyond = np.array([tail_of_chi_squared(chi, 3) < 0.01 for chi in many.chi_squared[:20_000]])
    assert 0.0 < beyond.mean() < 0.01
    half = np.ptp(np.quantile(many.value, [0.025, 0.975])) / 2.0
    assert found.k * found.relative_u * found.value == pytest.approx(half, rel=0.05)


def test_many_rows_are_combined_as_each_alone():
    estimates = usual(settings=150.0, tank=152.0, product=149.0, distance=151.0)
    rows = np.array([[150.0, 152.0, 149.0, 151.0], [140.0, 150.0, 150.0, 150.0]])
    many = weighted_mean(values=rows, relation=covariance(estimates))
    for n, row in enumerate(rows.tolist()):
        one = combine(usual(**dict(zip(USUAL, row, strict=True))))
        assert many.value[n] == pytest.approx(one.value)
        assert many.relative_u[n] == pytest.approx(one.relative_u)
        assert many.chi_squared[n] == pytest.approx(one.chi_squared)


def test_one_estimate_alone_is_what_it_is():
    found = combine(usual(settings=150.0))
    assert (found.value, found.chi_squared, found.birge_ratio) == (pytest.approx(150.0), 0.0, None)
    assert found.relative_u == pytest.approx(0.021)
    assert found.consistent
    assert (found.odd, found.or_shared) == ((), ())
    assert found.weights == {"settings": 1.0}


def test_two_that_contradict_are_both_named():
    found = combine(usual(settings=130.0, tank=150.0))
    assert not found.consistent
    assert found.odd == ("settings", "tank")
    assert found.or_shared == ()


def test_the_odd_one_out_of_four_is_named_and_nothing_shared():
    found = combine(usual(settings=150.0, tank=150.0, product=175.0, distance=149.0))
    assert (found.odd, found.or_shared) == (("product",), ())


def test_of_three_the_source_that_the_others_share_is_named_beside_the_odd_one():
    found = combine(usual(settings=135.0, tank=150.0, product=151.0))
    assert (found.odd, found.or_shared) == (("settings",), ("area",))


def test_a_source_that_the_odd_one_has_as_well_does_not_explain_it():
    estimates = [
        Estimate(name, value, {name: 0.01, "sensor": 0.01})
        for name, value in (("a", 120.0), ("b", 150.0), ("c", 150.5))
    ]
    found = combine(estimates)
    assert (found.odd, found.or_shared) == (("a",), ())


TIED = {"a": 92.0, "b": 98.0, "c": 104.0}


def test_a_tie_names_none_alone():
    # The middle one out would leave the farthest apart; of the outer two either may be odd.
    estimates = [Estimate(name, value, {name: 0.02}) for name, value in TIED.items()]
    found = combine(estimates)
    assert not found.consistent
    assert found.odd == ("a", "c")


def test_where_no_three_agree_all_are_named():
    found = combine(usual(settings=150.0, tank=165.0, product=166.0, distance=150.0))
    assert found.odd == ("settings", "tank", "product", "distance")


# --- the likely cause --------------------------------------------------------------------------

CANDIDATES = signatures(exponent=0.5)


def moved(entry: str, factor: float, **changes: float) -> list[Estimate]:
    """The estimates of a usual rig at 150, of which one entry is wrong by `factor`."""
    powers = signatures(exponent=0.5)[entry]
    return usual(
        **{name: 150.0 * factor ** powers.get(name, 0.0) + changes.get(name, 0.0) for name in USUAL}
    )


@pytest.mark.parametrize(
    ("entry", "named"),
    [
        ("speed", ["speed", "pressure", "flow", "duty", "spacing"]),
        ("pressure", ["speed", "pressure", "flow", "duty", "spacing"]),
        ("area", ["area"]),
        ("tank", ["tank"]),
        ("product", ["product"]),
        ("distance", ["distance", "width"]),
    ],
)
def test_of_four_estimates_the_entry_that_is_wrong_is_named_with_its_factor(entry, named):
    causes = likely_cause(moved(entry, 1.5), CANDIDATES)
    assert [cause.name for cause in causes] == named
    (cause,) = (cause for cause in causes if cause.name == entry)
    assert cause.factor == pytest.approx(1.5)
    assert cause.value == pytest.approx(150.0)
    assert cause.chi_squared == pytest.approx(0.0, abs=1e-9)


def test_of_three_estimates_settings_and_area_cannot_be_told_apart():
    settings, tank, product, _ = moved("area", 1.2)
    causes = {cause.name: cause for cause in likely_cause([settings, tank, product], CANDIDATES)}
    assert list(causes) == ["speed", "pressure", "flow", "duty", "spacing", "area"]
    assert causes["area"].factor == pytest.approx(1.2)
    assert causes["area"].value == pytest.approx(150.0)
    # If the speed were the cause, it would have been entered too low and the rate were 125.
    assert causes["speed"].factor == pytest.approx(1 / 1.2)
    assert causes["speed"].value == pytest.approx(125.0)
    assert causes["pressure"].factor == pytest.approx(1.2**2)


def test_speed_of_one_sensor_moves_the_distance_as_well():
    candidates = signatures(exponent=0.5, one_speed_sensor=True, width_from_spacing=True)
    assert candidates["speed"] == candidates["spacing"] == {"settings": -1.0, "distance": -1.0}
    values = {"settings": 150 / 1.3, "tank": 150.0, "product": 150.0, "distance": 150 / 1.3}
    named = [cause.name for cause in likely_cause(usual(**values), candidates)]
    assert named == ["speed", "spacing", "area"]


def test_several_products_share_the_area_and_each_has_an_amount():
    candidates = signatures(exponent=0.5, products=("A", "B"))
    assert candidates["area"] == {"tank": -1.0, "A": -1.0, "B": -1.0}
    assert candidates["B"] == {"B": 1.0}
    estimates = [
        Estimate("settings", 150.0, {"settings": 0.02}),
        Estimate("tank", 150.0, {"tank": 0.02, "area": 0.006}),
        Estimate("A", 150.5, {"A": 0.012, "area": 0.006}),
        Estimate("B", 180.0, {"B": 0.012, "area": 0.006}),
    ]
    (cause,) = likely_cause(estimates, candidates)
    assert (cause.name, round(cause.factor, 2)) == ("B", 1.2)


def test_no_cause_is_sought_where_nothing_contradicts():
    estimates = usual(settings=150.0, tank=152.0, product=149.0, distance=151.0)
    assert likely_cause(estimates, CANDIDATES) == ()


def test_two_estimates_cannot_name_a_cause():
    assert likely_cause(usual(settings=150.0, tank=300.0), CANDIDATES) == ()


def test_two_errors_at_once_have_no_single_cause():
    estimates = usual(settings=150.0, tank=220.0, product=190.0, distance=170.0)
    assert likely_cause(estimates, CANDIDATES) == ()
    assert likely_cause(moved("product", 1.5), {"area": CANDIDATES["area"]}) == ()


def test_two_explanations_that_are_as_good_name_none():
    estimates = [Estimate(name, value, {name: 0.02}) for name, value in TIED.items()]
    assert likely_cause(estimates, {name: {name: 1.0} for name in "abc"}) == ()


def test_entries_that_move_all_alike_or_none_explain_nothing():
    alike = {"unit": dict.fromkeys(USUAL, 1.0), "other": {"elsewhere": 1.0}}
    assert likely_cause(moved("area", 1.5), alike) == ()
    assert likely_cause(moved("area", 1.5), {}) == ()
    (cause,) = likely_cause(moved("area", 1.5), {**alike, "area": CANDIDATES["area"]})
    assert cause.name == "area"


def test_a_slip_explains_a_factor_within_two_standard_uncertainties():
    cause = Cause("area", factor=2.45, relative_u=0.01, value=150.0, chi_squared=0.1)
    assert cause.explains(2.471)
    assert cause.explains(2.45 * math.exp(0.0199))
    assert not cause.explains(2.45 * math.exp(0.0201))
    assert not cause.explains(1.0 / 2.471)
    with pytest.raises(OutOfRange, match=r"^factor is 0.0; it must be positive"):
        cause.explains(0.0)


# --- χ² and refusals ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("freedom", "point"),
    # 99 % points of the χ² distribution as every table of it has them; from memory.
    [(1, 6.635), (2, 9.210), (3, 11.345), (4, 13.277), (5, 15.086), (10, 23.209), (20, 37.566)],
)
def test_the_tail_of_chi_squared_at_its_published_points(freedom, point):
    assert tail_of_chi_squared(point, freedom) == pytest.approx(0.01, abs=2e-6)
    assert tail_of_chi_squared(0.0, freedom) == 1.0


def test_refuses_an_estimate_without_value_or_doubt():
    with pytest.raises(OutOfRange, match=r"^value of tank is 0.0; it must be positive"):
        Estimate("tank", 0.0, {"tank": 0.01})
    for sources in ({}, {"tank": 0.0}):
        with pytest.raises(OutOfRange, match=r"^uncertainty of tank is 0.0; it must be positive"):
            Estimate("tank", 1.0, sources)
    with pytest.raises(OutOfRange, match=r"^area of tank is nan; it must be finite"):
        Estimate("tank", 1.0, {"area": math.nan})


def test_refuses_no_estimates_two_of_one_name_and_two_that_share_every_source():
    with pytest.raises(OutOfRange, match=r"^estimates is \[\]; it must be one or more"):
        combine([])
    with pytest.raises(OutOfRange, match=r"of different names"):
        combine([*usual(tank=1.0), *usual(tank=2.0)])
    with pytest.raises(OutOfRange, match=r"of estimates that each have a source of their own"):
        combine([Estimate(name, 1.0, {"area": 0.01}) for name in "ab"])
    with pytest.raises(OutOfRange, match=r"^values is -1.0; it must be positive"):
        weighted_mean(values=np.array([1.0, -1.0]), relation=np.eye(2))
    with pytest.raises(OutOfRange, match=r"^exponent is 0.0; it must be positive"):
        signatures(exponent=0.0)
