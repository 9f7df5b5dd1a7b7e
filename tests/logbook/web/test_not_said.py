"""What nobody touched is not said: in form, API, file, page and paper; "none seen" is an answer.

Common practice, no source: a record states what a person looked at, not what a form began with.
"""

from __future__ import annotations

import dataclasses
import re
import uuid
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from logbook.facts.codec import from_json, to_json
from logbook.facts.record import WeatherFacts
from logbook.facts.spec import Section
from logbook.records.reading.examine import examine
from logbook.records.sealing.changes import changes_between
from logbook.records.writing.draft import begin_draft, save_draft
from logbook.sections.document import Mark
from logbook.sections.lines import document
from logbook.sections.phrases import label_says, papers
from tests.logbook.checks.build import label, licence, person
from tests.logbook.web.posts import as_shown

SAID = [([], ["none"], "none seen"), (["mist", "dew"], ["mist", "dew"], "mist, dew")]


def sign_cell(owner: Any, draft: Any) -> str:
    """Return what page and paper say of the signs of the first reading."""
    seen = examine(actor=owner, record_id=draft.pk)
    (section,) = (
        one
        for one in document(seen.snapshot, seen.assessment).sections
        if one.id == Section.WEATHER.id
    )
    (cell,) = (cell for cell in section.rows[0].cells if cell.label == "signs")
    (piece,) = cell.pieces
    return str(piece.value)


FLAGS = (
    *("restricted_use", "supervised_use_allowed"),
    *("inversion_forbidden", "no_drift_reducer_with_air_induction"),
)


class TestYesOrNo:
    """A tick that arrives set, or a box without one, would say what nobody looked up."""

    def test_a_new_label_says_nothing_that_nobody_chose(self, browser: Client, yard: Any) -> None:
        sent = as_shown(browser, reverse("shelf-new", args=["labels"]))
        assert {name: sent[name] for name in FLAGS} == dict.fromkeys(FLAGS, "unknown")
        boxes = {"required_adjuvants", "forbidden_adjuvants", "duty_classes"}
        assert boxes.isdisjoint(sent)
        sent |= {"product": str(yard.product.pk), "edition": "9/26", "in_force_from": "2026-09-01"}
        assert browser.post(reverse("shelf-new", args=["labels"]), sent).status_code == 302
        made = yard.product.editions.get(edition="9/26")
        assert [getattr(made, name) for name in FLAGS] == [None] * 4
        page = browser.get(reverse("shelf-item", args=["labels", made.pk])).content.decode()
        text = " ".join(re.sub("<[^>]+>", " ", page).split())
        for named in ("Restricted-use product", "Forbids spraying in an inversion"):
            assert f"{named} not said" in text
        assert as_shown(browser, reverse("shelf-edit", args=["labels", made.pk])).items() >= (
            dict.fromkeys(FLAGS, "unknown").items()
        )

    @pytest.mark.parametrize(("sent", "stored"), [("true", True), ("false", False)])
    def test_what_was_chosen_is_kept(
        self, browser: Client, yard: Any, sent: str, stored: bool
    ) -> None:
        address = reverse("shelf-edit", args=["labels", yard.label.pk])
        browser.post(address, as_shown(browser, address) | dict.fromkeys(FLAGS, sent))
        yard.label.refresh_from_db()
        assert [getattr(yard.label, name) for name in FLAGS] == [stored] * 4

    def test_a_new_licence_is_not_certified_by_itself(self, browser: Client) -> None:
        sent = as_shown(browser, reverse("shelf-new", args=["people"]))
        assert sent["licences-0-certified"] == "unknown"

    def test_paper_and_page_say_that_it_was_not_said(self) -> None:
        unsaid = label(restricted_use=None, supervised_use_allowed=None)
        assert str(label_says(unsaid)) == "not said whether for restricted use"
        held = person(licences=(licence(certified=None),))
        assert "not said whether certified for restricted use" in str(papers(held))


