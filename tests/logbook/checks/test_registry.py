"""The one list of checks: ids, inputs, tests, and the clean record on which all agree."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest

from logbook.checks import (
    amounts,
    delivery,
    droplets,
    entries,
    evidence,
    label,
    law,
    licence,
    nozzles,
    season,
    weather,
)
from logbook.checks.assessment import assess
from logbook.checks.core import Check, RunState, run_all
from logbook.checks.registry import CHECKS
from logbook.checks.requirements import NAMES
from tests.logbook.checks.build import clean, earlier, given, paths, q, training
from tests.walked import walked

HERE = Path(__file__).parent
MODULES = (
    delivery,
    droplets,
    nozzles,
    label,
    season,
    weather,
    licence,
    entries,
    evidence,
    amounts,
    law,
)
NEVER_UNABLE = {"usual-range", "load-order"}
"""Checks that need no fact: they look at what there is."""

BY_ID = [pytest.param(check, id=check.id) for check in CHECKS]
PATHS = set(paths(given(earlier=(earlier(),), applicator__trainings=(training(),))))


def test_every_check_looks_at_the_clean_record_and_agrees() -> None:
    report = run_all(clean(), CHECKS)
    assert report.findings == ()
    assert {run.id: run.why for run in report.runs if run.state is not RunState.AGREED} == {}
    assert len(report.runs) == len(CHECKS)


def test_ids_are_unique_and_readable() -> None:
    assert [one for one, times in Counter(check.id for check in CHECKS).items() if times > 1] == []
    assert [check.id for check in CHECKS if not re.fullmatch(r"[a-z]+(-[a-z]+)*", check.id)] == []


def test_no_check_of_a_topic_is_left_out() -> None:
    made = {one.id for module in MODULES for one in vars(module).values() if isinstance(one, Check)}
    assert made == {check.id for check in CHECKS}


@walked("check", BY_ID)
def test_every_check_looks_at_facts_that_exist(check: Check) -> None:
    assert set(check.about) - PATHS == set()


@walked("check", BY_ID)
def test_every_check_is_tested_speaking_silent_and_unable(check: Check) -> None:
    topic, name = next(
        (module.__name__.rpartition(".")[2], name)
        for module in MODULES
        for name, one in vars(module).items()
        if one is check
    )
    (file,) = HERE.rglob(f"test_{topic}.py")
    text = file.read_text()
    used = rf"\b({'{}'})\(\s*{topic}\.{name}\b"
    assert re.search(used.format("the|look"), text), f"{name} is never made to speak"
    if check.id not in NEVER_UNABLE:
        assert re.search(used.format("lack"), text), f"{name} is never seen unable to run"


def test_every_named_fact_exists() -> None:
    assert set(NAMES) - PATHS == set()


def test_titles_complete_a_sentence() -> None:
    assert [check.id for check in CHECKS if check.title.endswith(".")] == []


ANSWERS = (
    *(f"record__{name}" for name in ("treated_area", "planned_carrier", "pressure", "speed")),
    *(f"record__{name}" for name in ("boom_height", "duty", "density", "distance", "mix_used")),
    *(f"record__{name}" for name in ("band_width", "row_spacing")),
    *(f"products__{place}__{name}" for place in (0, 1) for name in ("planned_rate", "total_used")),
    *("rig__line_loss", "rig__line_loss_flow", "field__planted_size", "loads__0__used_here"),
    *(f"weather__0__{name}" for name in ("height", "wind_from", "wind_speed", "gust")),
    *(f"weather__0__{name}" for name in ("temperature", "humidity", "cloud")),
)
THINGS = (
    *("customer", "field", "crop", "applicator", "supervisor", "rig", "nozzle", "catch_test"),
    *("record__started_at", "record__finished_at", "products__0__label", "field__area_ha"),
)
LISTS = ("products", "loads", "weather", "earlier")


@pytest.mark.parametrize("pattern", ["broadcast", "banded", "directed"])
@walked(
    ("path", "value"),
    [
        *((path, q(text)) for path in ANSWERS for text in ("", "none", "not measured: no meter")),
        *((path, None) for path in THINGS),
        *((path, ()) for path in LISTS),
    ],
)
def test_no_blank_and_no_word_stops_the_run(path: str, value: object, pattern: str) -> None:
    snapshot = given(record__pattern=pattern, **{path: value})
    report = run_all(snapshot, CHECKS)
    assert len(report.runs) == len(CHECKS)
    assert len({finding.key for finding in report.findings}) == len(report.findings)
    assert all(finding.sentence.endswith(".") for finding in report.findings)
    assert assess(snapshot).lines


def test_nothing_at_all_is_a_list_of_blanks() -> None:
    nothing = dict.fromkeys((*ANSWERS[:11], *THINGS[:8], *THINGS[8:10]))
    report = run_all(given(**nothing, **dict.fromkeys(LISTS, ())), CHECKS)
    assert {finding.severity.value for finding in report.findings} == {"missing"}
