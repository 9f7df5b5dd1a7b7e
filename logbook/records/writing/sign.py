"""Signing: one durable transaction from draft to seal."""

from __future__ import annotations

import dataclasses
import platform
from collections.abc import Iterable, Iterator
from datetime import datetime
from functools import cache
from importlib.metadata import version
from typing import Any
from uuid import UUID

import pyproj
import shapely
import tzdata
from django.conf import settings
from django.db import transaction
from django.utils.translation import gettext as _

from logbook.accounts import journal
from logbook.accounts.rights import Actor, Right
from logbook.accounts.services import Confirmation
from logbook.checks.core import Finding, Severity
from logbook.errors.exceptions import Conflict, NotAllowed, Refused, RefusedInput
from logbook.facts.codec import to_json
from logbook.hashing import canonical, leaf_hash
from logbook.law.retention import kept
from logbook.localization.locale import localized, plain_english
from logbook.records.models import (
    ApplicationRecord,
    Chain,
    Explanation,
    Load,
    ProductLine,
    Seal,
    SealedName,
)
from logbook.records.names import sealed_names
from logbook.records.reading import duesheets
from logbook.records.reading.examine import Examination, look_at
from logbook.records.sealing import law, seals
from logbook.records.sealing.changes import changes_between
from logbook.records.sealing.differences import beside
from logbook.records.sealing.journaled import SEAL
from logbook.records.sealing.sealed import read_seal
from logbook.records.sealing.snapshot import FORMAT, with_everything
from logbook.records.writing.draft import draft_for_change

LEAST_EXPLANATION = 10
"""The fewest letters and digits in which something is said (our own measure, no source)."""


def sign(
    *,
    actor: Actor,
    record_id: UUID,
    revision: int,
    explanations: dict[str, str],
    confirmation: Confirmation,
    now: datetime,
    shown: str = "",
    carried_confirmed: bool = False,
) -> Seal:
    """Return the seal of the record: snapshot, findings, explanations, signer, versions of
    the software and its libraries.

    A breach or a missing fact does not stop an honest record, but the signer has to say something
    about each; what was said is sealed with it.

    Args: revision that the signer looked at; explanations by finding key; shown, the fingerprint
    of what the signer was shown: with it, a change of anything the record refers to is a Conflict;
    carried_confirmed, that what was taken over from another record and not touched is true here.
    Raises: NotAllowed; Refused if it is signed already or not there, or if the clock was set back
    since the last signature, for no seal says a time before that of the seal before it; Conflict if
    it changed since the signer looked; RefusedInput naming each finding that is not explained, and
    "carried".
    """
    actor.must(Right.SIGN)
    if confirmation.user != actor.user:
        raise NotAllowed(_("Only the person who gave the password or passkey can sign."))
    # durable: when this returns, the seal is on the disk, not in somebody else's transaction.
    with transaction.atomic(durable=True):
        return _sign(
            confirmation, actor, record_id, revision, explanations, now, shown, carried_confirmed
        )


def _sign(
    confirmation: Confirmation,
    actor: Actor,
    record_id: UUID,
    revision: int,
    explanations: dict[str, str],
    now: datetime,
    shown: str,
    carried_confirmed: bool,
) -> Seal:
    chain = _locked_chain(actor)
    now = journal.in_order(now, after=_last_sealed_at(chain))
    if draft_for_change(actor=actor, record_id=record_id).revision != revision:
        raise Conflict(_("The draft was changed since you looked at it; read it again, then sign."))
    # A load may be shared with a draft that is being saved now; its row is locked until the end.
    list(Load.objects.select_for_update().filter(uses__record_id=record_id).order_by("pk"))
    record = with_everything(ApplicationRecord.objects.filter(id=record_id)).get()
    seen = look_at(record)
    if why := hindrance(seen, now):
        raise Refused(why)
    if shown and shown != fingerprint(seen):
        raise Conflict(
            _(
                "A fact that this record refers to (a label, a field, a shared load) was changed "
                "since you looked at it; read it again, then sign."
            )
        )
    said = _said_about(seen, explanations, carried_confirmed)
    Explanation.objects.filter(record=record).delete()
    Explanation.objects.bulk_create(
        Explanation(record=record, finding=key, text=text) for key, text in said.items()
    )
    content = _content(confirmation, actor, seen, said, now)
    named = sealed_names(content["facts"])
    _keep_names(record, named, content["facts"])
    record.signed_at, record.carried = now, {}
    record.save(update_fields=["signed_at", "carried", *named])
    seal = seals.append(
        chain=chain,
        record=record,
        content=content,
        signer=actor.user,
        now=now,
    )
    for signed in (record.pk, record.amends_id):
        if signed:
            duesheets.refresh(record_id=signed)
    # Last, for the requests of guests wait for the journal's row.
    journal.append(SEAL, seal, beside=beside(record))
    return seal


def _keep_names(
    record: ApplicationRecord, named: dict[str, str | None], facts: dict[str, Any]
) -> None:
    """Copy the names of the facts, which are sealed next, beside the record and its lines."""
    for column, name in named.items():
        setattr(record, column, name)
    lines = list(record.products.all())
    for line, product in zip(lines, facts["products"], strict=True):
        line.sealed_product = product["name"]
    ProductLine.objects.bulk_update(lines, ["sealed_product"])
    searched = {one["id"]: one["name"] for one in (facts["customer"], facts["field"]) if one}
    searched |= {one["product_id"]: one["name"] for one in facts["products"]}
    SealedName.objects.bulk_create(
        (SealedName(business=record.business, of=of, name=name) for of, name in searched.items()),
        ignore_conflicts=True,
    )


