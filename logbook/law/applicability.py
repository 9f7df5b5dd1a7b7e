"""Which duty sets speak of a record, why, and how each element that they ask for stands in it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from functools import lru_cache

from logbook.facts.duty import (
    Asked,
    DutySet,
    HowRead,
    LocationRule,
    Obligation,
    Products,
    Role,
    Scope,
    When,
    Work,
)
from logbook.facts.messages import gettext_noop, msg, term
from logbook.facts.quantity import Quantity
from logbook.facts.record import LabelFacts, ProductFacts, Snapshot
from logbook.facts.wording import edition, listed
from logbook.law.cautions import CONFIRM, NOT_SETTLED, ONLY_WITHOUT_STATE_RULE
from logbook.law.elements import ELEMENTS, Element, Stand, State, formats_of, has_helper
from logbook.law.reader import duty_sets

NOT_PESTICIDES = ("fertilizer", "adjuvant")
"""Kinds of product that no record law speaks of, but for adjuvants where a set says so."""


@dataclass(frozen=True, kw_only=True)
class Applied:
    """A duty set that speaks of a record, and why, in one line."""

    duty_set: DutySet
    why: str
    role: Role
    products: tuple[int, ...]  # places in the snapshot of the products that it covers


class Outcome(StrEnum):
    """What a row says of one element; only the first is a duty met."""

    STANDS = "stands in the record"
    MISSING = "missing"
    CONFIRM = CONFIRM
    ADVISED = "advised"
    UNSETTLED = NOT_SETTLED
    NO_STATE_RULE = ONLY_WITHOUT_STATE_RULE
    NOT_ASKED = "not asked here"


@dataclass(frozen=True, kw_only=True)
class Row:
    """One element of one set: how it stands, where, and what follows from how it was read."""

    applied: Applied
    asked: Asked
    element: Element
    stand: Stand
    outcome: Outcome

    @property
    def how_read(self) -> HowRead:
        """How the wording that asks for the element was read."""
        return self.asked.how_read

    @property
    def mark(self) -> str:
        """The mark beside it: "agrees", "missing" or "undecided"; "" for what is only advised.

        What is blank is missing however the wording was read: to confirm is about the wording.
        """
        if self.outcome is Outcome.ADVISED:
            return ""
        blank = self.stand.state is State.MISSING and self.outcome is not Outcome.UNSETTLED
        if blank or self.outcome is Outcome.MISSING:
            return "missing"
        return "agrees" if self.outcome is Outcome.STANDS else "undecided"


# --- which sets ----------------------------------------------------------------------------------


def applicable(
    s: Snapshot,
    *,
    role: Role = Role.FOR_HIRE,
    work: Work = Work.FIELD,
    sets: tuple[DutySet, ...] | None = None,
) -> tuple[Applied, ...]:
    """Return the sets that speak of the record on a day of its work, those of its labels last.

    None apply while the field or the day is blank: which law holds cannot be said then. A record
    of fertilizers and adjuvants alone is under none; one without products is under all, so that the
    products are asked for.
    Args: role of who answers for the record; work, its kind; sets, all that are carried if None.
    """
    if not s.days or s.field is None:
        return ()
    place = s.field.place
    carried = _at(place) if sets is None else tuple(one for one in sets if one.holds_at(place))
    found = [
        applied
        for one in carried
        if work in one.work and _over(s, one.area_over)
        for day in [day for day in s.days if one.in_force_on(day)][:1]
        if (applied := _applied(s, one, role, day))
    ]
    return (*found, *_labels(s, role))


@lru_cache(maxsize=64)
def _at(place: str) -> tuple[DutySet, ...]:
    return tuple(one for one in duty_sets() if one.holds_at(place))


def _applied(s: Snapshot, one: DutySet, role: Role, day: date) -> Applied | None:
    classes = one.products_for(role)
    if not classes:
        return None
    covered = covered_by(s, classes)
    if s.products and not covered:
        return None
    names = (
        listed(_named(s.products[place], classes) for place in covered)
        if covered
        else msg("no product yet")
    )
    words = listed(term(_CLASS_WORDS[kind]) for kind in classes)
    return Applied(
        duty_set=one,
        why=msg(
            "The field lies in {place}, where on {day} it binds who sprays {role}; it covers "
            "{classes}: {products}.",
            place=s.field.place if s.field else "",
            day=day,
            role=term(_ROLE_WORDS[role]),
            classes=words,
            products=names,
        ),
        role=role,
        products=covered,
    )


def _named(product: ProductFacts, classes: tuple[Products, ...]) -> str:
    """Return the name of a product, and that it counts while nobody said that it does not."""
    label = product.label
    if label and label.restricted_use is None and classes == (Products.RESTRICTED_USE,):
        return msg("{name} (not said whether it is one)", name=product.name)
    return product.name


_ROLE_WORDS = {
    Role.FOR_HIRE: gettext_noop("for hire"),
    Role.OWN_LAND: gettext_noop("the own land"),
    Role.EMPLOYER: gettext_noop("as an employer"),
}
_CLASS_WORDS = {
    Products.ALL: gettext_noop("all pesticides"),
    Products.ADJUVANT: gettext_noop("adjuvants"),
    Products.RESTRICTED_USE: gettext_noop("restricted-use products"),
    Products.STATE_RESTRICTED: gettext_noop("products restricted by the state"),
    Products.REENTRY: gettext_noop("products with a re-entry interval"),
    Products.AUXIN: gettext_noop("auxin herbicides"),
    Products.DICAMBA_OVER_THE_TOP: gettext_noop("dicamba over the top"),
    Products.ATRAZINE: gettext_noop("atrazine"),
}


def covered_by(s: Snapshot, classes: tuple[Products, ...]) -> tuple[int, ...]:
    """Return the places of the record's products that are of one of the classes.

    A product of which nobody said whether it is for restricted use counts as one.
    """
    return tuple(
        place
        for place, product in enumerate(s.products)
        if any(_is_of(product, kind) for kind in classes)
    )


def _is_of(product: ProductFacts, kind: Products) -> bool:
    if kind is Products.ADJUVANT:
        return product.kind == kind.value
    if product.kind in NOT_PESTICIDES:
        return False
    if kind is Products.ALL:
        return True
    label = product.label
    if label is None:
        # Its own finding says that the label edition lacks.
        return False
    if kind is Products.RESTRICTED_USE:
        return label.restricted_use is not False
    if kind is Products.REENTRY:
        return label.reentry_hours is not None
    named = (*label.classes, *(one.name.lower() for one in label.ingredients))
    return kind.value in named


def _over(s: Snapshot, area: Quantity | None, *, that_or_more: bool = False) -> bool:
    """Return whether the treated area is above the threshold; one that is not known counts so.

    Args: that_or_more, whether the threshold itself is enough.
    """
    treated = s.record.treated_area
    if area is None or not isinstance(treated, Quantity):
        return True
    return treated.si > area.si or (that_or_more and treated.si == area.si)


# --- what labels add -----------------------------------------------------------------------------


def _labels(s: Snapshot, role: Role) -> Iterator[Applied]:
    for place, product in enumerate(s.products):
        label = product.label
        if label and (label.asks or label.deadlines or label.retention or label.training):
            yield Applied(
                duty_set=label_set(product, label),
                why=msg("{label}, asks for it; a label is binding.", label=edition(product, label)),
                role=role,
                products=(place,),
            )


def label_set(product: ProductFacts, label: LabelFacts) -> DutySet:
    """Return what a label edition adds, in the shape of a duty set.

    Its wording counts as read: the person who entered the edition had the label in hand.
    """
    asks = label.asks
    if label.training:
        asks += (
            Asked(
                name="training-proof",
                how_read=HowRead.LEGAL_TEXT,
                detail=msg("training that the label asks: {training}", training=label.training),
            ),
        )
    return DutySet(
        id=f"label-{label.id}",
        title=edition(product, label),
        place="",
        citation=edition(product, label),
        in_force_from=label.in_force_from,
        in_force_to=label.in_force_to,
        last_read=None,
        how_read=HowRead.LEGAL_TEXT,
        bound=tuple(Scope(role=one, products=(Products.ALL,)) for one in Role),
        elements=asks,
        deadlines=label.deadlines,
        retention=label.retention,
    )


# --- how the elements stand ----------------------------------------------------------------------


def statement(
    s: Snapshot,
    *,
    role: Role = Role.FOR_HIRE,
    work: Work = Work.FIELD,
    sets: tuple[DutySet, ...] | None = None,
) -> tuple[Row, ...]:
    """Return the rows of every set that applies: each element, where it stands, and its outcome.

    A set cannot be thinned by another: the federal minimum holds beside a state's own list. Only
    what steps in where a state has no rule is left out where one speaks of the record.
    """
    look = _Looking(s, applicable(s, role=role, work=work, sets=sets))
    return tuple(look.row(one, asked) for one, asked in look.asked())


def blank_rows(s: Snapshot) -> Iterator[Row]:
    """Yield the rows of `statement` for hire whose element is asked, or may be, and is missing."""
    look = _Looking(s, applicable(s))
    for one, asked in look.asked():
        if look.stand(asked.name, one.products).state is State.MISSING:
            row = look.row(one, asked)
            if row.outcome in (Outcome.MISSING, Outcome.CONFIRM, Outcome.NO_STATE_RULE):
                yield row


def lacking_formats(
    s: Snapshot, *, role: Role = Role.FOR_HIRE
) -> tuple[tuple[Applied, LocationRule], ...]:
    """Return the rules of location whose formats are none of those in which the place is stated.

    None while no place is stated at all, which is the missing element itself.
    """
    stated = formats_of(s)
    applied = applicable(s, role=role)
    own_rule = has_state_rule(applied)
    return tuple(
        (one, rule)
        for one in applied
        for rule in one.duty_set.locations
        if stated
        and not stated.keys() & set(rule.one_of)
        and (not rule.roles or role in rule.roles)
        and holds(s, rule.when, name="location-structured", area=rule.area, own_rule=own_rule)
    )


class _Looking:
    """Looks at each element once, however many sets ask for it."""

    def __init__(self, s: Snapshot, applied: tuple[Applied, ...]) -> None:
        self._s = s
        self.applied = applied
        self._own_rule = has_state_rule(applied)
        self._stands: dict[tuple[str, tuple[int, ...]], Stand] = {}

    def asked(self) -> Iterator[tuple[Applied, Asked]]:
        """Yield what each set asks, but not what a rule of the state replaces."""
        for one in self.applied:
            for asked in one.duty_set.elements:
                if asked.when is not When.NO_STATE_RULE or not self._own_rule:
                    yield one, asked

    def stand(self, name: str, covered: tuple[int, ...]) -> Stand:
        element = ELEMENTS[name]
        key = (name, covered if element.of_products else ())
        found = self._stands.get(key)
        if found is None:
            found = self._stands[key] = element.look(self._s, covered)
        return found

    def row(self, one: Applied, asked: Asked) -> Row:
        return Row(
            applied=one,
            asked=asked,
            element=ELEMENTS[asked.name],
            stand=self.stand(asked.name, one.products),
            outcome=self._outcome(one, asked),
        )

    def _outcome(self, one: Applied, asked: Asked) -> Outcome:
        if asked.when is When.NO_STATE_RULE:
            # That no rule of the state is carried does not say that there is none.
            return Outcome.NO_STATE_RULE
        if asked.obligation is not Obligation.REQUIRED:
            return _BY_OBLIGATION[asked.obligation]
        if asked.roles and one.role not in asked.roles:
            return Outcome.NOT_ASKED
        if not holds(
            self._s, asked.when, name=asked.name, area=asked.area, own_rule=self._own_rule
        ):
            return Outcome.NOT_ASKED
        others = [self.stand(name, one.products).state for name in asked.unless]
        if others and State.MISSING not in others:
            return Outcome.NOT_ASKED
        if not asked.how_read.firm:
            return Outcome.CONFIRM
        if self.stand(asked.name, one.products).state is not State.MISSING:
            return Outcome.STANDS
        return Outcome.CONFIRM if asked.when is When.WHERE_IT_APPLIES else Outcome.MISSING


_BY_OBLIGATION = {
    Obligation.ADVISED: Outcome.ADVISED,
    Obligation.UNSETTLED: Outcome.UNSETTLED,
}


def has_state_rule(applied: tuple[Applied, ...]) -> bool:
    """Return whether a set of a part of a country, such as a state, is among those that apply."""
    return any("-" in one.duty_set.place for one in applied)


def holds(s: Snapshot, when: When, *, name: str, area: Quantity | None, own_rule: bool) -> bool:
    """Return whether a condition is met.

    What the record cannot tell counts as met: the element is asked then, or its absence cautioned.
    Args: name of the element that is asked; area, the threshold with `When.AREA_OVER` and
        `AREA_FROM`; own_rule, whether the state has a rule of its own.
    """
    if when in _ALWAYS_MET:
        return True
    labels = [product.label for product in s.products if product.label]
    if when is When.LABEL_ASKS:
        return any(_label_asks(label, name) for label in labels)
    if when is When.AREA_OVER:
        return _over(s, area)
    if when is When.AREA_FROM:
        return _over(s, area, that_or_more=True)
    if when is When.RESTRICTED_USE:
        return any(label.restricted_use is not False for label in labels)
    if when is When.REENTRY:
        return any(label.reentry_hours is not None for label in labels)
    if when is When.HELPER:
        return has_helper(s)
    if when is When.SEVERAL_PRODUCTS:
        return len(s.products) > 1
    if when is When.SHARED_LOAD:
        return any(load.shared for load in s.loads)
    # The only one left: the federal statute steps in where a state has no rule.
    return not own_rule


_ALWAYS_MET = (When.ALWAYS, When.WHERE_IT_APPLIES, When.OUTDOORS, When.LAND_OF_ANOTHER)
"""All work of a ground rig is outdoors; land of another is what a for-hire rig works on."""


def _label_asks(label: LabelFacts, name: str) -> bool:
    """Return whether a label names the element, or sets a limit that only the element can show."""
    limits = (getattr(label, limit) for limit in _LIMITS.get(name, ()))
    named = any(asked.name == name for asked in label.asks)
    # A limit of 0 minutes is one too.
    return named or any(limit is not None and limit is not False for limit in limits)


_LIMITS = {
    "air-temperature": ("temperature_min", "temperature_max"),
    "other-weather": ("inversion_forbidden",),
    "start-time": ("minutes_after_sunrise", "minutes_before_sunset"),
    "time-of-day": ("minutes_after_sunrise", "minutes_before_sunset"),
}
"""The limits of a label that make an element of the record relevant."""
