"""The page and the paper of a record have the same labels in the same order, and the same marks."""

from __future__ import annotations

import re
from html import unescape
from typing import Any

import pytest
from django.template.loader import render_to_string

from logbook.checks.assessment import assess
from logbook.checks.core import Finding
from logbook.documents.ledger import Fact, Ledger
from logbook.documents.page import Sheet
from logbook.documents.record import lay_out
from logbook.facts.record import Snapshot
from logbook.sections.document import Document
from logbook.sections.lines import document
from tests.logbook.checks.build import given
from tests.logbook.documents.sealed import finding, seal
from tests.logbook.documents.test_record import full, nothing

LABELS = (
    r"<h2[^>]*>(.*?)</h2>|<dt[^>]*>(.*?)</dt>|<th [^>]*>(.*?)</th>"
    r'|<span class="ledger-label">(.*?)</span>'
)


def shown(s: Snapshot, findings: tuple[Finding, ...] = ()) -> Document:
    return document(s, assess(s), findings=findings)


def html(s: Snapshot, *findings: Finding) -> str:
    """Return the sections of the page."""
    return render_to_string("book/_sections.html", {"shown": shown(s, findings)})


def on_page(s: Snapshot) -> list[str]:
    """Return titles and labels of the page in their order."""
    return [unescape("".join(found)) for found in re.findall(LABELS, html(s))]


def on_paper(s: Snapshot, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return titles and labels in the order in which the paper is laid out, up to the check."""
    labels: list[str] = []
    section, facts, table = Sheet.section, Ledger.facts, Sheet.table

    def noted_section(sheet: Sheet, title: str, **options: Any) -> None:
        labels.append(title)
        section(sheet, title, **options)

    def noted_facts(ledger: Ledger, lines: list[Fact], **options: Any) -> None:
        labels.extend(one.name for one in lines)
        facts(ledger, lines, **options)

    def noted_table(sheet: Sheet, columns: Any, rows: Any, **options: Any) -> None:
        labels.extend(text for one in columns for text in (one.title, one.head))
        labels.extend(row.cells[0][0].text.strip() for row in rows if row.spans)
        table(sheet, columns, rows, **options)

    monkeypatch.setattr(Sheet, "section", noted_section)
    monkeypatch.setattr(Ledger, "facts", noted_facts)
    monkeypatch.setattr(Sheet, "table", noted_table)
    lay_out(seal(s, amends=None), amended_by=(), paper="letter")
    return [label for label in labels[: labels.index("Check")] if label]


@pytest.mark.parametrize("facts", [full, nothing, given], ids=["rich", "empty", "usual"])
def test_page_and_paper_have_the_same_labels_in_the_same_order(
    facts: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    s = facts()
    labels = on_page(s)
    assert labels[:2] == ["Where", "Done by"]
    assert on_paper(s, monkeypatch) == labels


def test_the_rich_record_shows_more_than_the_empty_one() -> None:
    # The empty record still has every section but what was stated.
    titles = [section.title for section in shown(nothing()).sections]
    assert len(titles) == 7
    assert len(on_page(full())) > len(on_page(nothing())) + 25


@pytest.mark.parametrize(
    ("path", "where"),
    [
        ("speed", "ground speed"),
        ("row_spacing", "pattern"),
        ("rig.gauge_accuracy", "rig"),
        ("rig.line_loss_flow", "line loss"),
        ("applicator.licences.0", "sprayed by"),
        ("products", "What"),
        ("products.1.label.rate_max", "What, label"),
        ("products.0.total_used", "Amounts, total used"),
        ("planned_carrier", "Amounts, planned rate"),
        ("weather.2.gust", "Weather, gust"),
        ("weather.2", "Weather"),
        ("loads.1.used_here", "Loads, used here"),
        ("statements.rinsate-note", "Asked for by law"),
        ("elsewhere", ""),
    ],
)
def test_each_fact_is_found_in_its_line(path: str, where: str) -> None:
    assert shown(given()).where(path) == where


def test_bands_that_were_entered_have_lines_of_their_own() -> None:
    assert shown(full()).where("row_spacing") == "row spacing"


def test_a_finding_is_marked_once_and_the_heaviest_counts() -> None:
    found = (
        finding("breach", about="weather"),
        finding("caution", about="weather.0.gust"),
        finding("missing", about="rig.tank"),
        finding("caution", about="rig"),
    )
    page = html(given(), *found)
    assert page.count("mark-breach") == page.count("mark-missing") == 1
    # The caution about the rig stands behind the heavier mark of the same line.
    assert page.count("mark-caution") == 1
    cells = re.findall(r'<td data-label="(\w+)">\s*<span class="mark mark-(\w+)"', page)
    assert cells[:2] == [("Time", "breach"), ("Gust", "caution")]


def test_what_was_entered_is_escaped_on_the_page() -> None:
    page = html(given(customer__name="<b>Dahl</b>", customer__address="Box & 2\nFargo"))
    assert "&lt;b&gt;Dahl&lt;/b&gt;, Box &amp; 2, Fargo" in page
    assert "a<br>b" in html(given(record__note="a\nb"))
