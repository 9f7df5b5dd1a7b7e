"""Signing takes one transaction from draft to seal; nothing half-done is left behind."""

from __future__ import annotations

import hashlib
import json
import re
import sys
import uuid
import zoneinfo
from collections.abc import Callable
from datetime import datetime, timedelta
from importlib.resources import files
from typing import Any

import holidays
import numpy
import pyproj
import pytest
import shapely
from django.conf import settings

from logbook.accounts.services import Confirmation
from logbook.errors.exceptions import Conflict, NotAllowed, NotThere, Refused, RefusedInput
from logbook.records.models import NO_SEAL_YET, Chain, Explanation, Seal
from logbook.records.reading.examine import examine
from logbook.records.sealing.sealed import read_seal
from logbook.records.writing.draft import begin_draft, save_draft
from logbook.records.writing.sign import libraries, sign
from tests import factories as make
from tests.conftest import said_of

IMPORT = r"^(?:from|import) (\w+)[\w.]*(?: import .+| as \w+)?$"


@pytest.fixture
def attempt(now: datetime) -> Callable[..., Seal]:
    """Sign a draft as it stands."""

    def _attempt(actor: Any, draft: Any, **changed: Any) -> Seal:
        draft.refresh_from_db()
        arguments = {
            "actor": actor,
            "record_id": draft.pk,
            "revision": draft.revision,
            "explanations": {},
            "confirmation": Confirmation(user=actor.user),
            "now": now,
        }
        return sign(**arguments | changed)

    return _attempt


def change(actor: Any, draft: Any, **data: Any) -> None:
    draft.refresh_from_db()
    save_draft(actor=actor, record_id=draft.pk, revision=draft.revision, data=data)


