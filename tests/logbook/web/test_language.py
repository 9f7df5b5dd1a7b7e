"""The language of the pages: whose choice counts, the form that makes it, what it never does."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import translation
from django.utils.translation import gettext

from logbook.catalog.selectors import from_shelf
from logbook.errors.exceptions import NotThere
from logbook.localization.locale import COOKIE, READINGS
from logbook.records.models import Seal
from tests.conftest import NOW, said_of

PAGE = "/you/language/"


@pytest.fixture
def visitor(db: None) -> Client:
    return Client()


def test_a_visitor_is_greeted_in_the_browsers_language(visitor: Client) -> None:
    page = visitor.get("/login/", headers={"accept-language": "es-MX,en;q=0.5"})
    assert '<html lang="es">' in page.text
    assert "Iniciar sesión" in page.text
    assert page.headers["Content-Language"] == "es"
    assert "Accept-Language" in page.headers["Vary"]
    assert '<html lang="en">' in visitor.get("/login/").text


def test_a_visitor_chooses_at_the_foot_of_the_page_and_comes_back_to_it(visitor: Client) -> None:
    foot = visitor.get("/login/?next=/book/").text
    assert 'action="/you/language/"' in foot
    assert 'name="next" value="/login/?next=/book/"' in foot
    answer = visitor.post(PAGE, {"language": "es-es", "next": "/login/?next=/book/"})
    assert (answer.status_code, answer.url) == (302, "/login/?next=/book/")
    cookie = answer.cookies[COOKIE]
    assert (cookie.value, cookie["samesite"], bool(cookie["httponly"])) == ("es-es", "Lax", True)
    page = visitor.get("/login/", headers={"accept-language": "en-US"}).text
    assert '<html lang="es-es">' in page
    assert '<option value="es-es" lang="es-es" selected>' in page
    assert "Idioma: Español, coma (" in page


def test_a_row_that_is_not_on_the_shelf_is_missed_in_the_readers_language(business: Any) -> None:
    with translation.override("es"), pytest.raises(NotThere, match="No existe: cliente"):
        from_shelf(business=business, shelf="customers", row_id=uuid.uuid4())


@pytest.mark.parametrize("elsewhere", ["https://evil.example/", "//evil.example", "javascript:x"])
def test_the_choice_leads_to_no_other_site(visitor: Client, elsewhere: str) -> None:
    assert visitor.post(PAGE, {"language": "es", "next": elsewhere}).url == PAGE


@pytest.mark.parametrize("code", ["", "de", "es-ES", "../en", "x" * 5000])
def test_a_language_that_is_none_is_refused_and_changes_nothing(
    owner: Any, browser: Client, code: str
) -> None:
    answer = browser.post(PAGE, {"language": code})
    assert answer.status_code == 422
    assert "is not a language of this book; allowed are en, en-us" in answer.text
    assert COOKIE not in answer.cookies
    owner.user.refresh_from_db()
    assert owner.user.language == ""


def test_a_forged_choice_without_the_token_is_refused(db: None) -> None:
    assert Client(enforce_csrf_checks=True).post(PAGE, {"language": "es"}).status_code == 403


def test_a_persons_own_choice_is_kept_and_counts_before_cookie_and_browser(
    owner: Any, browser: Client, browser_of: Callable[[Any], Client]
) -> None:
    browser.post(PAGE, {"language": "es"})
    owner.user.refresh_from_db()
    assert owner.user.language == "es"
    elsewhere = browser_of(owner)
    elsewhere.cookies[COOKIE] = "en-gb"
    page = elsewhere.get("/", headers={"accept-language": "en-US"}).text
    assert '<html lang="es">' in page
    for word in ("Hoy", "Libro", "Planear", "Temporada", "Estante", "Cerrar sesión", "propietario"):
        assert word in page


def test_a_cookie_of_a_language_that_is_none_counts_for_nothing(visitor: Client) -> None:
    visitor.cookies[COOKIE] = "xx"
    assert '<html lang="en">' in visitor.get("/login/").text


def test_the_language_of_one_request_is_not_that_of_the_next(browser: Client) -> None:
    browser.get("/", headers={"accept-language": "es"})
    assert (translation.get_language() or "en") == "en"
    assert '<html lang="en">' in browser.get("/").text


@pytest.mark.parametrize("code", list(READINGS))
def test_every_page_that_answers_in_english_answers_in_every_language(
    browser: Client, signed: Any, clean_draft: Any, code: str
) -> None:
    browser.cookies[COOKIE] = code
    for address in ("/", "/book/", f"/book/{signed.pk}/", "/plan/", "/season/", "/shelf/", PAGE):
        page = browser.get(address)
        assert page.status_code == 200, address
        assert f'<html lang="{code}">' in page.text


class TestFindings:
    @pytest.fixture
    def flagged(self, owner: Any, clean_draft: Any, entry: dict[str, Any]) -> Any:
        """A draft whose mix was driven out too slowly."""
        from logbook.records.writing.draft import save_draft
        from tests.factories import q

        return save_draft(
            actor=owner,
            record_id=clean_draft.pk,
            revision=clean_draft.revision,
            # Without the amounts used, which would name the speed as the likely cause.
            data=entry
            | {"speed": q("4.0 mph"), "mix_used": None, "loads": []}
            | {"products": [one | {"total_used": None} for one in entry["products"]]},
        )

    def test_a_draft_is_judged_in_the_readers_language(self, browser: Client, flagged: Any) -> None:
        browser.cookies[COOKIE] = "es-es"
        page = browser.get(f"/book/{flagged.pk}/").text
        assert "Se entregaron 29,7 gal/ac; la etiqueta pide 10 a 20 gal/ac" in page
        assert "Incumplimiento." in page
        assert "4,0 mph" in page
        assert "Delivered 29.7 gal/ac, label asks" not in page

    def test_a_form_shows_and_takes_back_the_decimal_comma_without_loss(
        self, owner: Any, browser: Client, flagged: Any
    ) -> None:
        browser.cookies[COOKIE] = "es-es"
        page = browser.get(f"/book/{flagged.pk}/edit/").text
        assert 'value="4,0"' in page

    def test_what_was_sealed_is_shown_as_sealed_and_marked_as_english(
        self, owner: Any, browser: Client, flagged: Any, confirmed: Callable[[Any], Any]
    ) -> None:
        from logbook.records.reading.examine import examine
        from logbook.records.writing.sign import sign

        with translation.override("es-es"):
            found = examine(actor=owner, record_id=flagged.pk).report.findings
            sign(
                actor=owner,
                record_id=flagged.pk,
                revision=flagged.revision,
                explanations={one.key: said_of(one, "We saw it and stopped.") for one in found},
                confirmation=confirmed(owner),
                now=NOW,
            )
        text = Seal.objects.get(record=flagged).text
        assert "Delivered 29.7 gal/ac, label asks 10 to 20 gal/ac" in text
        assert "entregaron" not in text
        browser.cookies[COOKIE] = "es-es"
        page = browser.get(f"/book/{flagged.pk}/").text
        assert '<span lang="en">Delivered 29.7 gal/ac, label asks 10 to 20 gal/ac' in page
        for address in (f"/book/{flagged.pk}/", "/audit/?year=2026"):
            assert self.why_english(browser, address, "es-es") == 1
            assert self.why_english(browser, address, "en-us") == 0

    def test_of_a_draft_nothing_is_said_to_be_sealed(self, browser: Client, flagged: Any) -> None:
        assert self.why_english(browser, f"/book/{flagged.pk}/", "es-es") == 0

    def why_english(self, browser: Client, address: str, code: str) -> int:
        """Return how often the page says that what is sealed is in English."""
        said = (
            "What the check found stands here as sealed: in English, with days as year-month-day; "
            "an explanation, as the signer wrote it."
        )
        browser.cookies[COOKIE] = code
        with translation.override(code):
            return browser.get(address).text.count(f'<p class="quiet">{gettext(said)}</p>')

    def test_a_page_with_days_of_its_own_says_why_those_that_were_sealed_read_otherwise(
        self, browser: Client, signed: Any
    ) -> None:
        """The catch test stands in the page's own way above and in ISO's in the sealed check."""
        browser.cookies[COOKIE] = "en-us"
        page = browser.get(f"/book/{signed.pk}/").text
        assert "as sealed, with days as year-month-day" in page
        own = page[: page.index('id="check"')] + page[page.index('id="duties"') :]
        own = re.sub(
            r'<select id="language.*?</select>|\b(?:value|datetime)="[^"]*"', "", own, flags=re.S
        )
        assert not re.search(r"\b20\d\d-\d\d-\d\d\b", re.sub(r"last read 20[-\d]+", "", own))
        browser.cookies[COOKIE] = "en"
        assert "as sealed, with days as" not in browser.get(f"/book/{signed.pk}/").text


class TestNothingLeaks:
    """What leaves the house is the same whoever asks for it; only pages speak languages."""

    def test_the_seal_of_a_record_is_the_same_in_every_language(
        self, owner: Any, clean_draft: Any, confirmed: Callable[[Any], Any]
    ) -> None:
        from django.db import transaction

        from logbook.records.writing.sign import sign

        texts = set()
        for code in READINGS:
            with translation.override(code):
                point = transaction.savepoint()
                seal = sign(
                    actor=owner,
                    record_id=clean_draft.pk,
                    revision=clean_draft.revision,
                    explanations={},
                    confirmation=confirmed(owner),
                    now=NOW,
                )
                texts.add((seal.text, seal.link))
                transaction.savepoint_rollback(point)
        assert len(texts) == 1

    @pytest.mark.parametrize(
        "address",
        [
            "/book/{id}/record.pdf",
            "/api/v1/records/{id}/record.pdf",
            "/api/v1/records/{id}/seal/",
            "/api/v1/records/{id}/check/",
            "/api/v1/records/{id}/",
            "/api/v1/records/",
            "/api/v1/schema/",
            "/book/{id}/posting.pdf",
            "/book/{id}/copy.pdf",
            "/book/{id}/notice-completed.pdf",
            "/book/print.pdf",
            "/book/list.csv",
            "/season/totals.pdf?from=2026-01-01&to=2026-12-31",
            "/season/totals.csv?from=2026-01-01&to=2026-12-31",
            "/season/totals.json?from=2026-01-01&to=2026-12-31",
            "/exchange/records.json",
            "/exchange/records.csv",
        ],
    )
    def test_papers_and_machine_answers_are_the_same_to_the_last_byte(
        self, browser: Client, signed: Any, address: str
    ) -> None:
        import time_machine

        answers = set()
        with time_machine.travel(NOW + timedelta(hours=1), tick=False):
            for code in READINGS:
                browser.cookies[COOKIE] = code
                answer = browser.get(
                    address.format(id=signed.pk), headers={"accept-language": code}
                )
                assert answer.status_code == 200
                answers.add(answer.getvalue() if answer.streaming else answer.content)
        assert len(answers) == 1

    def test_facts_and_findings_are_the_same(self, owner: Any, signed: Any) -> None:
        from logbook.records.reading.examine import examine

        found = set()
        for code in READINGS:
            with translation.override(code):
                seen = examine(actor=owner, record_id=signed.pk)
                found.add(repr(seen.snapshot) + repr(seen.report.findings))
        assert len(found) == 1

    def test_refusals_of_the_api_follow_the_header_and_its_fields_do_not(
        self, visitor: Client
    ) -> None:
        def refused(**headers: str) -> dict[str, Any]:
            answer = visitor.post(
                "/api/v1/rate-check/",
                {"settings": []},
                content_type="application/json",
                headers=headers,
            )
            assert answer.status_code == 422
            return dict(answer.json())

        english, spanish = refused(), refused(**{"accept-language": "es-MX"})
        assert english["errors"] == {"settings": ["Give a list of 1 to 10000 objects."]}
        assert spanish["errors"] == {"settings": ["Dé una lista de 1 a 10000 objetos."]}
        assert spanish["title"] == "Algunos datos no se pueden aceptar."
        assert english.keys() == spanish.keys()
        visitor.cookies[COOKIE] = "es"
        assert refused() == english


def test_the_reference_of_the_api_stays_english_and_says_so(visitor: Client) -> None:
    """It is drawn once for everybody, whoever asks first."""
    page = visitor.get("/api/v1/", headers={"accept-language": "es"}).text
    assert '<html lang="es">' in page
    assert re.search(r'<div lang="en">\s*<h1>API, version ', page)
    english = visitor.get("/api/v1/").text
    begin, end = '<div lang="en">', "</main>"
    assert page.split(begin)[1].split(end)[0] == english.split(begin)[1].split(end)[0]
