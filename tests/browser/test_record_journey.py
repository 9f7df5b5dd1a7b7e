"""A person in a cab enters a record on a phone, sees a wrong speed, mends it, signs and prints."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from tests.browser.conftest import PASSWORD, explain_all

pytestmark = pytest.mark.browser


def answer(page: Page, name: str, value: str, unit: str) -> None:
    """Fill the number and choose the unit of one input."""
    page.fill(f"[name={name}_value]", value)
    page.select_option(f"[name={name}_unit]", unit)
    page.locator(f"[name={name}_unit]").blur()


def word(page: Page, name: str, said: str, reason: str = "") -> None:
    """Answer one input with a word instead of a number."""
    page.fill(f"[name={name}_value]", "")
    page.select_option(f"[name={name}_unit]", said)
    if reason:
        page.fill(f"[name={name}_reason]", reason)


def choose(page: Page, name: str, label: str) -> None:
    """Choose the option of a list that begins with these words."""
    option = page.locator(
        f"select[name={name}] option", has_text=re.compile(f"^{re.escape(label)}")
    )
    page.select_option(f"select[name={name}]", option.first.get_attribute("value"))


def saved(page: Page) -> None:
    """Wait until the window says that what stands in it is saved."""
    expect(page.locator("#saved")).to_have_text("Saved.")


def begin(page: Page) -> None:
    page.get_by_role("button", name="New record").click()
    page.wait_for_url(re.compile("/edit/$"))


def fill_the_record(page: Page, *, speed: str) -> None:
    """Enter one complete application: 40 acres at 15 gal/ac with a 110-degree 04 at 40 psi."""
    choose(page, "field", "North L")
    # The field has one crop this season, which the form chose; the person says that it is so.
    page.check("[name=carried-planting]")
    page.fill("[name=purpose]", "leaf disease in wheat")
    choose(page, "products-0-product", "Example Fungicide 250")
    answer(page, "products-0-planned_rate", "6.0", "fl oz/ac")
    answer(page, "products-0-total_used", "240", "fl oz")
    page.fill("[name=products-0-target]", "leaf spot")
    choose(page, "nozzle_set", "Flat fan 11004 on East rig")
    answer(page, "pressure", "40", "psi")
    answer(page, "speed", speed, "mph")
    answer(page, "boom_height", "20", "in")
    page.fill("[name=started_at]", "2026-07-08T09:30")
    page.fill("[name=finished_at]", "2026-07-08T10:20")
    choose(page, "applicator", "Orla")
    page.fill("[name=weather-0-read_at]", "2026-07-08T09:40")
    answer(page, "weather-0-wind_from", "240", "°")
    answer(page, "weather-0-wind_speed", "7", "mph")
    answer(page, "weather-0-gust", "9", "mph")
    answer(page, "weather-0-temperature", "72", "°F")
    answer(page, "weather-0-humidity", "55", "%")
    answer(page, "weather-0-cloud", "40", "%")
    answer(page, "weather-0-height", "40", "in")
    answer(page, "planned_carrier", "15", "gal/ac")
    answer(page, "treated_area", "40", "ac")
    answer(page, "mix_used", "601", "gal")
    word(page, "distance", "not measured", "the counter was off")


def test_a_wrong_speed_is_flagged_mended_signed_and_printed(
    open_page: Callable[..., Page],
) -> None:
    page = open_page("orla")
    begin(page)
    fill_the_record(page, speed="5.9")

    # 5940 × 0.40 gal/min / (5.9 mph × 20 in) = 20.1 gal/ac, a third more than the amounts used say.
    check = page.locator("#check")
    expect(check).to_contain_text("Ground speed, entered 5.9 mph, likely 7.8 mph")
    expect(check.locator(".finding-mismatch a")).to_have_attribute("href", "#id_speed_0")
    expect(page.locator("#tally")).to_contain_text("mismatch")

    answer(page, "speed", "7.9", "mph")
    # 5940 × 0.40 / (7.9 × 20) = 15.04 gal/ac; the catch test of these nozzles moves it a little.
    expect(check).to_contain_text(re.compile(r"Delivered 1[45]\.\d gal/ac"))
    expect(check.locator(".finding-mismatch")).to_have_count(0)
    expect(page.locator("#other-speed")).to_have_text("12.7 km/h")
    saved(page)

    page.get_by_role("button", name="Read through and sign").click()
    page.wait_for_url(re.compile("/sign/$"))
    explain_all(page, "As it was; looked at again on the day.")
    # The boom height was taken over and written by hand, the same: it is not asked about again.
    # What else stands there hangs on which journey sealed the last record of this field.
    carried = page.locator("section[aria-labelledby=title-carried]")
    if carried.count():
        expect(carried).not_to_contain_text("Boom height")
        carried.get_by_role("checkbox").check()
    page.fill("[name=password]", "not the password")
    page.get_by_role("button", name="Sign and seal").click()
    expect(page.get_by_text("Not signed: This is not your password.")).to_be_visible()
    page.fill("[name=password]", PASSWORD)
    page.get_by_role("button", name="Sign and seal").click()
    expect(page.get_by_text(re.compile("Signed and sealed as no. "))).to_be_visible()

    address = page.get_by_role("link", name="Print (PDF)").get_attribute("href")
    assert address
    paper = page.request.get(address)
    assert paper.headers["content-type"] == "application/pdf"
    text = " ".join(
        "\n".join(
            sheet.extract_text() for sheet in PdfReader(io.BytesIO(paper.body())).pages
        ).split()
    )
    for fact in (
        "North L",
        "Example Fungicide 250",
        "6.0 fl oz/ac",
        "240 fl oz",
        "leaf spot",
        "7.9 mph",
        "40 psi",
        "15 gal/ac",
        "40 ac",
        "601 gal",
        "2026-07-08",
        "09:30",
        "10:20",
        "not measured: the counter was off",
        "72 °F",
    ):
        assert fact in text, fact


def test_what_was_typed_survives_a_reload_and_a_lost_connection(
    open_page: Callable[..., Page],
) -> None:
    page = open_page("jens")
    begin(page)
    page.fill("[name=purpose]", "typed before the signal went")
    saved(page)
    page.reload()
    expect(page.locator("[name=purpose]")).to_have_value("typed before the signal went")
    page.context.set_offline(True)
    page.fill("[name=purpose]", "typed with no signal")
    expect(page.locator("#saved")).to_contain_text("No connection")
    page.context.set_offline(False)
    page.fill("[name=purpose]", "typed with no signal, then with")
    saved(page)
    page.reload()
    expect(page.locator("[name=purpose]")).to_have_value("typed with no signal, then with")


def test_what_cannot_be_read_is_said_beside_its_line_and_the_rest_is_saved(
    open_page: Callable[..., Page],
) -> None:
    page = open_page("orla")
    begin(page)
    answer(page, "speed", "fast", "mph")
    expect(page.locator("#error-speed")).to_have_text('"fast" is not a number; write it like 12.5.')
    expect(page.locator("#saved")).to_contain_text("Saved, but for what is marked")
    answer(page, "speed", "8", "mph")
    saved(page)
    expect(page.locator("#error-speed")).to_be_empty()


@pytest.mark.parametrize("pause_ms", [0, 450, 520, 560, 600, 700])
def test_a_button_pressed_while_the_page_saves_is_not_taken_for_somebody_else(
    open_page: Callable[..., Page], pause_ms: int
) -> None:
    page = open_page("orla")
    begin(page)
    page.locator("[name=note]").press_sequentially("typed to the end")
    page.wait_for_timeout(pause_ms)
    page.get_by_role("button", name="Another reading").click()
    expect(page.locator("[name=weather-1-read_at]")).to_be_visible()
    expect(page.locator("#form-errors")).to_be_empty()
    expect(page.locator("[name=note]")).to_have_value("typed to the end")


def test_what_is_typed_while_a_choice_draws_its_section_anew_is_kept(
    open_page: Callable[..., Page],
) -> None:
    page = open_page("orla")
    begin(page)

    first = [True]

    def slowly(route: Any) -> None:
        if not first:
            route.continue_()
            return
        first.clear()
        answer = route.fetch()
        page.wait_for_timeout(1500)
        route.fulfill(response=answer)

    page.route("**/check/", slowly)
    with page.expect_request("**/check/"):
        choose(page, "nozzle_set", "Flat fan 11004 on East rig")
    choose(page, "field", "North L")
    page.fill("[name=started_at]", "2026-07-08T09:30")
    choose(page, "applicator", "Orla")
    page.fill("[name=boom_height_value]", "20")
    # The answer to the choice of the field has come: its crops are there.
    expect(page.locator("select[name=planting] option")).not_to_have_count(1)
    expect(page.locator("[name=started_at]")).to_have_value("2026-07-08T09:30")
    expect(page.locator("[name=applicator]")).not_to_have_value("")
    with page.expect_response("**/check/"):
        page.fill("[name=purpose]", "and typed on")
    saved(page)
    page.reload()
    expect(page.locator("[name=started_at]")).to_have_value("2026-07-08T09:30")
    expect(page.locator("[name=applicator]")).not_to_have_value("")
    # What had been taken over is this person's word by then, the same as it was.
    expect(page.locator("[name=boom_height_value]")).to_have_value("20")
    expect(page.locator("[name=carried-boom_height]")).to_have_count(0)


def test_a_second_window_does_not_overwrite_the_first(open_page: Callable[..., Page]) -> None:
    page = open_page("orla")
    begin(page)
    other = page.context.new_page()
    other.goto(page.url)
    page.fill("[name=note]", "from the cab")
    saved(page)
    other.fill("[name=note]", "from the office")
    expect(other.locator("#form-errors")).to_contain_text("changed elsewhere")
    other.fill("[name=note]", "from the office, typed on")
    expect(other.locator("#saved")).to_contain_text("changed elsewhere")
    page.reload()
    expect(page.locator("[name=note]")).to_have_value("from the cab")


def test_a_helper_writes_drafts_but_cannot_sign(open_page: Callable[..., Page]) -> None:
    page = open_page("pip")
    begin(page)
    expect(page.get_by_role("button", name="Read through and sign")).to_have_count(0)
    answer_page = page.goto(page.url.replace("/edit/", "/sign/"))
    assert answer_page
    assert answer_page.status == 403


def test_without_javascript_the_same_form_saves_checks_and_adds_rows(
    open_page: Callable[..., Page],
) -> None:
    page = open_page("orla", java_script_enabled=False)
    begin(page)
    choose(page, "nozzle_set", "Flat fan 11004 on East rig")
    page.fill("[name=speed_value]", "7.9")
    page.select_option("[name=speed_unit]", "mph")
    page.fill("[name=pressure_value]", "40")
    page.select_option("[name=pressure_unit]", "psi")
    page.fill("[name=planned_carrier_value]", "15")
    page.select_option("[name=planned_carrier_unit]", "gal/ac")
    page.get_by_role("button", name="Another reading").click()
    expect(page.locator("[name=weather-1-read_at]")).to_be_visible()
    expect(page.locator("[name=speed_value]")).to_have_value("7.9")
    page.get_by_role("button", name="Save and check").click()
    expect(page.locator("#check")).to_contain_text(re.compile(r"Delivered 1[45]\.\d gal/ac"))
