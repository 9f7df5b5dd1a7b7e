"""A new business, from the sign-up to its first signed record, through pages alone."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import EXPECTED, PHONE, explain_all
from tests.browser.test_record_journey import answer, begin, choose, fill_the_record, saved

pytestmark = pytest.mark.browser

PASSWORD = "long-boom-over-wheat"
EMAIL = "first@newcomer.example"


@pytest.fixture
def visitor(chromium: Browser, site: str) -> Iterator[Page]:
    """A phone on which nobody is logged in; any error on the console fails the test."""
    context = chromium.new_context(viewport=PHONE, base_url=site)
    page = context.new_page()
    faults: list[str] = []

    def heard(message: Any) -> None:
        if message.type == "error" and not EXPECTED.search(message.text):
            faults.append(message.text)

    page.on("console", heard)
    page.on("pageerror", lambda error: faults.append(str(error)))
    yield page
    context.close()
    assert faults == []


def sign_up(page: Page) -> None:
    page.goto("/login/")
    page.get_by_role("link", name="Open a book for a new business").click()
    page.fill("[name=business_name]", "Newcomer Spraying")
    page.fill("[name=address]", "Box 4, Hollow Bend")
    page.fill("[name=licence_number]", "B-1")
    page.select_option("[name=time_zone]", "America/Chicago")
    page.fill("[name=name]", "Orla Newcomer")
    page.fill("[name=email]", EMAIL)
    page.fill("[name=password]", PASSWORD)
    page.fill("[name=password2]", PASSWORD)
    page.get_by_role("button", name="Open the book").click()
    expect(page.get_by_text("Newcomer Spraying has its book.")).to_be_visible()


def next_step(page: Page, name: str) -> None:
    """Follow the step that the page says is next."""
    link = page.locator(".next-step a")
    expect(link).to_have_text(name)
    link.click()
    page.wait_for_url(re.compile(r"/new/"))


def save(page: Page) -> None:
    page.locator("p.actions").get_by_role("button", name="Save", exact=True).click()
    expect(page.locator(".message-success")).to_contain_text("is written down")


def fill_the_shelf(page: Page) -> None:
    next_step(page, "Customer")
    page.fill("[name=name]", "Hollow Bend Farm")
    page.fill("[name=address]", "County road 9, Hollow Bend")
    save(page)

    next_step(page, "Field")
    choose(page, "customer", "Hollow Bend Farm")
    page.fill("[name=name]", "North L")
    page.fill("[name=place]", "US-ND")
    answer(page, "planted_size", "40", "ac")
    page.select_option("[name=locations-0-kind]", "address")
    page.fill("[name=locations-0-text]", "County road 9, 2 miles north of Hollow Bend")
    page.fill("[name=plantings-0-season]", "2026")
    page.fill("[name=plantings-0-crop]", "wheat")
    save(page)

    next_step(page, "Product")
    page.fill("[name=name]", "Example Fungicide 250")
    page.select_option("[name=kind]", "fungicide")
    page.fill("[name=registration_number]", "000-111")
    page.fill("[name=registrant]", "Nobody in particular")
    save(page)

    next_step(page, "Label edition")
    choose(page, "product", "Example Fungicide 250")
    page.fill("[name=edition]", "2026-01")
    page.fill("[name=in_force_from]", "2026-01-01")
    answer(page, "rate_min", "4", "fl oz/ac")
    answer(page, "rate_max", "8", "fl oz/ac")
    answer(page, "carrier_min", "10", "gal/ac")
    answer(page, "carrier_max", "20", "gal/ac")
    page.select_option("[name=finest_class]", "F")
    page.select_option("[name=coarsest_class]", "C")
    answer(page, "wind_max", "15", "mph")
    page.fill("[name=reentry_hours]", "12")
    page.fill("[name=preharvest_days]", "30")
    page.fill("[name=ingredients-0-name]", "examplazole")
    answer(page, "ingredients-0-content", "250", "g/L")
    save(page)

    next_step(page, "Nozzle model")
    page.fill("[name=name]", "Flat fan 11004")
    page.select_option("[name=kind]", "flat fan")
    answer(page, "rated_flow", "0.40", "gal/min")
    answer(page, "rated_pressure", "40", "psi")
    answer(page, "pressure_min", "15", "psi")
    answer(page, "pressure_max", "60", "psi")
    answer(page, "class_rows-0-pressure", "40", "psi")
    page.select_option("[name=class_rows-0-droplet_class]", "M")
    save(page)

    next_step(page, "Rig")
    page.fill("[name=name]", "East rig")
    answer(page, "tank", "800", "gal")
    answer(page, "spacing", "20", "in")
    page.fill("[name=nozzle_count]", "48")
    answer(page, "gauge_accuracy", "1", "psi")
    answer(page, "speed_accuracy", "0.1", "mph")
    save(page)

    next_step(page, "Nozzle set")
    choose(page, "rig", "East rig")
    choose(page, "nozzle", "Flat fan 11004")
    page.fill("[name=mounted_on]", "2026-05-01")
    save(page)

    next_step(page, "Catch test")
    choose(page, "nozzle_set", "Flat fan 11004 on East rig")
    page.fill("[name=tested_on]", "2026-05-02")
    page.fill("[name=tested_by]", "Orla Newcomer")
    answer(page, "pressure", "40", "psi")
    answer(page, "time", "60", "s")
    page.select_option("[name=volume_unit]", "mL")
    # 0.40 gal/min × 3785 mL/gal = 1514 mL in a minute.
    page.fill("[name=volumes]", " ".join(["1514", "1520", "1508", "1515", "1511", "1516"] * 8))
    save(page)

    next_step(page, "Person")
    page.fill("[name=name]", "Orla Newcomer")
    page.select_option("[name=user]", index=1)
    page.fill("[name=address]", "Box 4, Hollow Bend")
    page.fill("[name=licences-0-number]", "C-1")
    page.fill("[name=licences-0-authority]", "State agriculture department")
    page.fill("[name=licences-0-place]", "US-ND")
    page.fill("[name=licences-0-categories]", "agricultural")
    page.fill("[name=licences-0-valid_from]", "2025-04-01")
    page.fill("[name=licences-0-expires_on]", "2028-03-31")
    save(page)


def test_from_the_sign_up_to_the_first_signed_record(visitor: Page) -> None:
    page = visitor
    sign_up(page)
    fill_the_shelf(page)

    page.goto("/")
    expect(page.get_by_role("heading", name="Before the first record")).to_have_count(0)
    begin(page)
    fill_the_record(page, speed="7.9")
    # 5940 × 0.40 gal/min / (7.9 mph × 20 in) = 15.04 gal/ac.
    expect(page.locator("#check")).to_contain_text(re.compile(r"Delivered 1[45]\.\d gal/ac"))
    saved(page)
    assert page.locator("#check .finding-mismatch").all_inner_texts() == []
    assert page.locator("#check .finding-breach").all_inner_texts() == []

    page.get_by_role("button", name="Read through and sign").click()
    page.wait_for_url(re.compile("/sign/$"))
    explain_all(page, "The first record; looked at again on the day.")
    page.fill("[name=password]", PASSWORD)
    page.get_by_role("button", name="Sign and seal").click()
    expect(page.get_by_text(re.compile(r"Signed and sealed as no\. 1\b"))).to_be_visible()
    address = page.get_by_role("link", name="Print (PDF)").get_attribute("href")
    assert address
    paper = page.request.get(address)
    assert paper.headers["content-type"] == "application/pdf"
