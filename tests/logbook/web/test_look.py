"""The look: colours that can be read, and nothing in a page that a strict policy bars."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.template.loader import render_to_string
from django.test import Client

from calc.droplets import CLASS_COLOURS
from calc.nozzle import SIZES
from logbook.quantities.inputs import AnswerFormField
from logbook.web.templatetags.book import both_units, class_swatch, other, shown, size_swatch
from tests.factories import PASSWORD, q

TEMPLATES = Path(settings.BASE_DIR) / "templates"
CSS = (TEMPLATES / "static" / "book.css").read_text()


def roles(block: str) -> dict[str, str]:
    return dict(re.findall(r"--(\w+): (#[0-9A-F]{6});", block))


LIGHT = roles(CSS[CSS.index(":root {") : CSS.index("@media")])
DARK = roles(CSS[CSS.index("@media (prefers-color-scheme: dark)") :].split("/* Ground")[0])


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, as WCAG 2.2 defines it."""

    def luminance(colour: str) -> float:
        parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
        red, green, blue = (
            part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
        )
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    low, high = sorted([luminance(one), luminance(other)])
    return (high + 0.05) / (low + 0.05)


def test_black_on_white_has_the_contrast_of_the_definition() -> None:
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)  # WCAG 2.2, contrast ratio


@pytest.mark.parametrize("inks", [LIGHT, DARK], ids=["light", "dark"])
def test_every_ink_can_be_read_on_its_ground(inks: dict[str, str]) -> None:
    assert set(inks) == {
        *("ground", "ink", "quiet", "action", "breach", "mismatch", "caution", "missing"),
        *("agrees", "rule"),
    }
    for role, colour in inks.items():
        if role != "ground":
            # WCAG 2.2: 1.4.3 asks 4.5 of text, 1.4.11 asks 3 of a line that carries meaning.
            assert contrast(colour, inks["ground"]) >= (3 if role == "rule" else 4.5), role


def test_the_swatches_have_the_colours_of_the_standards() -> None:
    for size in SIZES.values():
        rule = f".iso-{size.colour.replace(' ', '-')} {{ background: {size.swatch}; }}"
        assert rule in CSS
        swatch = f'<span class="swatch iso-{size.colour.replace(" ", "-")}" aria-hidden="true">'
        assert size_swatch(size.designation) == f"{swatch}</span>{size.designation} {size.colour}"
    for droplet_class, colour in CLASS_COLOURS.items():
        assert f".s572-{droplet_class.name} {{ background: {colour.swatch}; }}" in CSS
        assert class_swatch(droplet_class.name).endswith(
            f"</span>{colour.words.lower()} ({droplet_class.name})"
        )


def test_what_no_standard_knows_has_no_swatch() -> None:
    assert size_swatch("07") == "07"
    assert class_swatch("?") == "?"


def test_type_has_three_sizes_and_one_figure_and_no_decoration() -> None:
    # And one figure, that of a running job and of the wind, which is read from the seat.
    sizes = set(re.findall(r"font-size: ([^;]+);", CSS)) - {"10pt"}  # of paper
    assert sizes == {"1.75rem", "1.25rem", "1rem", "3.25rem"}
    for barred in ("box-shadow", "text-shadow", "gradient", "url(", "@import", "@font-face"):
        assert barred not in CSS


@pytest.mark.parametrize("path", sorted(TEMPLATES.rglob("*.html")), ids=lambda path: path.name)
def test_no_template_carries_what_the_policy_bars(path: Path) -> None:
    # What stands in a tag of the template language is no HTML: "with one=…".
    text = re.sub(r"{%.*?%}", "", path.read_text())
    assert not re.search(r"\sstyle=|<style|\son\w+=|javascript:", text)
    assert not re.search(r"<script(?![^>]*\bsrc=)", text)
    assert not re.search(r"""(src|href|action)=["'](https?:)?//""", text)


