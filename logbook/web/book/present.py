"""A snapshot as the sections of the book: where, what, with what, when and weather, amounts.

The record page reads the same whether the facts come from the rows of a draft or from a seal.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from calc.nozzle import SIZES
from logbook.base import locale
from logbook.base.locale import figure, shown
from logbook.facts.quantity import Answer, Quantity
from logbook.facts.record import LabelFacts, NozzleFacts, PersonFacts, ProductFacts, Snapshot
from logbook.facts.sets import OF_A_RECORD
from logbook.facts.spec import Fact
from logbook.records.services.explain import Earlier
from logbook.rules.core import Finding, Run, RunState
from logbook.rules.duties.elements import ELEMENTS
from logbook.rules.intervals import intervals

MARKS = {
    "breach": "■",
    "mismatch": "◆",
    "caution": "△",
    "missing": "○",
    "agrees": "✓",
    "undecided": "?",
}
WORDS = {
    "breach": gettext_lazy("breach"),
    "mismatch": gettext_lazy("mismatch"),
    "caution": gettext_lazy("caution"),
    "missing": gettext_lazy("missing"),
    "agrees": gettext_lazy("agrees"),
    "undecided": gettext_lazy("cannot be decided"),
}


@dataclass(frozen=True, kw_only=True)
class Mark:
    """What the checker put in the margin beside a line."""

    kind: str

    @property
    def shape(self) -> str:
        return MARKS[self.kind]

    @property
    def word(self) -> str:
        return str(WORDS[self.kind])


@dataclass(frozen=True, kw_only=True)
class Line:
    """One line of the book."""

    label: str
    value: str
    other: str = ""
    mark: Mark | None = None
    swatch: str = ""

    @property
    def is_blank(self) -> bool:
        """Whether nothing was said."""
        return self.value == _("blank")


@dataclass(frozen=True, kw_only=True)
class Section:
    """One section of the book: its lines, or a table of rows, or both."""

    id: str
    title: str
    lines: list[Line] = field(default_factory=list)
    head: list[str] = field(default_factory=list)
    rows: list[list[Line]] = field(default_factory=list)


@dataclass(frozen=True, kw_only=True)
class Noted:
    """A finding as the page shows it."""

    mark: Mark
    finding: Finding
    address: str = ""  # of the input it is about, on a form: here, or on the shelf
    explanation: str = ""  # what the signer said


@dataclass(frozen=True, kw_only=True)
class Explained:
    """A finding on the page of signing, with what its signer says about it."""

    mark: Mark
    finding: Finding
    text: str
    refused: list[str]
    earlier: Earlier | None  # where the text is from, as long as it is that of an earlier record


def noted(findings: Iterable[Finding], explanations: Mapping[str, str]) -> list[Noted]:
    """Return the findings with their marks and what the signer said about them."""
    return [
        Noted(mark=Mark(kind=kind_of(f)), finding=f, explanation=explanations.get(f.key, ""))
        for f in findings
    ]


def heading(one: Fact) -> str:
    """Return the short label of a fact as it stands at the beginning of a line."""
    return capfirst(_(one.heading))


def carried_words(source: Mapping[str, Any]) -> str:
    """Return where a value was taken over from: "as in no. 41, 2026-06-03"."""
    if "label" in source:
        return _("from the label chosen for the plan, edition %(edition)s") % {
            "edition": source["label"]
        }
    written = source.get("day")
    day = locale.day(date.fromisoformat(written)) if written else _("no day yet")
    said = {"number": source.get("number"), "day": day}
    if "season" in source:
        return _("the only crop of this field in %(season)s") % {"season": source["season"]}
    if said["number"]:
        return _("as in no. %(number)s, %(day)s") % said
    if written:
        return _("as in the draft of %(day)s") % said
    return _("as in a draft that has no day yet")


def carried_over(carried: Mapping[str, Mapping[str, Any]]) -> list[tuple[str, str]]:
    """Return what was taken over and where from, in words, in the order of the work."""
    return [
        (heading(one), carried_words(carried[one.column]))
        for one in OF_A_RECORD
        if one.column in carried
    ]


class Margin:
    """The marks, by the path of the input they stand beside."""

    def __init__(self, findings: Iterable[Finding], runs: Iterable[Run]) -> None:
        self._marks: dict[str, str] = {}
        for run in runs:
            if run.state is RunState.AGREED:
                for path in run.about:
                    self._marks.setdefault(path, "agrees")
        # The heaviest comes first, so a lighter finding never covers it.
        seen: set[str] = set()
        for finding in findings:
            if finding.about not in seen:
                seen.add(finding.about)
                self._marks[finding.about] = kind_of(finding)

    def __call__(self, path: str) -> Mark | None:
        kind = self._marks.get(path)
        return Mark(kind=kind) if kind else None


def kind_of(finding: Finding) -> str:
    """Return the kind of mark a finding has: its severity, or that it cannot be decided."""
    return "undecided" if finding.undecided else finding.severity.value


def said(answer: Answer) -> str:
    """Return an answer in words; a blank is called blank."""
    return _("blank") if answer is None else shown(answer)


def _other(answer: Answer) -> str:
    return figure(answer.other) if isinstance(answer, Quantity) else ""


def sections(facts: Snapshot, margin: Margin) -> list[Section]:
    """Return the sections of the book in the order of the work."""
    return [
        _where(facts, margin),
        _what(facts, margin),
        _with_what(facts, margin),
        _when(facts, margin),
        _weather(facts, margin),
        _amounts(facts, margin),
        *_stated(facts, margin),
    ]


def _where(s: Snapshot, margin: Margin) -> Section:
    place, crop = s.field, s.crop
    lines = [
        Line(label=_("Customer"), value=s.customer.name if s.customer else _("blank")),
        Line(label=_("Address"), value=s.customer.address if s.customer else _("blank")),
        Line(label=_("Field"), value=place.name if place else _("blank"), mark=margin("field")),
    ]
    if place:
        lines += [
            Line(label=locale.word(item.kind).capitalize(), value=item.text)
            for item in place.locations
        ]
        lines.append(Line(label=_("State or province"), value=place.place))
        if place.area_ha:
            area = Quantity(Decimal(f"{place.area_ha:.4g}"), "ha")
            value, other = shown(area), _other(area)
            if place.place.startswith("US"):
                value, other = other, value
            lines.append(Line(label=_("Area inside the boundary"), value=value, other=other))
        lines.append(_answer(_("Planted size"), place.planted_size, margin, "field.planted_size"))
    grown = f"{crop.name} ({crop.eppo_code})" if crop and crop.eppo_code else crop and crop.name
    lines.append(Line(label=_("Crop"), value=grown or _("blank"), mark=margin("crop")))
    if crop and crop.growth_stage_bbch is not None:
        lines.append(Line(label=_("Growth stage"), value=f"BBCH {crop.growth_stage_bbch}"))
    if crop and crop.planted_on:
        lines.append(Line(label=_("Planted on"), value=locale.day(crop.planted_on)))
    return Section(id="where", title=_("Where"), lines=lines)


def _what(s: Snapshot, margin: Margin) -> Section:
    rows = []
    for place, product in enumerate(s.products):
        path = f"products.{place}"
        label = product.label
        rows.append(
            [
                Line(
                    label=_("Product"),
                    value=product.name,
                    other=_product_note(product),
                    mark=margin(f"{path}.product") or margin(f"{path}.label"),
                ),
                Line(label=_("Registration no."), value=product.registration_number or _("blank")),
                Line(
                    label=_("Planned rate"),
                    value=said(product.planned_rate),
                    other=_other(product.planned_rate),
                    mark=margin(f"{path}.planned_rate"),
                ),
                Line(label=_("Label rate"), value=_label_rate(label)),
                Line(
                    label=_("Total used"),
                    value=said(product.total_used),
                    other=_other(product.total_used),
                    mark=margin(f"{path}.total_used"),
                ),
                Line(label=_("Target"), value=product.target or _("blank")),
            ]
        )
    head = [line.label for line in rows[0]] if rows else []
    lines = [Line(label=_("Purpose"), value=s.record.purpose or _("blank"))]
    if not rows:
        lines.append(Line(label=_("Products"), value=_("blank"), mark=margin("products")))
    return Section(id="what", title=_("What"), lines=lines, head=head, rows=rows)


def _product_note(product: ProductFacts) -> str:
    parts = [product.label and _("label %(edition)s") % {"edition": product.label.edition}]
    parts.append(_("restricted use") if product.label and product.label.restricted_use else "")
    return ", ".join(part for part in parts if part)


def _label_rate(label: LabelFacts | None) -> str:
    if label is None:
        return _("no label edition")
    low, high = label.rate_min, label.rate_max
    if low and high:
        first = figure(low.value) if low.unit == high.unit else shown(low)
        return _("%(low)s to %(high)s") % {"low": first, "high": shown(high)}
    if high:
        return _("at most %(high)s") % {"high": shown(high)}
    return _("at least %(low)s") % {"low": shown(low)} if low else _("label is silent")


def _with_what(s: Snapshot, margin: Margin) -> Section:
    rig, nozzle, record = s.rig, s.nozzle, s.record
    lines = [Line(label=_("Rig"), value=rig.name if rig else _("blank"), mark=margin("rig"))]
    if rig:
        lines.append(
            Line(
                label=_("Boom"),
                value=_("%(count)d nozzles, %(spacing)s apart")
                % {"count": rig.nozzle_count, "spacing": shown(rig.spacing)},
                other=_other(rig.spacing),
            )
        )
    lines.append(
        Line(
            label=_("Nozzle"),
            value=_nozzle_words(nozzle) if nozzle else _("blank"),
            other=_("%(flow)s at %(pressure)s")
            % {"flow": shown(nozzle.rated_flow), "pressure": shown(nozzle.rated_pressure)}
            if nozzle
            else "",
            swatch=colour_class(nozzle.size) if nozzle else "",
            mark=margin("nozzle"),
        )
    )
    if s.catch_test:
        lines.append(
            Line(
                label=_("Catch test"),
                value=_("%(day)s, by %(who)s")
                % {"day": locale.day(s.catch_test.tested_on), "who": s.catch_test.tested_by},
                mark=margin("catch_test"),
            )
        )
    lines += [
        _answer(_("Pressure at the gauge"), record.pressure, margin, "pressure"),
        _answer(_("Ground speed"), record.speed, margin, "speed"),
        _answer(_("Boom height above the target"), record.boom_height, margin, "boom_height"),
        _answer(_("Pulse-width duty"), record.duty, margin, "duty"),
        _answer(_("Density of the mix"), record.density, margin, "density"),
    ]
    lines.append(Line(label=_("Pattern"), value=locale.word(record.pattern)))
    if record.pattern != "broadcast":
        lines += [
            _answer(_("Band width"), record.band_width, margin, "band_width"),
            _answer(_("Row spacing"), record.row_spacing, margin, "row_spacing"),
            Line(label=_("Nozzles per row"), value=str(record.nozzles_per_row or _("blank"))),
        ]
    return Section(id="with", title=_("With what"), lines=lines)


def _nozzle_words(nozzle: NozzleFacts) -> str:
    return ", ".join(
        part for part in (nozzle.name, locale.word(nozzle.kind), size_words(nozzle.size)) if part
    )


def size_words(size: str) -> str:
    """Return a size with the word of its ISO 10625 colour, "size 04 red"; "" for none."""
    known = SIZES.get(size)
    if not known:
        return ""
    named = {"size": size, "colour": locale.word(known.colour)}
    return _("size %(size)s %(colour)s") % named


def colour_class(size: str) -> str:
    """Return the CSS class of a size's ISO 10625 colour, "" for a size that has none."""
    known = SIZES.get(size)
    return f"iso-{known.colour.replace(' ', '-')}" if known else ""


