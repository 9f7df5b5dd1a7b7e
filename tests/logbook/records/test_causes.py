"""One cause over the whole way: written by a person, found, folded, sealed, shown, told."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from logbook.catalog.models import CatchTest, Rig
from logbook.checks.causes import LIKELY_CAUSE
from logbook.facts.quantity import parse_answer
from logbook.records.reading.examine import examine
from logbook.records.sealing.sealed import read_seal
from tests.conftest import sealed_by, written

pytestmark = pytest.mark.django_db

USED = ("mix_used", "distance")


def alone(entry: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """Return an entry in which the settings alone say what was delivered."""
    products = [{**line, "total_used": "not measured: not read"} for line in entry["products"]]
    used = dict.fromkeys(USED, "not measured: not read")
    return {**entry, **used, "products": products, "loads": [], **changes}


def enter(actor: Any) -> Client:
    client = Client()
    client.force_login(actor.user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def grave(owner: Any, draft: Any) -> list[Any]:
    found = examine(actor=owner, record_id=draft.pk).report.findings
    graver = [one for one in found if one.severity.value in ("breach", "mismatch")]
    # That the field was sprayed twice on one day is no matter here.
    return [one for one in graver if not one.code.startswith("application")]


def test_the_job_before_names_a_mistyped_speed(owner: Any, entry: dict[str, Any]) -> None:
    slow = written(owner, alone(entry, speed="9.0 mph"))
    assert LIKELY_CAUSE not in {one.code for one in grave(owner, slow)}
    sealed_by(owner, written(owner, entry))
    (finding,) = grave(owner, slow)
    assert (finding.code, finding.about) == (LIKELY_CAUSE, "speed")
    assert "as on an earlier job of this rig" in finding.sentence


def test_it_costs_one_query_and_none_where_nothing_is_marked(
    owner: Any, entry: dict[str, Any]
) -> None:
    quiet, wrong = written(owner, entry), written(owner, alone(entry, speed="9.0 mph"))
    counts = []
    for draft in (quiet, wrong):
        with CaptureQueriesContext(connection) as asked:
            examine(actor=owner, record_id=draft.pk)
        jobs = [one["sql"] for one in asked if "ORDER BY" in one["sql"] and "LIMIT 3" in one["sql"]]
        counts.append(len(jobs))
    assert counts == [0, 1]


def test_what_follows_is_sealed_and_read_back(owner: Any, entry: dict[str, Any]) -> None:
    draft = written(owner, alone(entry, pressure="2.76 psi"))
    (finding,) = grave(owner, draft)
    assert (finding.code, finding.about) == (LIKELY_CAUSE, "pressure")
    seal = sealed_by(owner, draft, explained="The gauge shows bar; it was mistyped.")
    sealed = read_seal(seal.seal)
    (lead,) = [one for one in sealed.findings if one.code == LIKELY_CAUSE]
    assert [str(one.sentence) for one in lead.leads] == [str(one.sentence) for one in finding.leads]


def test_the_page_folds_what_follows_under_its_cause(owner: Any, entry: dict[str, Any]) -> None:
    draft = written(owner, alone(entry, pressure="2.76 psi"))
    page = enter(owner).get(reverse("record-edit", args=[draft.pk])).content.decode()
    assert "things that follow from it" in page
    assert re.search(r'href="#id_[^"]*pressure', page)


def test_a_rig_too_coarse_says_on_its_page_what_would_do(owner: Any, yard: Any) -> None:
    rig = Rig.objects.filter(business=owner.business).first()
    assert rig is not None
    address = reverse("shelf-item", args=["rigs", rig.pk])
    assert "too coarse" not in enter(owner).get(address).content.decode()
    rig.gauge_accuracy = parse_answer("15 psi", dimensions=("pressure",))
    rig.save()
    page = enter(owner).get(address).content.decode()
    assert "too coarse for a yardstick of 10 %" in page
    assert "A gauge good to within" in page
    CatchTest.objects.all().delete()
    assert "too coarse" in enter(owner).get(address).content.decode()
