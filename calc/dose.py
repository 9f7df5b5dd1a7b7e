"""Tank mix, product and active ingredient per area, per load and per season; intervals.

Amounts of product are in any one unit (litres, kilograms, ounces) and come back in it. A load's
product comes from its exact area or volume, never from a rounded number of tanks.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum

from calc.errors import N, OutOfRange, not_negative, positive, whole, within

MAX_REENTRY_H, MAX_PREHARVEST_DAYS = 99_999.9, 32_767
"""What a label's columns can hold at all [h], [d]: what was sealed is always counted."""

AGREES_WITHIN = 0.05
"""Used and expected amounts that differ by no more agree. Source: [RECONCILE-5-10]."""

LOOK_AGAIN_WITHIN = 0.10
"""Beyond this they do not agree; up to it they deserve another look. [RECONCILE-5-10]."""

WATER_LB_GAL = 8.34
"""Weight of a US gallon of spray in the powder formula. Source: [MD0173]."""

FLUID_OUNCES_PER_GALLON = 128.0


@dataclass(frozen=True, slots=True)
class LoadPlan:
    """How an area is split into loads.

    Attributes: total_l of mix [L]; full_loads; full_area_ha that a full load covers [ha]; part_l,
    the last load where it is not a full one, else 0 [L]; part_area_ha that it covers [ha].
    """

    total_l: float
    full_loads: int
    full_area_ha: float
    part_l: float
    part_area_ha: float

    @property
    def loads(self) -> int:
        """Number of loads, the part load counted."""
        return self.full_loads + (self.part_l > 0.0)


@dataclass(frozen=True, slots=True)
class SubstanceUse:
    """One application of an active substance: local day at the field, name, rate [g/ha]."""

    day: date
    substance: str
    rate_g_ha: float


@dataclass(frozen=True, slots=True)
class SeasonTotal:
    """Total of an active substance over a period [g/ha], and the number of applications."""

    total_g_ha: float
    applications: int


class Agreement(StrEnum):
    """How a used amount compares with the expected one."""

    AGREES = "agrees"
    LOOK_AGAIN = "look again"
    DOES_NOT_AGREE = "does not agree"


@dataclass(frozen=True, slots=True)
class Reconciliation:
    """Difference used / expected − 1, and what it amounts to."""

    difference: float
    agreement: Agreement


@dataclass(frozen=True, slots=True)
class MixStep:
    """One step of filling: what goes in, formulation codes, source key, how it was read."""

    what: str
    formulations: tuple[str, ...]
    source: str
    how_read: str


MIXING_ORDER = (
    MixStep("water, with the agitation on", (), "NDSU-MIX", "read in excerpt"),
    MixStep(
        "soluble powders and dry fertilizer, such as ammonium sulfate",
        *(("SP", "SG"), "NDSU-MIX", "read in excerpt"),
    ),
    MixStep("dry products that disperse", ("WP", "DF", "WG", "WDG"), "NDSU-MIX", "read in excerpt"),
    MixStep("liquid flowables and suspensions", ("F", "SC"), "NDSU-MIX", "read in excerpt"),
    MixStep(
        "emulsifiable concentrates and oil adjuvants", ("EC", "EW"), "NDSU-MIX", "read in excerpt"
    ),
    MixStep("solutions", ("SL",), "NDSU-MIX", "read in excerpt"),
    MixStep("surfactants, then drift agents", (), "NDSU-MIX", "from memory"),
)
"""Order of filling where the label says nothing else; the label goes before it."""


def area_per_load_ha(*, mix_volume_l: N, rate_l_ha: N) -> N:
    """Return the area that a volume of mix covers. [ha]

    Args: mix_volume_l [L] > 0; rate_l_ha, carrier volume [L/ha] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [MT2000-14] example 4.
    """
    return positive("mix_volume_l", mix_volume_l) / positive("rate_l_ha", rate_l_ha)


