"""How often the decision rule marks what it should, and what it should not: simulated records.

The rule is that of `calc.verdict`, on estimates combined by `calc.evidence`. Every accuracy is a
rectangle of the half-width named, and the budget knows it: these sizes are assumptions (common
practice, no source), so this says what the rule does, not how good sprayers are. Run with
`pytest -m bench tests/bench/test_verdict_bench.py -s`.
"""

import numpy as np
import pytest

from calc.evidence import Estimate, combine, likely_cause, signatures, weighted_mean
from calc.uncertainty import combined, worst_case
from calc.verdict import VERDICTS, Verdict, judge_rates

DRAWS = 400_000
SEEDS = (20_250_621, 20_250_622)
ROOT_3 = 3.0**0.5
MARKED, BROKEN = VERDICTS.index(Verdict.MISMATCH), VERDICTS.index(Verdict.BREACH)

Sources = dict[str, float]


def catch(flow: float, gauge: float, speed: float) -> Sources:
    """Half-widths in %, of which the pressure counts by its root; spacing is 1 %."""
    return {"flow": flow, "gauge": gauge / 2.0, "speed": speed, "spacing": 1.0}


OWN = {"flow": 2.5, "reading": 0.375, "reading of the test": 0.375, "speed": 2.0, "spacing": 1.0}
RIGS: dict[str, list[Sources]] = {
    "catch 2.5, own gauge, speed 2": [OWN],
    "catch 2.5, gauge 2-4, speed 2": [catch(2.5, gauge, 2) for gauge in (2, 4)],
    "catch 2.5, gauge 5, speed 3": [catch(2.5, 5, 3)],
    "sheet 5, gauge 2-3, speed 2": [catch(5, gauge, 2) for gauge in (2, 3)],
    "sheet 5, gauge 4-5, speed 3": [catch(5, gauge, 3) for gauge in (4, 5)],
}
TANK, PRODUCT = {"tank": 3.0, "area": 1.0}, {"product": 2.0, "area": 1.0}
MIX = {"mix": 1.0}

# A label from 100 to 200, and a plan at either end or between; or one rate.
POSITIONS = {
    "max": (100.0, 200.0, 200.0),
    "mid": (100.0, 200.0, 150.0),
    "min": (100.0, 200.0, 100.0),
    "single": (200.0, 200.0, 200.0),
}


def estimates(sources: Sources, totals: bool) -> list[Sources]:
    return [sources, *([TANK, PRODUCT | MIX] if totals else [])]


class Errors:
    """The errors of a number of records: one draw for every source of that name."""

    def __init__(self, seed: int, normal: bool = False, draws: int = DRAWS) -> None:
        self.random, self.normal, self.draws = np.random.default_rng(seed), normal, draws
        self.drawn: dict[str, np.ndarray] = {}

    def of(self, sources: Sources) -> np.ndarray:
        """Return the product of (1 + error) of all sources; settings with speed below the line."""
        factor = np.ones(self.draws)
        for name, half_width in sources.items():
            if name not in self.drawn:
                self.drawn[name] = (
                    self.random.normal(0.0, 1.0 / ROOT_3, self.draws)
                    if self.normal
                    else self.random.uniform(-1.0, 1.0, self.draws)
                )
            error = 1.0 + half_width / 100.0 * self.drawn[name]
            factor = factor / error if name in ("speed", "spacing", "area") else factor * error
        return factor

    def uniform(self) -> np.ndarray:
        return self.random.uniform(-1.0, 1.0, self.draws)


def standard(sources: Sources) -> Sources:
    return {name: half_width / 100.0 / ROOT_3 for name, half_width in sources.items()}


