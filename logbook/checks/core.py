"""Findings, severities, and the run of all checks over one snapshot."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from calc.errors import OutOfRange
from calc.limits import Outcome
from logbook.facts.messages import gettext_noop, joined, msg
from logbook.facts.record import Snapshot
from logbook.facts.terms import out_of_range


class Severity(StrEnum):
    """How much a finding weighs, heaviest first."""

    BREACH = gettext_noop("breach")  # contradicts the label or law as entered
    MISMATCH = gettext_noop(
        "mismatch"
    )  # settings and evidence disagree, or do not deliver the rate
    MISSING = gettext_noop("missing")  # a needed fact is absent
    CAUTION = gettext_noop("caution")  # good practice says look again

    @property
    def rank(self) -> int:
        """The place in the order of weight; 0 is the heaviest."""
        return list(Severity).index(self)

    @property
    def must_be_explained(self) -> bool:
        """Whether the signer has to say something about it."""
        return self in (Severity.BREACH, Severity.MISSING)


@dataclass(frozen=True, kw_only=True)
class Consequence:
    """What another check had to say, and follows from the finding under which it stands."""

    code: str
    severity: Severity
    about: str
    sentence: str
    basis: str


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One thing that a check has to say, in one plain sentence with its numbers."""

    code: str  # the id of the check, never reused
    severity: Severity
    about: str  # path of the input it speaks of: "speed", "products.0.planned_rate"
    sentence: str
    basis: str  # label edition, law, standard or practice it stands on
    settle: str  # what would settle it
    undecided: bool = False  # "cannot be decided at this accuracy"
    leads: tuple[Consequence, ...] = ()  # what goes with it; explained with it

    @property
    def ground(self) -> str:
        """The basis as it stands under the sentence; checks that wait for a fact are no basis."""
        return (
            self.basis if self.code == FACT_MISSING else msg("Stands on: {basis}", basis=self.basis)
        )

    @property
    def mark(self) -> str:
        """The kind of its mark: its severity, or "undecided"."""
        return "undecided" if self.undecided else self.severity.value

    @property
    def key(self) -> str:
        """What an explanation is filed under: stable while the finding speaks of one input."""
        return f"{self.code}@{self.about}"


FACT_MISSING = "fact-missing"
"""The code of a finding that a fact was left blank."""

MAX_NAMED = 3
"""So many of the checks that wait for a fact are named; the others are counted."""

RECORD_ELEMENTS = "record-elements"
"""The check of what the law asks to be recorded; at a blank fact it joins "fact-missing"."""


class CannotRun(Exception):
    """Raised by a check that lacks a fact.

    needs: the paths of the blank inputs, each with the plain name of the fact; why: set instead
    when the facts are there but allow no answer; quantities: those of the paths that stand for a
    quantity, which may also be answered with a word.
    """

    def __init__(
        self,
        *,
        needs: dict[str, str] | None = None,
        why: str = "",
        quantities: frozenset[str] = frozenset(),
    ) -> None:
        self.needs = needs or {}
        self.why = why
        self.quantities = quantities
        super().__init__(why or joined(", ", self.needs.values()))


class NothingToLookAt(Exception):
    """Raised by a check where nothing asks for what it looks at; `str` says why, in words."""


@dataclass(frozen=True, kw_only=True)
class Check:
    """A named pure function from the snapshot to findings."""

    id: str
    title: str  # what it looks at, completing "Checked: …"
    about: tuple[str, ...]  # the inputs it looks at
    look: Callable[[Snapshot], Iterable[Finding]]
    holds_from: date | None = None
    holds_to: date | None = None

    def holds_on(self, day: date | None) -> bool:
        """Return whether the check is in force on the record's own day."""
        if day is None:
            return True
        after = self.holds_from is None or self.holds_from <= day
        return after and (self.holds_to is None or day <= self.holds_to)

    def finding(
        self,
        severity: Severity,
        *,
        about: str,
        sentence: str,
        basis: str,
        settle: str,
        undecided: bool = False,
    ) -> Finding:
        """Return a finding of this check, under its own id."""
        return Finding(
            code=self.id,
            severity=severity,
            about=about,
            sentence=sentence,
            basis=basis,
            settle=settle,
            undecided=undecided,
        )


def check(
    id: str,
    *,
    title: str,
    about: tuple[str, ...],
    holds_from: date | None = None,
    holds_to: date | None = None,
) -> Callable[[Callable[[Snapshot], Iterable[Finding]]], Check]:
    """Return a decorator that makes a `Check` of the function beneath it.

    Args: id, never reused; title, completing "Checked: …"; about, the paths of the inputs, with `*`
        for the place in a list; holds_from and holds_to, the days between which it is in force.
    """

    def made(look: Callable[[Snapshot], Iterable[Finding]]) -> Check:
        return Check(
            id=id, title=title, about=about, look=look, holds_from=holds_from, holds_to=holds_to
        )

    return made