def _answer(label: str, answer: Answer, margin: Margin, path: str) -> Line:
    return Line(label=label, value=said(answer), other=_other(answer), mark=margin(path))


def local(instant: datetime | None, s: Snapshot) -> str:
    """Return an instant as the clock at the field showed it, with the zone's short name."""
    return locale.instant(instant, s.zone) or _("blank")


def _when(s: Snapshot, margin: Margin) -> Section:
    record = s.record
    people = [
        (_("Sprayed by"), s.applicator, "applicator"),
        (_("Supervised by"), s.supervisor, "supervisor"),
    ]
    lines = [
        Line(label=_("Started"), value=local(record.started_at, s), mark=margin("started_at")),
        Line(label=_("Finished"), value=local(record.finished_at, s), mark=margin("finished_at")),
    ]
    for label, person, path in people:
        if person is None and path == "supervisor":
            continue
        numbers = ", ".join(licence.number for licence in person.licences) if person else ""
        lines.append(
            Line(
                label=label,
                value=person.name if person else _("blank"),
                other=_("licence %(numbers)s") % {"numbers": numbers} if numbers else "",
                mark=margin(path),
            )
        )
    if s.crew:
        names = ", ".join(_with_licences(person) for person in s.crew)
        lines.append(Line(label=_("Also sprayed by"), value=names, mark=margin("crew")))
    if s.continues:
        before = s.continues
        number = _("no. %(number)s") % {"number": before.number} if before.number else _("a draft")
        lines.append(
            Line(
                label=_("Resumes the job of"),
                value=f"{locale.day(before.day) or _('no day yet')}, {number}",
            )
        )
    ends = intervals(s)
    if ends and ends.entry_from:
        entry = local(ends.entry_from, s)
        lines.append(Line(label=_("No entry before"), value=entry, other=ends.entry_product))
    if ends and ends.harvest_from:
        day = locale.day(ends.harvest_from)
        lines.append(Line(label=_("No harvest before"), value=day, other=ends.harvest_product))
    return Section(id="when", title=_("When and by whom"), lines=lines)