def test_a_page_sends_the_strict_policy(client: Client, db: None) -> None:
    policy = client.get("/login/")["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "http" not in policy


@pytest.fixture
def page(client: Client, owner: Any) -> str:
    client.force_login(owner.user)
    return client.get("/shelf/").content.decode()


def test_every_page_has_its_way_around(page: str) -> None:
    assert '<a class="skip" href="#page">' in page
    assert '<main id="page" tabindex="-1">' in page
    assert '<div id="messages" role="status">' in page
    names = re.findall(r'<li><a href="[^"]+"( aria-current="page")?>(\w+)</a></li>', page)
    assert [name for _, name in names] == ["Today", "Book", "Plan", "Season", "Shelf"]
    assert [name for here, name in names if here] == ["Shelf"]


def test_every_page_defers_to_the_label(page: str) -> None:
    assert "The label is the law" in page
    assert "Wear the protective equipment the label names" in page


def test_a_visitor_sees_no_navigation(client: Client, db: None) -> None:
    text = client.get("/login/").content.decode()
    assert "<nav" not in text
    assert "Log out" not in text


def test_a_wrong_password_is_said_and_opens_nothing(client: Client, owner: Any) -> None:
    response = client.post("/login/", {"username": owner.user.email, "password": "wrong"})
    assert response.status_code == 200
    assert 'class="errorlist nonfield"' in response.content.decode()
    assert client.get("/shelf/").status_code == 302


def test_the_login_leads_on_and_the_logout_leads_out(client: Client, owner: Any) -> None:
    entry = {"username": owner.user.email, "password": PASSWORD, "next": "/shelf/rigs/"}
    assert client.post("/login/", entry)["Location"] == "/shelf/rigs/"
    assert client.get("/logout/").status_code == 405
    assert client.post("/logout/")["Location"] == "/login/"
    assert client.get("/shelf/").status_code == 302


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("500.html", "The fault is on our side"),
        ("404.html", "This address leads nowhere in the book."),
        ("403.html", "Your role does not carry this right."),
        ("403_csrf.html", "Nothing was saved."),
        ("registration/locked.html", "too many attempts"),
    ],
)
def test_error_pages_stand_without_a_request(name: str, sentence: str) -> None:
    assert sentence in render_to_string(name)


def test_an_address_that_leads_nowhere_says_so(client: Client, db: None) -> None:
    response = client.get("/no/such/page/")
    assert response.status_code == 404
    assert b"This address leads nowhere in the book." in response.content


# --- values --------------------------------------------------------------------------------------


def test_a_quantity_is_shown_in_both_systems() -> None:
    # 15 gal/ac is 140.3 L/ha, three figures shown; a percentage is the same in both.
    assert other(q("15 gal/ac")) == "140 L/ha"
    assert other(q("5 %")) == ""
    assert other("words") == ""
    assert both_units(q("5 %")) == '5 <span class="unit">%</span>'
    assert '<span class="other">140 L/ha</span>' in both_units(q("15 gal/ac"))


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (True, "yes"),
        (False, "no"),
        (["defoamer", "drift reducer"], "defoamer, drift reducer"),
        (0, "0"),
        (None, '<span class="quiet">not said</span>'),
        ("", '<span class="quiet">not said</span>'),
        ("<b>", "&lt;b&gt;"),
    ],
)
def test_a_value_is_shown_in_words(value: Any, text: str) -> None:
    assert str(shown(value)) == text


def test_the_answer_widget_names_each_of_its_inputs() -> None:
    field = AnswerFormField(dimensions=["pressure"], words=True)
    html = field.widget.render("loss", q("not measured: no gauge"), {"id": "id_loss"})
    inputs = set(re.findall(r'<(?:input|select)[^>]*\bid="([^"]+)"', html))
    assert inputs == {"id_loss_0", "id_loss_1", "id_loss_2"}
    assert inputs == set(re.findall(r'<label[^>]*for="([^"]+)"', html))
    assert 'value="no gauge"' in html
    assert '<option value="not measured" selected>' in html


def test_an_answer_without_words_asks_for_no_reason() -> None:
    field = AnswerFormField(dimensions=["pressure"], words=False)
    html = field.widget.render("loss", q("3 psi"), {"id": "id_loss"})
    assert "reason" not in html
    assert 'value="3"' in html
    assert '<option value="psi" selected>' in html
