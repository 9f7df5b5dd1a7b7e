"""One cause, one finding: the entry that would settle all that does not agree, and what follows.

A mistyped speed moves the carrier, every product and every amount. Each entry that may be the cause
is tried with a value that a person may have meant: what another entry says, what this rig was set
to before, the same figures in another unit, two digits that changed places, a shifted point, and
what all evidence makes it. The judgement is run again with it. The one entry that settles
everything leads; the findings that go with it follow from it. If none does, or two do alike, no
cause is named.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from calc.errors import OutOfRange
from calc.evidence import likely_cause, signatures
from calc.slips import slips_into, with_swapped_digits
from logbook.checks import amounts, delivery, droplets, evidence
from logbook.checks.assessment import MARKED, carrier_line, product_line
from logbook.checks.core import (
    CannotRun,
    Check,
    Consequence,
    Finding,
    NothingToLookAt,
    Report,
    Severity,
)
from logbook.checks.estimates import DISTANCE, MIX, SETTINGS, total_of
from logbook.checks.estimates import evidence as estimates_of
from logbook.checks.setting import setting
from logbook.checks.trials import entry, with_entry
from logbook.facts.choices import BROADCAST
from logbook.facts.messages import msg, term
from logbook.facts.quantity import BadAnswer, Quantity
from logbook.facts.record import Snapshot
from logbook.facts.sets import NAMES
from logbook.facts.wording import as_given, either, three

RATES = (
    delivery.carrier_against_label,
    delivery.carrier_against_planned,
    delivery.product_against_label,
    delivery.product_against_planned,
)
TOLD_OF_AMOUNTS = (
    amounts.mix_used,
    amounts.product_used,
    amounts.distance_driven,
    amounts.loads_used,
    amounts.product_in_loads,
)
OTHERS = (
    droplets.nozzle_pressure,
    droplets.droplet_class,
    evidence.time_taken,
    evidence.treated_area,
)
"""Checks whose findings a wrong entry brings too; they alone give no reason to look for one."""

CORE = frozenset(one.id for one in (*RATES, *TOLD_OF_AMOUNTS))
FOLLOWING = CORE | {one.id for one in OTHERS}

MARKS = (Severity.BREACH, Severity.MISMATCH)

LIKELY_CAUSE = "likely-cause"
"""The code of a finding that stands on the entry which would settle others."""

PLAUSIBLE = {"speed": (1.0, 40.0), "duty": (5.0, 100.0)}
"""Between which bounds a value is meant, in the reference unit; common practice, no source."""

MOST_NAMED = 3
"""So many entries that settle it alike are named together; of more, none."""


@dataclass(frozen=True)
class Recent:
    """How this rig was set on an earlier job."""

    speed: Quantity | None
    pressure: Quantity | None


@dataclass(frozen=True)
class _Meant:
    """What may have been meant at one entry, and why one may think so."""

    path: str
    value: Quantity
    why: str
    rank: int  # the lower the surer


def told(s: Snapshot, report: Report, *, recent: Callable[[], Iterable[Recent]] = tuple) -> Report:
    """Return the report with what follows from one cause folded under one finding.

    Args: recent, how this rig was set on its last jobs, asked for only where something is marked.
    """
    marked = [one for one in report.findings if one.code in FOLLOWING]
    if not any(one.code in CORE and one.severity in MARKS for one in marked):
        return report
    lead = _named(s, marked, recent) or _of_one_rate(s, marked)
    if lead is None:
        return report
    keys = {_key(one) for one in lead.leads} | {_key(lead)}
    rest = [one for one in report.findings if _key(one) not in keys]
    findings = sorted([lead, *rest], key=lambda f: (f.severity.rank, f.code, f.about))
    return replace(report, findings=tuple(findings))


def _key(one: Finding | Consequence) -> tuple[str, str, str]:
    return one.code, one.about, one.sentence


# --- a cause that was tried ----------------------------------------------------------------------


def _named(
    s: Snapshot, marked: Sequence[Finding], recent: Callable[[], Iterable[Recent]]
) -> Finding | None:
    """Return the finding on the entry that would settle all that is marked of the rate."""
    settles: list[tuple[_Meant, list[Finding]]] = []
    before = {(one.code, one.about) for one in marked if one.severity in MARKS}
    core = {(one.code, one.about) for one in marked if one.code in CORE}
    for meant in sorted(_all_meant(s, recent), key=lambda one: one.rank):
        if settles and meant.rank > settles[0][0].rank:
            break
        if any(one.path == meant.path for one, _ in settles):
            continue
        found = _found_with(s, meant)
        if found is None:
            continue
        after = {(one.code, one.about) for one in found}
        new = {(one.code, one.about) for one in found if one.severity in MARKS} - before
        if not new and not after & core:
            gone = [one for one in marked if (one.code, one.about) not in after]
            settles.append((meant, gone))
    # What settles more of what is marked beside the rate is the likelier.
    most = max((len(gone) for _, gone in settles), default=0)
    settles = [one for one in settles if len(one[1]) == most]
    if not 0 < len(settles) <= MOST_NAMED:
        return None
    first, gone = settles[0]
    meant_words = either(
        msg(
            "{name}, entered {entered}, likely {value}: {why}",
            name=_name(s, one.path),
            entered=entry(s, one.path),
            value=one.value,
            why=one.why,
        )
        for one, _ in settles
    )
    return Finding(
        code=LIKELY_CAUSE,
        severity=min((one.severity for one in gone), key=lambda one: one.rank),
        about=first.path,
        sentence=msg("{meant:begin}. With it all that follows agrees.", meant=meant_words),
        basis=msg("Tried on this record: the checks were run again with that value"),
        settle=msg(
            "Correct {name} if {value} is what was read. If {entered} is right, look at what "
            "follows from it.",
            name=_name(s, first.path),
            value=first.value,
            entered=entry(s, first.path),
        ),
        leads=_consequences(gone),
    )


def _consequences(findings: Iterable[Finding]) -> tuple[Consequence, ...]:
    return tuple(
        Consequence(
            code=one.code,
            severity=one.severity,
            about=one.about,
            sentence=one.sentence,
            basis=one.basis,
        )
        for one in findings
    )


def _found_with(s: Snapshot, meant: _Meant) -> list[Finding] | None:
    """Return what is found beside the rate with another entry; None if the rate does not agree."""
    try:
        tried = with_entry(s, meant.path, meant.value)
        if not _agrees(tried):
            return None
        return [one for check in (*TOLD_OF_AMOUNTS, *OTHERS) for one in _found(check, tried)]
    except (OutOfRange, BadAnswer, TypeError):
        return None


def _agrees(s: Snapshot) -> bool:
    """Return whether all evidence and every rate agree, nothing to be looked at again."""
    seen = estimates_of(s)
    if seen is None or seen.against is not None:
        return False
    lines = []
    try:
        laid = setting(s)
    except CannotRun:
        return False
    for place in range(-1, len(s.products)):
        try:
            lines.append(carrier_line(s, laid) if place < 0 else product_line(s, place, laid))
        except CannotRun:
            continue
    return not any(one.verdict in MARKED or one.look_again for one in lines)


def _found(check: Check, s: Snapshot) -> list[Finding]:
    """Return what a check finds before a fact lacks."""
    found: list[Finding] = []
    try:
        for one in check.look(s):
            found.append(one)
    except (CannotRun, NothingToLookAt):
        pass
    return found


# --- what may have been meant --------------------------------------------------------------------


def _all_meant(s: Snapshot, recent: Callable[[], Iterable[Recent]]) -> Iterator[_Meant]:
    """Yield for every entry that may be the cause what may have been meant there."""
    before = tuple(recent())
    # A plan is chosen, not read: its unit stands beside the label's.
    plans = ("planned_carrier", *(f"products.{n}.planned_rate" for n in range(len(s.products))))
    factors = _by_evidence(s)
    for path in _paths(s):
        entered = entry(s, path)
        if entered is None or (factors and path not in factors):
            continue
        meant = [
            *_elsewhere(s, path, entered),
            *_as_before(path, entered, before),
            *(_other_unit(path, entered, s.system) if path not in plans else ()),
            *_slips(path, entered),
        ]
        factor = factors.get(path)
        if factor is not None:
            value = Quantity(Decimal(three(float(entered.value) / factor)), entered.unit)
            why = msg("what the other entries make it")
            meant.append(_Meant(path, value, why, 4))
        low, high = PLAUSIBLE.get(path, (0.0, float("inf")))
        yield from (one for one in meant if one.value != entered and low < one.value.si <= high)


def _paths(s: Snapshot) -> Iterator[str]:
    """Yield the entries that may be the cause."""
    yield from ("speed", "pressure", "duty", "treated_area", MIX, DISTANCE, "rig.spacing")
    for place in range(len(s.products)):
        yield total_of(place)
        yield f"products.{place}.planned_rate"
    yield from (f"loads.{place}.used_here" for place in range(len(s.loads)))
    yield from (f"loads.{place}.mixed_volume" for place in range(len(s.loads)))
    yield "planned_carrier"


def _by_evidence(s: Snapshot) -> dict[str, float | None]:
    """Return by path what each entry is too large by, where the evidence names those it may be.

    None is the factor of a setting: which of the settings it is, the evidence cannot tell.
    """
    seen = estimates_of(s)
    if seen is None or seen.against is None:
        return {}
    products = [total_of(place) for place in range(len(s.products))]
    causes = likely_cause(
        seen.estimates,
        signatures(
            exponent=float(s.nozzle.exponent) if s.nozzle else 0.5,
            settings=SETTINGS,
            tank=MIX,
            products=products,
            distance=DISTANCE,
            width_from_spacing=s.record.pattern == BROADCAST,
        ),
    )
    found: dict[str, float | None] = {}
    for cause in causes:
        path = _PATH_OF.get(cause.name, cause.name)
        if path in _SETTINGS:
            found[path] = None
        elif path:
            found[path] = cause.factor
    return found


_SETTINGS = ("speed", "pressure", "duty", "rig.spacing")
_PATH_OF = {
    "area": "treated_area",
    "tank": MIX,
    "spacing": "rig.spacing",
    "flow": "",
    "width": "",
}
"""The entry that a cause stands for, where it is called otherwise; "" if it is no single entry."""


def _elsewhere(s: Snapshot, path: str, entered: Quantity) -> Iterator[_Meant]:
    """Yield what the loads say of an amount."""
    if path == MIX:
        used = [entry(s, f"loads.{place}.used_here") for place in range(len(s.loads))]
        if used and all(used):
            total = sum(one.to(entered.unit) for one in used if one)
            yield _Meant(path, _rounded(total, entered.unit), msg("what the loads come to"), 0)
    elif path.endswith("total_used"):
        product = s.products[int(path.split(".")[1])].product_id
        held = 0.0
        for place, load in enumerate(s.loads):
            here = entry(s, f"loads.{place}.used_here") or load.mixed_volume
            share = here.si / load.mixed_volume.si
            for part in load.parts:
                if part.product_id == product and part.amount.dimension == entered.dimension:
                    held += share * part.amount.to(entered.unit)
        if held > 0.0:
            yield _Meant(path, _rounded(held, entered.unit), msg("what the loads held"), 0)


def _as_before(path: str, entered: Quantity, before: Iterable[Recent]) -> Iterator[_Meant]:
    for one in before:
        value = getattr(one, path, None)
        if isinstance(value, Quantity) and value.si != entered.si:
            yield _Meant(path, value, msg("as on an earlier job of this rig"), 1)


def _other_unit(path: str, entered: Quantity, system: str) -> Iterator[_Meant]:
    """Yield the same figures in the units that are written for this one."""
    for slip in slips_into(written=entered.unit):
        if slip.read == "1":
            share = Decimal(f"{(entered.value * 100).normalize():f}")
            value, why = Quantity(share, "%"), msg("a share, not a percentage")
        elif slip.read.startswith("imp ") and system == "us":
            continue  # Nobody reads imperial gallons there.
        else:
            value = Quantity(entered.value, slip.read)
            why = msg("the same figures in {unit}", unit=slip.read)
        yield _Meant(path, value, why, 2)


def _slips(path: str, entered: Quantity) -> Iterator[_Meant]:
    for text in with_swapped_digits(entered=f"{entered.value:f}"):
        why = msg("two digits changed places")
        yield _Meant(path, Quantity(Decimal(text), entered.unit), why, 3)
    for shift in (1, -1):
        value = Decimal(f"{entered.value.scaleb(shift).normalize():f}")
        yield _Meant(path, Quantity(value, entered.unit), msg("the point shifted by one place"), 3)


def _rounded(value: float, unit: str) -> Quantity:
    return Quantity(Decimal(as_given(value)), unit)


def _name(s: Snapshot, path: str) -> str:
    """Return the plain name of an entry."""
    where, _, fact = path.rpartition(".")
    if where.startswith("products."):
        name = s.products[int(where.split(".")[1])].name
        if fact == "total_used":
            return msg("the total of {name} used", name=name)
        return msg("the planned rate of {name}", name=name)
    if where.startswith("loads."):
        number = int(where.split(".")[1]) + 1
        if fact == "used_here":
            return msg("what was used here of load {number}", number=number)
        return msg("the volume mixed of load {number}", number=number)
    return term(NAMES[path]) if path in NAMES else msg("nozzle spacing")


# --- no cause, but one rate ----------------------------------------------------------------------


def _of_one_rate(s: Snapshot, marked: Sequence[Finding]) -> Finding | None:
    """Return the finding of the rate with what only says it once more; None if there is nothing.

    Evidence that contradicts itself leaves no rate to judge: it leads where no odd one is named.
    Else the carrier leads the products whose strength in the mix is as planned.
    """
    seen = estimates_of(s)
    told_of = {one.id for one in (amounts.mix_used, amounts.product_used, amounts.distance_driven)}
    contradiction = next((one for one in marked if one.code in told_of), None)
    rates = [one for one in marked if one.code in {check.id for check in RATES}]
    if contradiction is not None and seen is not None and seen.against and not seen.odd:
        lead, follow = contradiction, rates
    else:
        carrier = [one for one in rates if one.about == "planned_carrier"]
        if not carrier:
            return None
        lead = carrier[0]
        follow = [one for one in rates if one is not lead and _restates(s, one)]
    if not follow:
        return None
    heaviest = min((lead.severity, *(one.severity for one in follow)), key=lambda one: one.rank)
    return replace(lead, severity=heaviest, leads=_consequences(follow))


def _restates(s: Snapshot, one: Finding) -> bool:
    """Return whether a rate is off by as much as the carrier is, so that it follows from it."""
    if one.about == "planned_carrier":
        return True
    place = int(one.about.split(".")[1])
    try:
        laid = setting(s)
        carrier, product = carrier_line(s, laid), product_line(s, place, laid)
    except (CannotRun, OutOfRange):
        return False
    shares = [
        line.delivered / line.planned
        for line in (carrier, product)
        if line.delivered is not None and line.planned
    ]
    near = float(s.business.look_again_percent) / 100.0
    return len(shares) == 2 and abs(shares[1] / shares[0] - 1.0) <= near
