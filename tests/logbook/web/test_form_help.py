"""Each quantity of the form has its own help beside it; the sections keep the other words."""

from __future__ import annotations

import re
from typing import Any

from django.test import Client

from logbook.quantities.inputs import AnswerFormField
from logbook.records.writing.help import HELP
from logbook.web.book.formview import Row


def rows(browser: Client, record: Any) -> list[Row]:
    answer = browser.get(f"/book/{record.pk}/edit/")
    found: list[Row] = answer.context["form"].all_rows()
    return found


def test_every_quantity_has_its_help(browser: Client, clean_draft: Any) -> None:
    measured = [
        row for row in rows(browser, clean_draft) if isinstance(row.bound.field, AnswerFormField)
    ]
    names = {"part" if row.name.startswith("part_") else row.name for row in measured}
    assert {"pressure", "wind_speed", "planned_rate", "used", "part", "treated_area"} <= names
    assert sorted(row.name for row in measured if not row.help) == []


def test_the_help_stands_in_the_row_and_names_it(browser: Client, clean_draft: Any) -> None:
    page = browser.get(f"/book/{clean_draft.pk}/edit/").text
    (row,) = re.findall(
        r'<div class="ledger-row[^>]*id="row-speed">.*?<div class="ledger-value', page, re.S
    )
    assert '<details class="meaning"><summary>Help<span class="for-reader">: ' in row
    assert "twice the speed lays down half the rate" in row
    # Once on the page: nothing is said again by the section.
    assert page.count("twice the speed lays down half the rate") == 1
    for section in HELP:
        for one in HELP[section]:
            assert str(one.word) in page
