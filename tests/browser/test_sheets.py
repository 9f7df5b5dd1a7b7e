"""Bringing in by a sheet, as a person does it: a look with errors, the mended file, the list."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import DESK, PHONE
from tests.browser.test_access import RULES, Axe

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("javascript", [True, False], ids=["script", "no-script"])
def test_a_file_is_looked_at_mended_confirmed_and_listed(
    open_page: Callable[..., Page], javascript: bool
) -> None:
    page = open_page("orla", size=PHONE if javascript else DESK, java_script_enabled=javascript)
    page.goto("/shelf/customers/")
    page.get_by_role("link", name="Bring in customers from a file").click()
    mark = "Script" if javascript else "Plain"
    bad = f"name,address\n{mark} Creek Farm,\n{mark} Hill Farm,9 Way\n"

    def choose(text: str) -> None:
        page.get_by_label("File, CSV or .xlsx").set_input_files(
            {"name": "customers.csv", "mimeType": "text/csv", "buffer": text.encode()}
        )
        page.get_by_role("button", name="Look at it first").click()
        page.wait_for_url(re.compile("/sheets/files/"))

    choose(bad)
    expect(page.get_by_role("heading", name="The file cannot be brought in")).to_be_visible()
    expect(page.locator("table.rows")).to_contain_text("It is needed.")
    if javascript:
        assert Axe().run(page, options=RULES)["violations"] == []
    page.get_by_role("link", name="Choose a file").click()
    choose(bad.replace("Farm,\n", "Farm,12 Road\n"))
    if javascript:
        assert Axe().run(page, options=RULES)["violations"] == []
    page.get_by_role("button", name="Write 2 new customers").click()
    expect(page.get_by_text("2 new customers written")).to_be_visible()
    page.get_by_role("link", name="See the list").click()
    expect(page.get_by_role("link", name=f"{mark} Creek Farm")).to_be_visible()
