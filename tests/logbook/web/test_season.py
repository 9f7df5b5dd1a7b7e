"""The season page: odd years, and narrowed by customer, field and product."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

pytestmark = pytest.mark.django_db


def page(browser: Client, **asked: str) -> str:
    answer = browser.get(reverse("season"), {"year": "2026", **asked})
    assert answer.status_code == 200
    return answer.content.decode()


@pytest.mark.parametrize("year", ["²", "٢٠٢٦", "9" * 5000, "-202", "20 6", "1989", "2201"])
def test_a_year_that_is_none_is_this_year(year: str, browser: Client) -> None:
    assert "No signed record of" in page(browser, year=year)


def test_a_line_names_the_crop_and_leads_to_the_field(
    browser: Client, signed: Any, yard: Any
) -> None:
    text = page(browser)
    assert f'<a href="/shelf/fields/{yard.field.pk}/">North L</a>' in text
    assert '<td data-label="Crop">soybean</td>' in text


@pytest.mark.parametrize("word", ["north", "LEAF", "", " leafkill "])
def test_a_word_of_field_or_product_narrows(word: str, browser: Client, signed: Any) -> None:
    assert "2752 fl oz" in page(browser, q=word)


def test_what_has_not_the_word_is_left_out_and_the_word_is_kept(
    browser: Client, signed: Any
) -> None:
    text = page(browser, q="barley")
    assert "2752 fl oz" not in text
    assert "Nothing of 2026 is for this customer with that word." in text
    assert 'name="q" type="search" value="barley"' in text


def test_a_customer_narrows_and_stays_chosen(browser: Client, signed: Any, yard: Any) -> None:
    text = page(browser, customer=str(yard.customer.pk))
    assert "2752 fl oz" in text
    assert f'<option value="{yard.customer.pk}" selected>' in text


def test_a_customer_that_is_none_of_the_year_narrows_nothing(browser: Client, signed: Any) -> None:
    assert "2752 fl oz" in page(browser, customer="someone")
