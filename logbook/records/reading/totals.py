"""Totals by product over a period: as entered, in label units, in kilograms, as active ingredient.

A total is a sum of totals that were entered; it is never derived from a rate. What cannot be
converted exactly is said in words: a volume becomes a mass with a stated density alone.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _

from calc.units import UNITS
from logbook.accounts.rights import Actor, Right
from logbook.catalog.models import Customer
from logbook.checks.used import used_of
from logbook.errors.exceptions import NotThere, RefusedInput
from logbook.facts.duty import DutySet
from logbook.facts.messages import gettext_noop, joined, msg, term, with_unit
from logbook.facts.quantity import Answer, Quantity
from logbook.facts.record import IngredientFacts, LabelFacts, ProductFacts, Snapshot
from logbook.facts.wording import listed, three
from logbook.law.cautions import AUTHORITY_PREVAILS, NOT_LEGAL_ADVICE, source_words
from logbook.law.reader import duty_sets
from logbook.localization.locale import format_day, plain_english
from logbook.records.reading.selectors import known_from, seals_of, sums, work_of
from logbook.records.sealing.sealed import Rates
from logbook.tables.cells import guarded

NO_DENSITY = msg("not convertible: density not given")
OTHER_UNITS = msg("not convertible: the label counts in another kind of unit")
SILENT = msg("the label sets no rate")
NO_LABEL = msg("the label is blank")
NO_CONTENT = msg("no active ingredient on the label on file")

GRAM = Decimal("0.001")
"""Kilograms are rounded to it, half to even, after the whole sum."""


# --- what is summed ------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True, slots=True)
class Use:
    """One product line of one sealed record."""

    record_number: int
    product: ProductFacts
    rate: str = ""  # the rate used and what it is known from, where there is no total


@dataclass(frozen=True, kw_only=True, slots=True)
class LitreRule:
    """A rule of an authority that counts a litre of product as a kilogram, whatever it weighs."""

    id: str  # of the duty set that asks for it
    words: str

    @property
    def source(self) -> str:
        """The citation, how it was read and when."""
        return source_words(self._duty_set)

    @property
    def place(self) -> str:
        """The ISO 3166 code of the place where the rule holds."""
        return self._duty_set.place

    @property
    def _duty_set(self) -> DutySet:
        return next(one for one in duty_sets() if one.id == self.id)


LITRE_RULES = {
    rule.id: rule
    for rule in (
        LitreRule(
            id="ca-bc",
            words=gettext_noop(
                "1 L of product counts as 1 kg, as British Columbia asks in its yearly totals"
            ),
        ),
    )
}
"""The rules that are carried, by their id."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Amount:
    """A total, or in words why there is none."""

    value: Decimal | None
    unit: str
    note: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Active:
    """The total of one active ingredient, and of its acid equivalent where the label prints it."""

    name: str
    kilograms: Amount
    acid_equivalent: Amount | None


@dataclass(frozen=True, kw_only=True, slots=True)
class ProductTotal:
    """What one product came to; one whose name or registration number changed stands twice."""

    product_id: str
    name: str
    registration_number: str
    applications: int
    entered: tuple[Quantity, ...]  # as entered, one sum a unit
    label_units: Amount
    kilograms: Amount
    actives: tuple[Active, ...]
    left_out: tuple[str, ...]  # the records that give no total, and what they say


@dataclass(frozen=True, kw_only=True, slots=True)
class Totals:
    """The totals of a period, both days counted, by the local day at the field."""

    day_from: date
    day_to: date
    business: str
    customer: str  # "" for all
    products: tuple[ProductTotal, ...]
    records: int
    purged: int = 0  # of the book, whatever their day: what they held is gone
    densities: Mapping[str, Quantity] = field(default_factory=dict)  # stated, by product id
    rule: LitreRule | None = None
    place: str = ""  # ISO 3166 code of the state or country of the fields; "" for all


def totals_of(
    uses: Iterable[Use],
    *,
    densities: Mapping[str, Quantity] | None = None,
    rule: LitreRule | None = None,
) -> tuple[ProductTotal, ...]:
    """Return the totals by product, in order of their names.

    Args: densities, of products by id, a mass per volume above 0; rule, one of `LITRE_RULES`, for
    the kilograms of product alone: an active ingredient is never counted by it.
    """
    groups: dict[tuple[str, str, str], list[Use]] = {}
    for use in uses:
        one = use.product
        groups.setdefault((one.name, one.registration_number, one.product_id), []).append(use)
    stated = densities or {}
    return tuple(
        _product_total(group, density=stated.get(product_id), rule=rule)
        for (_, _, product_id), group in sorted(groups.items())
    )


