"""A passkey from the page that adds it to the login and the signed record.

The device is Chromium's own: the virtual authenticator of WebAuthn level 2, section 11.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_core_python.sync_playwright import Axe
from playwright.sync_api import Browser, CDPSession, Page, expect

from tests.browser.conftest import (
    EXPECTED,
    MANAGE,
    PASSWORD,
    PHONE,
    explain_all,
    free_port,
    serving,
)
from tests.browser.test_access import RULES

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def site(book: Path) -> Iterator[str]:
    """The server by a name: a passkey belongs to a domain, and a number is none (section 5.1.2)."""
    environment = os.environ | {"DEBUG": "1", "DATABASE_URL": f"sqlite:///{book}"}
    address = f"http://localhost:{(port := free_port())}"
    command = [*MANAGE, "runserver", "--noreload", f"127.0.0.1:{port}"]
    with serving(command, environment, address, book.with_name("server.log")) as served:
        yield served


@pytest.fixture
def phone(chromium: Browser, site: str) -> Iterator[Page]:
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


@pytest.fixture
def finger(phone: Page) -> Iterator[tuple[CDPSession, str]]:
    """A sensor in the phone that knows its person."""
    session = phone.context.new_cdp_session(phone)
    session.send("WebAuthn.enable")
    made = session.send(
        "WebAuthn.addVirtualAuthenticator",
        {
            "options": {
                "protocol": "ctap2",
                "transport": "internal",
                "hasResidentKey": True,
                "hasUserVerification": True,
                "isUserVerified": True,
                "automaticPresenceSimulation": True,
            }
        },
    )
    yield session, made["authenticatorId"]
    session.detach()


def knows(finger: tuple[CDPSession, str], known: bool) -> None:
    session, sensor = finger
    session.send("WebAuthn.setUserVerified", {"authenticatorId": sensor, "isUserVerified": known})


def looked_at(page: Page) -> None:
    assert Axe().run(page, options=RULES)["violations"] == []
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def log_in(page: Page) -> None:
    page.goto("/login/")
    page.fill("input[name=username]", "orla@spraying.example")
    page.fill("input[name=password]", PASSWORD)
    page.click("button[type=submit]")


def test_a_passkey_is_added_signs_and_logs_in(
    phone: Page, finger: tuple[CDPSession, str], site: str
) -> None:
    log_in(phone)
    phone.goto("/you/second-factor/")
    looked_at(phone)
    phone.get_by_label("Your password").fill(PASSWORD)
    phone.get_by_role("button", name="Add a passkey").click()
    expect(phone.get_by_label("Its name")).to_have_value(re.compile("Chrome"))
    expect(phone.get_by_text("This browser makes no passkeys here.")).to_have_count(0)
    looked_at(phone)
    phone.get_by_label("Its name").fill("")
    phone.get_by_role("button", name="Make the passkey").click()
    session, sensor = finger
    kept = session.send("WebAuthn.getCredentials", {"authenticatorId": sensor})
    assert kept["credentials"] == []  # without a name none is made on the device
    phone.get_by_label("Its name").fill("cab phone")
    phone.get_by_role("button", name="Make the passkey").click()
    expect(phone.get_by_role("heading", name="Recovery codes")).to_be_visible()
    phone.goto("/you/second-factor/")
    phone.get_by_role("link", name="cab phone").click()
    looked_at(phone)

    phone.goto("/book/?state=draft")
    for link in phone.locator("table.rows tbody a").evaluate_all("all => all.map(a => a.href)"):
        phone.goto(f"{link}sign/")
        if phone.get_by_role("button", name="Sign with a passkey").is_visible():
            break
    looked_at(phone)
    explain_all(phone, "Seen on the field; the reason stands in the note.")
    for tick in phone.locator("input[name=carried_confirmed]").all():
        tick.check()
    knows(finger, False)
    phone.get_by_role("button", name="Sign with a passkey").click()
    expect(phone.get_by_text("The device gave no passkey.")).to_be_visible()
    knows(finger, True)
    phone.get_by_role("button", name="Sign with a passkey").click()
    expect(phone.get_by_text("Signed and sealed as no.")).to_be_visible()
    expect(phone.get_by_text("owner, with a passkey")).to_be_visible()

    phone.get_by_role("button", name="Log out").click()
    log_in(phone)
    expect(phone.get_by_role("heading", name="Log in: the second factor")).to_be_visible()
    looked_at(phone)
    phone.get_by_role("button", name="Use a passkey").click()
    phone.wait_for_url(f"{site}/")


def test_without_javascript_the_password_signs_and_the_page_says_what_a_passkey_takes(
    chromium: Browser, site: str
) -> None:
    context = chromium.new_context(viewport=PHONE, base_url=site, java_script_enabled=False)
    page = context.new_page()
    page.goto("/login/")
    page.fill("input[name=username]", "jens@spraying.example")
    page.fill("input[name=password]", PASSWORD)
    page.click("button[type=submit]")
    page.goto("/you/second-factor/")
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Add a passkey").click()
    expect(page.get_by_text("This browser makes no passkeys here.")).to_be_visible()
    expect(page.get_by_role("button", name="Make the passkey")).to_be_hidden()
    context.close()