class TestSeal:
    def test_the_first_seal_is_no_1_and_follows_nothing(
        self, owner: Any, clean_draft: Any, attempt: Any, now: datetime
    ) -> None:
        seal = attempt(owner, clean_draft)
        clean_draft.refresh_from_db()
        assert (seal.number, seal.previous) == (1, NO_SEAL_YET)
        assert clean_draft.signed_at == seal.sealed_at == now

    def test_its_hashes_are_those_of_rfc_6962(
        self, owner: Any, clean_draft: Any, attempt: Any
    ) -> None:
        # RFC 6962 section 2.1: leaf = H(0x00 ‖ data), node = H(0x01 ‖ left ‖ right).
        seal = attempt(owner, clean_draft)
        leaf = hashlib.sha256(b"\x00" + seal.text.encode()).digest()
        assert seal.leaf == leaf.hex()
        assert seal.link == hashlib.sha256(b"\x01" + bytes(32) + leaf).hexdigest()

    def test_its_text_is_canonical_json(self, owner: Any, clean_draft: Any, attempt: Any) -> None:
        # RFC 8785 section 3.2: no white space, keys sorted; our keys are ASCII, so the order of
        # UTF-16 code units is that of sort_keys.
        seal = attempt(owner, clean_draft)
        content = json.loads(seal.text)
        plain = json.dumps(content, separators=(",", ":"), sort_keys=True, ensure_ascii=False)
        assert set(plain) == set(seal.text)
        assert list(content) == sorted(content)

    def test_it_names_the_versions_that_computed_it(
        self, owner: Any, clean_draft: Any, attempt: Any
    ) -> None:
        seal = attempt(owner, clean_draft)
        zones = files("tzdata.zoneinfo").joinpath("tzdata.zi").read_text().split("\n")[0]
        named = json.loads(seal.text)["libraries"]
        assert named == {
            "geos": ".".join(map(str, shapely.geos_version)),
            "holidays": holidays.__version__,
            "numpy": numpy.__version__,
            "proj": pyproj.proj_version_str,
            "proj-data": pyproj.database.get_database_metadata("PROJ_DATA.VERSION"),
            "pyproj": pyproj.__version__,
            "python": sys.version.split()[0],
            "shapely": shapely.__version__,
            "tzdata": zones.removeprefix("# version "),
        }
        # The zone database of the machine is not asked, whatever its release.
        assert zoneinfo.TZPATH == ()

    def test_it_names_every_library_that_physics_and_rules_import(self) -> None:
        modules = [
            one.read_text()
            for room in ("calc", "logbook/law", "logbook/checks")
            for one in (settings.BASE_DIR / room).rglob("*.py")
        ]
        imported = {name for text in modules for name in re.findall(IMPORT, text, re.M)}
        foreign = imported - sys.stdlib_module_names - {"calc", "logbook"}
        assert {"numpy", "shapely"} <= foreign <= libraries().keys()

    def test_one_of_before_names_none_and_reads_as_it_did(
        self, owner: Any, clean_draft: Any, attempt: Any
    ) -> None:
        seal = attempt(owner, clean_draft)
        content = json.loads(seal.text)
        assert read_seal(seal).computed_with.startswith("geos ")
        del content["libraries"]
        seal.text = json.dumps(content)
        assert read_seal(seal).computed_with == ""
        assert content["facts"]["record"]["speed"] == {"unit": "mph", "value": "7.9"}

    def test_numbers_have_no_gap_and_each_seal_follows_the_last(
        self, owner: Any, entry: dict[str, Any], attempt: Any
    ) -> None:
        seals = []
        for _ in range(3):
            draft = begin_draft(actor=owner, record_id=uuid.uuid4())
            change(owner, draft, **entry)
            explained = dict.fromkeys(_keys(owner, draft), "Made for this test.")
            seals.append(attempt(owner, draft, explanations=explained))
        assert [seal.number for seal in seals] == [1, 2, 3]
        assert [seal.previous for seal in seals[1:]] == [seal.link for seal in seals[:-1]]

    def test_each_business_has_its_own_chain(
        self, owner: Any, stranger: Any, clean_draft: Any, attempt: Any
    ) -> None:
        attempt(owner, clean_draft)
        assert Chain.objects.get().business == owner.business
        assert not Seal.objects.within(stranger.business).exists()

    def test_a_seal_reads_back_as_the_facts_it_was_made_of(
        self, owner: Any, clean_draft: Any, attempt: Any
    ) -> None:

        before = examine(actor=owner, record_id=clean_draft.pk)
        sealed = read_seal(attempt(owner, clean_draft))
        assert sealed.snapshot == before.snapshot
        assert sealed.assessment == before.assessment
        assert sealed.findings == before.report.findings
        assert sealed.runs == before.report.runs
        assert sealed.signer_name == owner.user.name

    def test_it_stays_as_it_was_when_the_shelf_changes(
        self, owner: Any, clean_draft: Any, attempt: Any, yard: Any
    ) -> None:
        seal = attempt(owner, clean_draft)
        yard.product.name = "Renamed"
        yard.product.save()
        yard.label.rate_max = make.q("1 fl oz/ac")
        yard.label.save()
        seal.refresh_from_db()
        product = read_seal(seal).snapshot.products[0]
        assert product.name == "Leafkill"
        assert product.label.rate_max != make.q("1 fl oz/ac")


def _keys(actor: Any, draft: Any) -> list[str]:

    return [f.key for f in examine(actor=actor, record_id=draft.pk).report.findings]


