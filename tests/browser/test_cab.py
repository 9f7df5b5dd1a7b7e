"""In the cab: values taken over, wind in two taps, no signal, a finding leading to its input."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.test_record_journey import begin, saved

pytestmark = pytest.mark.browser


def test_what_was_typed_without_a_signal_comes_back_after_the_page_was_lost(
    open_page: Callable[..., Page],
) -> None:
    page = open_page("jens")
    begin(page)
    page.fill("[name=purpose]", "typed with a signal")
    saved(page)
    address = page.url
    page.context.set_offline(True)
    page.fill("[name=purpose]", "typed with none")
    page.fill("[name=note]", "beside the hedge")
    expect(page.locator("#saved")).to_contain_text("No connection")
    page.close(run_before_unload=False)  # the phone drops the page
    page = page.context.new_page()
    page.context.set_offline(False)
    page.goto(address)
    expect(page.locator("[name=purpose]")).to_have_value("typed with a signal")
    expect(page.locator("#kept")).to_contain_text("typed with none")
    page.get_by_role("button", name="Put it back").click()
    expect(page.locator("[name=purpose]")).to_have_value("typed with none")
    saved(page)
    page.reload()
    expect(page.locator("[name=purpose]")).to_have_value("typed with none")
    expect(page.locator("[name=note]")).to_have_value("beside the hedge")
    expect(page.locator("#kept")).to_be_hidden()


def test_what_is_typed_while_the_database_is_busy_stays_and_is_saved_when_it_is_free(
    open_page: Callable[..., Page], book: Path
) -> None:
    page = open_page("jens")
    begin(page)
    other = sqlite3.connect(book, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    page.fill("[name=purpose]", "typed while somebody else writes")
    # The server waits 20 seconds for the other one.
    expect(page.locator("#saved")).to_contain_text(
        "The database is busy with other work. Nothing was saved.", timeout=40_000
    )
    expect(page.locator("#saved")).to_contain_text("What you typed stays in this window")
    expect(page.locator("[name=purpose]")).to_have_value("typed while somebody else writes")
    other.execute("ROLLBACK")
    saved(page)
    page.reload()
    expect(page.locator("[name=purpose]")).to_have_value("typed while somebody else writes")


def test_what_is_saved_is_not_offered_again_nor_to_somebody_else(
    open_page: Callable[..., Page],
) -> None:
    page = open_page("jens")
    begin(page)
    page.fill("[name=purpose]", "typed and saved")
    saved(page)
    page.reload()
    expect(page.locator("#kept")).to_be_hidden()
    page.fill("[name=note]", "sent by the button")
    page.get_by_role("button", name="Save and check").click()
    page.wait_for_load_state()
    expect(page.locator("[name=note]")).to_have_value("sent by the button")
    expect(page.locator("#kept")).to_be_hidden()
    address = page.url
    page.context.set_offline(True)
    page.fill("[name=note]", "of Jens alone")
    expect(page.locator("#saved")).to_contain_text("No connection")
    page.close(run_before_unload=False)
    page = page.context.new_page()
    page.context.set_offline(False)
    page.context.clear_cookies()
    page.goto("/login/")
    page.fill("input[name=username]", "orla@spraying.example")
    page.fill("input[name=password]", "field-book-2026")
    page.click("button[type=submit]")
    page.goto(address)
    expect(page.locator("[name=note]")).to_have_value("sent by the button")
    expect(page.locator("#kept")).to_be_hidden()


def test_the_wind_is_taken_in_two_taps_and_nothing_typed_is_lost(
    open_page: Callable[..., Page],
) -> None:
    page = open_page("jens", java_script_enabled=False)
    begin(page)
    page.fill("[name=note]", "typed before the wind")
    page.get_by_role("button", name="Wind now").click()
    page.wait_for_url(re.compile("/wind/$"))
    shown = page.locator("[name=read_at]").input_value()
    page.get_by_text("NW", exact=True).click()
    page.fill("[name=wind_speed_value]", "12")
    page.get_by_role("button", name="Save this reading").click()
    page.wait_for_url(re.compile("/edit/#section-weather$"))
    expect(page.locator("[name=weather-0-read_at]")).to_have_value(shown)
    expect(page.locator("[name=weather-0-wind_from_value]")).to_have_value("315")
    expect(page.locator("[name=weather-0-wind_speed_value]")).to_have_value("12")
    expect(page.locator("[name=note]")).to_have_value("typed before the wind")


def test_on_a_phone_no_point_of_the_compass_touches_its_frame_and_the_language_is_read_whole(
    open_page: Callable[..., Page],
) -> None:
    page = open_page("jens")
    begin(page)
    page.get_by_role("button", name="Wind now").click()
    page.wait_for_url(re.compile("/wind/$"))
    page.get_by_text("By the points of the compass").click()
    room = page.evaluate(
        """() => [...document.querySelectorAll(".point")].map(point => {
            const frame = point.getBoundingClientRect();
            const [first, last] = [point.firstElementChild, point.lastElementChild];
            return Math.min(first.getBoundingClientRect().left - frame.left,
                            frame.right - last.getBoundingClientRect().right);
        })"""
    )
    assert len(room) == 17
    assert min(room) >= 6.0, room
    spare = page.evaluate(
        """() => {
            const select = document.querySelector("#language-foot");
            const brush = document.createElement("canvas").getContext("2d");
            brush.font = getComputedStyle(select).font;
            const widest = Math.max(...[...select.options].map(
                option => brush.measureText(option.text).width));
            return select.clientWidth - widest;
        }"""
    )
    assert spare >= 24.0  # the mark that it opens stands at its end


def test_a_value_taken_over_says_so_until_it_is_ticked(open_page: Callable[..., Page]) -> None:
    page = open_page("jens")
    begin(page)
    box = page.locator("[name=carried-boom_height]")
    expect(box).to_be_visible()
    box.check()
    expect(box).to_have_count(0)
    page.reload()
    expect(page.locator("[name=carried-boom_height]")).to_have_count(0)
    expect(page.locator("[name=carried-nozzle_set]")).to_be_visible()


def test_a_finding_leads_to_its_input_which_has_the_focus_and_is_seen(
    open_page: Callable[..., Page],
) -> None:
    page = open_page("jens")
    begin(page)
    page.locator("#to-fill > summary").click()
    page.get_by_role("link", name="Go to the input").nth(1).click()
    focused = page.locator(":focus")
    expect(focused).to_have_count(1)
    assert page.evaluate("document.activeElement.matches('input, select, textarea')")
    box = focused.bounding_box()
    bar = page.locator(".foot-bar").bounding_box()
    assert box
    assert bar
    assert box["y"] >= 0
    assert box["y"] + box["height"] <= bar["y"]