def _product_total(
    uses: Sequence[Use], *, density: Quantity | None, rule: LitreRule | None
) -> ProductTotal:
    first = uses[0].product
    counted = [
        (use.product.total_used, use.product.label)
        for use in uses
        if isinstance(use.product.total_used, Quantity)
    ]
    quantities = [quantity for quantity, _ in counted]
    return ProductTotal(
        product_id=first.product_id,
        name=first.name,
        registration_number=first.registration_number,
        applications=len(uses),
        entered=sums(quantities),
        label_units=_in_label_units(counted, quantities),
        kilograms=_sum("kg", (_kilograms(one, density, rule) for one in quantities)),
        actives=tuple(_actives(counted, density)),
        left_out=tuple(_left_out(uses)),
    )


def _left_out(uses: Iterable[Use]) -> Iterator[str]:
    for use in uses:
        answer: Answer = use.product.total_used
        if isinstance(answer, Quantity):
            continue
        said = msg(
            "no. {number}: {answer}", number=use.record_number, answer=answer or msg("blank")
        )
        yield joined(", ", (said, use.rate)) if use.rate else said


def _in_label_units(
    counted: Sequence[tuple[Quantity, LabelFacts | None]], quantities: Sequence[Quantity]
) -> Amount:
    """Return the sum in the unit of amount that the last label edition counts its rate in."""
    if not counted:
        return Amount(value=Decimal(0), unit="", note=msg("nothing counted"))
    label = counted[-1][1]
    unit, note = _label_unit(label)
    if unit is None:
        unit = quantities[0].unit
    if any(UNITS[one.unit].dimension != UNITS[unit].dimension for one in quantities):
        return Amount(value=None, unit=unit, note=OTHER_UNITS)
    exact = sum((_in(one, unit) for one in quantities), Fraction(0))
    return Amount(value=_rounded(exact, GRAM), unit=unit, note=note)


def _label_unit(label: LabelFacts | None) -> tuple[str | None, str]:
    """Return the unit of amount in a label's rate, and a note; None where it names none."""
    if label is None:
        return None, msg("{why}; in the unit first entered", why=NO_LABEL)
    rate = label.rate_max or label.rate_min
    if rate is None:
        return None, msg("{why}; in the unit first entered", why=SILENT)
    amount = rate.unit.partition("/")[0]
    if amount not in UNITS or UNITS[amount].dimension not in ("volume", "mass"):
        return None, msg("the label's rate is in {unit}; in the unit first entered", unit=rate.unit)
    return amount, ""


def _in(one: Quantity, unit: str) -> Fraction:
    """Return a quantity in another unit of its dimension, exactly."""
    return Fraction(one.value) * UNITS[one.unit].factor / UNITS[unit].factor


def _kilograms(
    one: Quantity, density: Quantity | None, rule: LitreRule | None = None
) -> Fraction | str:
    """Return the mass of an amount of product in kg, exactly, or why there is none."""
    if UNITS[one.unit].dimension == "mass":
        return _in(one, "kg")
    if rule is not None:
        return _in(one, "L")
    # The reference unit of a mass per volume is g/L.
    return NO_DENSITY if density is None else _in(one, "L") * _in(density, "g/L") / 1000


def _actives(
    counted: Sequence[tuple[Quantity, LabelFacts | None]], density: Quantity | None
) -> Iterator[Active]:
    """Yield the active ingredients of all editions, in order of first use."""
    names: dict[str, None] = {}
    for _used, label in counted:
        names |= dict.fromkeys(one.name for one in (label.ingredients if label else ()))
    for name in names:
        plain: list[Fraction | str] = []
        acid: list[Fraction | str] = []
        for quantity, label in counted:
            held = _ingredient(label, name)
            if isinstance(held, str):
                plain.append(held)
                acid.append(held)
                continue
            plain.append(_active(quantity, held.content, density))
            acid.append(
                msg(
                    "not convertible: no acid equivalent on label {edition}",
                    edition=label.edition if label else "",
                )
                if held.acid_equivalent is None
                else _active(quantity, held.acid_equivalent, density)
            )
        printed = any(
            one.acid_equivalent
            for _used, label in counted
            for one in (label.ingredients if label else ())
            if one.name == name
        )
        yield Active(
            name=name,
            kilograms=_sum("kg", plain),
            acid_equivalent=_sum("kg", acid) if printed else None,
        )


