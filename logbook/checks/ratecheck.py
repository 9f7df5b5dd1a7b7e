"""Many settings of a rig judged at once: rows of numbers and units in, verdicts out.

A row is what a program sends about one setting. Each cell is a plain number in the metric unit of
its column, a value with its unit, or the text that a person would write ("6.0 mph"). The columns
are read into arrays, judged by `calc.delivery.check_settings`, and come back row by row.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

import numpy as np
import numpy.typing as npt

from calc.delivery import Settings, SettingsCheck, Uncertainties, check_settings
from calc.errors import FloatArray
from calc.flow import EXPONENT_RANGE, SPECIFIC_GRAVITY_RANGE
from calc.limits import DISAGREE, LOOK_AGAIN
from calc.uncertainty import (
    COVERAGE_FACTOR,
    TYPICAL_HALF_WIDTHS,
    relative_from_relative_accuracy,
    standard_from_half_width,
)
from calc.units import convert, units_of
from calc.verdict import NOT_JUDGED, VERDICTS, Verdict
from logbook.facts.messages import Figure, Message, joined, msg, with_unit
from logbook.facts.quantity import BadAnswer, Quantity, parse_answer
from logbook.facts.record import CatchTestFacts, LabelFacts, RecordFacts, RigFacts
from logbook.facts.spec import Fact, declared
from logbook.facts.usual import likely, question
from logbook.facts.wording import either

Flags = npt.NDArray[np.bool_]

MAX_ROWS = 10_000
MAX_ERRORS = 100
"""So many refusals are spelled out; a file that is wrong throughout is wrong in the same way."""

OUTCOME_WORDS = tuple(one.value for one in VERDICTS)
LOOKED_AT_AGAIN = (VERDICTS.index(Verdict.LOOK_AGAIN), VERDICTS.index(Verdict.MISMATCH))

FORMULA = msg(
    "rate = 60000 · duty · known_flow · (nozzle pressure / known_pressure)^exponent"
    " / (speed · spacing · √density), in L/ha with L/min, km/h, cm and density relative to water"
)
UNCERTAINTY_BASIS = msg(
    "Accuracies are half-widths of a rectangular spread (JCGM 100:2008, 4.3.7), combined as"
    " independent relative uncertainties (5.1.6), expanded with k = 2."
)
LABEL_BASIS = msg(
    "The label's limits are hard: no tolerance. Outside it is a rate that lies beyond a limit with "
    "97.5 % probability (JCGM 106:2012, 7 and 8; ILAC-G8:09/2019, 4.2.3); one whose best estimate "
    "is beyond it by more than the yardstick does not agree."
)
PLAN_BASIS = msg("Tolerance about the planned rate: common practice, no source.")
CAUTION = msg(
    "The product label and local law decide. A computed rate does not replace a catch test,"
    " a look at the spray, or the judgement of a licensed applicator."
)


class BadRows(ValueError):
    """Rows that cannot be taken; `errors` maps "settings.17.speed" to what is wrong there."""

    def __init__(self, errors: dict[str, list[str]]) -> None:
        """Keep the errors by path."""
        self.errors = errors
        super().__init__(
            joined(
                "; ", (Message(path) + ": " + joined(" ", said) for path, said in errors.items())
            )
        )


@dataclass(frozen=True, kw_only=True)
class Column:
    """One thing that a row says: its units, its range, and what holds where a row is silent.

    Attributes: unit in which a plain number is read; low and high, in that unit, both allowed;
    needed, whether every row must say it; usual, the value where a row is silent; fact, the fact
    of a record that it is, by whose usual range a number is asked about.
    """

    name: str
    means: str
    dimension: str
    unit: str
    low: float
    high: float
    needed: bool = False
    usual: float | None = None
    fact: Fact | None = None
    share_of: str = ""  # for an accuracy: the column it is an accuracy of; then % is allowed too

    @property
    def units(self) -> tuple[str, ...]:
        """The unit codes that a value may have."""
        own = units_of(self.dimension)
        return (*own, "%") if self.share_of and "%" not in own else own

    @property
    def bound(self) -> str:
        """The range in words."""
        return msg(
            "between {low:.10g} and {high:.10g} {unit}",
            low=self.low,
            high=self.high,
            unit=self.unit,
        )


def _accuracy(name: str, *, of: str, dimension: str, unit: str, usual: float) -> Column:
    return Column(
        name=f"{name}_accuracy",
        means=msg("{of} is right to within this, either way; 0 if exact", of=of),
        dimension=dimension,
        unit=unit,
        low=0.0,
        high=10_000.0 if dimension != "fraction" else 100.0,
        usual=usual,
        share_of=name if name != "flow" else "known_flow",
    )


# The ranges are wider than any rig; beyond them a number is a slip of the unit or the point.
COLUMNS: dict[str, Column] = {
    column.name: column
    for column in (
        Column(
            name="known_flow",
            means=msg(
                "flow of water through one nozzle (or a whole boom, with its width as spacing), "
                "from a catch test or the data sheet"
            ),
            dimension="flow",
            unit="L/min",
            low=0.001,
            high=100_000,
            needed=True,
        ),
        Column(
            name="known_pressure",
            means=msg(
                "pressure at the nozzle at which that flow is known; leave it out together with "
                "“pressure” if the flow was measured at work"
            ),
            dimension="pressure",
            unit="kPa",
            low=1,
            high=10_000,
            fact=declared(CatchTestFacts)["pressure"],
        ),
        Column(
            name="pressure",
            means=msg("pressure at the gauge while spraying"),
            dimension="pressure",
            unit="kPa",
            low=1,
            high=10_000,
            fact=declared(RecordFacts)["pressure"],
        ),
        Column(
            name="line_loss",
            means=msg("pressure lost between gauge and nozzle"),
            dimension="pressure",
            unit="kPa",
            low=0,
            high=10_000,
            usual=0.0,
            fact=declared(RigFacts)["line_loss"],
        ),
        Column(
            name="exponent",
            means=msg("exponent of the pressure law"),
            dimension="count",
            unit="1",
            low=EXPONENT_RANGE[0],
            high=EXPONENT_RANGE[1],
            usual=0.5,
        ),
        Column(
            name="speed",
            means=msg("ground speed"),
            dimension="speed",
            unit="km/h",
            low=0.1,
            high=60,
            needed=True,
            fact=declared(RecordFacts)["speed"],
        ),
        Column(
            name="spacing",
            means=msg(
                "width that the known flow serves: nozzle spacing, or the swath of a whole boom"
            ),
            dimension="length",
            unit="cm",
            low=1,
            high=10_000,
            needed=True,
        ),
        Column(
            name="density",
            means=msg("density of the spray mix; a plain number is relative to water"),
            dimension="mass_per_volume",
            unit="SG",
            low=SPECIFIC_GRAVITY_RANGE[0],
            high=SPECIFIC_GRAVITY_RANGE[1],
            usual=1.0,
            fact=declared(RecordFacts)["density"],
        ),
        Column(
            name="duty",
            means=msg("share of the time that a pulsing valve is open"),
            dimension="fraction",
            unit="%",
            low=1,
            high=100,
            usual=100.0,
            fact=declared(RecordFacts)["duty"],
        ),
        _accuracy(
            "flow",
            of="known_flow",
            dimension="fraction",
            unit="%",
            usual=100 * TYPICAL_HALF_WIDTHS["new_nozzle_relative"],
        ),
        _accuracy(
            "pressure",
            of="pressure",
            dimension="pressure",
            unit="kPa",
            usual=TYPICAL_HALF_WIDTHS["gauge_kpa"],
        ),
        _accuracy(
            "speed",
            of="speed",
            dimension="speed",
            unit="km/h",
            usual=TYPICAL_HALF_WIDTHS["satellite_speed_km_h"],
        ),
        _accuracy(
            "spacing",
            of="spacing",
            dimension="fraction",
            unit="%",
            usual=100 * TYPICAL_HALF_WIDTHS["spacing_relative"],
        ),
        Column(
            name="exponent_accuracy",
            means=msg("exponent is right to within this, either way; 0 if exact"),
            dimension="count",
            unit="1",
            low=0,
            high=0.2,
            usual=TYPICAL_HALF_WIDTHS["exponent"],
        ),
        _accuracy("density", of="density", dimension="fraction", unit="%", usual=0.0),
        _accuracy("duty", of="duty", dimension="fraction", unit="%", usual=0.0),
        Column(
            name="label_min",
            means=msg("least carrier volume that the label allows"),
            dimension="volume_rate",
            unit="L/ha",
            low=0.01,
            high=100_000,
            fact=declared(LabelFacts)["carrier_min"],
        ),
        Column(
            name="label_max",
            means=msg("most carrier volume that the label allows"),
            dimension="volume_rate",
            unit="L/ha",
            low=0.01,
            high=100_000,
            fact=declared(LabelFacts)["carrier_max"],
        ),
        Column(
            name="planned",
            means=msg("planned carrier volume"),
            dimension="volume_rate",
            unit="L/ha",
            low=0.01,
            high=100_000,
            fact=declared(RecordFacts)["planned_carrier"],
        ),
    )
}


@dataclass(frozen=True, kw_only=True)
class RateCheck:
    """What came of judging rows.

    Attributes: unit of every rate; assumed, the usual values that stood in where rows were silent,
    as text by column; questions, by the path of a cell, about numbers outside their usual range;
    found, arrays in L/ha; scaled, which rows have a known pressure.
    """

    unit: str
    assumed: dict[str, str]
    questions: dict[str, str]
    found: SettingsCheck[FloatArray]
    scaled: Flags

    def as_json(self) -> dict[str, Any]:
        """Return plain JSON: what all rows share, and one result per row."""
        return {
            "unit": self.unit,
            "coverage_factor": COVERAGE_FACTOR,
            "tolerance": {
                "look_again_percent": 100 * LOOK_AGAIN,
                "disagree_percent": 100 * DISAGREE,
                "basis": PLAN_BASIS,
            },
            "label_basis": LABEL_BASIS,
            "formula": FORMULA,
            "uncertainty_basis": UNCERTAINTY_BASIS,
            "assumed": self.assumed,
            "questions": self.questions,
            "caution": CAUTION,
            "results": list(self._results()),
        }

    def _results(self) -> Iterator[dict[str, Any]]:
        laid = self.found.delivered
        rows = len(laid.rate_l_ha)
        unasked: list[Any] = [NOT_JUDGED] * rows
        label, plan = self.found.label, self.found.planned
        sides = {-1: "low", 0: None, 1: "high"}
        for (
            rate,
            expanded,
            relative,
            flow,
            pressure,
            scaled,
            of_label,
            side,
            beyond,
            of_plan,
            deviation,
        ) in zip(
            self._in_unit(laid.rate_l_ha),
            self._in_unit(laid.expanded_l_ha),
            (100.0 * laid.relative_u).tolist(),
            laid.nozzle_flow_l_min.tolist(),
            laid.nozzle_pressure_kpa.tolist(),
            self.scaled.tolist(),
            unasked if label is None else label.codes.tolist(),
            unasked if label is None else label.at_limit.tolist(),
            unasked if label is None else (100.0 * label.beyond).tolist(),
            unasked if plan is None else plan.codes.tolist(),
            unasked if plan is None else (100.0 * plan.off_plan).tolist(),
            strict=True,
        ):
            yield {
                "delivered": rate,
                "expanded": expanded,
                "relative_u_percent": relative,
                "nozzle_flow_l_min": flow,
                "nozzle_pressure_kpa": pressure if scaled else None,
                "label": None if of_label < 0 else OUTCOME_WORDS[of_label],
                "at_limit": None if of_label < 0 else sides[side],
                "beyond_percent": beyond if of_label >= 0 and side else None,
                "planned": None if of_plan < 0 else OUTCOME_WORDS[of_plan],
                "look_again": None if of_plan < 0 else of_plan in LOOKED_AT_AGAIN,
                "deviation_percent": None if of_plan < 0 else deviation,
            }

    def _in_unit(self, rates: FloatArray) -> list[float]:
        in_unit: list[float] = convert(rates, from_unit="L/ha", to_unit=self.unit).tolist()
        return in_unit


def check_rates(body: Any) -> RateCheck:
    """Return what the settings in `body` deliver, and how each stands to its label and plan. [unit]

    Args: body, one row, or {"settings": [rows]}; beside either, "unit" names the unit of the rates
        that come back (L/ha if it is not said).
    Raises: BadRows, naming row, column, value and bound of everything that cannot be taken.
    """
    if not isinstance(body, Mapping):
        raise BadRows({"body": [msg('Give one object of settings, or {"settings": [ … ]}.')]})
    unit = body.get("unit", "L/ha")
    allowed = units_of("volume_rate")
    if unit not in allowed:
        said = msg(
            "{given} is not a unit of a rate; allowed are {allowed}.",
            given=_said(unit),
            allowed=joined(", ", allowed),
        )
        raise BadRows({"unit": [said]})
    if "settings" in body:
        unknown = [name for name in body if name not in ("settings", "unit")]
        if unknown:
            raise BadRows(
                {name: [msg("Beside settings there is only unit; put it in each row.")]
                 for name in unknown}
            )  # fmt: skip
        rows = body["settings"]
        if not isinstance(rows, list) or not 0 < len(rows) <= MAX_ROWS:
            raise BadRows({"settings": [msg("Give a list of 1 to {most} objects.", most=MAX_ROWS)]})
        return _Reading(rows, "settings.{}.").check(unit)
    return _Reading([{key: body[key] for key in body if key != "unit"}], "").check(unit)


@dataclass
class _Reading:
    """Rows being read into arrays, with what was wrong on the way."""

    rows: Sequence[Any]
    prefix: str  # of the path of a cell, with {} for the place of the row
    errors: dict[str, list[str]] = field(default_factory=dict)
    questions: dict[str, str] = field(default_factory=dict)
    more: int = 0

    def check(self, unit: str) -> RateCheck:
        self._shape()
        values: dict[str, FloatArray] = {}
        given: dict[str, Flags] = {}
        shares: dict[str, Flags] = {}
        for name, column in COLUMNS.items():
            values[name], given[name], shares[name] = self._column(column)
        scaled = self._pressures(values, given)
        self._order(values, given)
        self._stop_if_wrong()
        # −inf, +inf and NaN mark a row without that limit, or without a plan.
        low = np.where(given["label_min"], values["label_min"], -np.inf)
        high = np.where(given["label_max"], values["label_max"], np.inf)
        planned = np.where(given["planned"], values["planned"], np.nan)
        labelled = given["label_min"] | given["label_max"]
        u = {
            column.share_of: relative_from_relative_accuracy(
                accuracy=np.where(
                    shares[name], values[name] / 100.0, values[name] / values[column.share_of]
                )
            )
            for name, column in COLUMNS.items()
            if column.share_of
        }
        return RateCheck(
            unit=unit,
            assumed=self._assumed(given, scaled),
            questions=self.questions,
            found=check_settings(
                settings=Settings(
                    known_flow_l_min=values["known_flow"],
                    known_at_kpa=values["known_pressure"],
                    exponent=values["exponent"],
                    gauge_kpa=values["pressure"],
                    line_loss_kpa=values["line_loss"],
                    speed_km_h=values["speed"],
                    spacing_cm=values["spacing"],
                    specific_gravity=values["density"],
                    duty=values["duty"] / 100.0,
                ),
                uncertainties=Uncertainties(
                    flow=u["known_flow"],
                    pressure_kpa=np.where(scaled, u["pressure"] * values["pressure"], 0.0),
                    exponent=standard_from_half_width(half_width=values["exponent_accuracy"]),
                    speed=u["speed"],
                    spacing=u["spacing"],
                    specific_gravity=u["density"],
                    duty=u["duty"],
                ),
                label_low_l_ha=low if labelled.any() else None,
                label_high_l_ha=high if labelled.any() else None,
                planned_l_ha=planned if given["planned"].any() else None,
            ),
            scaled=scaled,
        )

    def _shape(self) -> None:
        whole = True
        for place, row in enumerate(self.rows):
            if not isinstance(row, dict):
                self._refuse(place, "", msg("This is not an object of settings."))
                whole = False
            elif not row.keys() <= COLUMNS.keys():
                for name in row.keys() - COLUMNS.keys():
                    said = msg(
                        "There is no such field; allowed: {names}.",
                        names=joined(", ", COLUMNS),
                    )
                    self._refuse(place, name, said)
        if not whole:
            self._stop_if_wrong()

    def _column(self, column: Column) -> tuple[FloatArray, Flags, Flags]:
        """Return the numbers in the column's unit, which are given, and which are a share in %."""
        cells = [row.get(column.name) for row in self.rows]
        kinds = set(map(type, cells))
        shares = np.full(len(cells), column.unit == "%")
        given = np.full(len(cells), type(None) not in kinds)
        if kinds <= {float, int}:
            numbers = self._numbers(cells)
        elif kinds == {type(None)}:
            numbers = np.full(len(cells), np.nan)
        else:
            numbers = self._mixed(column, cells, shares)
            given = np.fromiter((cell is not None for cell in cells), np.bool_, len(cells))
        inside = (numbers >= column.low) & (numbers <= np.where(shares, 100.0, column.high))
        for place in np.flatnonzero(given & ~inside & ~np.isnan(numbers)).tolist():
            bound = (
                msg("between {low:.10g} and 100 %", low=column.low)
                if shares[place]
                else column.bound
            )
            said = msg("{given}; it must be {bound}.", given=_said(cells[place]), bound=bound)
            if column.fact and (meant := likely(_quantity(cells[place], column), column.fact.kind)):
                said = msg("{said} Was {meant} meant?", said=said, meant=meant)
            self._refuse(place, column.name, said)
        if column.fact:
            self._ask(column, column.fact, cells, numbers, given & inside)
        if column.needed:
            for place in np.flatnonzero(~given).tolist():
                said = msg(
                    "It is needed: {means}, in {units}.",
                    means=column.means,
                    units=either(column.units),
                )
                self._refuse(place, column.name, said)
        if column.usual is not None:
            numbers = np.where(given, numbers, column.usual)
        return numbers, given, shares

    def _ask(
        self, column: Column, fact: Fact, cells: list[Any], numbers: FloatArray, taken: Flags
    ) -> None:
        """Ask about the numbers outside the usual range of the fact, the first of them by name."""
        for usual in getattr(fact.kind, "usual", ()):
            low, high = (
                convert(end, from_unit=usual.unit, to_unit=column.unit)
                for end in (usual.low, usual.high)
            )
            unusual = taken & ~((numbers >= low * (1 - 1e-9)) & (numbers <= high * (1 + 1e-9)))
            for place in np.flatnonzero(unusual)[: MAX_ERRORS - len(self.questions)].tolist():
                path = f"{self.prefix.format(place)}{column.name}"
                self.questions[path] = question(_quantity(cells[place], column), fact)

    def _numbers(self, cells: list[Any]) -> FloatArray:
        try:
            return np.array(cells, np.float64)
        except OverflowError:  # a whole number beyond any float
            return np.array([min(max(cell, -1e300), 1e300) for cell in cells], np.float64)

    def _mixed(self, column: Column, cells: list[Any], shares: Flags) -> FloatArray:
        """Return the numbers in the column's unit; mark in `shares` those in %."""
        numbers = np.full(len(cells), np.nan)
        units: dict[str, list[int]] = {}
        for place, cell in enumerate(cells):
            if cell is None:
                continue
            try:
                numbers[place], unit = _read(cell, column)
            except BadAnswer as bad:
                self._refuse(place, column.name, str(bad))
            else:
                units.setdefault(unit, []).append(place)
        for unit, places in units.items():
            if unit == "%" and column.unit != "%":
                shares[places] = True
            elif unit != column.unit:
                # What overflows becomes infinite, and the range refuses it by its place.
                with np.errstate(over="ignore"):
                    numbers[places] = convert(numbers[places], from_unit=unit, to_unit=column.unit)
        return numbers

    def _pressures(self, values: dict[str, FloatArray], given: dict[str, Flags]) -> Flags:
        """Return which rows scale the known flow to another pressure; fill the others neutrally."""
        known, gauge = given["known_pressure"], given["pressure"]
        for place in np.flatnonzero(known ^ gauge).tolist():
            lacking, there = ("pressure", "known_pressure")[:: 1 if known[place] else -1]
            said = msg(
                "It is needed beside {there}; leave out both if the flow was measured at work.",
                there=there,
            )
            self._refuse(place, lacking, said)
        for place in np.flatnonzero(~gauge & given["line_loss"]).tolist():
            self._refuse(
                place, "line_loss", msg("It is read only beside pressure and known_pressure.")
            )
        too_much = gauge & (values["line_loss"] >= values["pressure"])
        for place in np.flatnonzero(too_much).tolist():
            lost, there = values["line_loss"][place], values["pressure"][place]
            said = msg(
                "{lost:.6g} kPa; it must be below the pressure, {there:.6g} kPa.",
                lost=lost,
                there=there,
            )
            self._refuse(place, "line_loss", said)
        for name in ("known_pressure", "pressure"):
            values[name] = np.where(known & gauge, values[name], 1.0)
        return known & gauge

    def _order(self, values: dict[str, FloatArray], given: dict[str, Flags]) -> None:
        both = given["label_min"] & given["label_max"]
        # A difference of the last bits is one of conversion, not of the label.
        crossed = both & (values["label_min"] * (1.0 - 1e-12) > values["label_max"])
        for place in np.flatnonzero(crossed).tolist():
            low, high = values["label_min"][place], values["label_max"][place]
            said = msg(
                "{low:.6g} L/ha; it must not be above label_max, {high:.6g} L/ha.",
                low=low,
                high=high,
            )
            self._refuse(place, "label_min", said)

    def _assumed(self, given: dict[str, Flags], scaled: Flags) -> dict[str, str]:
        beside = ("pressure_accuracy", "line_loss", "exponent", "exponent_accuracy")
        needed = dict.fromkeys(beside, scaled)
        return {
            column.name: f"{column.usual:.10g} {column.unit}".removesuffix(" 1")
            for column in COLUMNS.values()
            if column.usual is not None
            and (~given[column.name] & needed.get(column.name, np.True_)).any()
        }

    def _refuse(self, place: int, name: str, said: str) -> None:
        path = f"{self.prefix.format(place)}{name}".rstrip(".") or "body"
        if path in self.errors or len(self.errors) < MAX_ERRORS:
            self.errors.setdefault(path, []).append(said)
        else:
            self.more += 1

    def _stop_if_wrong(self) -> None:
        if self.more:
            self.errors["settings"] = [
                msg("{more} more are wrong; mend these first.", more=self.more)
            ]
        if self.errors:
            raise BadRows(self.errors)


