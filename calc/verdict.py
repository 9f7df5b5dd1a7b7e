"""The comparisons of `calc.limits`, until every caller names that module."""

from calc.limits import (  # noqa: F401
    CODES,
    DISAGREE,
    LOOK_AGAIN,
    OUTCOMES,
    ROUNDING,
    Comparison,
    Outcome,
    judge_target,
    judge_target_array,
    judge_within,
    judge_within_array,
    verdict_target,
    verdict_within,
)
