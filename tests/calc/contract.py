"""What every formula of `calc` owes: it refuses bad values by name, and it broadcasts.

A contract names a function, arguments that work, and per argument the values it must refuse.
"""

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pytest

from calc.errors import OutOfRange

NOT_FINITE = (math.nan, math.inf, -math.inf)
NEGATIVE = (-1.0, *NOT_FINITE)
ZERO_OR_NEGATIVE = (0.0, *NEGATIVE)


@dataclass(frozen=True)
class Contract:
    function: Callable[..., Any]
    good: Mapping[str, Any]
    refused: Mapping[str, tuple[Any, ...]]
    scalars: tuple[str, ...] = field(default=())
    """Arguments that stay a float when the others are arrays."""


def positive_in_all(function: Callable[..., Any], **good: Any) -> Contract:
    return Contract(function, good, dict.fromkeys(good, ZERO_OR_NEGATIVE))


def refusals(contracts: Iterable[Contract]) -> list[Any]:
    return [
        pytest.param(
            each.function,
            {**each.good, name: value},
            name,
            value,
            id=f"{each.function.__name__}-{name}-{value}",
        )
        for each in contracts
        for name, values in each.refused.items()
        for value in values
    ]


def named(contracts: Iterable[Contract]) -> list[Any]:
    return [pytest.param(each, id=each.function.__name__) for each in contracts]


def assert_refused(function: Callable[..., Any], arguments: Mapping[str, Any], name: str) -> None:
    with pytest.raises(OutOfRange, match=rf"{name}.* is .*; it must be \S+") as refusal:
        function(**arguments)
    assert name in refusal.value.argument


def assert_broadcasts(contract: Contract) -> None:
    """Arrays give, element by element, what floats give; floats give a plain float."""
    steps = np.array([1.0, 0.999, 1.0])
    arrays = {
        name: value if name in contract.scalars else value * steps
        for name, value in contract.good.items()
    }
    together = _parts(contract.function(**arrays))
    for index in range(len(steps)):
        single = contract.function(
            **{
                name: value if name in contract.scalars else float(value[index])
                for name, value in arrays.items()
            }
        )
        for part, whole in zip(_parts(single), together, strict=True):
            assert type(part) is float
            assert isinstance(whole, np.ndarray)
            assert whole.shape == steps.shape
            assert whole[index] == pytest.approx(part, rel=1e-14, abs=1e-300)


def assert_refuses_one_bad_element(contract: Contract) -> None:
    for name, values in contract.refused.items():
        if name in contract.scalars:
            continue
        for value in values:
            good = contract.good[name]
            arguments = {**contract.good, name: np.array([good, value, good])}
            assert_refused(contract.function, arguments, name)


def _parts(result: Any) -> tuple[Any, ...]:
    return result if isinstance(result, tuple) else (result,)