def judged(
    truth: float | np.ndarray, read: list[np.ndarray], evidence: list[Sources], position: str
) -> np.ndarray:
    """Return the code of each record's verdict; read, each estimate over the truth."""
    low, high, plan = POSITIONS[position]
    rows = np.stack([truth * each for each in read], axis=1)
    budgets = [standard(each) for each in evidence]
    names = list(dict.fromkeys(name for each in budgets for name in each))
    parts = np.array([[each.get(name, 0.0) for name in names] for each in budgets])
    mean = weighted_mean(values=rows, relation=parts @ parts.T)
    rate, u = mean.value, mean.relative_u
    contradicts = np.zeros(len(rows), bool)
    # 99 % point of χ² with 2 degrees of freedom, as in every table: those rows one by one.
    for row in np.flatnonzero(mean.chi_squared > 9.2) if len(evidence) == 3 else ():
        several = [
            Estimate(str(n), float(value), budget)
            for n, (value, budget) in enumerate(zip(rows[row], budgets, strict=True))
        ]
        whole = combine(several)
        contradicts[row] = not whole.consistent
        if whole.odd:
            rest = several[:1]
            if len(whole.odd) == 1:
                rest = [each for each in several if each.name not in whole.odd]
            best = combine(rest)
            rate[row], u[row] = best.value, best.relative_u
    ends = (None, None)
    if len(evidence) == 1:
        ends = worst_case(estimate=rate, sources=budgets[0])
    found = judge_rates(
        estimate=rate,
        relative_u=u,
        low=low,
        high=high,
        plan=plan,
        worst_low=ends[0],
        worst_high=ends[1],
    )
    return np.where(contradicts, np.maximum(found.codes, MARKED), found.codes)


def share(hit: np.ndarray) -> float:
    return 100.0 * float(hit.mean())


def characteristic(sources: Sources, totals: bool, seed: int, normal: bool = False) -> dict:
    """Return in % how often each kind of record is marked, or called a breach."""
    errors = Errors(seed, normal)
    evidence = estimates(sources, totals)
    spread = errors.uniform()
    read = [errors.of(each) for each in evidence]

    def codes(truth: float | np.ndarray, position: str) -> np.ndarray:
        return judged(truth, read, evidence, position)

    cells = {}
    for position, (low, high, plan) in POSITIONS.items():
        truth = plan * (1.0 + 0.02 * spread)
        marked = codes(truth, position) >= MARKED
        cells[f"T1 {position}"] = share(marked)
        if position != "single":
            cells[f"inside {position}"] = share(marked[(truth >= low) & (truth <= high)])
    at_limit = [(200.0, "max"), (200.0, "mid"), (100.0, "min"), (100.0, "mid"), (200.0, "single")]
    cells["T2"] = max(share(codes(*each) == BROKEN) for each in at_limit)
    cells["T3"] = min(share(codes(220.0, each) >= MARKED) for each in ("max", "mid", "single"))
    cells["T4"] = min(
        share(codes(1.2 * plan, each) >= MARKED) for each, (_, _, plan) in POSITIONS.items()
    )
    cells["T4 low"] = min(
        share(codes(0.8 * plan, each) >= MARKED) for each, (_, _, plan) in POSITIONS.items()
    )
    return cells


WORST = {"T3": min, "T4": min, "T4 low": min}
ORDER = ["T1 max", "T1 mid", "T1 min", "T1 single", "inside max", "inside min"]
ORDER += ["T2", "T3", "T4", "T4 low"]


def worst(all_cells: list[dict]) -> dict:
    return {name: WORST.get(name, max)(cells[name] for cells in all_cells) for name in ORDER}


def line(label: str, u: str, cells: dict) -> str:
    return f"| {label} | {u} | " + " | ".join(f"{cells[name]:.2f}" for name in ORDER) + " |"


# Computed for the rule by other code, over the same rigs; "worse of two seeds". Of ranges, the end
# that is worse. T1 counts every truth within ± 2 % of the plan, beyond the label or not.
EXPECTED = {
    "catch 2.5, own gauge, speed 2": (4.7, 0.0, 4.5, 5.04, 2.10, 99.9, 100.0),
    "catch 2.5, gauge 2-4, speed 2": (4.6, 0.0, 4.4, 4.9, 2.31, 98.0, 100.0),
    "catch 2.5, gauge 5, speed 3": (4.8, 0.0, 4.6, 9.4, 2.33, 95.0, 99.996),
    "sheet 5, gauge 2-3, speed 2": (8.0, 0.0, 7.9, 15.7, 1.54, 91.1, 99.97),
    "sheet 5, gauge 4-5, speed 3": (6.2, 0.4, 6.1, 12.0, 2.07, 81.5, 99.3),
    "any of these, with totals": (10.7, 0.3, 10.5, 14.5, 2.44, 100.0, 100.0),
}
COMPARED = ["T1 max", "T1 mid", "T1 min", "T1 single", "T2", "T3", "T4"]