def plan_loads(*, area_ha: float, rate_l_ha: float, tank_l: float) -> LoadPlan:
    """Return the mix for an area [L], split into full loads and a last one.

    Args: area_ha [ha] > 0; rate_l_ha, carrier volume [L/ha] > 0; tank_l that is filled [L] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [TANK-ARITHMETIC], [CA-FACT].
    """
    total = positive("area_ha", area_ha) * positive("rate_l_ha", rate_l_ha)
    full_area = area_per_load_ha(
        mix_volume_l=positive("tank_l", tank_l),
        rate_l_ha=rate_l_ha,
    )
    full_loads, part = divmod(total, tank_l)
    if math.isclose(part, tank_l, rel_tol=1e-9):
        # Rounding made the last full load look a hair short of full.
        full_loads, part = full_loads + 1.0, 0.0
    elif part < 1e-9 * tank_l:
        # And here a hair over: nobody mixes a load of a billionth of a tank.
        part = 0.0
    return LoadPlan(total, int(full_loads), full_area, part, part / rate_l_ha)


def amount_for_area(*, rate_per_ha: N, area_ha: N) -> N:
    """Return the product for an area, in the unit of the rate.

    Args: rate_per_ha of product ≥ 0; area_ha [ha] ≥ 0.
    Raises: OutOfRange if an argument is negative or not finite.
    Source: [MT2000-14] example 6a.
    """
    return not_negative("rate_per_ha", rate_per_ha) * not_negative("area_ha", area_ha)


def amount_for_percent_l(*, percent_v_v: N, mix_volume_l: N) -> N:
    """Return the product for a volume of mix, from per cent by volume. [L]

    Args: percent_v_v [% v/v], 0 to 100; mix_volume_l [L] ≥ 0.
    Raises: OutOfRange if an argument is outside its range.
    Source: [MT2000-14] formula 10a.
    """
    within("percent_v_v", percent_v_v, 0.0, 100.0, "% v/v")
    return percent_v_v / 100.0 * not_negative("mix_volume_l", mix_volume_l)


def amount_per_hundred(*, amount_per_100: N, mix_volume: N) -> N:
    """Return the product for a volume of mix, in the unit of the amount.

    Args: amount_per_100 volumes of mix (gallons or litres) ≥ 0; mix_volume in that same volume
        unit ≥ 0.
    Raises: OutOfRange if an argument is negative or not finite.
    Source: [TANK-ARITHMETIC].
    """
    not_negative("amount_per_100", amount_per_100)
    return amount_per_100 * not_negative("mix_volume", mix_volume) / 100.0


def concentration_per_l(*, amount: N, mix_volume_l: N) -> N:
    """Return the product in a litre of mix, in the unit of the amount per litre.

    Args: amount of product ≥ 0; mix_volume_l, the finished volume [L] > 0.
    Raises: OutOfRange if an argument is outside its range.
    Source: [TANK-ARITHMETIC].
    """
    return not_negative("amount", amount) / positive("mix_volume_l", mix_volume_l)


def delivered_product_rate(*, delivered_rate_l_ha: N, concentration_per_l: N) -> N:
    """Return the product laid down per hectare, in the unit of the concentration's amount.

    A wrong carrier volume moves every product of the mix by the same factor.

    Args: delivered_rate_l_ha, carrier volume that reached the field [L/ha] > 0;
        concentration_per_l of the product in the mix ≥ 0.
    Raises: OutOfRange if an argument is outside its range.
    Source: [TANK-ARITHMETIC].
    """
    positive("delivered_rate_l_ha", delivered_rate_l_ha)
    return delivered_rate_l_ha * not_negative("concentration_per_l", concentration_per_l)


def active_rate_of_liquid_g_ha(*, product_rate_l_ha: N, content_g_l: N) -> N:
    """Return the rate of active ingredient (or acid equivalent) of a liquid. [g/ha]

    Args: product_rate_l_ha [L/ha] ≥ 0; content_g_l of active ingredient, or of acid equivalent
        where the label prints that [g/L], above 0 to 2000.
    Raises: OutOfRange if an argument is outside its range.
    Source: [MT2000-14] example 7a, [IL-AE].
    """
    not_negative("product_rate_l_ha", product_rate_l_ha)
    return product_rate_l_ha * _content_g_l(content_g_l)


def active_rate_of_dry_g_ha(*, product_rate_kg_ha: N, content_percent: N) -> N:
    """Return the rate of active ingredient (or acid equivalent) of a dry product. [g/ha]

    Args: product_rate_kg_ha [kg/ha] ≥ 0; content_percent by mass [% w/w], above 0 to 100.
    Raises: OutOfRange if an argument is outside its range.
    Source: [APSH] example 5.
    """
    not_negative("product_rate_kg_ha", product_rate_kg_ha)
    return product_rate_kg_ha * 10.0 * _content_percent(content_percent)


