"""The run of all checks: findings by weight, blanks once, silence means looked and agreed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

import pytest

from calc.errors import OutOfRange
from logbook.checks.core import CannotRun, Check, Finding, RunState, Severity, check, run_all
from logbook.facts.record import Snapshot
from tests.logbook.checks.build import clean, given


def silent(_: Snapshot) -> list[Finding]:
    return []


def speaking(severity: Severity) -> Check:
    @check(f"says-{severity.value}", title="something", about=("speed",))
    def one(_: Snapshot) -> Iterator[Finding]:
        yield one.finding(severity, about="speed", sentence="It is.", basis="A.", settle="B.")

    return one


def test_findings_come_heaviest_first() -> None:
    report = run_all(clean(), [speaking(severity) for severity in reversed(Severity)])
    assert [finding.severity for finding in report.findings] == list(Severity)
    assert {run.state for run in report.runs} == {RunState.FOUND}


def test_breach_and_missing_have_to_be_explained() -> None:
    report = run_all(clean(), [speaking(severity) for severity in Severity])
    assert [finding.severity for finding in report.must_be_explained()] == [
        Severity.BREACH,
        Severity.MISSING,
    ]


def test_a_finding_is_filed_under_its_check_and_its_input() -> None:
    (finding,) = run_all(clean(), [speaking(Severity.BREACH)]).findings
    assert finding.key == "says-breach@speed"
    assert finding.ground == "Stands on: A."


def test_silence_means_looked_and_agreed() -> None:
    (run,) = run_all(clean(), [Check(id="a", title="b", about=(), look=silent)]).runs
    assert (run.state, run.why) == (RunState.AGREED, "")


def test_a_blank_fact_is_reported_once_with_all_that_wait_for_it() -> None:
    def needs(_: Snapshot) -> list[Finding]:
        raise CannotRun(needs={"speed": "ground speed"})

    checks = [Check(id=name, title=f"look {name}", about=(), look=needs) for name in "ab"]
    report = run_all(clean(), checks)
    (finding,) = report.findings
    assert finding.severity is Severity.MISSING
    assert finding.key == "fact-missing@speed"
    assert finding.sentence == "Left blank: ground speed."
    assert finding.ground == finding.basis == "Needed by: look a; look b"
    assert finding.settle == "Enter ground speed."
    assert [run.why for run in report.runs] == ["needs ground speed"] * 2
    assert {run.state for run in report.runs} == {RunState.NOT_RUN}


def test_of_many_waiting_checks_three_are_named() -> None:
    def needs(_: Snapshot) -> list[Finding]:
        raise CannotRun(needs={"speed": "ground speed"}, quantities=frozenset({"speed"}))

    checks = [Check(id=name, title=f"look {name}", about=(), look=needs) for name in "abcde"]
    (finding,) = run_all(clean(), checks).findings
    assert finding.basis == "Needed by: look a; look b; look c; and 2 more"
    assert finding.settle == ("Enter ground speed. If it was not measured, answer so and say why.")


def test_a_word_keeps_a_check_from_running_and_is_no_finding() -> None:
    def told(_: Snapshot) -> list[Finding]:
        raise CannotRun(why="ground speed was not measured: no meter")

    report = run_all(clean(), [Check(id="a", title="b", about=(), look=told)])
    assert report.findings == ()
    assert report.runs[0].state is RunState.NOT_RUN
    assert report.runs[0].why == "ground speed was not measured: no meter"


def test_what_was_found_before_a_fact_lacked_is_kept() -> None:
    @check("half", title="both halves", about=("speed",))
    def half(_: Snapshot) -> Iterator[Finding]:
        yield half.finding(Severity.BREACH, about="speed", sentence="S.", basis="B.", settle="C.")
        raise CannotRun(needs={"pressure": "pressure at the gauge"})

    report = run_all(clean(), [half])
    assert [finding.code for finding in report.findings] == ["half", "fact-missing"]
    assert report.runs[0].state is RunState.FOUND
    assert report.runs[0].why == "needs pressure at the gauge"


def test_an_entry_that_cannot_be_true_is_found_and_stops_no_other_check() -> None:
    @check("refuses", title="the air", about=("weather.*.humidity", "speed"))
    def refuses(_: Snapshot) -> Iterator[Finding]:
        raise OutOfRange("humidity", 140.0, "between 0 and 100 %")
        yield  # the function is a generator, as most checks are

    report = run_all(clean(), [refuses, speaking(Severity.CAUTION)])
    first, second = report.findings
    assert first.about == "weather"
    assert first.undecided
    assert first.sentence == (
        "Cannot look at the air, because an entry cannot be true: "
        "humidity is 140; it must be between 0 and 100 %."
    )
    assert second.code == "says-caution"


@pytest.mark.parametrize(
    ("holds_from", "holds_to", "runs"),
    [
        (None, None, True),
        (date(2026, 6, 10), date(2026, 6, 10), True),
        (date(2026, 6, 11), None, False),
        (None, date(2026, 6, 9), False),
    ],
)
def test_a_record_is_judged_by_the_rules_of_its_own_day(
    holds_from: date | None, holds_to: date | None, runs: bool
) -> None:
    one = replace(speaking(Severity.BREACH), holds_from=holds_from, holds_to=holds_to)
    assert bool(run_all(clean(), [one]).runs) is runs


def test_a_record_without_a_day_is_judged_by_all_rules() -> None:
    undated = given(record__started_at=None, record__finished_at=None)
    one = replace(speaking(Severity.BREACH), holds_to=date(2000, 1, 1))
    assert run_all(undated, [one]).runs


def test_the_day_is_the_local_one_at_the_field() -> None:
    # 23:30 on 10 June in Chicago is 04:30 UTC on the 11th.
    late = clean().record.finished_at
    assert late is not None
    late = late.replace(day=11, hour=4, minute=30)
    assert given(record__finished_at=late).local_day() == date(2026, 6, 10)
    assert given(record__finished_at=late, field=None).local_day() == date(2026, 6, 11)
