"""Reading a seal: the record as it was sealed, whatever became of the rows it came from."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from functools import cache

from logbook.checks.assessment import Assessment, RateLine
from logbook.checks.core import Finding, Run
from logbook.facts.codec import from_json
from logbook.facts.record import Snapshot
from logbook.records.models import Seal


@dataclass(frozen=True, kw_only=True)
class SealedRecord:
    """All that one seal states."""

    number: int
    sealed_at: datetime
    software: str
    signer_name: str
    signer_role: str
    snapshot: Snapshot
    assessment: Assessment
    findings: tuple[Finding, ...]
    runs: tuple[Run, ...]
    explanations: dict[str, str]
    leaf: str
    previous: str
    link: str
    # The id of each duty set that spoke of it, and the digest of its text; None: sealed before.
    law: tuple[tuple[str, str], ...] | None = None
    # How the signer proved who it was; of a seal made before passkeys, by the password.
    signed_by: str = "password"
    # The version of each library that was computed with, by name; {}: sealed before.
    libraries: dict[str, str] = field(default_factory=dict)

    @property
    def computed_with(self) -> str:
        """The libraries, each with its version."""
        return ", ".join(" ".join(one) for one in self.libraries.items())


def read_seal(seal: Seal) -> SealedRecord:
    """Return what `seal` states, from its text alone."""
    content = json.loads(seal.text)
    return SealedRecord(
        number=content["number"],
        sealed_at=datetime.fromisoformat(content["sealed_at"]),
        software=content["software"],
        signer_name=content["signer"]["name"],
        signer_role=content["signer"]["role"],
        snapshot=from_json(content["facts"], Snapshot),
        assessment=from_json(content["assessment"], Assessment),
        findings=from_json(content["findings"], tuple[Finding, ...]),
        runs=from_json(content["runs"], tuple[Run, ...]),
        explanations=content["explanations"],
        leaf=seal.leaf,
        previous=seal.previous,
        link=seal.link,
        law=_law(content.get("law")),
        signed_by=content["signer"].get("by", "password"),
        libraries=content.get("libraries", {}),
    )


Rates = Callable[[], tuple[RateLine, ...]]
"""The lines of an assessment, read when they are asked for."""


def facts_of(seal: Seal) -> Snapshot:
    """Return the facts that a seal holds, which costs a third of reading all of it."""
    return facts_and_rates(seal.text)[0]


def facts_and_rates(text: str) -> tuple[Snapshot, Rates]:
    """Return the facts of a sealed text, and its rates as they were computed then."""
    content = json.loads(text)
    lines = content["assessment"]["lines"]
    return (
        from_json(content["facts"], Snapshot),
        cache(lambda: from_json(lines, tuple[RateLine, ...])),
    )


def _law(named: list[dict[str, str]] | None) -> tuple[tuple[str, str], ...] | None:
    return None if named is None else tuple((one["id"], one["digest"]) for one in named)