def _with_licences(person: PersonFacts) -> str:
    numbers = ", ".join(licence.number for licence in person.licences)
    if not numbers:
        return person.name
    return _("%(name)s (licence %(numbers)s)") % {"name": person.name, "numbers": numbers}


def _weather(s: Snapshot, margin: Margin) -> Section:
    rows = []
    for place, reading in enumerate(s.weather):
        path = f"weather.{place}"
        cells = [
            Line(label=_("Time"), value=local(reading.read_at, s), mark=margin(f"{path}.read_at"))
        ]
        for label, name in (
            (_("Wind from"), "wind_from"),
            (_("Wind"), "wind_speed"),
            (_("Gust"), "gust"),
            (_("Air"), "temperature"),
            (_("Humidity"), "humidity"),
            (_("Cloud"), "cloud"),
            (_("At height"), "height"),
        ):
            cells.append(_answer(label, getattr(reading, name), margin, f"{path}.{name}"))
        cells.append(
            Line(
                label=_("Signs"),
                value=", ".join(map(locale.word, reading.signs)) or _("none seen"),
                mark=margin(f"{path}.signs"),
            )
        )
        rows.append(cells)
    lines = [] if rows else [Line(label=_("Readings"), value=_("blank"), mark=margin("weather"))]
    head = [cell.label for cell in rows[0]] if rows else []
    return Section(id="weather", title=_("Weather"), lines=lines, head=head, rows=rows)