def liquid_rate_for_active_l_ha(*, active_rate_g_ha: N, content_g_l: N) -> N:
    """Return the rate of a liquid that carries a rate of active ingredient. [L/ha]

    Args: active_rate_g_ha [g/ha] ≥ 0; content_g_l [g/L], above 0 to 2000.
    Raises: OutOfRange if an argument is outside its range.
    Source: [MT2000-14] example 7a, [PNW-RATE].
    """
    return not_negative("active_rate_g_ha", active_rate_g_ha) / _content_g_l(content_g_l)


def dry_rate_for_active_kg_ha(*, active_rate_g_ha: N, content_percent: N) -> N:
    """Return the rate of a dry product that carries a rate of active ingredient. [kg/ha]

    Args: active_rate_g_ha [g/ha] ≥ 0; content_percent by mass [% w/w], above 0 to 100.
    Raises: OutOfRange if an argument is outside its range.
    Source: [APSH] example 5, [MD0173].
    """
    not_negative("active_rate_g_ha", active_rate_g_ha)
    return active_rate_g_ha / (10.0 * _content_percent(content_percent))


def acid_equivalent(*, active: N, acid_molar_mass: float, form_molar_mass: float) -> N:
    """Return the acid equivalent of a salt or ester, in the unit of `active`.

    The content of acid equivalent that a label prints goes before this computation.

    Args: active, amount or rate of the salt or ester ≥ 0; acid_molar_mass of the parent acid and
        form_molar_mass of the salt or ester, per acid group [g/mol] > 0.
    Raises: OutOfRange if an argument is outside its range.
    Source: [IL-AE].
    """
    not_negative("active", active)
    positive("acid_molar_mass", acid_molar_mass)
    return active * acid_molar_mass / positive("form_molar_mass", form_molar_mass)


def season_totals(
    *, uses: Iterable[SubstanceUse], first_day: date, last_day: date
) -> dict[str, SeasonTotal]:
    """Return, per active substance, the total [g/ha] and the count over a period.

    The number of applications and the interval between them are limits of their own.

    Args: uses on one and the same ground; first_day and last_day of the label's period, both
        counted: calendar year, twelve months or crop season.
    Raises: OutOfRange if the period ends before it begins or a rate is negative or not finite.
    Source: [IL-AE], [TANK-ARITHMETIC].
    """
    if last_day < first_day:
        raise OutOfRange(
            "last_day", last_day.isoformat(), "{day} or later", day=first_day.isoformat()
        )
    rates: dict[str, list[float]] = {}
    for use in uses:
        not_negative(f"rate_g_ha of {use.substance} on {use.day.isoformat()}", use.rate_g_ha)
        if first_day <= use.day <= last_day:
            rates.setdefault(use.substance, []).append(use.rate_g_ha)
    return {name: SeasonTotal(math.fsum(each), len(each)) for name, each in rates.items()}


def reconcile(*, used: float, expected: float) -> Reconciliation:
    """Return how far a used amount is from the expected one, as a fraction, and the outcome.

    Args: used, amount gone from the tank or the store ≥ 0; expected, rate times area, in the same
        unit > 0.
    Raises: OutOfRange if an argument is outside its range.
    Source: [RECONCILE-5-10].
    """
    difference = not_negative("used", used) / positive("expected", expected) - 1.0
    if _up_to(abs(difference), AGREES_WITHIN):
        agreement = Agreement.AGREES
    elif _up_to(abs(difference), LOOK_AGAIN_WITHIN):
        agreement = Agreement.LOOK_AGAIN
    else:
        agreement = Agreement.DOES_NOT_AGREE
    return Reconciliation(difference, agreement)


def ammonium_sulfate_lb_100_gal(
    *, potassium_ppm: N, sodium_ppm: N, calcium_ppm: N, magnesium_ppm: N, iron_ppm: N
) -> N:
    """Return the least ammonium sulfate that offsets hard water. [lb per 100 US gal]

    Labels mostly ask for more, 8.5 to 17 lb per 100 gal; the label decides.

    Args: each ion in the water [ppm] ≥ 0.
    Raises: OutOfRange if one is negative or not finite.
    Source: [NDSU-AMS].
    """
    return (
        0.002 * not_negative("potassium_ppm", potassium_ppm)
        + 0.005 * not_negative("sodium_ppm", sodium_ppm)
        + 0.009 * not_negative("calcium_ppm", calcium_ppm)
        + 0.014 * not_negative("magnesium_ppm", magnesium_ppm)
        + 0.042 * not_negative("iron_ppm", iron_ppm)
    )