class TestExplanations:
    @pytest.fixture
    def breached(self, owner: Any, clean_draft: Any) -> Any:
        """The label of the clean draft allows less wind than this."""
        clean_draft.refresh_from_db()
        weather = [
            {
                "read_at": datetime.fromisoformat("2026-06-12T09:30"),
                **{
                    name: make.q(text)
                    for name, text in {
                        "height": "40 in",
                        "wind_from": "290 °",
                        "wind_speed": "22 mph",
                        "gust": "25 mph",
                        "temperature": "70 °F",
                        "humidity": "55 %",
                        "cloud": "40 %",
                    }.items()
                },
                "signs": [],
            }
        ]
        change(owner, clean_draft, weather=weather)
        return clean_draft

    def test_a_breach_without_a_word_is_refused_and_nothing_changes(
        self, owner: Any, breached: Any, attempt: Any
    ) -> None:
        with pytest.raises(RefusedInput) as refused:
            attempt(owner, breached)
        assert all("Say in a sentence why" in text[0] for text in refused.value.errors.values())
        assert any("22" in text[0] for text in refused.value.errors.values())
        breached.refresh_from_db()
        assert breached.signed_at is None
        assert not Seal.objects.exists()
        assert not Chain.objects.filter(last_number__gt=0).exists()

    def test_an_explained_breach_is_signed_and_what_was_said_is_sealed(
        self, owner: Any, breached: Any, attempt: Any
    ) -> None:
        said = dict.fromkeys(_keys(owner, breached), "The wind rose on the last pass.")
        seal = attempt(owner, breached, explanations=said)
        assert read_seal(seal).explanations == said
        assert seal.breaches >= 1
        assert Explanation.objects.filter(record=breached).count() == len(said)

    def test_a_word_about_no_finding_is_not_sealed(
        self, owner: Any, clean_draft: Any, attempt: Any
    ) -> None:
        seal = attempt(owner, clean_draft, explanations={"made-up@nothing": "whatever"})
        assert read_seal(seal).explanations == {}

    @pytest.mark.parametrize("text", [" x ", "no meter", "-- no wind --", "          "])
    def test_under_ten_letters_nothing_is_explained(
        self, text: str, owner: Any, breached: Any, attempt: Any
    ) -> None:
        with pytest.raises(RefusedInput) as refused:
            attempt(owner, breached, explanations=dict.fromkeys(_keys(owner, breached), text))
        assert all("in 10 letters or more: " in said[0] for said in refused.value.errors.values())

    def test_the_same_words_of_a_breach_and_of_a_blank_are_asked_again(
        self, owner: Any, breached: Any, attempt: Any
    ) -> None:
        change(owner, breached, treated_area=None)
        asked = examine(actor=owner, record_id=breached.pk).report.must_be_explained()
        assert {one.severity.value for one in asked} == {"breach", "missing"}
        same = {one.key: said_of(one, "We were in a  hurry.") for one in asked[:-1]}
        same[asked[-1].key] = "we were in a hurry. "
        with pytest.raises(RefusedInput) as refused:
            attempt(owner, breached, explanations=same)
        assert set(refused.value.errors) == {one.key for one in asked}
        assert all(
            said[0].startswith("The same is said of a breach and of a blank.")
            for said in refused.value.errors.values()
        )
        attempt(
            owner,
            breached,
            explanations={one.key: said_of(one, same[asked[0].key]) for one in asked},
        )


class TestRefusals:
    @pytest.mark.parametrize("role", ["helper", "office"])
    def test_a_role_without_the_right_is_refused(
        self, request: pytest.FixtureRequest, role: str, clean_draft: Any, attempt: Any
    ) -> None:
        with pytest.raises(NotAllowed, match="may not sign"):
            attempt(request.getfixturevalue(role), clean_draft)

    def test_the_password_of_somebody_else_does_not_count(
        self, owner: Any, applicator: Any, clean_draft: Any, attempt: Any
    ) -> None:
        with pytest.raises(NotAllowed, match="Only the person who gave the password"):
            attempt(owner, clean_draft, confirmation=Confirmation(user=applicator.user))

    def test_another_business_does_not_see_the_draft(
        self, stranger: Any, clean_draft: Any, attempt: Any
    ) -> None:
        with pytest.raises(NotThere):
            attempt(stranger, clean_draft)

    def test_a_draft_that_changed_since_it_was_read_is_refused(
        self, owner: Any, clean_draft: Any, attempt: Any
    ) -> None:
        clean_draft.refresh_from_db()
        looked_at = clean_draft.revision
        change(owner, clean_draft, note="one more thing")
        with pytest.raises(Conflict, match="changed since you looked"):
            attempt(owner, clean_draft, revision=looked_at)

    def test_signing_twice_makes_one_seal(self, owner: Any, clean_draft: Any, attempt: Any) -> None:
        attempt(owner, clean_draft)
        with pytest.raises(Refused, match="signed and sealed"):
            attempt(owner, clean_draft)
        assert Seal.objects.count() == 1

    def test_work_that_has_not_ended_cannot_be_signed(
        self, owner: Any, clean_draft: Any, attempt: Any, now: datetime
    ) -> None:
        with pytest.raises(Refused, match="has not ended yet"):
            attempt(owner, clean_draft, now=now - timedelta(hours=4))

    @pytest.mark.parametrize(
        ("blank", "said"),
        [
            ({"field": None, "planting": None}, "its field"),
            ({"products": []}, "at least one product"),
            ({"started_at": None, "finished_at": None}, "the time the spraying started"),
        ],
    )
    def test_a_record_of_nothing_cannot_be_signed(
        self, owner: Any, clean_draft: Any, attempt: Any, blank: dict[str, Any], said: str
    ) -> None:
        change(owner, clean_draft, **blank)
        with pytest.raises(Refused, match=said):
            attempt(owner, clean_draft)
