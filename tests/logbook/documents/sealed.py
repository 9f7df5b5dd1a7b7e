"""Sealed records out of pure facts: no database, but the seal's own hashes and JSON."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

from logbook.checks.assessment import RateLine, assess
from logbook.checks.core import Finding, Report, Severity, run_all
from logbook.checks.registry import CHECKS
from logbook.facts.codec import to_json
from logbook.facts.record import Snapshot
from logbook.records.sealing.sealed import SealedRecord
from logbook.records.sealing.seals import canonical, leaf_hash, link_hash
from tests.logbook.checks.build import given

SEALED_AT = datetime(2026, 6, 10, 22, 5, 9, tzinfo=UTC)
PREVIOUS = "5f" * 32


def seal(
    snapshot: Snapshot | None = None,
    /,
    *,
    number: int = 57,
    findings: Iterable[Finding] | None = None,
    explanations: dict[str, str] | None = None,
    **changes: Any,
) -> SealedRecord:
    """Return the sealed record of a snapshot with facts changed, as `given` changes them."""
    facts = given(snapshot, **changes)
    report: Report = run_all(facts, CHECKS)
    found = tuple(report.findings if findings is None else findings)
    said = explanations
    if said is None:
        said = {f.key: f"We saw it: {f.about}." for f in found if f.severity.must_be_explained}
    leaf = leaf_hash(canonical({"facts": to_json(facts), "number": number}))
    return SealedRecord(
        number=number,
        sealed_at=SEALED_AT,
        software="spray-logbook 1.0",
        signer_name="A. Lund",
        signer_role="applicator",
        snapshot=facts,
        assessment=assess(facts),
        findings=found,
        runs=report.runs,
        explanations=said,
        leaf=leaf,
        previous=PREVIOUS,
        link=link_hash(PREVIOUS, leaf),
    )


def finding(severity: str = "breach", **changes: Any) -> Finding:
    """Return a finding about the ground speed."""
    return Finding(
        **(
            {
                "code": "invented",
                "severity": Severity(severity),
                "about": "speed",
                "sentence": "The rig went at 6.0 mph.",
                "basis": "Common practice",
                "settle": "Measure the speed.",
            }
            | changes
        )
    )


def rate_line(**changes: Any) -> RateLine:
    """Return the carrier's line of a record that agrees."""
    return RateLine(
        **(
            {
                "subject": "carrier",
                "path": "planned_carrier",
                "unit": "gal/ac",
                "planned": 17.5,
                "label_min": 15.0,
                "label_max": 20.0,
                "delivered": 17.6,
                "expanded": 0.7,
                "against_planned": "agrees",
                "against_label": "agrees",
                "look_again": False,
                "basis": "Flow as rated.",
            }
            | changes
        )
    )
