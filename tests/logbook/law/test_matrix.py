"""The duty sets against the matrix of the published laws, letter by letter.

fixtures/duty_matrix.csv: a row for each element, a column for each law, whose citation is
in the second row. R asked, wording seen; C asked under a condition, seen; r and c the same, from
memory; A advised; ? not settled by what was read; · not asked.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from logbook.facts.duty import Asked, DutySet, HowRead, Obligation, When
from logbook.law.elements import ELEMENTS
from tests.logbook.law.complete import SETS, STATE_TABLE

FILE = Path(__file__).parents[3] / "fixtures" / "duty_matrix.csv"
with FILE.open(encoding="utf-8", newline="") as _text:
    HEAD, CITATIONS, IDS, *ROWS = list(csv.reader(_text))
COLUMNS = HEAD[2:]
CITATION = dict(zip(COLUMNS, CITATIONS[2:], strict=True))
SETS_OF = {code: ids.split() for code, ids in zip(COLUMNS, IDS[2:], strict=True)}


def letter(one: DutySet, asked: Asked) -> str:
    """Return the letter by which the matrix would show the element of the set."""
    if asked.obligation is Obligation.ADVISED:
        return "A"
    if asked.obligation is Obligation.UNSETTLED:
        return "?"
    conditional = asked.when is not When.ALWAYS or asked.unless or asked.papers
    shown = "C" if conditional else "R"
    return shown.lower() if asked.how_read is HowRead.MEMORY else shown


def letters(code: str, names: list[str]) -> str:
    """Return the letter of a law for an element; a second set speaks of some products only."""
    first, *rest = (SETS[one] for one in SETS_OF[code])
    found = [letter(first, asked) for asked in first.elements if asked.name in names]
    if not found and any(asked.name in names for one in rest for asked in one.elements):
        return "C"
    return found[0] if found else "·"


@pytest.mark.parametrize("code", COLUMNS)
def test_a_law_asks_for_what_the_matrix_says(code: str) -> None:
    asked = {row[0]: letters(code, row[1].split()) for row in ROWS}
    printed = {row[0]: row[2 + COLUMNS.index(code)] for row in ROWS}
    assert asked == printed, CITATION[code]


def test_every_element_is_a_row_of_the_matrix_or_asked_by_a_further_state() -> None:
    names = [name for row in ROWS for name in row[1].split()]
    further = {
        name
        for row in STATE_TABLE.values()
        for key in ("asks", "in_some_case", "less_firm")
        for name in row[key].split()
    }
    assert len(ROWS) == 52
    assert len(set(names)) == len(names)
    assert set(names) | further == set(ELEMENTS)


def test_every_set_is_a_column_or_a_part_of_a_law_outside_the_matrix() -> None:
    # The statute 7 U.S.C. 136i-1, the parent regulation of the EU and the German way to count have
    # no column.
    in_matrix = {one for ids in SETS_OF.values() for one in ids}
    outside = {"us-7-usc-136i-1", "eu-1107-2009", "de"} | set(STATE_TABLE)
    assert set(SETS) - in_matrix == outside
    assert in_matrix <= set(SETS)


@pytest.mark.parametrize("code", COLUMNS)
def test_the_citations_are_those_of_the_sets(code: str) -> None:
    cited = "; ".join(SETS[one].citation for one in SETS_OF[code])
    for part in CITATION[code].split("; "):
        assert part in cited or part == "40 CFR 171.201"


def test_no_set_is_carried_for_a_law_that_could_not_be_confirmed() -> None:
    places = {one.place for one in SETS.values()}
    assert not places & {"CA-ON", "CA-AB", "CA-QC", "GB-NIR", "US-UT"}
