"""How a check asks for its facts: all that is blank is named together, a word is quoted."""

from __future__ import annotations

from typing import TypeVar

from logbook.checks.core import CannotRun, NothingToLookAt
from logbook.facts.messages import joined, msg, term
from logbook.facts.quantity import Absence, Answer, Nothing, Quantity
from logbook.facts.sets import NAMES

T = TypeVar("T")

_SAID = {
    Absence.NONE: msg("is given as none"),
    Absence.NOT_APPLICABLE: msg("is given as not applicable"),
    Absence.NOT_MEASURED: msg("was not measured"),
}


class Requirements:
    """Gathers the facts of one check and remembers which are blank and which are words.

    A check asks for all that it needs before it gives up, so that a person is told of all blanks at
    once; over a list it looks at what is there and calls `done` at the end.
    """

    def __init__(self) -> None:
        self._blank: dict[str, str] = {}
        self._words: dict[str, None] = {}
        self._quantities: set[str] = set()
        self._nothing = ""

    def fact(self, value: T | None, path: str, name: str = "") -> T | None:
        """Return `value`; a blank is remembered under its path and plain name."""
        if value is None:
            self._blank[path] = name or term(NAMES[path])
        return value

    def number(self, answer: Answer, path: str, name: str = "") -> Quantity | None:
        """Return the quantity entered; None, and remembered, for a blank or a word."""
        if isinstance(answer, Nothing):
            self.refuse(
                msg("{name} {said}", name=name or term(NAMES[path]), said=absence_words(answer))
            )
            return None
        if answer is None:
            self._quantities.add(path)
        return self.fact(answer, path, name)

    def further(self, value: object, path: str) -> None:
        """Go on where there is a value that no record has to have.

        Loads and the distance driven are further evidence: with them a record is checked against
        itself once more, without them it is whole.

        Raises: NothingToLookAt where it is blank.
        """
        if value is None:
            raise NothingToLookAt(
                msg("{name}, further evidence, was not entered", name=term(NAMES[path]))
            )

    def refuse(self, why: str) -> None:
        """Remember a reason, in words, why something cannot be looked at."""
        self._words[why] = None

    def nothing(self, why: str) -> None:
        """Remember that there is nothing to look at, and why; the first reason stands."""
        self._nothing = self._nothing or why

    def looked(self) -> None:
        """Take back that there is nothing to look at: something else was looked at."""
        self._nothing = ""

    def take(self, lack: CannotRun) -> None:
        """Remember all that another exception names."""
        self._blank |= lack.needs
        self._quantities |= lack.quantities
        if lack.why:
            self._words[lack.why] = None

    def lack(self, other: CannotRun | None = None) -> CannotRun:
        """Return the exception that names all that lacks, with what `other` names."""
        if other is not None:
            self.take(other)
        return CannotRun(
            needs=self._blank,
            why=joined("; ", self._words),
            quantities=frozenset(self._quantities),
        )

    def done(self) -> None:
        """Raise `lack` if anything lacks, NothingToLookAt if that is all there was to find out."""
        if self._blank or self._words:
            raise self.lack()
        if self._nothing:
            raise NothingToLookAt(self._nothing)


def absence_words(nothing: Nothing) -> str:
    """Return how a word reads behind the name of its fact: "was not measured: no meter"."""
    words = _SAID[nothing.kind]
    return msg("{words}: {reason}", words=words, reason=nothing.reason) if nothing.reason else words