def _amounts(s: Snapshot, margin: Margin) -> Section:
    record = s.record
    lines = [
        _answer(_("Treated area"), record.treated_area, margin, "treated_area"),
        _answer(_("Planned carrier"), record.planned_carrier, margin, "planned_carrier"),
        _answer(_("Spray mix used on this field"), record.mix_used, margin, "mix_used"),
        _answer(_("Distance with the boom on"), record.distance, margin, "distance"),
        Line(label=_("Note"), value=record.note or _("blank")),
    ]
    names = {product.product_id: product.name for product in s.products}
    other = _("of another product")
    rows = []
    for place, load in enumerate(s.loads):
        parts = "; ".join(
            f"{shown(part.amount)} {names.get(part.product_id, other)}" for part in load.parts
        )
        path = f"loads.{place}"
        rows.append(
            [
                Line(label=_("Load"), value=f"{place + 1}", mark=margin(path)),
                _answer(_("Mixed"), load.mixed_volume, margin, f"{path}.mixed_volume"),
                Line(label=_("Put in"), value=parts or _("blank")),
                _answer(_("Used here"), load.used_here, margin, f"{path}.used_here"),
                Line(label=_("Order of fields"), value=str(load.order)),
            ]
        )
    head = [cell.label for cell in rows[0]] if rows else []
    return Section(id="amounts", title=_("Amounts"), lines=lines, head=head, rows=rows)


