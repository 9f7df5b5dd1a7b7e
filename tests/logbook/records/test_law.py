"""The law as it was read at signing: named in the seal, kept, printed again, and said to differ."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from typing import Any

import pytest
from django.db import connection
from django.test import Client

from logbook.documents.record import render_record
from logbook.law import applicability as apply
from logbook.law.reader import duty_sets, read_set, set_texts
from logbook.records.models import LawText
from logbook.records.sealing import freeze, law
from logbook.records.sealing.sealed import read_seal
from tests.logbook.documents.reading import has, whole


@pytest.fixture(autouse=True)
def _nothing_remembered() -> Any:
    law._set_of.cache_clear()
    yield
    law._set_of.cache_clear()


def without_wind(one: Any) -> Any:
    """Return North Dakota's set as it might read some day: it asks for no wind speed."""
    if one.id != "us-nd":
        return one
    return replace(
        one, elements=tuple(asked for asked in one.elements if asked.name != "wind-speed")
    )


def test_a_seal_names_each_set_with_the_digest_of_its_text(signed: Any) -> None:
    content = json.loads(signed.seal.text)
    named = {one["id"]: one["digest"] for one in content["law"]}
    assert named.keys() >= {"us-nd", "us-40-cfr-170"}
    for one, digest in named.items():
        assert digest == hashlib.sha256(set_texts()[one].encode()).hexdigest()
        assert LawText.objects.get(digest=digest).text == set_texts()[one]


def test_the_texts_are_those_of_the_sets() -> None:
    texts = set_texts()
    assert {one.id for one in duty_sets()} == texts.keys()
    assert all(read_set(texts[one.id], name=one.id) == one for one in duty_sets())


def test_the_table_prints_as_it_was_sealed_though_the_law_data_changed(
    signed: Any, monkeypatch: Any
) -> None:
    sealed = read_seal(signed.seal)
    has(whole(render_record(sealed)), "By the law data as sealed with the record.")
    changed = tuple(map(without_wind, duty_sets()))
    monkeypatch.setattr(
        apply, "_at", lambda place: tuple(one for one in changed if one.holds_at(place))
    )
    text = whole(render_record(sealed))
    has(text, "Those that are carried today differ: North Dakota.")
    # N.D. Admin. Code 60-03-01-07(2), from memory: the wind speed, as it was asked at signing.
    has(text, "wind speed (m) ")


def test_pages_and_api_tell_a_sealed_record_by_its_own_law(
    owner: Any, signed: Any, monkeypatch: Any
) -> None:
    """A set that is carried no more is still what the record was signed under."""
    browser = Client()
    browser.force_login(owner.user, backend="django.contrib.auth.backends.ModelBackend")
    monkeypatch.setattr(apply, "_at", lambda place: ())
    page = browser.get(f"/book/{signed.pk}/").text
    assert "Those that are carried today differ: " in page
    assert "No set that is carried" not in page
    said = browser.get(f"/api/v1/records/{signed.pk}/duties/").json()
    assert {one["id"] for one in said["sets"]} >= {"us-nd", "us-40-cfr-170"}
    assert "Those that are carried today differ: " in said["law"]
    assert said["none_applies"] == ""


def test_a_text_that_was_altered_is_never_taken_for_the_sealed_one(signed: Any) -> None:
    sealed = read_seal(signed.seal)
    digest = dict(sealed.law or ())["us-nd"]
    connection.check_constraints()  # PostgreSQL drops no trigger while a deferred check waits.
    freeze.remove(connection)
    LawText.objects.filter(digest=digest).update(text=set_texts()["us-ny"])
    freeze.install(connection)
    assert {"id": "us-nd", "digest": digest} in law.keep(sealed.snapshot)  # signing goes on
    found = law.as_sealed(sealed)
    assert found.sets is None
    assert "us-nd as sealed cannot be read any more" in found.note


def test_a_seal_of_before_is_told_by_the_data_of_today_and_says_so(signed: Any) -> None:
    old = replace(read_seal(signed.seal), law=None)
    found = law.as_sealed(old)
    assert found.sets is None
    has(whole(render_record(old)), "of before the law data were sealed", "by the data of today")


def test_one_text_is_kept_once_for_all_records(signed: Any) -> None:
    count = LawText.objects.count()
    law.keep(read_seal(signed.seal).snapshot)
    assert LawText.objects.count() == count
