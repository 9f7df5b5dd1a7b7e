"""Every page, on a phone in light and at a desk in dark: axe finds nothing, nothing is too wide.

axe-core's rules for WCAG 2.0 to 2.2, levels A and AA, from its package.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from axe_core_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.browser.conftest import DESK, PHONE

pytestmark = pytest.mark.browser

RULES = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
}
SHELF = (
    *("customers", "fields", "places", "products", "labels", "nozzles", "rigs", "nozzle-sets"),
    *("catch-tests", "people"),
)
SHEETS = ("customers", "fields", "products", "nozzles")
PLAN = (
    "/plan/?purpose=contact+herbicide&carrier_min_value=10&carrier_min_unit=gal/ac"
    "&carrier_max_value=20&carrier_max_unit=gal/ac&spacing_value=20&spacing_unit=in"
    "&speed_low_value=6&speed_low_unit=mph&speed_high_value=9&speed_high_unit=mph"
)


def addresses(page: Page) -> list[str]:
    """Return the pages to look at, with one row of each kind."""
    found = ["/", "/book/", "/book/?q=nothing-like-it", "/plan/", PLAN, "/season/?year=2026"]
    found += [
        "/book/?state=aside",
        "/season/?year=1999",
        "/season/totals/?from=2026-01-01&to=2026-12-31",
        "/shelf/",
    ]
    found += ["/deadlines/", "/deadlines/?show=late", "/deadlines/feed/"]
    found += ["/keeping/", "/keeping/?show=all", "/exchange/", "/you/language/"]
    found += ["/access/", "/access/give/", "/access/visits/", "/acting/", "/audit/?year=2026"]
    found += ["/audit/?year=1999", "/audit/log/", "/you/tokens/", "/api/v1/"]
    found += ["/shelf/history/", "/shelf/business/history/"]
    found += ["/members/", "/you/", "/you/password/", "/you/second-factor/"]
    page.goto("/members/")
    found.append(str(page.locator("table.rows tbody a").first.get_attribute("href")))
    found += [f"/exchange/sheets/{kind}/" for kind in SHEETS]
    found += ["/book/?q=field&sort=field", "/book/?year=26", "/book/narrow/", "/book/print/"]
    for state in ("draft", "signed"):
        page.goto(f"/book/?state={state}")
        link = page.locator("table.rows tbody a").first.get_attribute("href")
        found += [str(link), f"{link}duties/"]
        found += (
            [f"{link}{page_of}/" for page_of in ("edit", "sign", "wind", "pictures", "aside")]
            if state == "draft"
            else [f"{link}amend/", f"{link}purge/"]
        )
    page.goto("/")
    if page.locator("#start").count():  # else a job runs already
        page.locator("#start button").click()
        page.wait_for_url(re.compile("/job/[0-9a-f-]+/$"))
    else:
        page.locator(".field-line a[href*='/job/']").first.click()
    found += [page.url, page.url.replace("/job/", "/book/") + "wind/", "/", "/job/jobs/"]
    found.append("/job/fields/")
    for kind in SHELF:
        found += [f"/shelf/{kind}/", f"/shelf/{kind}/new/"]
        page.goto(f"/shelf/{kind}/")
        row = page.locator(f"a[href^='/shelf/{kind}/']").evaluate_all(
            "links => links.map(a => a.getAttribute('href'))"
        )
        item = next((href for href in row if re.search(r"[0-9a-f]{8}-[0-9a-f-]{27}/$", href)), None)
        assert item, f"no row on the shelf of {kind}"
        found += [item, f"{item}edit/", f"{item}history/"]
    return found


def faults(page: Page, address: str) -> list[str]:
    """Return what axe finds on a page, and whether it runs off the side."""
    answer = page.goto(address)
    assert answer
    refused = address == "/book/?year=26"
    assert answer.status == (422 if refused else 200), f"{address}: {answer.status}"
    return [f"{address}: {fault}" for fault in faults_of_shown(page)]


def faults_of_shown(page: Page) -> list[str]:
    """Return the same of the page as it stands."""
    # Opened, so that what is inside is looked at; inside a closed one axe measures stale places.
    page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
    report: dict[str, Any] = Axe().run(page, options=RULES)
    found = [
        f"{violation['id']}: {violation['nodes'][0]['html'][:160]}"
        for violation in report["violations"]
    ]
    wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    return found + ([f"{wide} px too wide"] if wide > 0 else [])


@pytest.mark.parametrize(
    ("size", "scheme"), [(PHONE, "light"), (DESK, "dark")], ids=["phone-light", "desk-dark"]
)
def test_every_page_is_accessible(
    open_page: Callable[..., Page], scheme: str, size: dict[str, int]
) -> None:
    page = open_page("orla", size=size, color_scheme=scheme)
    found = [fault for address in addresses(page) for fault in faults(page, address)]
    assert found == []


def test_the_login_and_a_page_that_is_not_there_are_accessible(
    open_page: Callable[..., Page],
) -> None:
    page = open_page("orla")
    page.context.clear_cookies()
    for address in ("/login/", "/sign-up/", "/reset/", "/reset/sent/", "/reset/MQ/used-up/"):
        assert faults(page, address) == []
    page.goto("/api/v1/")
    assert Axe().run(page, options=RULES)["violations"] == []


def test_the_form_is_used_by_keyboard_alone(open_page: Callable[..., Page]) -> None:
    page = open_page("orla", size=DESK)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the page"
    page.get_by_role("button", name="New record").focus()
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("/edit/$"))
    page.locator("[name=speed_value]").focus()
    page.keyboard.type("8")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.name") == "speed_unit"
