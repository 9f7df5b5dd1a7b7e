"""What the demo's operators write down for one field: the job, its amounts, loads and weather.

The amounts follow from the job by plain arithmetic and are rounded as a person reads a tank or a
display; the checks then look at them as at any other entry.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from decimal import Decimal
from math import ceil
from typing import Any

from calc.coverage import spraying_time_min
from calc.dose import amount_for_area, amount_for_percent_l
from calc.units import UNITS, convert, reference_unit
from logbook.facts.quantity import Quantity, parse_answer
from logbook.facts.sets import OF_A_RECORD
from logbook.facts.spec import Section

FIELD_EFFICIENCY = 0.65
"""Share of the time on a field in which the demo's booms spray."""

AS_IN_JOB = (
    *(
        one.column
        for one in OF_A_RECORD
        if one.section is Section.WITH and one.name != "catch_test"
    ),
    *("purpose", "planned_carrier", "statements"),
)
"""What the demo says once for a job of several fields: the rig as it was set, and the plan."""

STEPS = {"gal": "0.1", "L": "0.1", "fl oz": "1"}
"""The step to which a person measures out a product, by unit."""

Row = dict[str, Any]


def entry_of(*, job: Row, application: Row, field: Row, rig: Row) -> Row:
    """Return the entry of one application: rows by their keys, amounts as text with units."""
    given = application.get("set", {})
    job = {**job, **{name: value for name, value in given.items() if name in AS_IN_JOB}}
    metric = job["units"] == "metric"
    area = _area(job, field)
    swath_m = rig["nozzle_count"] * _nozzle_width(job, rig).to("m")
    mix = _rounded(
        quantity(job["planned_carrier"]).value * area.value,
        "10" if metric else "5",
        "L" if metric else "gal",
    )
    minutes = spraying_time_min(
        area_ha=area.si, speed_km_h=quantity(job["speed"]).si, swath_m=swath_m
    )
    finish = application["start"] + timedelta(minutes=5 * ceil(minutes / FIELD_EFFICIENCY / 5))
    first, *others = job["products"]
    first = {**first, "planned_rate": application.get("rate", first["planned_rate"])}
    products = [_product(line, job, area, mix) for line in (first, *others)]
    entry = {
        **{name: job.get(name) for name in AS_IN_JOB},
        "field": application["field"],
        "growth_stage": application.get("growth_stage"),
        "applicator": application["applicator"],
        "supervisor": application.get("supervisor"),
        "started_at": application["start"],
        "finished_at": finish,
        "treated_area": str(area),
        "mix_used": str(mix),
        "distance": _distance(area, swath_m, "km" if metric else "mi"),
        "products": products,
        "loads": list(_loads(application.get("loads"), quantity(job["load"]), mix, products)),
        "weather": list(_weather(application["air"], application["start"], finish, metric)),
    }
    put_all(entry, given)
    put_all(entry, application.get("typed", {}))
    return entry


def quantity(text: str) -> Quantity:
    """Return the number with a unit that the demo states."""
    answer = parse_answer(text, dimensions=tuple({unit.dimension for unit in UNITS.values()}))
    if not isinstance(answer, Quantity):
        raise ValueError(f'The demo needs a number with its unit here, not "{text}".')
    return answer


def put_all(entry: Row, given: Row) -> None:
    """Write each value to its path ("weather.1.gust") in the entry; "" makes it blank."""
    for path, value in given.items():
        *way, last = path.split(".")
        place: Any = entry
        for step in way:
            place = place[int(step)] if step.isdigit() else place[step]
        place[last] = None if value == "" else value


def _area(job: Row, field: Row) -> Quantity:
    planted = quantity(field["planted_size"])
    if job["pattern"] != "banded":
        return planted
    band, row = quantity(job["band_width"]), quantity(job["row_spacing"])
    return _rounded(planted.value * Decimal(band.si / row.si), "0.1", planted.unit)


def _nozzle_width(job: Row, rig: Row) -> Quantity:
    return quantity(job["band_width"] if job["pattern"] == "banded" else rig["spacing"])


def _rounded(value: Decimal, step: str, unit: str) -> Quantity:
    return Quantity((value / Decimal(step)).quantize(Decimal(1)) * Decimal(step), unit)


def _distance(area: Quantity, swath_m: float, unit: str) -> str:
    driven = convert(area.to("m2") / swath_m, from_unit="m", to_unit=unit)
    return str(_rounded(Decimal(driven), "0.05", unit))


def _product(line: Row, job: Row, area: Quantity, mix: Quantity) -> Row:
    rate, unit = quantity(line["planned_rate"]), line["total_in"]
    if line["planned_rate"] == job["planned_carrier"]:
        total = mix  # The carrier is the product.
    else:
        litres = (
            amount_for_percent_l(percent_v_v=rate.si, mix_volume_l=mix.si)
            if rate.dimension == "volume_per_volume"
            else amount_for_area(rate_per_ha=rate.si, area_ha=area.si)
        )
        amount = convert(litres, from_unit=reference_unit("volume"), to_unit=unit)
        total = _rounded(Decimal(amount), STEPS[unit], unit)
    return {
        "product": line["product"],
        "planned_rate": line["planned_rate"],
        "total_used": str(total),
        "target": line["target"],
    }


def _loads(
    given: list[list[str]] | None, full: Quantity, mix: Quantity, products: list[Row]
) -> Iterator[Row]:
    """Yield the loads as given, or else as few as the tank allows, alike but for the last."""
    if given is None:
        number = ceil(mix.value / full.value)
        even = _rounded(mix.value / number, "10", mix.unit)
        last = Quantity(mix.value - (number - 1) * even.value, mix.unit)
        given = [[str(volume)] * 2 for volume in [*[even] * (number - 1), last]]
    for mixed, used in given:
        if not mixed[0].isdigit():
            yield {"rest_of": mixed, "used": used, "order": 2}
            continue
        share = quantity(mixed).value / mix.value
        yield {
            "mixed_volume": mixed,
            "used": used,
            "order": 1,
            "parts": [
                {"product": line["product"], "amount": _part(line["total_used"], share)}
                for line in products
            ],
        }


def _part(total_used: str, share: Decimal) -> str:
    total = quantity(total_used)
    return str(_rounded(total.value * share, STEPS[total.unit], total.unit))


def _weather(air: list[int], start: datetime, finish: datetime, metric: bool) -> Iterator[Row]:
    """Yield a reading at the start, every hour and at the end; it grows warmer and a bit calmer."""
    if not air:
        return
    wind, gust, wind_from, temperature, humidity, cloud = air
    speed, degrees, height = ("km/h", "°C", "1 m") if metric else ("mph", "°F", "40 in")
    hours = ceil((finish - start) / timedelta(hours=1))
    for place in range(hours + 1):
        calmer = place % 2
        yield {
            "read_at": min(start + timedelta(hours=place), finish),
            "height": height,
            "wind_from": f"{(wind_from + 5 * calmer) % 360} °",
            "wind_speed": f"{wind - calmer} {speed}",
            "gust": f"{gust - calmer} {speed}",
            "temperature": f"{temperature + (place // 2 if metric else place)} {degrees}",
            "humidity": f"{humidity - place} %",
            "cloud": f"{cloud} %",
            "signs": [],
        }