def _ingredient(label: LabelFacts | None, name: str) -> IngredientFacts | str:
    """Return an ingredient of a label edition, or why its amount is not known."""
    if label is None:
        return msg("not convertible: {why}", why=NO_LABEL)
    found = next((one for one in label.ingredients if one.name == name), None)
    return found or msg(
        "not convertible: label {edition} names no {name}", edition=label.edition, name=name
    )


def _active(one: Quantity, content: Quantity, density: Quantity | None) -> Fraction | str:
    """Return the mass of active ingredient in an amount of product in kg, or why there is none."""
    liquid = UNITS[one.unit].dimension == "volume"
    if UNITS[content.unit].dimension == "mass_per_volume":
        if liquid:
            return _in(one, "L") * _in(content, "g/L") / 1000
        if density is None:
            return NO_DENSITY
        return _in(one, "kg") * _in(content, "g/L") / _in(density, "g/L")
    mass = _kilograms(one, density)
    return mass if isinstance(mass, str) else mass * Fraction(content.value) / 100


def _sum(unit: str, parts: Iterable[Fraction | str]) -> Amount:
    """Return the sum of parts, or every reason for which one of them has none."""
    known, reasons = Fraction(0), []
    for part in parts:
        if isinstance(part, str):
            reasons.append(part)
        else:
            known += part
    if reasons:
        return Amount(value=None, unit=unit, note=listed(reasons))
    return Amount(value=_rounded(known, GRAM), unit=unit)


def _rounded(exact: Fraction, step: Decimal) -> Decimal:
    """Return an exact value to a step, half to even."""
    return round(exact / Fraction(step)) * step


# --- what is read --------------------------------------------------------------------------------


def totals(
    *,
    actor: Actor,
    day_from: date,
    day_to: date,
    customer_id: UUID | None = None,
    densities: Mapping[str, Quantity] | None = None,
    rule: LitreRule | None = None,
    place: str = "",
) -> Totals:
    """Return the totals of the sealed records of a period, by what their seals state.

    A corrected record counts as its last amendment says. The number of queries does not depend on
    how many records there are.
    Args: both days counted, local at the field, of the end of the work, or its start; place, the
    ISO 3166 code of a state or a country, for the fields that lie in it alone: an authority asks
    for what was used there.
    Raises: NotAllowed; NotThere; RefusedInput if the period ends before it begins, or the place is
    no such code.
    """
    actor.must(Right.SEE)
    if place and not _PLACE.fullmatch(place):
        raise RefusedInput(
            {
                "place": [
                    _('"%(text)s" is not a place; write it as ISO 3166-2 does, such as US-ND.')
                    % {"text": place}
                ]
            }
        )
    if day_to < day_from:
        raise RefusedInput(
            {
                "to": [
                    _("The last day, %(last)s, is before the first, %(first)s.")
                    % {"last": format_day(day_to), "first": format_day(day_from)}
                ]
            }
        )
    customer = ""
    if customer_id is not None:
        named = Customer.objects.within(actor.business).filter(id=customer_id).first()
        if named is None:
            raise NotThere(_("There is no such customer."))
        customer = named.name
    seals = seals_of(actor)
    uses: list[Use] = []
    records = 0
    rows = seals.order_by("number").only("record_id", "number", "text")
    for seal, facts, rates in work_of(rows, day_from, day_to):
        if place and not (facts.field and f"{facts.field.place}-".startswith(f"{place}-")):
            continue
        if customer_id and not (facts.customer and facts.customer.id == str(customer_id)):
            continue
        records += 1
        uses += [
            Use(record_number=seal.number, product=one, rate=_instead(facts, place, rates))
            for place, one in enumerate(facts.products)
        ]
    return Totals(
        day_from=day_from,
        day_to=day_to,
        business=actor.business.name,
        customer=customer,
        products=totals_of(uses, densities=densities, rule=rule),
        records=records,
        purged=seals.filter(purged_at__isnull=False).count(),
        densities=densities or {},
        rule=rule,
        place=place,
    )


def _instead(s: Snapshot, place: int, rates: Rates) -> str:
    """Return the rate used of a product that gives no total, in words; "" where it does."""
    if isinstance(s.products[place].total_used, Quantity):
        return ""
    used = used_of(s, place, rates)
    if used is None or used.none:
        return ""
    rate = with_unit(three(float(used.rate.value)), used.rate.unit)
    return msg("{rate} ({known_from})", rate=rate, known_from=known_from(used))


_PLACE = re.compile(r"[A-Z]{2}(-[A-Z0-9]{1,3})?")