def _read(cell: Any, column: Column) -> tuple[float, str]:
    """Return the number and unit of one cell.

    Raises: BadAnswer, saying what is allowed.
    """
    if isinstance(cell, (int, float)) and not isinstance(cell, bool):
        return _float(cell), column.unit
    if isinstance(cell, dict) and cell.keys() == {"value", "unit"}:
        value, unit = cell["value"], cell["unit"]
        if isinstance(unit, str) and unit in column.units:
            if isinstance(value, (int, float)) and not isinstance(value, bool):
                return _float(value), unit
            if isinstance(value, str):
                cell = f"{value} {unit}"
        else:
            raise BadAnswer(
                msg(
                    "{given} is not a unit for this; allowed are {units}.",
                    given=_said(unit),
                    units=joined(", ", column.units),
                )
            )
    if isinstance(cell, str):
        dimensions = (column.dimension, *(("fraction",) if column.share_of else ()))
        answer = parse_answer(cell, dimensions=dimensions, words=False)
        if isinstance(answer, Quantity):
            return float(answer.value), answer.unit
    raise BadAnswer(
        msg(
            "{given} is not a number in {unit}, a value with its unit, or text such as "
            '"{example}"; the units allowed are {units}.',
            given=_said(cell),
            unit=column.unit,
            example=with_unit(Figure("12.5"), column.units[0]),
            units=joined(", ", column.units),
        )
    )


def _quantity(cell: Any, column: Column) -> Quantity | None:
    """Return a cell that could be read, as a quantity; None for one beyond any that is entered."""
    number, unit = _read(cell, column)
    try:
        return Quantity(Decimal(f"{number:.6g}"), unit)
    except BadAnswer:
        return None


def _float(number: float) -> float:
    try:
        return float(number)
    except OverflowError:  # a whole number beyond any float; the range refuses it
        return 1e300 if number > 0 else -1e300


def _said(cell: Any) -> str:
    """Return how a cell reads in a refusal."""
    if isinstance(cell, dict) and cell.keys() == {"value", "unit"}:
        return _said(cell["value"]) + f" {cell['unit']}"[:60]
    text = cell if isinstance(cell, str) else repr(cell)
    return text if len(text) <= 60 else f"{text[:57]}…"
