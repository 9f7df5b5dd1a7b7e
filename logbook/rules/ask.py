"""How a check asks for its facts: all that is blank is named together, a word is quoted."""

from __future__ import annotations

from typing import TypeVar

from logbook.rules.core import CannotRun
from logbook.rules.quantity import Absence, Answer, Nothing, Quantity
from logbook.rules.said import joined, say

T = TypeVar("T")

NAMES = {
    "applicator": say("the applicator"),
    "band_width": say("the band width"),
    "boom_height": say("the boom height above the target"),
    "catch_test": say("the catch test"),
    "density": say("the density of the spray solution"),
    "distance": say("the distance driven with the boom on"),
    "duty": say("the pulse-width duty"),
    "field": say("the field"),
    "finished_at": say("the end of the spraying"),
    "loads": say("how the loads were mixed"),
    "mix_used": say("the mix used on this field"),
    "nozzle": say("the nozzle"),
    "nozzles_per_row": say("the number of nozzles per row"),
    "pattern": say("the pattern (broadcast, banded or directed)"),
    "planned_carrier": say("the planned carrier volume"),
    "pressure": say("the pressure at the gauge"),
    "products": say("the products"),
    "rig": say("the rig"),
    "rig.line_loss": say("the pressure lost between gauge and nozzle"),
    "rig.line_loss_flow": say("the boom flow at which the pressure loss was measured"),
    "row_spacing": say("the row spacing"),
    "speed": say("the ground speed"),
    "started_at": say("the start of the spraying"),
    "treated_area": say("the treated area"),
    "weather": say("the weather"),
}
"""The plain name of each single fact, as it stands in a sentence."""

_SAID = {
    Absence.NONE: say("is given as none"),
    Absence.NOT_APPLICABLE: say("is given as not applicable"),
    Absence.NOT_MEASURED: say("was not measured"),
}


class Asking:
    """Gathers the facts of one check and remembers which are blank and which are words.

    A check asks for all that it needs before it gives up, so that a person is told of all blanks at
    once; over a list it looks at what is there and calls `done` at the end.
    """

    def __init__(self) -> None:
        self._blank: dict[str, str] = {}
        self._words: dict[str, None] = {}
        self._quantities: set[str] = set()

    def fact(self, value: T | None, path: str, name: str = "") -> T | None:
        """Return `value`; a blank is remembered under its path and plain name."""
        if value is None:
            self._blank[path] = name or NAMES[path]
        return value

    def number(self, answer: Answer, path: str, name: str = "") -> Quantity | None:
        """Return the quantity entered; None, and remembered, for a blank or a word."""
        if isinstance(answer, Nothing):
            self.refuse(say("{name} {said}", name=name or NAMES[path], said=said(answer)))
            return None
        if answer is None:
            self._quantities.add(path)
        return self.fact(answer, path, name)

    def further(self, value: T | None, path: str) -> T | None:
        """Return `value`; a blank is a reason not to look, but no record has to have the fact.

        Loads and the distance driven are further evidence: with them a record is checked against
        itself once more, without them it is whole.
        """
        if value is None:
            self.refuse(say("{name}, further evidence, was not entered", name=NAMES[path]))
        return value

    def refuse(self, why: str) -> None:
        """Remember a reason, in words, why something cannot be looked at."""
        self._words[why] = None

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
        """Raise `lack` if anything lacks."""
        if self._blank or self._words:
            raise self.lack()


def said(nothing: Nothing) -> str:
    """Return how a word reads behind the name of its fact: "was not measured: no meter"."""
    words = _SAID[nothing.kind]
    return say("{words}: {reason}", words=words, reason=nothing.reason) if nothing.reason else words
