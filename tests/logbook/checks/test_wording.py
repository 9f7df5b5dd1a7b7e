"""Numbers, limits and reasons as they read in a sentence."""

from __future__ import annotations

import pytest

from logbook.checks.core import CannotRun
from logbook.checks.requirements import Requirements, absence_words
from logbook.facts.wording import bounds, by_step, inside, limits, listed, short_number, three
from tests.logbook.checks.build import q


@pytest.mark.parametrize(
    ("value", "words"),
    [(17.6321, "17.6"), (15.0, "15.0"), (0.30303, "0.303"), (1213.7, "1210"), (-2.0, "-2.00")],
)
def test_a_computed_number_has_three_figures(value: float, words: str) -> None:
    assert three(value) == words


@pytest.mark.parametrize(("value", "words"), [(15.0, "15"), (140.31, "140.3"), (12345.0, "12340")])
def test_a_limit_has_no_trailing_zeros(value: float, words: str) -> None:
    assert short_number(value) == words


def test_limits_read_as_the_label_prints_them() -> None:
    assert limits(q("15 gal/ac"), q("20 gal/ac")) == "15 to 20 gal/ac"
    assert limits(q("15 gal/ac"), q("190 L/ha")) == "15 gal/ac to 190 L/ha"
    assert limits(None, q("10 mph")) == "at most 10 mph"
    assert limits(q("3 mph"), None) == "at least 3 mph"
    assert limits(None, q("10 mph"), unit="km/h") == "at most 10 mph (16.1 km/h)"
    assert limits(None, q("10 mph"), unit="mph") == "at most 10 mph"
    assert limits(q("15 gal/ac"), q("190 L/ha"), unit="L/ha") == (
        "15 gal/ac (140 L/ha) to 190 L/ha"
    )
    assert limits(None, q("22 fl oz/ac"), unit="lb/ac") == "at most 22 fl oz/ac"
    assert bounds("15", "20", "gal/ac") == "15 to 20 gal/ac"


def test_a_single_rate_is_said_once() -> None:
    assert limits(q("1.5 pt/ac"), q("1.5 pt/ac")) == "1.5 pt/ac"
    assert limits(q("1.5 pt/ac"), q("1.5 pt/ac"), unit="L/ha") == "1.5 pt/ac (1.75 L/ha)"
    assert bounds("1.5", "1.5", "pt/ac") == "1.5 pt/ac"
    assert bounds("1.5", "1.5") == "1.5"


@pytest.mark.parametrize(
    ("half_width", "words"), [(2.0, "62"), (0.1, "62.3"), (10.0, "60"), (0.84, "62"), (0.0, "62.3")]
)
def test_a_reading_is_no_finer_than_its_instrument(half_width: float, words: str) -> None:
    assert by_step(62.34, half_width) == words


def test_a_limit_itself_is_allowed_in_either_unit() -> None:
    # 40 °F is 4.444… °C: a limit entered in one unit and a reading in the other meet exactly.
    assert inside(q("15 gal/ac"), q("15 gal/ac"), q("15 gal/ac"))
    assert inside(q("50 °F"), q("10 °C"), q("10 °C"))
    assert not inside(q("15.01 gal/ac"), None, q("15 gal/ac"))
    assert not inside(q("14.99 gal/ac"), q("15 gal/ac"), None)
    assert inside(q("14 gal/ac"), None, None)


def test_lists_name_each_thing_once() -> None:
    assert listed(["a", "b", "a", "c"]) == "a, b and c"
    assert listed(["a", "a"]) == "a"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("none", "is given as none"),
        ("not applicable", "is given as not applicable"),
        ("not measured: no meter", "was not measured: no meter"),
    ],
)
def test_a_word_reads_behind_the_name_of_its_fact(text: str, words: str) -> None:
    assert absence_words(q(text)) == words


def test_asking_names_all_that_lacks_at_once() -> None:
    ask = Requirements()
    assert ask.number(None, "speed") is None
    assert ask.number(q("not measured: no gauge"), "pressure") is None
    assert ask.fact(None, "products.0.label", "the label of X") is None
    with pytest.raises(CannotRun) as lack:
        ask.done()
    assert lack.value.needs == {"speed": "ground speed", "products.0.label": "the label of X"}
    assert lack.value.why == "pressure at the gauge was not measured: no gauge"


def test_asking_takes_over_what_another_lacks() -> None:
    ask = Requirements()
    ask.take(CannotRun(why="no catch test"))
    both = ask.lack(CannotRun(needs={"rig": "rig"}))
    assert (both.needs, both.why) == ({"rig": "rig"}, "no catch test")


def test_nothing_lacks_when_all_is_there() -> None:
    ask = Requirements()
    assert ask.number(q("6 mph"), "speed") == q("6 mph")
    ask.done()
