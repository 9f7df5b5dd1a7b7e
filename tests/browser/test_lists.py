"""The office narrows the book, sorts it, turns its pages and takes it away as a file."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import DESK, PHONE

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_the_book_is_narrowed_sorted_turned_and_taken_away(
    open_page: Callable[..., Page], size: dict[str, int]
) -> None:
    page = open_page("wren", size=size)
    page.goto("/book/")
    page.get_by_role("link", name="Narrow and sort").click()
    page.get_by_label("State").select_option("signed")
    page.get_by_label("In the order of").select_option("field")
    page.get_by_role("button", name="Show").click()
    page.wait_for_url(re.compile(r"state=signed.*sort=field"))
    fields = page.locator("td[data-label=Field] a").all_inner_texts()
    assert len(fields) == 50
    assert fields == sorted(fields)

    page.get_by_role("link", name="Next page").click()
    page.wait_for_url(re.compile("after="))
    assert "state=signed" in page.url
    saved = page.url
    rest = page.locator("td[data-label=Field] a").all_inner_texts()
    assert rest[0] >= fields[-1]

    page.get_by_role("link", name="Page before").click()
    page.wait_for_url(re.compile("before="))
    assert page.locator("td[data-label=Field] a").all_inner_texts() == fields

    page.goto(saved)  # the address is the whole state of the page
    assert page.locator("td[data-label=Field] a").all_inner_texts() == rest

    with page.expect_download() as file:
        page.get_by_role("link", name="as CSV").click()
    text = file.value.path().read_text("utf-8-sig")
    assert ",draft," not in text
    assert len({line.split(",")[0] for line in text.splitlines()[1:]}) == len(fields) + len(rest)

    page.get_by_role("link", name="Show all").click()
    expect(page.get_by_role("list", name="What the list is narrowed by")).to_have_count(0)
