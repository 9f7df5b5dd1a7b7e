"""A farm manager audits what was sprayed; an inspector verifies the log and takes it on paper."""

from __future__ import annotations

import io
import re
from collections.abc import Callable

import pytest
from axe_core_python.sync_playwright import Axe
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from tests.browser.conftest import DESK, PHONE
from tests.browser.test_access import RULES

pytestmark = pytest.mark.browser


def printed(page: Page, name: re.Pattern[str]) -> str:
    """Return the words of the paper behind a link."""
    href = page.get_by_role("link", name=name).first.get_attribute("href")
    answer = page.request.get(str(href))
    assert answer.status == 200
    assert answer.headers["content-type"] == "application/pdf"
    return "\n".join(sheet.extract_text() for sheet in PdfReader(io.BytesIO(answer.body())).pages)


def well_made(page: Page) -> None:
    """The page is accessible by axe-core's rules, and not too wide."""
    assert Axe().run(page, options=RULES)["violations"] == []
    assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0


def test_a_farm_manager_audits_the_fields(open_page: Callable[..., Page], site: str) -> None:
    page = open_page("fern", size=PHONE)
    page.wait_for_url(re.compile("/audit/"))
    expect(page.locator(".guest")).to_contain_text("Orla Tamsin gave you this access")
    expect(page.locator("nav.questions a")).to_have_count(1)
    page.select_option("#field", label="North L, Kettle Farm (example)")
    page.fill("#year", "2026")
    page.get_by_role("button", name="Show").click()
    expect(page.locator("h1")).to_have_text("What was sprayed on your fields, 2026")
    titles = page.locator("article h3").all_inner_texts()
    assert titles
    assert all("North L" in title for title in titles)
    expect(page.locator("article").first).to_contain_text("Delivered")
    well_made(page)
    # From the page to the sealed record, its findings with what the signer said, and its paper.
    page.locator("article h3 a").first.click()
    expect(page.locator("h1")).to_contain_text("North L")
    well_made(page)
    assert "Kettle Farm (example)" in printed(page, re.compile("Print"))
    for closed in ("/book/", "/shelf/", "/season/", "/exchange/", "/access/"):
        answer = page.goto(closed)
        assert answer
        assert answer.status == 403
    # The business sees that it was looked at.
    owner = open_page("orla", size=DESK)
    owner.goto("/access/")
    well_made(owner)
    owner.goto("/access/visits/")
    expect(owner.locator("tbody")).to_contain_text("print: a record")
    expect(owner.locator("tbody")).to_contain_text("Fern Aldous")
    well_made(owner)


def test_an_inspector_verifies_the_log_and_prints_a_record(
    open_page: Callable[..., Page],
) -> None:
    page = open_page("ives", size=DESK)
    page.goto("/audit/?year=2026")
    expect(page.locator(".guest")).to_contain_text(
        "Why: Yearly look at the records of commercial applicators"
    )
    expect(page.locator("article").first).to_contain_text("Asked for by law")
    well_made(page)
    page.get_by_role("link", name="Verify the log, and see its seals").click()
    expect(
        page.locator(".notice", has_text=re.compile(r"The log holds: \d+ entries"))
    ).to_be_visible()
    well_made(page)
    paper = printed(page, re.compile(r"^Print no\. 65 "))
    assert "no. 65" in paper
    link = page.locator("tbody tr").first.locator(".hash").inner_text()
    assert link in "".join(paper.split())


def test_what_a_login_belongs_to_is_two_taps_away(open_page: Callable[..., Page]) -> None:
    page = open_page("fern", size=PHONE)
    page.get_by_role("link", name="Fern", exact=False).first.click()
    page.get_by_role("link", name="What this login belongs to").click()
    expect(page.locator("main")).to_contain_text("Example Custom Spraying: farm manager")
    well_made(page)
