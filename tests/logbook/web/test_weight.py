"""Each page's first load (page, styles, scripts, drawings) is under 150 kB as it is served.

Pages are gzipped by the middleware and static files by whitenoise when they are collected, so the
sizes here are those of gzip, as production sends them to a browser with an empty cache.
"""

from __future__ import annotations

import gzip
import re
import uuid
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.contrib.staticfiles import finders
from django.utils import timezone

from logbook.accounts.grants import give_grant
from logbook.accounts.rights import Role
from logbook.records.reading.examine import examine
from logbook.records.writing.draft import begin_draft, save_draft
from logbook.records.writing.sign import sign
from logbook.web.audit import PER_PAGE
from tests import factories as make
from tests.conftest import NOW

LIMIT = 150_000
PAGES = (
    *("/", "/book/", "/book/?state=aside", "/plan/", "/season/?year=2026", "/shelf/"),
    *("/deadlines/", "/keeping/", "/exchange/", "/shelf/labels/new/", "/shelf/fields/new/"),
)


def first_load(client: Any, address: str) -> int:
    """Return how many bytes a browser with an empty cache fetches for a page."""
    answer = client.get(address, headers={"accept-encoding": "gzip"})
    assert answer.status_code == 200, address
    assert answer["Content-Encoding"] == "gzip", address
    html = gzip.decompress(answer.content).decode()
    total = len(answer.content)
    files = set(re.findall(r'(?:src|href)="/static/([^"]+)"', html))
    assert "book.css" in files
    for name in files:
        found = finders.find(name)
        assert isinstance(found, str), name
        total += len(gzip.compress(Path(found).read_bytes()))
    return total


@pytest.mark.parametrize("address", PAGES)
def test_a_page_is_small(browser: Any, address: str) -> None:
    assert first_load(browser, address) < LIMIT


def test_the_pages_of_a_record_are_small(browser: Any, signed: Any, owner: Any) -> None:
    assert first_load(browser, f"/book/{signed.pk}/") < LIMIT


def test_the_form_is_small(browser: Any, clean_draft: Any) -> None:
    for page in ("edit", "sign", "wind", "aside"):
        assert first_load(browser, f"/book/{clean_draft.pk}/{page}/") < LIMIT


def test_the_page_of_an_audit_is_small_when_it_is_full(
    owner: Any, yard: Any, entry: Any, confirmed: Any, browser_of: Any
) -> None:
    for _ in range(PER_PAGE + 1):
        draft = begin_draft(actor=owner, record_id=uuid.uuid4())
        draft = save_draft(actor=owner, record_id=draft.pk, revision=draft.revision, data=entry)
        sign(
            actor=owner,
            record_id=draft.pk,
            revision=draft.revision,
            explanations={
                finding.key: "Part of a trial on this field."
                for finding in examine(actor=owner, record_id=draft.pk).report.must_be_explained()
            },
            confirmation=confirmed(owner),
            now=NOW,
        )
    for role in (Role.FARM_MANAGER, Role.INSPECTOR):
        user, now = make.UserFactory(), timezone.now()
        give_grant(
            actor=owner,
            email=user.email,
            role=role,
            customer_ids=[yard.customer.pk],
            reason="A complaint about drift",
            ends_on=(now + timedelta(days=20)).date(),
            now=now,
        )
        guest = browser_of(user)
        page = guest.get("/audit/?year=2026").content.decode()
        assert "Page 1 of 2" in page, role
        assert first_load(guest, "/audit/?year=2026") < LIMIT, role