def _locked_chain(actor: Actor) -> Chain:
    """Return the chain's row, locked: two signatures at once follow one another."""
    Chain.objects.get_or_create(business=actor.business)
    return Chain.objects.select_for_update().get(business=actor.business)


def _last_sealed_at(chain: Chain) -> datetime | None:
    last = Seal.objects.within(chain.business_id).filter(number=chain.last_number)
    found: datetime | None = last.values_list("sealed_at", flat=True).first()
    return found


def hindrance(seen: Examination, now: datetime) -> str:
    """Return why the record cannot be signed as it stands, "" when it can."""
    record = seen.record
    if record.set_aside_at:
        return _("This draft is set aside; bring it back to go on with it.")
    if record.field is None or not seen.snapshot.products:
        return _("A record needs its field and at least one product before it is signed.")
    if record.started_at is None:
        return _("A record needs the time the spraying started before it is signed.")
    if (record.finished_at or record.started_at) > now:
        return _("The spraying has not ended yet; a record is signed when the work is done.")
    return ""


def pending_changes(seen: Examination) -> tuple[str, ...]:
    """Return what an amendment changes of the sealed record, line by line; () for any other."""
    if seen.snapshot.amends is None or seen.record.amends is None:
        return ()
    before = read_seal(seen.record.amends.seal).snapshot
    return tuple(changes_between(before, seen.snapshot))


def fingerprint(seen: Examination) -> str:
    """Return a digest of all the facts that were shown, the shelf's and shared loads' included."""
    return leaf_hash(canonical(to_json(seen.snapshot)))


def _said_about(
    seen: Examination, explanations: dict[str, str], carried_confirmed: bool
) -> dict[str, str]:
    """Return the explanations that belong to a finding of this record.

    Raises: RefusedInput for each finding that has to be explained and is not, and for values taken
    over from another record that nobody touched or confirmed.
    """
    keys = {finding.key for finding in seen.report.findings}
    said = {key: text.strip() for key, text in explanations.items() if key in keys and text.strip()}
    refused = {
        finding.key: [why % {"least": LEAST_EXPLANATION, "finding": localized(finding.sentence)}]
        for finding, why in _not_explained(seen.report.must_be_explained(), said)
    }
    if seen.record.carried and not carried_confirmed:
        refused["carried"] = [_("Say that what was taken over is true of this job.")]
    if refused:
        raise RefusedInput(refused)
    return said


def _not_explained(
    findings: Iterable[Finding], said: dict[str, str]
) -> Iterator[tuple[Finding, str]]:
    """Yield the findings of which too little is said, or the same of a breach and of a blank."""
    of: dict[str, set[Severity]] = {}
    for finding in (findings := tuple(findings)):
        of.setdefault(_words(said.get(finding.key, "")), set()).add(finding.severity)
    for finding in findings:
        words = _words(said.get(finding.key, ""))
        if sum(map(str.isalnum, words)) < LEAST_EXPLANATION:
            yield finding, _("Say in a sentence why, in %(least)d letters or more: %(finding)s")
        elif len(of[words]) > 1:
            yield (
                finding,
                _(
                    "The same is said of a breach and of a blank. Say what holds of this one: "
                    "%(finding)s"
                ),
            )


def _words(text: str) -> str:
    return " ".join(text.casefold().split())


@cache
def libraries() -> dict[str, str]:
    """Return the version of each library that a figure or a day of a record depends on, by name."""
    return {
        "python": platform.python_version(),
        **{name: version(name) for name in ("holidays", "numpy", "pyproj", "shapely")},
        "geos": shapely.geos_version_string,
        "proj": pyproj.proj_version_str,
        "proj-data": pyproj.database.get_database_metadata("PROJ_DATA.VERSION") or "none",
        "tzdata": tzdata.IANA_VERSION,  # the release of the zone database, such as 2025b
    }


@plain_english()
def _content(
    confirmation: Confirmation,
    actor: Actor,
    seen: Examination,
    said: dict[str, str],
    now: datetime,
) -> dict[str, Any]:
    facts = seen.snapshot
    if facts.amends is not None:
        amends = dataclasses.replace(facts.amends, changes=pending_changes(seen))
        facts = dataclasses.replace(facts, amends=amends)
    longest = next(iter(kept(facts, recorded_at=now)), None)
    return {
        "format": FORMAT,
        "software": f"spray-logbook {settings.SOFTWARE_VERSION}",
        "libraries": libraries(),
        "sealed_at": now.isoformat(),
        "signer": {
            "id": str(actor.user.pk),
            "name": actor.user.name,
            "role": actor.role.value,
            "by": confirmation.by,
        },
        "facts": to_json(facts),
        "assessment": to_json(seen.assessment),
        "findings": to_json(list(seen.report.findings)),
        "runs": to_json(list(seen.report.runs)),
        "explanations": said,
        "law": law.keep(facts),
        "keep_until": longest and longest.until.isoformat(),
        "journal": journal.end_of(actor.business),
    }
