"""One test that walks over many cases of one path; every case that fails is named."""

from __future__ import annotations

import inspect
import traceback
from collections.abc import Callable, Iterable
from typing import Any

import pytest


def walked(names: str | tuple[str, ...], cases: Iterable[Any]) -> Callable[[Any], Any]:
    """Return what turns a test of one case into a test of all of them, as `parametrize` is written.

    For cases by the hundred that differ in a value alone: each as a test of its own costs more than
    what it looks at. The walk goes on after a case that fails. What fixtures give is made once and
    shared, so a case must leave it as it was.
    """
    told = (names,) if isinstance(names, str) else tuple(names)
    whole = [_of(case, alone=len(told) == 1) for case in cases]

    def made(test: Any) -> Any:
        assert whole, f"{test.__name__} has no case"
        asked = inspect.signature(test)
        kept = [one for name, one in asked.parameters.items() if name not in told]

        def walk(*args: Any, **fixtures: Any) -> None:
            failed = []
            for values, name in whole:
                try:
                    test(*args, **fixtures, **dict(zip(told, values, strict=True)))
                except (Exception, pytest.fail.Exception) as bad:
                    told_of = traceback.format_exception(bad.with_traceback(_below(bad)))
                    failed.append(f"--- case {name}\n{''.join(told_of)}")
            if failed:
                said = f"{len(failed)} of {len(whole)} cases fail"
                pytest.fail("\n".join((said, *failed)), pytrace=False)

        walk.__name__, walk.__doc__, walk.__module__ = test.__name__, test.__doc__, test.__module__
        walk.__signature__ = asked.replace(parameters=kept)  # type: ignore[attr-defined]
        return walk

    return made


def _below(bad: BaseException) -> Any:
    """Return where it was raised, from the test on."""
    return bad.__traceback__ and bad.__traceback__.tb_next


def _of(case: Any, *, alone: bool) -> tuple[tuple[Any, ...], str]:
    """Return the values of a case, and its name."""
    if hasattr(case, "values") and hasattr(case, "marks"):  # a pytest.param
        values, name = tuple(case.values), case.id
    else:
        values, name = ((case,) if alone else tuple(case)), None
    return values, name or "-".join(str(one) for one in values)[:200]
