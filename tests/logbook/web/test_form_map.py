"""The map of the field in the draft's form, drawn anew only when it would look otherwise."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from logbook.records.models import ApplicationRecord
from logbook.web.book import drawings
from tests import factories as make
from tests.logbook.web.posts import as_shown


@pytest.fixture
def edit(clean_draft: Any) -> str:
    return reverse("record-edit", args=[clean_draft.pk])


@pytest.fixture
def recheck(browser: Client, clean_draft: Any, edit: str) -> Callable[..., str]:
    """Return what the live re-check answers to the form as shown, but for what is changed."""

    def sent(**changed: str) -> str:
        address = reverse("record-check", args=[clean_draft.pk])
        return browser.post(address, as_shown(browser, edit) | changed).text

    return sent


def test_it_shows_boundary_places_and_the_wind_of_the_readings(
    browser: Client, business: Any, edit: str
) -> None:
    page = browser.get(edit).text
    where = page[page.index('id="section-where"') : page.index('id="section-what"')]
    assert "Map of North L" in where
    # All four readings of the draft say 290°, which is WNW (22.5° a point, computed).
    assert "wind from WNW (290°)" in where
    assert "Long slough" in where  # the sensitive place of the yard


def test_without_a_boundary_a_line_says_where_to_enter_it(
    browser: Client, browser_of: Any, helper: Any, clean_draft: Any, edit: str
) -> None:
    type(clean_draft.field).objects.filter(pk=clean_draft.field_id).update(boundary=None)
    page = browser.get(edit).text
    assert "Map of" not in page
    address = reverse("shelf-edit", args=["fields", clean_draft.field_id])
    assert f'<a href="{address}#id_boundary">No boundary, so no map' in page
    assert 'id="id_boundary"' in browser.get(address).text
    page = browser_of(helper).get(edit).text  # who may not change the shelf
    assert "who keeps the shelf enters it" in page
    assert "#id_boundary" not in page


def test_without_a_field_nothing_is_said(browser: Client, owner: Any, business: Any) -> None:
    draft = make.ApplicationRecordFactory(business=business, field=None, customer=None)
    page = browser.get(reverse("record-edit", args=[draft.pk])).text
    assert 'id="field-map"' in page
    assert "Map of" not in page
    assert "No boundary" not in page


def test_a_recheck_that_changes_neither_field_nor_wind_draws_nothing(
    recheck: Callable[..., str], monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn: list[Any] = []
    real = drawings.field_map
    monkeypatch.setattr(drawings, "field_map", lambda **asked: drawn.append(asked) or real(**asked))
    page = recheck(speed_value="8.1")
    assert len(drawn) == 1  # by the page that the form was read from
    assert "field-map" not in page


def test_another_wind_draws_the_map_alone(recheck: Callable[..., str]) -> None:
    turned = {f"weather-{place}-wind_from_value": "180" for place in range(4)}
    page = recheck(**turned)
    assert re.search(r'<div id="field-map" hx-swap-oob="true">.*wind from S \(180°\)', page, re.S)
    assert 'name="wind_drawn" value="180"' in page
    assert 'id="section-where"' not in page


def test_another_field_draws_its_section_with_its_map(
    recheck: Callable[..., str], owner: Any, clean_draft: Any
) -> None:
    other = make.FieldFactory(business=owner.business, name="South L")
    page = recheck(field=str(other.pk))
    assert ApplicationRecord.objects.get(pk=clean_draft.pk).field_id == other.pk
    assert page.count('id="field-map"') == 1
    assert "Map of South L" in page