def _stated(s: Snapshot, margin: Margin) -> list[Section]:
    """Return what was stated because a law or a label asks for it."""
    lines = [
        Line(
            label=locale.word(ELEMENTS[name].title) if name in ELEMENTS else name,
            value=text,
            mark=margin(f"statements.{name}"),
        )
        for name, text in s.record.statements.items()
    ]
    return [Section(id="asked", title=_("Asked for by law"), lines=lines)] if lines else []


MOST_IN_SIGHT = 3
"""So many checks that wait for entries stand in sight; more are folded into one line."""

MOST_WANTED = 8
"""So many of the entries that they wait for are named in that line."""


@dataclass(frozen=True, kw_only=True)
class Silence:
    """What it means that no check, or no other check, had anything to say."""

    agreed: int
    blind: tuple[Run, ...]  # the checks that could not look, each with its reason

    @property
    def folded(self) -> tuple[Run, ...]:
        """The checks that merely wait for entries, where they are too many to stand in sight."""
        waiting = tuple(run for run in self.blind if run.needs)
        return waiting if len(waiting) > MOST_IN_SIGHT else ()

    @property
    def in_sight(self) -> tuple[Run, ...]:
        """The checks that could not look, without those that are folded."""
        return tuple(run for run in self.blind if run not in self.folded)

    @property
    def waits_for(self) -> str:
        """What the folded checks wait for: what most of them want comes first."""
        facts = Counter(fact for run in self.folded for fact in run.needs)
        names = [locale.spoken(fact) for fact, _many in facts.most_common()]
        words = ngettext("%(n)d check waits for", "%(n)d checks wait for", len(self.folded))
        wanted = ", ".join(names[:MOST_WANTED]) or _("what was left blank")
        if more := names[MOST_WANTED:]:
            wanted = _("%(facts)s, and %(more)d more") % {"facts": wanted, "more": len(more)}
        return f"{words % {'n': len(self.folded)}}: {wanted}"

    @property
    def whole(self) -> bool:
        """Whether every check looked, so that silence is agreement."""
        return not self.blind

    @property
    def words(self) -> str:
        """The sentence of a record without findings."""
        if self.whole:
            return _("Every check looked and agreed.")
        return _("%(checks)s looked and agreed; %(blind)d could not look:") % {
            "checks": self.checks,
            "blind": len(self.blind),
        }

    @property
    def checks(self) -> str:
        """How many checks looked and agreed: "1 check", "12 checks"."""
        return ngettext("%(count)d check", "%(count)d checks", self.agreed) % {"count": self.agreed}


def silence(runs: Iterable[Run]) -> Silence:
    """Return how many checks looked and agreed, and those that could not look."""
    all_runs = tuple(runs)
    return Silence(
        agreed=sum(run.state is RunState.AGREED for run in all_runs),
        blind=tuple(run for run in all_runs if run.state is RunState.NOT_RUN),
    )


def tally(findings: Iterable[Finding]) -> list[tuple[Mark, int]]:
    """Return how many findings there are of each kind, the heaviest first."""
    counts = Counter(kind_of(finding) for finding in findings)
    return [(Mark(kind=kind), counts[kind]) for kind in MARKS if counts[kind]]
