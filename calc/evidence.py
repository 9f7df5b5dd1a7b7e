"""What all evidence together says of one delivered rate, and which entry is likely wrong.

Settings, tank, product and distance each give an estimate of the same rate. Each names the sources
of its uncertainty; a source that two of them name is one error that both share, so the covariance
follows from the names. The best estimate is the weighted mean of least variance. Where the
estimates contradict one another the spread is not stretched to cover it: for so few values such a
stretch is too small [BIRGE-2014], and a contradiction is something to look at, not to hide.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from calc.errors import FloatArray, OutOfRange, finite, positive
from calc.uncertainty import combined, coverage_factor_of

SIGNIFICANCE = 0.01
"""Estimates contradict one another if chance alone spreads them so far in less than 1 % of cases.

At 5 % the test alone would mark a twentieth of the sound records; computed.
"""

APART = 4.0
"""How much smaller χ² has to be than the next for one explanation to be named; two standard
deviations of one parameter. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """One estimate of a rate.

    Attributes: name; value > 0, in the unit of all; sources, by name, the relative standard
    uncertainty that each adds [1], not all zero. A name that stands in two estimates is one shared
    error; the sign says which way it moves the value, if two are moved in opposite ways.
    """

    name: str
    value: float
    sources: Mapping[str, float]

    def __post_init__(self) -> None:
        """Refuse a value that is not positive, and an estimate without a doubt.

        Raises: OutOfRange.
        """
        positive(f"value of {self.name}", self.value)
        for source, part in self.sources.items():
            finite(f"{source} of {self.name}", part)
        positive(f"uncertainty of {self.name}", self.relative_u if self.sources else 0.0)

    @property
    def relative_u(self) -> float:
        """The relative standard uncertainty. [1]"""
        return combined(sources=self.sources)

    @property
    def k(self) -> float:
        """The coverage factor for 95 %, all sources rectangular."""
        return coverage_factor_of(sources=self.sources)


@dataclass(frozen=True, slots=True)
class Combined(Estimate):
    """The best estimate from all evidence.

    Attributes, beside those of an estimate: weights, by name, whose sum is one; one may be below
    zero where estimates share much; chi_squared of the spread, with one degree of freedom less than
    there are estimates; consistent, whether chance explains it; odd, empty if consistent, else the
    one estimate without which the others agree, or those among which none can be singled out;
    or_shared, sources that all the others share, which explain the same if one is odd.
    """

    weights: Mapping[str, float]
    chi_squared: float
    consistent: bool
    odd: tuple[str, ...]
    or_shared: tuple[str, ...]

    @property
    def birge_ratio(self) -> float | None:
        """√(χ² / degrees of freedom); None for a single estimate. A rule of thumb, not a test."""
        freedom = len(self.weights) - 1
        return (self.chi_squared / freedom) ** 0.5 if freedom else None


@dataclass(frozen=True, slots=True)
class Cause:
    """One entry that would, if it alone were wrong, explain all evidence.

    Attributes: name of the entry; factor, entered / true [1]; relative_u of the factor [1]; value,
    the rate if this is the cause; chi_squared of what is then left unexplained.
    """

    name: str
    factor: float
    relative_u: float
    value: float
    chi_squared: float

    def explains(self, factor: float) -> bool:
        """Return whether a slip by `factor`, entered / true, is within two standard uncertainties.

        Args: factor [1] > 0.
        Raises: OutOfRange if it is not positive.
        """
        away = abs(math.log(positive("factor", factor) / self.factor))
        return away <= 2.0 * self.relative_u


class WeightedMean(NamedTuple):
    """Weighted means of rows of estimates; arrays with one entry, or one row of weights, per row.

    Attributes: value; relative_u [1]; weights, which sum to one; chi_squared.
    """

    value: FloatArray
    relative_u: FloatArray
    weights: FloatArray
    chi_squared: FloatArray


