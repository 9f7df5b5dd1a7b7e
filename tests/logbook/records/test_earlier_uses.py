"""Which sealed uses of a product a record is counted with: by day of the work, not by signing."""

from __future__ import annotations

import json
import uuid
from datetime import datetime
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from logbook.facts.record import EarlierUse
from logbook.records.reading.examine import examine
from logbook.records.writing.draft import begin_draft, save_draft
from logbook.records.writing.sign import sign
from tests import factories as make
from tests.conftest import said_of


def seen(owner: Any, entry: dict[str, Any], **times: datetime | None) -> tuple[EarlierUse, ...]:
    """Return the other uses that a draft with these times is counted with."""
    draft = begin_draft(actor=owner, record_id=uuid.uuid4())
    data = entry | {"weather": []} | times
    save_draft(actor=owner, record_id=draft.pk, revision=1, data=data)
    return examine(actor=owner, record_id=draft.pk).snapshot.earlier


def at(*parts: int) -> datetime:
    return datetime(*parts)  # noqa: DTZ001


@pytest.mark.parametrize(
    ("times", "counted"),
    [
        # The signed record ended on 12 June 2026.
        ({"started_at": at(2026, 7, 1, 8), "finished_at": at(2026, 7, 1, 9)}, True),
        ({"started_at": at(2026, 5, 1, 8), "finished_at": at(2026, 5, 1, 9)}, True),
        ({"started_at": at(2026, 1, 2, 8), "finished_at": at(2026, 1, 2, 9)}, True),
        ({"started_at": at(2026, 5, 1, 8), "finished_at": None}, True),
        ({"started_at": at(2025, 6, 1, 8), "finished_at": at(2025, 6, 1, 9)}, False),
    ],
)
def test_a_sealed_use_counts_before_and_after_the_day_of_the_work(
    owner: Any, entry: dict[str, Any], signed: Any, times: dict[str, Any], *, counted: bool
) -> None:
    found = seen(owner, entry, **times)
    assert bool(found) is counted
    assert {f"{use.applied_on}" for use in found} <= {"2026-06-12"}


def test_a_sealed_use_without_an_end_counts_by_its_start(
    owner: Any, entry: dict[str, Any], confirmed: Any, now: datetime
) -> None:
    draft = begin_draft(actor=owner, record_id=uuid.uuid4())
    saved = save_draft(
        actor=owner, record_id=draft.pk, revision=1, data=entry | {"finished_at": None}
    )
    report = examine(actor=owner, record_id=draft.pk).report
    sign(
        actor=owner,
        record_id=draft.pk,
        revision=saved.revision,
        explanations={
            one.key: said_of(one, "The end was not noted.") for one in report.must_be_explained()
        },
        confirmation=confirmed(owner),
        now=now,
    )
    times = {"started_at": at(2026, 7, 1, 8), "finished_at": at(2026, 7, 1, 9)}
    assert {f"{use.applied_on}" for use in seen(owner, entry, **times)} == {"2026-06-12"}


def test_what_was_used_counts_and_only_without_a_total_is_the_seal_read(
    owner: Any, entry: dict[str, Any], sealed_lines: Any
) -> None:
    # 3853.08 fl oz on 125.1 ac = 30.8 fl oz/ac (definition of a rate); the plan is 22.
    later = {"started_at": at(2026, 7, 1, 8), "finished_at": at(2026, 7, 1, 9)}
    sealed_lines(total_used=make.q("3853.08 fl oz"))
    (use,) = seen(owner, entry, **later)
    assert (str(use.rate), use.basis) == ("30.8 fl oz/ac", "total")
    lines = sealed_lines(total_used=None)
    (use,) = [one for one in seen(owner, entry, **later) if one.basis != "total"]
    assert use.basis == "delivered"
    assert use.rate is not None
    assert float(use.rate.value) == pytest.approx(lines[1]["delivered"], rel=1e-3)
    draft = begin_draft(actor=owner, record_id=uuid.uuid4())
    save_draft(actor=owner, record_id=draft.pk, revision=1, data=entry | {"weather": []} | later)

    def queries() -> int:
        with CaptureQueriesContext(connection) as found:
            examine(actor=owner, record_id=draft.pk)
        return len(found)

    queries()
    before = queries()
    for _ in range(2):
        sealed_lines(total_used=None)
    assert queries() == before


def test_without_total_and_setting_the_plan_counts(
    owner: Any, entry: dict[str, Any], sealed_lines: Any
) -> None:
    sealed_lines(total_used=None, record={"speed": None})
    later = {"started_at": at(2026, 7, 1, 8), "finished_at": at(2026, 7, 1, 9)}
    (use,) = seen(owner, entry, **later)
    assert (str(use.rate), use.basis) == ("22 fl oz/ac", "planned")


@pytest.fixture
def sealed_lines(owner: Any, entry: dict[str, Any], confirmed: Any, now: datetime) -> Any:
    """Return what signs a record with a changed line; it gives the rates that were sealed."""

    def made(record: dict[str, Any] | None = None, **changes: Any) -> list[dict[str, Any]]:
        draft = begin_draft(actor=owner, record_id=uuid.uuid4())
        lines = [{**entry["products"][0], **changes}]
        loads = [{**one, "parts": []} for one in entry["loads"]]
        data = entry | {"products": lines, "loads": loads, "weather": []} | (record or {})
        saved = save_draft(actor=owner, record_id=draft.pk, revision=1, data=data)
        report = examine(actor=owner, record_id=draft.pk).report
        seal = sign(
            actor=owner,
            record_id=draft.pk,
            revision=saved.revision,
            explanations={
                one.key: said_of(one, "So it was there.") for one in report.must_be_explained()
            },
            confirmation=confirmed(owner),
            now=now,
        )
        found: list[dict[str, Any]] = json.loads(seal.text)["assessment"]["lines"]
        return found

    return made


def test_a_job_resumed_is_told_from_another_job(
    owner: Any, entry: dict[str, Any], signed: Any
) -> None:
    from logbook.records.writing.resume import begin_resumption

    (other,) = seen(owner, entry, started_at=at(2026, 6, 13, 8), finished_at=at(2026, 6, 13, 9))
    assert not other.same_job
    rest = begin_resumption(actor=owner, record_id=signed.pk, new_id=uuid.uuid4())
    times = {"started_at": at(2026, 6, 13, 8), "finished_at": at(2026, 6, 13, 9)}
    save_draft(actor=owner, record_id=rest.pk, revision=rest.revision, data=times)
    (part,) = examine(actor=owner, record_id=rest.pk).snapshot.earlier
    assert part.same_job
    assert str(part.treated_area) == "125.1 ac"