def rate_of_one_gallon_to_fl_oz_ac(*, acres: N) -> N:
    """Return the rate of the shorthand 1:N, one gallon to N acres. [US fl oz/ac]

    Args: acres, the N [ac] > 0.
    Raises: OutOfRange if it is not positive and finite.
    Source: [MSSTATE-1N].
    """
    return FLUID_OUNCES_PER_GALLON / positive("acres", acres)


def concentrate_for_strength(*, mix_amount: N, strength_percent: N, content_percent: N) -> N:
    """Return the concentrate for a mix of a strength, in the unit of the mix: Q = A·S/C.

    Args: mix_amount, liquid of a liquid concentrate or mass of a dry one ≥ 0; strength_percent
        wanted [%], 0 to content; content_percent of the concentrate [%], above 0 to 100.
    Raises: OutOfRange if an argument is outside its range or the mix would be the stronger.
    Source: [MD0173].
    """
    not_negative("mix_amount", mix_amount)
    not_negative("strength_percent", strength_percent)
    _content_percent(content_percent)
    not_negative("content_percent - strength_percent", content_percent - strength_percent)
    return mix_amount * strength_percent / content_percent


def powder_for_suspension_lb(*, mix_gal: N, strength_percent: N, content_percent: N) -> N:
    """Return the powder for a suspension of a strength: Q = A·S·d/C, d 8.34 lb/gal. [lb]

    Args: mix_gal [US gal] ≥ 0; strength_percent wanted by mass [%], 0 to content; content_percent
        of the powder [%], above 0 to 100.
    Raises: OutOfRange if an argument is outside its range or the mix would be the stronger.
    Source: [MD0173].
    """
    return WATER_LB_GAL * concentrate_for_strength(
        mix_amount=mix_gal, strength_percent=strength_percent, content_percent=content_percent
    )


def reentry_end(*, ended_at: datetime, intervals_h: Sequence[float]) -> datetime:
    """Return when the restricted-entry interval ends, in UTC.

    The longest interval of the mix counts, from the end of the application to that area. The count
    is in elapsed hours, so a change of clocks moves the local time shown.

    Args: ended_at, with its time zone; intervals_h of the products of the mix, one or more [h],
        0 to 99,999.9.
    Raises: OutOfRange if ended_at has no zone, no interval is given or one is outside its range.
    Source: [CFR-170-REI].
    """
    if ended_at.utcoffset() is None:
        raise OutOfRange("ended_at", ended_at.isoformat(), "a time with its time zone")
    if not intervals_h:
        raise OutOfRange("intervals_h", list(intervals_h), "one interval or more")
    longest = max(within("intervals_h", hours, 0.0, MAX_REENTRY_H, "h") for hours in intervals_h)
    return ended_at.astimezone(UTC) + timedelta(hours=longest)


def earliest_harvest(*, ended_on: date, interval_days: int) -> date:
    """Return the first day on which the crop may be harvested.

    It is the day the last application ended, plus the interval; that day is never day 1. Some
    labels and countries count otherwise, so the paper says which way this was counted.

    Args: ended_on, local day at the field; interval_days, pre-harvest interval [d],
        0 to 32,767.
    Raises: OutOfRange if the interval is not a whole number in that range.
    Source: [NPIC-PHI], [PHI-DAY].
    """
    whole("interval_days", interval_days, at_least=0)
    return ended_on + timedelta(
        days=within("interval_days", interval_days, 0.0, MAX_PREHARVEST_DAYS, "d")
    )


def _content_g_l(content_g_l: N) -> N:
    """Return a content in g/L, above 0 to 2000."""
    return within("content_g_l", positive("content_g_l", content_g_l), 0.0, 2000.0, "g/L")


def _content_percent(content_percent: N) -> N:
    """Return a content in per cent by mass, above 0 to 100."""
    return within(
        "content_percent", positive("content_percent", content_percent), 0.0, 100.0, "% w/w"
    )


def _up_to(value: float, limit: float) -> bool:
    """Return whether a value is within its limit, rounding in the last digits forgiven."""
    return value <= limit or math.isclose(value, limit, rel_tol=1e-9)
