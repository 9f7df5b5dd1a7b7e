"""The files of published values are whole, all used, and their sources are on the sources page."""

import math
import re
from pathlib import Path

import pytest

from tests.calc import vectors

CALC = Path(__file__).resolve().parents[2] / "calc"
TOPICS = sorted(path.stem for path in vectors.FOLDER.glob("*.csv"))
SOURCES_PAGE = (CALC / "SOURCES.md").read_text(encoding="utf-8")
KEYS = re.findall(r"^\| ([A-Z0-9][A-Za-z0-9.-]+) \|", SOURCES_PAGE, flags=re.MULTILINE)
CITED = re.compile(r"\[([A-Z][A-Z0-9]+(?:[.-][A-Z0-9]+)*)\]")


@pytest.mark.parametrize("topic", TOPICS)
def test_every_row_of_a_topic_is_run_by_the_tests_of_that_topic(topic: str) -> None:
    tests = (Path(__file__).parent / f"test_{topic}.py").read_text(encoding="utf-8")
    assert f'ids("{topic}")' in tests, f"no test walks the ids of {topic}.csv"
    assert f'check("{topic}", ' in tests, f"no test compares the rows of {topic}.csv"
    assert vectors.rows(topic), f"{topic}.csv is empty"


@pytest.mark.parametrize("topic", TOPICS)
def test_every_row_says_what_is_expected_how_closely_why_and_from_where(topic: str) -> None:
    for row in vectors.rows(topic):
        assert re.fullmatch(r"(EX|TRAP|TABLE)-[A-Z0-9-]+", row.id), row.id
        assert row.expected, row
        assert row.why_tolerance, row
        assert row.how_read, row
        if row.tolerance != "exact":
            assert math.isfinite(float(row.expected)), row
            assert 0.0 <= float(row.tolerance) < math.inf, row


@pytest.mark.parametrize("topic", TOPICS)
def test_every_row_names_its_source_and_every_key_is_on_the_sources_page(topic: str) -> None:
    for row in vectors.rows(topic):
        assert row.source, row
        assert set(CITED.findall(row.source)) <= set(KEYS), f"{row.id} of {topic}: {row.source}"


def test_a_trap_names_the_printed_error_that_it_refutes() -> None:
    refuted = {
        row.id
        for topic in TOPICS
        for row in vectors.rows(topic)
        if {"printed", "printed_size"} & row.inputs.keys()
    }
    examples = {example for topic in TOPICS for example in vectors.ids(topic)}
    assert refuted == {example for example in examples if example.startswith("TRAP-")}


def test_a_key_of_the_sources_page_is_defined_once() -> None:
    assert len(set(KEYS)) == len(KEYS)
    assert len(KEYS) == len(re.findall(r"^\| (?!key |---)", SOURCES_PAGE, flags=re.MULTILINE))


@pytest.mark.parametrize("module", sorted(CALC.glob("*.py")), ids=lambda path: path.stem)
def test_every_key_cited_in_a_module_is_on_the_sources_page(module: Path) -> None:
    cited = set(CITED.findall(module.read_text(encoding="utf-8"))) - {"N", "K"}
    assert cited <= set(KEYS), f"{module.name} cites {sorted(cited - set(KEYS))}"


def row(**changes: object) -> vectors.Row:
    given = {"expected": "4.7", "tolerance": "0.05", "inputs": {}, **changes}
    return vectors.Row(
        id="EX-0", unit="mph", why_tolerance="half a digit", source="[X]", how_read="", **given
    )


def test_a_value_outside_its_tolerance_fails() -> None:
    vectors.compare(row(), 4.714)
    with pytest.raises(AssertionError, match=r"got 4\.76"):
        vectors.compare(row(), 4.76)


def test_a_value_that_repeats_the_printed_error_fails() -> None:
    with pytest.raises(AssertionError, match="repeats the printed error"):
        vectors.compare(row(inputs={"printed": 4.71}), 4.7)


def test_a_word_must_match_to_the_letter() -> None:
    vectors.compare(row(expected="blue", tolerance="exact"), "blue")
    with pytest.raises(AssertionError, match="got Blue"):
        vectors.compare(row(expected="blue", tolerance="exact"), "Blue")


def test_a_value_that_is_no_number_fails_a_numeric_row() -> None:
    with pytest.raises(AssertionError, match="got nan"):
        vectors.compare(row(), math.nan)
    with pytest.raises(AssertionError, match="gave None"):
        vectors.compare(row(), None)
