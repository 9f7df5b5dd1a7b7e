"""What nobody touched is not said: in form, API, file, page and paper; "none seen" is an answer.

Common practice, no source: a record states what a person looked at, not what a form began with.
"""

from __future__ import annotations

import dataclasses
import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from logbook.facts.codec import from_json, to_json
from logbook.facts.record import WeatherFacts
from logbook.facts.spec import Section
from logbook.records.reading.examine import examine
from logbook.records.sealing.changes import changes_between
from logbook.sections.lines import document
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
