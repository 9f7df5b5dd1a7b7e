"""What the API answers is what its schema says, whatever it is sent.

Schemathesis makes up requests from the schema: its examples, the edges of every bound, wrong
types, verbs and names, and sequences of calls; each answer passes all its checks.
Run with `pytest -m contract tests/contract`.
"""

from __future__ import annotations

import json
import os
import uuid
from datetime import date
from typing import Any

import pytest
import schemathesis
from django.core.handlers.wsgi import WSGIHandler
from hypothesis import HealthCheck, settings, strategies
from hypothesis.stateful import run_state_machine_as_test
from schemathesis import GenerationMode
from schemathesis.config import SchemathesisConfig
from schemathesis.generation.meta import TestPhase

from logbook.api.fields import FIRST_YEAR, LAST_YEAR
from logbook.api.schema import the_schema

pytestmark = [pytest.mark.contract, pytest.mark.django_db]

EXAMPLES = 5
"""So many made-up requests per operation, beside those that cover the bounds one by one."""

WHOLE = bool(os.environ.get("CONTRACT_WHOLE"))
FIRST, THEN_EACH = 60, 12
"""Of the requests that cover the bounds (thousands, for a record or a label) the first so many are
sent, and then each so-many-th: always the same ones. With CONTRACT_WHOLE=1 all are, in some twenty
minutes; do that after a change of the schema."""

SEQUENCES, STEPS = 15, 6
"""So many sequences of calls, and so many calls in each."""

CONFIG = SchemathesisConfig.from_dict(
    {
        "generation": {
            "deterministic": True,
            "max-examples": EXAMPLES,
            "database": "none",
            # No text of ours holds a NUL; the reference says so, a schema cannot for each.
            "allow-x00": False,
        },
        # A body of the right shape can contradict itself or what is there (422), name a revision
        # that has passed (412), or none, neither in If-Match nor in the body (428): no schema can
        # say which ones will.
        "checks": {
            "positive_data_acceptance": {
                "expected-statuses": ["2xx", "401", "403", "404", "409", "412", "422", "428"]
            }
        },
    }
)

# The schema says by a pattern which years are taken; made-up days are of those, not one in fifty.
DAYS = strategies.dates(date(FIRST_YEAR, 1, 2), date(LAST_YEAR, 12, 30))
schemathesis.openapi.format("date", DAYS.map(date.isoformat))
schemathesis.openapi.format("date-time", DAYS.map(lambda day: f"{day}T07:30:00Z"))

schema = schemathesis.openapi.from_dict(json.loads(json.dumps(the_schema())), config=CONFIG)
schema.app = WSGIHandler()

PLAIN = {"Accept-Encoding": "identity"}
"""The test client unpacks nothing."""

FIXTURES = [HealthCheck.function_scoped_fixture, HealthCheck.too_slow]


def aim(case: Any, book: Any) -> None:
    """Let every second well-formed address be of a row that is there."""
    if case.meta is None or case.meta.generation.mode is not GenerationMode.POSITIVE:
        return
    for name, there in (("record_id", book.record.pk), ("row_id", book.row.pk)):
        given = (case.path_parameters or {}).get(name)
        if given and uuid.UUID(str(given)).int % 2:
            case.path_parameters[name] = str(there)


@schema.parametrize()
@settings(suppress_health_check=FIXTURES, deadline=None)
def test_every_operation_answers_as_described(case: Any, book: Any) -> None:
    place = next(book.cases)
    covers = case.meta is not None and case.meta.phase.name is TestPhase.COVERAGE
    if covers and place > FIRST and place % THEN_EACH and not WHOLE:
        return
    aim(case, book)
    case.call_and_validate(headers=book.token | PLAIN)


def test_sequences_of_calls_answer_as_described(book: Any) -> None:
    """Follow the links of the schema: a draft is made, read, written, checked, signed, amended."""

    class Calls(schema.as_state_machine()):  # type: ignore[misc]
        def get_call_kwargs(self, case: Any) -> dict[str, Any]:
            aim(case, book)
            return {"headers": book.session | PLAIN}

    run_state_machine_as_test(
        Calls,
        settings=settings(
            max_examples=SEQUENCES,
            stateful_step_count=STEPS,
            derandomize=True,
            database=None,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )


def test_the_schema_links_what_follows_from_a_draft() -> None:
    links = schema.raw_schema["paths"]["/api/v1/records/"]["post"]["responses"]["201"]["links"]
    operations = {link.get("operationId") for link in links.values()}
    assert {"records_retrieve", "records_check_retrieve", "records_sign_create"} <= operations
