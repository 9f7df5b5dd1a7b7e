"""A walk looks at every case and names each that fails."""

from __future__ import annotations

import inspect
from typing import Any

import pytest

from tests.walked import walked


def test_every_case_that_fails_is_named_with_its_place_and_the_walk_goes_on() -> None:
    seen = []

    @walked(("a", "b"), [(1, 2), pytest.param(3, 3, id="equal"), (5, 6), (4, 4)])
    def unequal(a: int, b: int) -> None:
        seen.append(a)
        assert a != b

    with pytest.raises(pytest.fail.Exception) as told:
        unequal()
    assert seen == [1, 3, 5, 4]
    text = str(told.value)
    assert text.startswith("2 of 4 cases fail\n--- case equal\n")
    assert "--- case 4-4\n" in text
    assert text.count("assert a != b") == 2
    assert text.count(f'File "{__file__}"') == 2


def test_what_should_have_been_raised_and_was_not_is_a_failure_too() -> None:
    @walked("value", [0, 1])
    def divides(value: int) -> None:
        with pytest.raises(ZeroDivisionError):
            _ = 1 / value

    with pytest.raises(pytest.fail.Exception, match="1 of 2 cases fail\n--- case 1\n"):
        divides()


def test_fixtures_and_further_parameters_are_still_asked_for() -> None:
    @walked("value", [1])
    def test(tmp_path: Any, value: int, kind: str) -> None:
        """Say what it is."""

    assert list(inspect.signature(test).parameters) == ["tmp_path", "kind"]
    assert (test.__name__, test.__doc__) == ("test", "Say what it is.")


def test_a_walk_without_a_case_is_refused() -> None:
    with pytest.raises(AssertionError, match="has no case"):

        @walked("value", [])
        def test(value: int) -> None: ...
