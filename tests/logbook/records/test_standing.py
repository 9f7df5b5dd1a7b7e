"""A blank of the shelf is explained once, on the shelf, and offered to each record it concerns."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from logbook.records.reading.examine import examine, standing
from logbook.records.sealing.sealed import read_seal
from tests.factories import PASSWORD
from tests.logbook.api.conftest import Caller

KEY = "fact-missing@rig.line_loss"
OFFERED = "the pressure port comes with the new boom (Rig 1, said on 2026-03-01)"


@pytest.fixture
def rig(yard: Any) -> Any:
    rig = yard.rig
    rig.name = "Rig 1"
    rig.line_loss = rig.line_loss_flow = None
    rig.blank_because = "the pressure port comes with the new boom"
    rig.blank_said_on = date(2026, 3, 1)
    rig.save()
    return rig


@pytest.fixture
def browser(owner: Any) -> Client:
    client = Client()
    client.force_login(owner.user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def test_what_the_shelf_says_is_offered_of_its_blanks_alone(
    owner: Any, rig: Any, clean_draft: Any
) -> None:
    seen = examine(actor=owner, record_id=clean_draft.pk)
    assert {key: one.text for key, one in standing(seen).items()}[KEY] == OFFERED
    assert all(key.startswith("fact-missing@rig.") for key in standing(seen))
    rig.blank_because, rig.blank_said_on = "", None
    rig.save()
    assert standing(examine(actor=owner, record_id=clean_draft.pk)) == {}


def test_the_page_of_signing_shows_it_unfolded_with_where_it_is_from_and_seals_it(
    owner: Any, rig: Any, clean_draft: Any, browser: Client
) -> None:
    address = reverse("record-sign", args=[clean_draft.pk])
    page = browser.get(address).content.decode()
    assert f">{OFFERED}</textarea>" in page
    assert "As the shelf says of Rig 1, since 2026-03-01." in page
    assert '<details class="more" id="to-fill" open>' in page
    keys = [one.key for one in examine(actor=owner, record_id=clean_draft.pk).report.findings]
    sent = {f"explain:{key}": OFFERED for key in keys}
    sent |= {"revision": str(clean_draft.revision), "password": PASSWORD}
    # Nothing is sealed by itself: what the signer strikes out is asked for.
    struck = browser.post(address, sent | {f"explain:{KEY}": ""})
    assert struck.status_code == 422
    assert browser.post(address, sent).status_code == 302
    clean_draft.refresh_from_db()
    assert read_seal(clean_draft.seal).explanations[KEY] == OFFERED


def test_the_api_offers_it_with_the_findings(owner: Any, rig: Any, clean_draft: Any) -> None:
    served = Caller(owner.user).get(f"records/{clean_draft.pk}/check/").json()
    assert served["offered"][KEY] == OFFERED


def test_a_reason_and_its_day_belong_together(rig: Any) -> None:
    rig.blank_said_on = None
    with pytest.raises(ValidationError) as refused:
        rig.full_clean()
    assert list(refused.value.message_dict) == ["blank_said_on"]


def test_it_costs_no_query(owner: Any, rig: Any, clean_draft: Any) -> None:
    seen = examine(actor=owner, record_id=clean_draft.pk)
    with CaptureQueriesContext(
        connection,
    ) as asked:
        assert standing(seen)
    assert len(asked) == 0