def combine(estimates: Sequence[Estimate]) -> Combined:
    """Return the best estimate from all evidence, and whether the evidence agrees.

    Args: estimates, one or more, of different names, in one unit.
    Raises: OutOfRange if there is none, two have one name, or two differ by nothing but value.
    Source: weighted mean and χ² [JCGM-100] 5.2, [COX-2007]; odd one out: the largest consistent
        subset, [COX-2007]; Birge ratio as a rule of thumb only, [KACKER-2010].
    """
    names, values, relation = _arranged(estimates)
    mean = weighted_mean(values=values, relation=relation)
    freedom = len(names) - 1
    consistent = (
        not freedom or tail_of_chi_squared(float(mean.chi_squared), freedom) >= SIGNIFICANCE
    )
    shares = mean.weights * values / mean.value
    sources = dict.fromkeys((source for each in estimates for source in each.sources), 0.0)
    for share, each in zip(shares.tolist(), estimates, strict=True):
        for source, part in each.sources.items():
            sources[source] += share * part
    odd = () if consistent else _odd(names, values, relation)
    or_shared: tuple[str, ...] = ()
    if len(odd) == 1 and freedom > 1:
        (left_out,) = (each.sources for each in estimates if each.name in odd)
        others = [each.sources for each in estimates if each.name not in odd]
        or_shared = tuple(
            source
            for source in others[0]
            if source not in left_out and all(source in each for each in others)
        )
    return Combined(
        name=", ".join(names),
        value=float(mean.value),
        sources=sources,
        weights=dict(zip(names, mean.weights.tolist(), strict=True)),
        chi_squared=float(mean.chi_squared),
        consistent=consistent,
        odd=odd,
        or_shared=or_shared,
    )


def weighted_mean(*, values: FloatArray, relation: FloatArray) -> WeightedMean:
    """Return the weighted means of least variance of rows of estimates that share their errors.

    Args: values > 0, the last axis runs over the n estimates; relation, the n × n matrix of their
        relative covariances [1], the same for all rows, positive definite.
    Raises: OutOfRange if a value is not positive, or `relation` is not positive definite.
    Source: [JCGM-100] 5.2, [COX-2007]: w = V⁻¹1 / (1ᵀV⁻¹1), u² = 1 / (1ᵀV⁻¹1), χ² = dᵀV⁻¹d.
    """
    inverse = _inverse(relation)
    # V = diag(x) R diag(x), so that V⁻¹ is R⁻¹ with its rows and columns over the values.
    over = 1.0 / positive("values", values)
    pulled = over @ inverse
    weight = np.sum(over * pulled, axis=-1)
    value = np.sum(pulled, axis=-1) / weight
    away = 1.0 - over * value[..., np.newaxis]
    return WeightedMean(
        value=value,
        relative_u=1.0 / np.sqrt(weight) / value,
        weights=over * pulled / weight[..., np.newaxis],
        chi_squared=np.sum(away * (away @ inverse), axis=-1),
    )


def likely_cause(
    estimates: Sequence[Estimate], candidates: Mapping[str, Mapping[str, float]]
) -> tuple[Cause, ...]:
    """Return the entries of which any one, alone wrong, explains why the evidence contradicts.

    Entries that move the estimates in the same way, or one all those that the other leaves, cannot
    be told apart and come together, in the order of the candidates. Empty if nothing contradicts,
    there are fewer than three estimates, no single entry explains it, or two different ones do.

    Args: estimates as for `combine`; candidates, by name of the entry, the power with which
        entered / true moves each estimate that it moves, by the estimate's name; see `signatures`.
    Raises: OutOfRange as for `combine`.
    Source: least squares in logarithms, [JCGM-100] 5.2; computed.
    """
    names, values, relation = _arranged(estimates)
    freedom = len(names) - 2
    if freedom < 1:
        return ()
    logs, inverse = np.log(values), _inverse(relation)
    level = np.ones((len(names), 1))
    if _by_chance(_fit(logs, level, inverse)[2], freedom + 1):
        return ()
    groups: list[tuple[FloatArray, list[Cause]]] = []
    for name, powers in candidates.items():
        power = np.array([powers.get(each, 0.0) for each in names])
        turned = power - power.mean()
        length = float(np.linalg.norm(turned))
        if length == 0.0:
            continue  # It moves all alike, or none: no evidence speaks of it.
        (mean, error), covariance, left = _fit(logs, np.column_stack([level, power]), inverse)
        cause = Cause(
            name=name,
            factor=math.exp(error),
            relative_u=float(covariance[1, 1] ** 0.5),
            value=math.exp(mean),
            chi_squared=left,
        )
        for direction, causes in groups:
            if abs(float(direction @ turned)) > length * (1.0 - 1e-9):
                causes.append(cause)
                break
        else:
            groups.append((turned / length, [cause]))
    ordered = sorted((causes for _, causes in groups), key=lambda causes: causes[0].chi_squared)
    if not ordered:
        return ()
    best = ordered[0][0].chi_squared
    if not _by_chance(best, freedom):
        return ()
    if len(ordered) > 1 and ordered[1][0].chi_squared - best <= APART:
        return ()
    return tuple(ordered[0])