# --- what is handed out --------------------------------------------------------------------------

COLUMNS = ("product", "registration_number", "applications", "measure", "value", "unit", "note")
FORMAT = 1
"""The number of the layout of the JSON below."""


def rows_of(one: ProductTotal) -> Iterator[tuple[str, str, str, str]]:
    """Yield every measure of a product's total: what, value, unit, note; "" where there is none."""
    if not one.entered:
        yield msg("as entered"), "", "", msg("no total was entered")
    for entered in one.entered:
        yield msg("as entered"), f"{entered.value:f}", entered.unit, ""
    yield msg("label units"), *_amount_row(one.label_units)
    yield msg("kilograms"), *_amount_row(one.kilograms)
    for active in one.actives:
        yield msg("active ingredient {name}", name=active.name), *_amount_row(active.kilograms)
        if active.acid_equivalent is not None:
            yield (
                msg("acid equivalent {name}", name=active.name),
                *_amount_row(active.acid_equivalent),
            )
    if not one.actives:
        yield msg("active ingredient"), "", "kg", NO_CONTENT
    for left_out in one.left_out:
        yield msg("not counted"), "", "", left_out


def _amount_row(amount: Amount) -> tuple[str, str, str]:
    value = "" if amount.value is None else f"{amount.value.normalize():f}"
    return value, amount.unit, amount.note


def remarks(totals: Totals) -> tuple[str, ...]:
    """Return what a reader of the totals has to know."""
    found: list[str] = [
        msg(
            "Signed records alone, {count} of them; a corrected one counts as its amendment says. "
            "Totals are sums of the totals entered; none is derived from a rate.",
            count=totals.records,
        ),
        msg(
            "Kilograms are rounded to the gram after the whole sum. A volume becomes a mass with a "
            "stated density alone."
        ),
    ]
    if totals.rule is not None:
        found.append(
            msg(
                "{rule}: {source}. Active ingredients are not counted by it.",
                rule=term(totals.rule.words),
                source=totals.rule.source,
            )
        )
        if totals.place != totals.rule.place:
            found.append(
                msg(
                    "The rule is one of {place}; these totals are not of the fields there alone.",
                    place=totals.rule.place,
                )
            )
    names = {one.product_id: one.name for one in totals.products}
    found += [
        msg(
            "Density of {product} as stated by who asked for these totals: {density}.",
            product=names[product_id],
            density=density,
        )
        for product_id, density in totals.densities.items()
        if product_id in names
    ]
    if totals.purged:
        found.append(
            msg("Purged records of the whole book, in no total: {count}.", count=totals.purged)
        )
    return (*found, NOT_LEGAL_ADVICE, AUTHORITY_PREVAILS)


@plain_english()
def to_csv(totals: Totals) -> str:
    """Return the totals as CSV (RFC 4180), one row a measure; no cell begins a formula."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for one in totals.products:
        for row in rows_of(one):
            cells = (one.name, one.registration_number, str(one.applications), *row)
            writer.writerow(map(guarded, cells))
    return out.getvalue()


@plain_english()
def to_json_text(totals: Totals) -> str:
    """Return the totals as JSON; numbers are text, as exact as they were computed."""
    rule = totals.rule
    content = {
        "format": FORMAT,
        "business": totals.business,
        "customer": totals.customer or None,
        "place": totals.place or None,
        "from": totals.day_from.isoformat(),
        "to": totals.day_to.isoformat(),
        "records": totals.records,
        "kilogram_rule": None if rule is None else {"id": rule.id, "source": rule.source},
        "products": [_product_json(one) for one in totals.products],
        "remarks": list(remarks(totals)),
    }
    return json.dumps(content, ensure_ascii=False, indent=1)


def _product_json(one: ProductTotal) -> dict[str, Any]:
    return {
        "product": one.name,
        "registration_number": one.registration_number or None,
        "applications": one.applications,
        "as_entered": [{"value": f"{each.value:f}", "unit": each.unit} for each in one.entered],
        "label_units": _amount_json(one.label_units),
        "kilograms": _amount_json(one.kilograms),
        "active_ingredients": [
            {
                "name": active.name,
                "kilograms": _amount_json(active.kilograms),
                "acid_equivalent": active.acid_equivalent and _amount_json(active.acid_equivalent),
            }
            for active in one.actives
        ],
        "not_counted": list(one.left_out),
    }


def _amount_json(amount: Amount) -> dict[str, str | None]:
    value, unit, note = _amount_row(amount)
    return {"value": value or None, "unit": unit or None, "note": note or None}
