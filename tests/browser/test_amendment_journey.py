"""A person finds a mistake in a sealed record, corrects it by an amendment, and prints both."""

from __future__ import annotations

import io
import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from tests.browser.conftest import PASSWORD, explain_all
from tests.browser.test_record_journey import answer, saved

pytestmark = pytest.mark.browser


def printed(page: Page) -> str:
    """Return the text of the paper that the page's print button gives."""
    address = page.get_by_role("link", name="Print (PDF)").get_attribute("href")
    assert address
    body = page.request.get(address).body()
    return " ".join(" ".join(s.extract_text() for s in PdfReader(io.BytesIO(body)).pages).split())


def test_a_sealed_record_is_corrected_sealed_again_and_both_print(
    open_page: Callable[..., Page],
) -> None:
    page = open_page("orla")
    page.goto("/book/?state=signed")
    address = page.locator("table.rows tbody a").first.get_attribute("href")
    assert address
    page.goto(address)
    number = re.search(r"no\. (\d+)", page.locator("h1").inner_text())
    assert number
    page.get_by_role("link", name="Correct it by an amendment").click()
    page.fill("[name=reason]", "The boom height was mistyped.")
    page.locator("main form button.button").click()
    page.wait_for_url(re.compile("/edit/$"))
    expect(page.locator("h1")).to_contain_text(f"Amendment of no. {number[1]}")
    answer(page, "boom_height", "22", "in")
    saved(page)
    page.get_by_role("button", name="Read through and sign").click()
    page.wait_for_url(re.compile("/sign/$"))
    expect(page.locator("main")).to_contain_text("22 in")
    explain_all(page, "As it was; looked at again for the correction.")
    page.fill("[name=password]", PASSWORD)
    page.get_by_role("button", name="Sign and seal").click()
    expect(page.get_by_text(re.compile("Signed and sealed as no. "))).to_be_visible()
    amendment = printed(page)
    assert "The boom height was mistyped." in amendment
    assert f"no. {number[1]}" in amendment
    assert "22 in" in amendment
    page.goto(address)
    expect(page.get_by_text(re.compile(r"Corrected by no\. \d+"))).to_be_visible()
    expect(page.get_by_role("link", name="Correct it by an amendment")).to_have_count(0)
    assert re.search(r"(?i)corrected by|amended by|superseded", printed(page))
