"""What the page says where no check speaks: never that all agreed while some could not look."""

from __future__ import annotations

import uuid
from typing import Any

from django.template.loader import render_to_string
from django.test import Client
from django.urls import reverse

from logbook.checks.core import Run, RunState
from logbook.facts.messages import joined, msg
from logbook.records.writing.draft import begin_draft
from logbook.web.book import present

AGREED = Run(id="a", title="the speed", about=(), state=RunState.AGREED)
BLIND = Run(id="b", title="the boom", about=(), state=RunState.NOT_RUN, why="needs rig")


NOTHING = Run(id="n", title="the wind", about=(), state=RunState.NOTHING, why="the label is silent")


def page(template: str, runs: list[Run]) -> str:
    context = {"runs": runs, "findings": [], "tally": []}
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


def test_a_new_draft_folds_all_that_waits(browser: Client, owner: Any) -> None:
    draft = begin_draft(actor=owner, record_id=uuid.uuid4())
    text = browser.get(reverse("record-edit", args=[draft.pk])).content.decode()
    first = text.index("could not look; ")
    summary = text.index("checks wait for: products, ")
    assert ": needs " not in text[first:summary]
    assert "these nozzles have no catch test" not in text  # no nozzles are chosen