def signatures(
    *,
    exponent: float,
    settings: str = "settings",
    tank: str = "tank",
    products: Sequence[str] = ("product",),
    distance: str = "distance",
    one_speed_sensor: bool = False,
    width_from_spacing: bool = False,
) -> dict[str, dict[str, float]]:
    """Return how each entry, entered / true, moves each estimate: the candidates of a cause.

    Args: exponent of the pressure law [1] > 0; the names of the estimates; one_speed_sensor, the
        distance came from the sensor that showed the speed; width_from_spacing, the width is that
        of the spacing times the nozzles. A product's amount is named as its estimate.
    Raises: OutOfRange if the exponent is not positive.
    Source: computed, from rate = flow / (speed · spacing), volume / area, amount / (area ·
        concentration) and volume / (distance · width).
    """
    return {
        "speed": {settings: -1.0, **({distance: -1.0} if one_speed_sensor else {})},
        "pressure": {settings: positive("exponent", exponent)},
        "flow": {settings: 1.0},
        "duty": {settings: 1.0},
        "spacing": {settings: -1.0, **({distance: -1.0} if width_from_spacing else {})},
        "area": {tank: -1.0, **dict.fromkeys(products, -1.0)},
        "tank": {tank: 1.0, distance: 1.0},
        **{product: {product: 1.0} for product in products},
        "distance": {distance: -1.0},
        "width": {distance: -1.0},
    }


def tail_of_chi_squared(chi_squared: float, freedom: int) -> float:
    """Return the probability that chance alone gives a χ² as large, or larger. [1]

    Args: chi_squared ≥ 0; freedom, degrees of freedom ≥ 1.
    Source: closed form for whole degrees of freedom; compared with published 99 % points.
    """
    half = chi_squared / 2.0
    if freedom % 2:
        tail, term = math.erfc(half**0.5), 2.0 * (half / math.pi) ** 0.5 * math.exp(-half)
        steps = range(3, freedom + 1, 2)
    else:
        tail, term = math.exp(-half), half * math.exp(-half)
        steps = range(4, freedom + 1, 2)
    for step in steps:
        tail += term
        term *= chi_squared / step
    return tail


def _by_chance(chi_squared: float, freedom: int) -> bool:
    """Return whether chance may have spread the values so far."""
    return tail_of_chi_squared(chi_squared, freedom) >= SIGNIFICANCE


def _arranged(estimates: Sequence[Estimate]) -> tuple[list[str], FloatArray, FloatArray]:
    """Return names, values and the relative covariances of estimates."""
    names = [each.name for each in estimates]
    if not names or len(set(names)) < len(names):
        raise OutOfRange("estimates", names, "one or more, of different names")
    sources = list(dict.fromkeys(source for each in estimates for source in each.sources))
    parts = np.array([[each.sources.get(source, 0.0) for source in sources] for each in estimates])
    return names, np.array([each.value for each in estimates], np.float64), parts @ parts.T


def _inverse(relation: FloatArray) -> FloatArray:
    """Return the inverse of relative covariances."""
    spread = np.sqrt(np.diagonal(relation))
    correlation = relation / np.outer(spread, spread)
    if not float(np.linalg.eigvalsh(correlation)[0]) > 1e-12:
        raise OutOfRange(
            "relation", relation.tolist(), "of estimates that each have a source of their own"
        )
    return np.asarray(np.linalg.inv(correlation) / np.outer(spread, spread), np.float64)


def _odd(names: list[str], values: FloatArray, relation: FloatArray) -> tuple[str, ...]:
    """Return the one estimate without which the others agree, or those that may be it."""
    if len(names) == 2:
        return tuple(names)
    without = {}
    for place, name in enumerate(names):
        rest = np.arange(len(names)) != place
        left = weighted_mean(values=values[rest], relation=relation[np.ix_(rest, rest)])
        without[name] = float(left.chi_squared)
    best = min(without.values())
    if not _by_chance(best, len(names) - 2):
        return tuple(names)
    return tuple(name for name, left in without.items() if left - best <= APART)


def _fit(
    logs: FloatArray, design: FloatArray, inverse: FloatArray
) -> tuple[list[float], FloatArray, float]:
    """Return parameters, their covariance and χ² of a weighted least-squares fit."""
    covariance = np.asarray(np.linalg.inv(design.T @ inverse @ design), np.float64)
    parameters = covariance @ (design.T @ (inverse @ logs))
    left = logs - design @ parameters
    return parameters.tolist(), covariance, float(left @ inverse @ left)
