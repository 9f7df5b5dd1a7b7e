"""A draft that was set aside in another window: what this window held is given back."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import DESK, PHONE
from tests.browser.test_access import faults_of_shown

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_the_window_says_so_and_the_button_gives_it_back(
    open_page: Callable[..., Page], size: dict[str, int]
) -> None:
    page = open_page("orla", size=size)
    page.get_by_role("button", name="New record").click()
    page.wait_for_url("**/edit/")
    other = page.context.new_page()
    other.goto(page.url.replace("/edit/", "/aside/"))
    other.fill("[name=reason]", "begun twice")
    other.get_by_role("button", name="Set this draft aside").click()
    other.wait_for_url("**/book/*/")
    long = "wet in the north end; " + "a-word-without-any-place-to-break-" * 4
    page.fill("[name=note]", long)
    page.fill("[name=speed_value]", "6.25")
    expect(page.locator("#saved")).to_have_text(
        "Not saved: this record was signed or set aside elsewhere."
    )
    expect(page.locator("#form-errors")).to_contain_text("bring it back to go on with it")
    assert page.input_value("[name=note]") == long
    page.get_by_role("button", name="Save and check").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Not saved")
    expect(page.locator("main")).to_contain_text(long)
    expect(page.locator("main")).to_contain_text("6.25 mph")
    assert faults_of_shown(page) == []
    page.get_by_role("button", name="Bring this draft back").click()
    page.wait_for_url("**/edit/")