class RunState(StrEnum):
    """What became of one check."""

    AGREED = gettext_noop("looked and agreed")
    FOUND = gettext_noop("found something")
    NOT_RUN = gettext_noop("could not look")
    NOTHING = gettext_noop("nothing to look at")


@dataclass(frozen=True, kw_only=True)
class Run:
    """One check's outcome; "looked and agreed" is never said of what had nothing to look at."""

    id: str
    title: str
    about: tuple[str, ...]
    state: RunState
    why: str = ""
    needs: tuple[str, ...] = ()  # names of the facts for want of which alone it could not look


@dataclass(frozen=True, kw_only=True)
class Report:
    """All findings, heaviest first, and what became of every check."""

    findings: tuple[Finding, ...]
    runs: tuple[Run, ...] = field(default=())

    def must_be_explained(self) -> tuple[Finding, ...]:
        """Return the findings that the signer has to explain."""
        return tuple(f for f in self.findings if f.severity.must_be_explained)


def run_all(snapshot: Snapshot, checks: Iterable[Check]) -> Report:
    """Return the report of every check that holds on the record's day.

    A fact that several checks lack is reported once, with the names of all that wait for it and
    with the law that asks for it.
    """
    findings: list[Finding] = []
    runs: list[Run] = []
    waiting: dict[str, tuple[str, list[str]]] = {}
    quantities: set[str] = set()
    day = snapshot.local_day()
    for one in checks:
        if not one.holds_on(day):
            continue
        state, why = RunState.AGREED, ""
        needs: tuple[str, ...] = ()
        found: list[Finding] = []
        try:
            # One by one: what was found before a fact lacked is kept.
            for finding in one.look(snapshot):
                found.append(finding)
        except OutOfRange as refusal:
            found.append(_out_of_range(one, refusal))
        except NothingToLookAt as nothing:
            (why,) = nothing.args
            state = RunState.NOTHING
        except CannotRun as lack:
            state, why = RunState.NOT_RUN, lack.why
            quantities |= lack.quantities
            for path, name in lack.needs.items():
                waiting.setdefault(path, (name, []))[1].append(one.title)
            if lack.needs:
                needs = tuple(lack.needs.values())
                why = msg("needs {facts}", facts=joined(", ", lack.needs.values()))
        if found:
            findings += found
            state = RunState.FOUND
        runs.append(
            Run(id=one.id, title=one.title, about=one.about, state=state, why=why, needs=needs)
        )
    asked = {
        finding.about: finding
        for finding in findings
        if finding.code == RECORD_ELEMENTS and finding.about in waiting
    }
    findings = [finding for finding in findings if finding not in asked.values()]
    findings += [
        _missing(path, name, titles, asked.get(path), quantity=path in quantities)
        for path, (name, titles) in waiting.items()
    ]
    findings.sort(key=lambda f: (f.severity.rank, f.code, f.about))
    return Report(findings=tuple(findings), runs=tuple(runs))


def severity_of(outcome: Outcome, look_again: bool) -> Severity | None:
    """Return how heavy it is that a setting and its evidence compare so; None: nothing to say."""
    if outcome is Outcome.DISAGREES:
        return Severity.MISMATCH
    return Severity.CAUTION if look_again or outcome is Outcome.UNDECIDED else None


def _out_of_range(one: Check, refusal: OutOfRange) -> Finding:
    return one.finding(
        Severity.MISMATCH,
        about=one.about[0].partition(".*")[0],
        sentence=msg(
            "Cannot look at {title}, because an entry cannot be true: {refusal}",
            title=one.title,
            refusal=out_of_range(refusal),
        ),
        basis=msg("The range in which the computation holds"),
        settle=msg("Correct the entry that is out of range."),
        undecided=True,
    )


def _missing(
    path: str, name: str, titles: list[str], law: Finding | None, *, quantity: bool
) -> Finding:
    different = list(dict.fromkeys(titles))
    more = len(different) - MAX_NAMED
    checks = joined("; ", different[:MAX_NAMED])
    needed = msg("Needed by: {checks}", checks=checks)
    if more > 0:
        needed = msg("Needed by: {checks}; and {more} more", checks=checks, more=more)
    blank: str = msg("Left blank: {name}.", name=name)
    settle: str = msg("Enter {name}.", name=name)
    if quantity:
        settle = joined(" ", (settle, msg("If it was not measured, answer so and say why.")))
    basis: str = needed
    if law is not None:
        blank = joined(" ", (blank, law.sentence))
        grounds = msg("Stands on: {basis}", basis=law.basis)
        basis = joined(" " if law.basis.endswith(".") else ". ", (grounds, needed))
    return Finding(
        code=FACT_MISSING,
        severity=Severity.MISSING,
        about=path,
        sentence=blank,
        basis=basis,
        settle=settle,
    )