@pytest.mark.bench
def test_operating_characteristic_of_the_rule():
    table, totals, lines = {}, [], []
    for rig, variants in RIGS.items():
        table[rig] = worst(
            [characteristic(each, False, seed) for each in variants for seed in SEEDS]
        )
        totals += [characteristic(each, True, seed) for each in variants for seed in SEEDS]
        us = [100.0 * combined(sources=standard(each)) for each in variants]
        lines.append(line(rig, "-".join(f"{u:.2f}" for u in us), table[rig]))
    table["any of these, with totals"] = worst(totals)
    lines.append(line("any of these, with totals", "1.0-1.1", table["any of these, with totals"]))
    print(f"\n{DRAWS} draws a cell, worse of {len(SEEDS)} seeds and of each rig's gauges")
    print("| rig | u % | " + " | ".join(ORDER) + " |")
    print("\n".join(lines))
    for rig, cells in EXPECTED.items():
        for name, expected in zip(COMPARED, cells, strict=True):
            assert abs(table[rig][name] - expected) <= 1.0, (rig, name, table[rig][name], expected)


@pytest.mark.bench
def test_operating_characteristic_if_every_input_were_normal():
    print("\nthe same standard uncertainties, every input normal")
    print("| rig | u % | " + " | ".join(ORDER) + " |")
    for rig, sources in {name: variants[-1] for name, variants in RIGS.items()}.items():
        cells = worst([characteristic(sources, False, seed, normal=True) for seed in SEEDS])
        print(line(rig, f"{100.0 * combined(sources=standard(sources)):.2f}", cells))
        assert cells["T2"] <= 3.5


@pytest.mark.bench
def test_share_of_records_with_three_products_at_their_maximum():
    """One record has one carrier and three products; a mark on any line marks the record."""
    print(
        "\n% of records marked, three products at their maximum; all truths / none beyond the label"
    )
    for rig, variants in RIGS.items():
        for with_totals in (False, True):
            found = []
            for sources in variants:
                errors = Errors(SEEDS[0])
                truth = 200.0 * (1.0 + 0.02 * errors.uniform())
                marked = np.zeros(DRAWS, bool)
                for n in range(3):
                    # A product's own total over the area says its rate; the others say it by what
                    # is in the mix, whose doubt each product has of its own.
                    mix = {f"mix {n}": 1.0}
                    evidence = [sources | mix]
                    if with_totals:
                        evidence += [TANK | mix, {f"product {n}": 2.0, "area": 1.0}]
                    read = [errors.of(each) for each in evidence]
                    marked |= judged(truth, read, evidence, "max") >= MARKED
                found.append((share(marked), share(marked[truth <= 200.0])))
            ends = [f"{min(one):.1f}-{max(one):.1f}" for one in zip(*found, strict=True)]
            print(f"{rig}, {'with totals' if with_totals else 'settings'}: {' / '.join(ends)}")


@pytest.mark.bench
def test_how_often_the_entry_that_is_wrong_is_named():
    """Four estimates of which one entry is wrong by 8, 10, 15 %: named, and named wrongly."""
    evidence = {
        "settings": {"settings": 2.1},
        "tank": {"tank": 1.73, "area": 0.58},
        "product": {"product": 1.15, "area": 0.58},
        "distance": {"tank": 1.73, "distance and width": 1.15},
    }
    budgets = {
        name: {source: part / 100.0 for source, part in each.items()}
        for name, each in evidence.items()
    }
    candidates = signatures(exponent=0.5)
    draws = 3_000
    print("\n% named, and named wrongly, of entries wrong by 8, 10, 15 %")
    for entry in ("flow", "tank", "product", "area"):
        told = []
        for wrong in (1.08, 1.10, 1.15):
            errors = Errors(SEEDS[0], draws=draws)
            rows = [
                150.0
                * errors.of({source: part * ROOT_3 for source, part in each.items()})
                * wrong ** candidates[entry].get(name, 0.0)
                for name, each in evidence.items()
            ]
            named = [
                {cause.name for cause in likely_cause(several, candidates)}
                for several in (
                    [
                        Estimate(name, float(value), budgets[name])
                        for name, value in zip(evidence, row, strict=True)
                    ]
                    for row in np.stack(rows, axis=1)
                )
            ]
            right = 100.0 * sum(entry in each for each in named) / draws
            astray = 100.0 * sum(bool(each) and entry not in each for each in named) / draws
            told.append(f"{right:.0f} ({astray:.1f})")
            assert astray <= 1.0
        print(f"{entry}: {', '.join(told)}")