class TestSignsOfAnInversion:
    @pytest.mark.parametrize(("stored", "ticked", "told"), [(None, None, "not said"), *SAID])
    def test_the_form_keeps_what_was_ticked_and_nothing_else(
        self, browser: Client, owner: Any, clean_draft: Any, stored: Any, ticked: Any, told: str
    ) -> None:
        address = reverse("record-edit", args=[clean_draft.pk])
        sent = as_shown(browser, address)
        assert sent.pop("weather-0-signs") == ["none"]  # as the entry of the clean draft says
        if ticked is not None:
            sent["weather-0-signs"] = ticked
        assert browser.post(address, sent).status_code == 302
        assert clean_draft.weather.first().signs == stored
        assert as_shown(browser, address).get("weather-0-signs") == ticked
        assert sign_cell(owner, clean_draft) == told

    def test_none_seen_beside_a_sign_is_refused_by_name_and_both_stay_ticked(
        self, browser: Client, clean_draft: Any
    ) -> None:
        address = reverse("record-edit", args=[clean_draft.pk])
        sent = as_shown(browser, address) | {"weather-0-signs": ["none", "dew"]}
        refused = browser.post(address, sent)
        assert refused.status_code == 422
        said = "“none seen” is ticked beside “dew”; take the tick away from one of them."
        assert said in refused.content.decode()
        assert clean_draft.weather.first().signs == []

    def test_a_refused_page_comes_back_with_none_ticked_where_none_was(
        self, browser: Client, clean_draft: Any
    ) -> None:
        address = reverse("record-edit", args=[clean_draft.pk])
        sent = as_shown(browser, address) | {"speed_value": "fast"}
        del sent["weather-0-signs"]
        page = browser.post(address, sent).content.decode()
        assert re.findall(r'name="weather-(\d)-signs" value="none"[^>]*checked', page) == [*"123"]

    def test_a_line_of_nothing_but_none_seen_is_no_empty_line(
        self, browser: Client, clean_draft: Any
    ) -> None:
        address = reverse("record-edit", args=[clean_draft.pk])
        sent = as_shown(browser, address) | {"weather-count": "5", "weather-4-signs": ["none"]}
        sent["weather-4-signs-shown"] = "1"
        assert browser.post(address, sent).status_code == 422

    def test_the_wind_of_now_says_nothing_of_signs(self, browser: Client, clean_draft: Any) -> None:
        address = reverse("record-wind", args=[clean_draft.pk])
        sent = as_shown(browser, address) | {"wind_speed_value": "7", "wind_speed_unit": "mph"}
        assert browser.post(address, sent | {"read_at": "2026-06-12T09:50"}).status_code == 302
        assert clean_draft.weather.get(read_at="2026-06-12T14:50:00Z").signs is None

    @pytest.mark.parametrize("signs", [None, [], ["dew"]])
    def test_the_seal_reads_back_what_was_said(self, signs: Any) -> None:
        held = {"read_at": "2026-06-12T14:30:00+00:00", "signs": signs}
        blank = ("height", "wind_from", "wind_speed", "gust", "temperature", "humidity", "cloud")
        facts = from_json(held | dict.fromkeys(blank), WeatherFacts)
        assert facts.signs == (None if signs is None else tuple(signs))
        assert to_json(facts)["signs"] == signs

    def test_an_amendment_names_what_was_not_said_before(
        self, owner: Any, clean_draft: Any
    ) -> None:
        s = examine(actor=owner, record_id=clean_draft.pk).snapshot
        first, *rest = s.weather
        silent = dataclasses.replace(s, weather=(dataclasses.replace(first, signs=None), *rest))
        assert [str(one) for one in changes_between(silent, s)] == [
            "Reading 1, signs of an inversion seen: blank, now none seen"
        ]


class TestDutyAndDensity:
    """They are seldom given, and a record without them is whole; what is taken is said."""

    UNSAID = ("duty", "density")

    @pytest.fixture
    def silent(self, owner: Any, clean_draft: Any) -> Any:
        return save_draft(
            actor=owner,
            record_id=clean_draft.pk,
            revision=clean_draft.revision,
            data=dict.fromkeys(self.UNSAID),
        )

    def test_a_new_draft_says_neither(self, owner: Any) -> None:
        new = begin_draft(actor=owner, record_id=uuid.uuid4())
        assert (new.duty, new.density) == (None, None)

    def test_the_line_says_what_was_taken_and_has_no_tick(self, owner: Any, silent: Any) -> None:
        seen = examine(actor=owner, record_id=silent.pk)
        assert not seen.report.findings
        shown = document(seen.snapshot, seen.assessment, runs=seen.report.runs)
        told = {
            line.about: [str(piece.value) for piece in line.pieces]
            for line in shown.lines(*self.UNSAID)
        }
        assert told == {
            ("duty",): ["not said", "computed with 100 %, no valve pulsing"],
            ("density",): ["not said", "computed as water"],
        }
        assert [shown.margin.beside(path) for path in (*self.UNSAID, "speed")] == [
            (),
            (),
            (Mark("agrees"),),
        ]

    def test_neither_has_a_tick_on_the_form(self, browser: Client, silent: Any) -> None:
        page = browser.get(reverse("record-edit", args=[silent.pk])).content.decode()
        marks = dict(re.findall(r'id="mark-(duty|density|speed)">(.*?)</span>', page, re.DOTALL))
        assert "agrees" not in marks["duty"] + marks["density"]
        assert "agrees" in marks["speed"]


class TestElevation:
    """Asked once, on the field; blank is sea level, said beside the Delta T that it is for."""

    def test_it_goes_from_the_field_to_the_record_and_its_page(
        self, browser: Client, owner: Any, clean_draft: Any
    ) -> None:
        assert examine(actor=owner, record_id=clean_draft.pk).snapshot.field.elevation is None
        address = reverse("shelf-edit", args=["fields", clean_draft.field.pk])
        sent = as_shown(browser, address) | {"elevation_value": "1,050", "elevation_unit": "ft"}
        assert "can be read in two ways" in browser.post(address, sent).content.decode()
        assert browser.post(address, sent | {"elevation_value": "1050"}).status_code == 302
        seen = examine(actor=owner, record_id=clean_draft.pk).snapshot
        assert str(seen.field.elevation) == "1050 ft"
        page = browser.get(reverse("record", args=[clean_draft.pk])).content.decode()
        assert "1050 ft (320 m) above the sea" in re.sub("<[^>]+>", "", page)

    @pytest.mark.parametrize(
        ("value", "allowed"), [("5501", "at most 5500 m"), ("-431", "at least -430 m")]
    )
    def test_what_no_field_lies_at_is_refused(
        self, browser: Client, clean_draft: Any, value: str, allowed: str
    ) -> None:
        address = reverse("shelf-edit", args=["fields", clean_draft.field.pk])
        sent = as_shown(browser, address) | {"elevation_value": value, "elevation_unit": "m"}
        page = browser.post(address, sent).content.decode()
        assert f"{value} m is not possible; it must be {allowed}." in page
