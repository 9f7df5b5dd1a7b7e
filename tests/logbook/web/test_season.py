"""The season page: odd years, and narrowed by customer, field and product."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from tests import factories as make

pytestmark = pytest.mark.django_db


def page(browser: Client, **asked: str) -> str:
    answer = browser.get(reverse("season"), {"year": "2026", **asked})
    assert answer.status_code == 200
    return answer.content.decode()


YEARS = ["²", "٢٠٢٦", "9" * 5000, "-202", "20 6", "next", "1850", "1989", "2201"]


@pytest.mark.parametrize("year", YEARS)
def test_a_year_that_is_none_is_refused_by_name(year: str, browser: Client, signed: Any) -> None:
    answer = browser.get(reverse("season"), {"year": year})
    text = answer.content.decode()
    assert answer.status_code == 422
    assert f"“{year[:60]}" in text
    assert "is not taken for year; write a year from 1990 to 2200." in text
    assert f'name="year" inputmode="numeric" value="{year}"' in text
    assert "2752 fl oz" not in text


def test_a_refusal_keeps_what_else_was_asked(
    browser: Client, signed: Any, business: Any, stranger: Any
) -> None:
    idle = make.CustomerFactory(business=business, name="Idle Acres")
    asked = {
        "year": "1850",
        "customer": str(idle.pk),
        "product": "Leafkil",
        "q": "x",
        "sort": "field",
    }
    answer = browser.get(reverse("season"), asked)
    text = answer.content.decode()
    assert f'<option value="{idle.pk}" selected>Idle Acres</option>' in text
    assert "<option selected>Leafkil</option>" in text
    assert 'type="search" value="x"' in text
    assert '<option value="field" selected>' in text
    theirs = make.CustomerFactory(business=stranger.business, name="Not Ours")
    both = browser.get(reverse("season"), asked | {"customer": str(theirs.pk)}).content.decode()
    assert "is not taken for year;" in both
    assert "is not taken for customer;" in both
    assert "Not Ours" not in both


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


@pytest.mark.parametrize("name", ["season-csv", "season-xlsx"])
def test_no_file_comes_of_what_is_refused(
    name: str, browser: Client, signed: Any, stranger: Any
) -> None:
    theirs = make.CustomerFactory(business=stranger.business)
    for asked in ({"year": "1850"}, {"customer": "someone"}, {"customer": str(theirs.pk)}):
        answer = browser.get(reverse(name), asked)
        assert answer.status_code == 303
        (value,) = asked.values()
        assert f"“{value}” is not taken for" in browser.get(answer["Location"]).content.decode()


def test_a_customer_without_work_in_the_year_stays_asked_and_nothing_fits(
    browser: Client, signed: Any, business: Any
) -> None:
    idle = make.CustomerFactory(business=business, name="Idle Acres")
    text = page(browser, customer=str(idle.pk))
    assert "2752 fl oz" not in text
    assert f'<option value="{idle.pk}" selected>Idle Acres</option>' in text
    assert rows_of_file(browser, customer=str(idle.pk)) == []


def test_a_product_without_work_in_the_year_stays_asked_and_nothing_fits(
    browser: Client, signed: Any
) -> None:
    text = page(browser, product="Leafkil")
    assert "2752 fl oz" not in text
    assert "<option selected>Leafkil</option>" in text
    assert rows_of_file(browser, product="Leafkil") == []
    assert len(rows_of_file(browser)) == 1


def rows_of_file(browser: Client, **asked: str) -> list[list[str]]:
    answer: Any = browser.get(reverse("season-csv"), {"year": "2026", **asked})
    text = b"".join(answer.streaming_content).decode("utf-8-sig")
    return list(csv.reader(io.StringIO(text, newline="")))[1:]
