"""What the pages of the book show of a record: its document, its marks, the silence of checks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from django.template.defaultfilters import linebreaksbr
from django.template.loader import render_to_string
from django.utils.html import conditional_escape, format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from calc.nozzle import SIZES
from logbook.checks.core import Finding, Run, RunState, Severity
from logbook.facts.quantity import Quantity
from logbook.facts.record import Snapshot
from logbook.facts.sets import OF_A_RECORD
from logbook.localization import locale
from logbook.localization.compass import point_of
from logbook.records.reading.examine import Standing
from logbook.records.writing.explain import Earlier
from logbook.sections.document import Line, Margin, Piece

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
    standing: Standing | None = None  # the same of one that the shelf says once for all records


T = TypeVar("T", Noted, Explained)


def noted(findings: Iterable[Finding], explanations: Mapping[str, str]) -> list[Noted]:
    """Return the findings with their marks and what the signer said about them."""
    return [
        Noted(mark=Mark(kind=f.mark), finding=f, explanation=explanations.get(f.key, ""))
        for f in findings
    ]


def parted(shown: Iterable[T]) -> tuple[list[T], list[T]]:
    """Return what is shown of findings in two: what was found, and what was left blank."""
    both: tuple[list[T], list[T]] = [], []
    for one in shown:
        both[one.finding.severity is Severity.MISSING].append(one)
    return both


def heading(label: str) -> str:
    """Return a label as it stands at the beginning of a line."""
    return capfirst(locale.translate_word(label))


def carried_words(source: Mapping[str, Any]) -> str:
    """Return where a value was taken over from: "as in no. 41, 2026-06-03"."""
    if "label" in source:
        return _("from the label chosen for the plan, edition %(edition)s") % {
            "edition": source["label"]
        }
    written = source.get("day")
    day = locale.format_day(date.fromisoformat(written)) if written else _("no day yet")
    said = {"number": source.get("number"), "day": day}
    if "login" in source:
        return _("you, who write this, with a licence of this day")
    if "only" in source:
        return _("the only one on the shelf")
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
        (heading(one.heading), carried_words(carried[one.column]))
        for one in OF_A_RECORD
        if one.column in carried
    ]


def mark_at(margin: Margin, *about: str) -> Mark | None:
    """Return the heaviest mark beside a line."""
    return next((Mark(kind=one.kind) for one in margin.beside(*about)), None)


def written(line: Line, zone: ZoneInfo) -> SafeString:
    """Return what a line says, as HTML in the language of the page."""
    alone = len(line.pieces) == 1
    pieces = ((_written(piece, zone, alone=alone),) for piece in line.pieces)
    between = mark_safe("<br>") if line.between == "\n" else locale.translate_word(line.between)
    return format_html_join(between, "{}", pieces)


def _written(piece: Piece, zone: ZoneInfo, *, alone: bool) -> SafeString:
    value, look = piece
    match value:
        case None | "":
            return conditional_escape(_("blank"))
        case Quantity():
            other = locale.format_number(value.other)
            if value.dimension == "angle":
                other = point_of(value.si)
            if not other:
                return conditional_escape(locale.format_value(value))
            shape = (
                '{} <span class="other">{}</span>'
                if alone
                else '{} <span class="quiet">({})</span>'
            )
            return format_html(shape, locale.format_value(value), other)
        case datetime():
            text = locale.instant(value, zone)
        case str():
            text = locale.localized(value)
        case _:
            text = locale.format_value(value)
    shown = linebreaksbr(text, autoescape=True)
    if look == "quiet":
        return format_html('<span class="quiet">{}</span>', shown)
    if look in MARKS:
        return render_to_string("book/_mark.html", {"mark": Mark(kind=look)}) + shown
    kind, _dash, name = look.partition("-")
    css = {"size": colour_class(name), "class": f"s572-{name}"}.get(kind)
    return (
        format_html('<span class="swatch {}" aria-hidden="true"></span>{}', css, shown)
        if css
        else shown
    )


def colour_class(size: str) -> str:
    """Return the CSS class of a size's ISO 10625 colour, "" for a size that has none."""
    known = SIZES.get(size)
    return f"iso-{known.colour.replace(' ', '-')}" if known else ""


def local(instant: datetime, s: Snapshot) -> str:
    """Return an instant as the clock at the field showed it, with the zone's short name."""
    return locale.instant(instant, s.zone)


MAX_IN_SIGHT = 3
"""So many checks that wait for entries stand in sight; more are folded into one line."""

MAX_WANTED = 8
"""So many of the entries that they wait for are named in that line."""


@dataclass(frozen=True, kw_only=True)
class Silence:
    """What it means that no check, or no other check, had anything to say."""

    agreed: int
    blind: tuple[Run, ...]  # the checks that could not look, each with its reason
    nothing: int = 0  # the checks that had nothing to look at

    @property
    def folded(self) -> tuple[Run, ...]:
        """The checks that merely wait for entries, where they are too many to stand in sight."""
        waiting = tuple(run for run in self.blind if run.needs)
        return waiting if len(waiting) > MAX_IN_SIGHT else ()

    @property
    def in_sight(self) -> tuple[Run, ...]:
        """The checks that could not look, without those that are folded."""
        return tuple(run for run in self.blind if run not in self.folded)

    @property
    def waits_for(self) -> str:
        """What the folded checks wait for: what most of them want comes first."""
        facts = Counter(fact for run in self.folded for fact in run.needs)
        names = [locale.localized(fact) for fact, _many in facts.most_common()]
        words = ngettext("%(n)d check waits for", "%(n)d checks wait for", len(self.folded))
        wanted = ", ".join(names[:MAX_WANTED]) or _("what was left blank")
        if more := names[MAX_WANTED:]:
            wanted = _("%(facts)s, and %(more)d more") % {"facts": wanted, "more": len(more)}
        return f"{words % {'n': len(self.folded)}}: {wanted}"

    @property
    def whole(self) -> bool:
        """Whether every check looked, so that silence is agreement."""
        return not self.blind

    @property
    def words(self) -> str:
        """The sentence of a record without findings."""
        if self.whole and not self.nothing:
            return _("Every check looked and agreed.")
        if self.whole:
            return _("%(checks)s looked and agreed.") % {"checks": self.checks}
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
        nothing=sum(run.state is RunState.NOTHING for run in all_runs),
    )


def tally(findings: Iterable[Finding]) -> list[tuple[Mark, int]]:
    """Return how many findings there are of each kind, the heaviest first."""
    counts = Counter(finding.mark for finding in findings)
    return [(Mark(kind=kind), counts[kind]) for kind in MARKS if counts[kind]]
