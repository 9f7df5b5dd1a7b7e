"""What the page says where no check speaks: never that all agreed while some could not look."""

from __future__ import annotations

import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.template.loader import render_to_string
from django.test import Client
from django.urls import reverse

from logbook.checks.core import Run, RunState
from logbook.facts.messages import joined, msg
from logbook.facts.quantity import Quantity
from logbook.records.reading.examine import examine
from logbook.records.writing.draft import begin_draft, save_draft
from logbook.web import present
from tests.factories import PASSWORD

AGREED = Run(id="a", title="the speed", about=(), state=RunState.AGREED)
BLIND = Run(id="b", title="the boom", about=(), state=RunState.NOT_RUN, why="needs rig")


NOTHING = Run(id="n", title="the wind", about=(), state=RunState.NOTHING, why="the label is silent")


def page(template: str, runs: list[Run]) -> str:
    context = {"runs": runs, "findings": [], "tally": [], "to_fill": []}
    return " ".join(render_to_string(f"book/{template}.html", context).split())


def test_only_when_every_check_looked_did_every_check_agree() -> None:
    assert present.silence([AGREED, AGREED]).words == "Every check looked and agreed."
    assert "✓ Every check looked and agreed." in page("_findings", [AGREED])
    assert "every check agrees" in page("_tally", [AGREED])


def test_checks_that_could_not_look_are_counted_and_named_with_their_reason() -> None:
    silence = present.silence([AGREED, BLIND, BLIND])
    assert silence.words == "1 check looked and agreed; 2 could not look:"
    text = page("_findings", [AGREED, AGREED, BLIND])
    assert "? 2 checks looked and agreed; 1 could not look:" in text
    assert "<li>the boom: needs rig</li>" in text
    assert "Every check" not in text


def test_a_check_that_had_nothing_to_look_at_is_not_said_to_agree() -> None:
    assert present.silence([AGREED, NOTHING]).words == "1 check looked and agreed."
    text = page("_findings", [AGREED, NOTHING])
    assert "1 check had nothing to look at." in text
    assert "the wind: nothing to look at (the label is silent)" in text
    assert "Every check" not in text
    tally = page("_tally", [AGREED, NOTHING])
    assert "nothing found" in tally
    assert "every check agrees" not in tally


def test_the_tally_counts_the_checks_that_could_not_look() -> None:
    text = page("_tally", [AGREED, BLIND])
    assert "1 could not look" in text
    assert "every check agrees" not in text


def waiting(*facts: str) -> Run:
    why = msg("needs {facts}", facts=joined(", ", facts))
    return Run(id="w", title="the rate", about=(), state=RunState.NOT_RUN, why=why, needs=facts)


STUCK = Run(id="c", title="the sun", about=(), state=RunState.NOT_RUN, why="no sunrise there")


def test_many_checks_that_wait_for_entries_are_one_line_and_the_others_stay_in_sight() -> None:
    runs = [waiting("rig"), *(waiting("field", "rig") for _ in range(3)), STUCK]
    silence = present.silence(runs)
    assert silence.in_sight == (STUCK,)
    assert silence.waits_for == "4 checks wait for: rig, field"
    text = page("_findings", runs)
    assert "5 could not look" in text
    before, folded = text.split("<details", maxsplit=1)
    assert "the sun: no sunrise there" in before
    assert "needs field, rig" not in before
    assert folded.count("the rate: needs field, rig") >= 3
    assert "5 could not look" in page("_tally", runs)


def test_a_few_that_wait_stand_in_sight() -> None:
    runs = [waiting("rig")] * 3
    assert present.silence(runs).folded == ()
    assert page("_silence", runs).count("<li>the rate: needs rig</li>") == 3


def test_of_many_entries_the_first_are_named_and_the_others_counted() -> None:
    runs = [waiting(*(f"fact {number}" for number in range(10)))] * 4
    assert present.silence(runs).waits_for.endswith("fact 7, and 2 more")


def test_a_seal_of_before_that_keeps_no_names_of_entries_has_each_check_in_sight() -> None:
    runs = [Run(id="d", title="x", about=(), state=RunState.NOT_RUN, why="needs a, b")] * 4
    assert present.silence(runs).in_sight == tuple(runs)


def text_of(browser: Client, name: str, draft: Any) -> str:
    return browser.get(reverse(name, args=[draft.pk])).content.decode()


@pytest.mark.parametrize("name", ["record-edit", "record"])
def test_a_new_draft_is_one_line_that_is_opened_on_request(
    browser: Client, owner: Any, name: str
) -> None:
    draft = begin_draft(actor=owner, record_id=uuid.uuid4())
    blanks = len(examine(actor=owner, record_id=draft.pk).report.findings)
    text = text_of(browser, name, draft)
    before, folded = text.split('id="to-fill"', maxsplit=1)
    folded, after = folded.split("</details>", maxsplit=1)
    assert f"{blanks} entries still to fill in" in folded.split("</summary>")[0]
    assert folded.count('class="finding finding-missing"') == blanks > 5
    # Nothing scolds outside of it: no mark in a margin, no finding, no check that merely waits.
    marks = before + after.split('class="foot-bar"')[0]
    assert "mark-missing" not in marks
    assert "finding-missing" not in marks
    assert "checks wait for" not in text
    assert "these nozzles have no catch test" not in text  # no nozzles are chosen


def test_what_contradicts_stands_above_what_is_blank(
    browser: Client, owner: Any, clean_draft: Any
) -> None:
    data = {"treated_area": None, "duty": Quantity(Decimal("0.6"), "%")}
    save_draft(actor=owner, record_id=clean_draft.pk, revision=clean_draft.revision, data=data)
    text = text_of(browser, "record-edit", clean_draft)
    before, after = text.split('id="to-fill"', maxsplit=1)
    assert "Was 60 % meant?" in before
    assert "Was 60 % meant?" not in after.split('id="looked-at"')[0]
    assert "1 entry still to fill in" in after


def test_the_page_of_signing_opens_the_blanks_where_a_reason_lacks(
    browser: Client, owner: Any, clean_draft: Any
) -> None:
    save_draft(
        actor=owner,
        record_id=clean_draft.pk,
        revision=clean_draft.revision,
        data={"treated_area": None},
    )
    assert '<details class="more" id="to-fill" open>' in text_of(
        browser, "record-sign", clean_draft
    )
    address = reverse("record-sign", args=[clean_draft.pk])
    refused = browser.post(address, {"revision": clean_draft.revision + 1, "password": PASSWORD})
    assert refused.status_code == 422
    assert '<details class="more" id="to-fill" open>' in refused.content.decode()


def test_a_sealed_record_shows_its_blanks_as_sealed(browser: Client, signed: Any) -> None:
    assert 'id="to-fill"' not in text_of(browser, "record", signed)
