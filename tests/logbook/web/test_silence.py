"""What the page says where no check speaks: never that all agreed while some could not look."""

from __future__ import annotations

from django.template.loader import render_to_string

from logbook.rules.core import Run, RunState
from logbook.web.book import present

AGREED = Run(id="a", title="the speed", about=(), state=RunState.AGREED)
BLIND = Run(id="b", title="the boom", about=(), state=RunState.NOT_RUN, why="needs the rig")


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
    assert "<li>the boom: needs the rig</li>" in text
    assert "Every check" not in text


def test_the_tally_counts_the_checks_that_could_not_look() -> None:
    text = page("_tally", [AGREED, BLIND])
    assert "1 could not look" in text
    assert "every check agrees" not in text
