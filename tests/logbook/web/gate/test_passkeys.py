"""Passkeys: added with the password, asked at the login, and taken for a signature.

Refusals are those of the verification procedures of WebAuthn level 2, sections 7.1 and 7.2.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.test import Client
from django.utils import timezone
from django_otp.plugins.otp_static.models import StaticToken
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from logbook.accounts import passkeys, second_factor
from logbook.accounts.models import Passkey
from logbook.errors.exceptions import RefusedInput
from logbook.records.reading.selectors import seal_of
from logbook.records.sealing.sealed import read_seal
from logbook.records.writing.draft import begin_draft
from tests.authenticator import PRESENT, Authenticator, raw, text
from tests.factories import PASSWORD
from tests.logbook.web.gate.conftest import is_in

pytestmark = pytest.mark.django_db
SETTLE = "/you/second-factor/"
ADD = "/you/passkeys/add/"
ASK = "/you/passkeys/ask/"
CODE = "/login/code/"


def added(browser: Client, device: Authenticator, name: str = "my phone") -> Any:
    """Add a passkey as the page does; return the answer."""
    browser.post(SETTLE, {"password": PASSWORD, "deed": "passkey"})
    options = browser.post(ASK).json()
    return browser.post(ADD, {"name": name, "passkey": device.create(options)})


@pytest.fixture
def device(browser: Client) -> Authenticator:
    """A device whose passkey the owner has added."""
    one = Authenticator()
    assert added(browser, one).status_code == 200
    return one


@pytest.fixture
def sign(browser: Client, clean_draft: Any) -> Callable[..., Any]:
    """Return what asks for a challenge of the draft and posts the answer made of it."""
    address = f"/book/{clean_draft.pk}/sign/"

    def posted(answer: Callable[[dict[str, Any]], str] | str, client: Client = browser) -> Any:
        made = answer if isinstance(answer, str) else answer(asked(client))
        data = {"revision": clean_draft.revision, "passkey": made}
        return client.post(address, data)

    def asked(client: Client = browser) -> dict[str, Any]:
        options: dict[str, Any] = client.post(f"{address}passkey/").json()
        return options

    posted.asked = asked  # type: ignore[attr-defined]
    return posted


def is_signed(draft: Any) -> bool:
    draft.refresh_from_db()
    return draft.signed_at is not None


class TestAdding:
    def test_it_is_added_with_the_password_and_brings_recovery_codes(
        self, owner: Any, browser: Client
    ) -> None:
        answer = added(browser, Authenticator())
        assert second_factor.stands(owner.user)
        assert not second_factor.has_app(owner.user)
        assert second_factor.codes_left(owner.user) == 10
        assert answer["Cache-Control"].count("no-store")
        assert "Recovery codes" in answer.content.decode()
        assert "my phone" in browser.get(SETTLE).content.decode()

    def test_the_options_ask_for_the_person_and_name_what_is_there(
        self, browser: Client, device: Authenticator
    ) -> None:
        browser.post(SETTLE, {"password": PASSWORD, "deed": "passkey"})
        options = browser.post(ASK).json()
        assert options["authenticatorSelection"]["userVerification"] == "required"
        assert [one["id"] for one in options["excludeCredentials"]] == [text(device.credential_id)]
        # At least 16 bytes of chance (level 2, section 13.4.3); the handle tells nothing (14.6.1).
        assert len(raw(options["challenge"])) >= 16
        assert len(raw(options["user"]["id"])) == 32
        assert options["timeout"] == 300_000

    def test_nothing_is_added_without_the_password(self, owner: Any, browser: Client) -> None:
        browser.post(SETTLE, {"password": "wrong", "deed": "passkey"})
        assert browser.post(ASK)["Location"] == SETTLE
        assert browser.get(ADD)["Location"] == SETTLE
        assert not second_factor.stands(owner.user)

    def test_a_second_one_brings_no_new_codes_and_is_found_by_name(
        self, owner: Any, browser: Client, device: Authenticator
    ) -> None:
        before = set(StaticToken.objects.values_list("token", flat=True))
        assert added(browser, Authenticator(), "<i>desk</i>")["Location"] == SETTLE
        assert set(StaticToken.objects.values_list("token", flat=True)) == before
        page = browser.get(SETTLE).content.decode()
        assert "&lt;i&gt;desk&lt;/i&gt;" in page
        assert Passkey.objects.filter(user=owner.user).count() == 2

    def test_adding_the_first_logs_out_the_others(
        self, owner: Any, browser: Client, browser_of: Any
    ) -> None:
        other = browser_of(owner)
        added(browser, Authenticator())
        assert other.get("/").status_code == 302
        assert browser.get("/").status_code == 200

    @pytest.mark.parametrize(
        "device",
        [
            Authenticator(origin="https://testserver.example"),
            Authenticator(flags=PRESENT),
            Authenticator(flags=0),
        ],
        ids=["another origin", "person not verified", "nobody there"],
    )
    def test_an_answer_that_does_not_fit_is_refused(
        self, owner: Any, browser: Client, device: Authenticator
    ) -> None:
        answer = added(browser, device)
        assert answer.status_code == 422
        assert "does not fit" in answer.content.decode()
        assert not second_factor.stands(owner.user)

    def test_a_key_of_a_kind_that_was_not_offered_is_refused(
        self, owner: Any, browser: Client
    ) -> None:
        browser.post(SETTLE, {"password": PASSWORD, "deed": "passkey"})
        made = Authenticator().create(browser.post(ASK).json(), algorithm=-65535)
        assert browser.post(ADD, {"name": "odd", "passkey": made}).status_code == 422
        assert not second_factor.stands(owner.user)

    def test_the_same_key_is_not_added_twice_nor_by_another_login(
        self, owner: Any, office: Any, browser: Client, browser_of: Any, device: Authenticator
    ) -> None:
        for client in (browser, browser_of(office)):
            answer = added(client, device)
            assert "added before" in answer.content.decode()
        assert Passkey.objects.count() == 1

    def test_a_challenge_adds_once(self, browser: Client) -> None:
        browser.post(SETTLE, {"password": PASSWORD, "deed": "passkey"})
        options = browser.post(ASK).json()
        device, other = Authenticator(), Authenticator()
        browser.post(ADD, {"name": "one", "passkey": device.create(options)})
        browser.post(SETTLE, {"password": PASSWORD, "deed": "passkey"})
        answer = browser.post(ADD, {"name": "two", "passkey": other.create(options)})
        assert "too late or was used already" in answer.content.decode()
        assert Passkey.objects.count() == 1

    def test_a_login_has_so_many_and_no_more(
        self, owner: Any, browser: Client, monkeypatch: pytest.MonkeyPatch, device: Authenticator
    ) -> None:
        browser.post(SETTLE, {"password": PASSWORD, "deed": "passkey"})
        options = browser.post(ASK).json()
        monkeypatch.setattr(passkeys, "MOST", 1)
        answer = browser.post(ADD, {"name": "two", "passkey": Authenticator().create(options)})
        assert "at most 1" in answer.content.decode()
        assert browser.post(ASK).status_code == 302
        assert Passkey.objects.count() == 1


class TestSigning:
    def test_it_signs_and_the_seal_and_the_paper_say_so(
        self,
        owner: Any,
        browser: Client,
        clean_draft: Any,
        device: Authenticator,
        sign: Callable[..., Any],
    ) -> None:
        assert (
            "Sign with a passkey" in browser.get(f"/book/{clean_draft.pk}/sign/").content.decode()
        )
        assert sign(device.get).status_code == 302
        assert is_signed(clean_draft)
        seal = seal_of(actor=owner, record_id=clean_draft.pk)
        assert json.loads(seal.text)["signer"]["by"] == "passkey"
        assert read_seal(seal).signed_by == "passkey"
        assert ", with a passkey" in browser.get(f"/book/{clean_draft.pk}/").content.decode()
        assert Passkey.objects.get().last_used_at

    def test_with_the_password_the_seal_says_that(
        self, owner: Any, browser: Client, clean_draft: Any
    ) -> None:
        data = {"revision": clean_draft.revision, "password": PASSWORD}
        browser.post(f"/book/{clean_draft.pk}/sign/", data)
        assert read_seal(seal_of(actor=owner, record_id=clean_draft.pk)).signed_by == "password"
        assert "with a passkey" not in browser.get(f"/book/{clean_draft.pk}/").content.decode()

    def test_who_has_none_is_offered_none(self, browser: Client, clean_draft: Any) -> None:
        page = browser.get(f"/book/{clean_draft.pk}/sign/").content.decode()
        assert "data-passkey" not in page
        assert browser.post(f"/book/{clean_draft.pk}/sign/passkey/").status_code == 303

    @pytest.mark.parametrize(
        "wrong",
        [
            {"origin": "https://testserver"},
            {"origin": "http://testserver.example"},
            {"flags": PRESENT},
            {"flags": 0},
            {"credential_id": b"another"},
            {"key": Authenticator().key},
        ],
        ids=["scheme", "origin", "person not verified", "nobody there", "unknown key", "signature"],
    )
    def test_an_answer_that_does_not_fit_signs_nothing(
        self, clean_draft: Any, device: Authenticator, sign: Any, wrong: dict[str, Any]
    ) -> None:
        other, options = Authenticator(**{**vars(device), **wrong}), sign.asked()
        answer = sign(other.get(options))
        assert answer.status_code == 422
        assert "does not fit" in answer.content.decode()
        # The challenge is used up, even for the right device.
        assert "used already" in sign(device.get(options)).content.decode()
        assert not is_signed(clean_draft)

    def test_an_answer_is_taken_once(
        self, browser: Client, clean_draft: Any, device: Authenticator, sign: Any
    ) -> None:
        made = device.get(sign.asked())
        browser.post(
            f"/book/{clean_draft.pk}/sign/", {"revision": clean_draft.revision + 1, "passkey": made}
        )
        assert not is_signed(clean_draft)
        answer = sign(made)
        assert "too late or was used already" in answer.content.decode()
        assert not is_signed(clean_draft)

    def test_an_answer_of_another_session_is_not_taken(
        self, owner: Any, browser_of: Any, clean_draft: Any, device: Authenticator, sign: Any
    ) -> None:
        made = device.get(sign.asked())
        other = browser_of(owner)
        assert "used already" in sign(made, other).content.decode()
        sign.asked(other)
        assert "does not fit" in sign(made, other).content.decode()
        assert not is_signed(clean_draft)

    def test_a_challenge_ends_after_five_minutes(
        self, clean_draft: Any, device: Authenticator, sign: Any
    ) -> None:
        now = timezone.now()
        with time_machine.travel(now, tick=False):
            made = device.get(sign.asked())
        with time_machine.travel(now.timestamp() + passkeys.SECONDS + 1, tick=False):
            assert "too late" in sign(made).content.decode()
        assert not is_signed(clean_draft)

    def test_a_challenge_signs_the_record_it_was_asked_for(
        self, owner: Any, browser: Client, clean_draft: Any, device: Authenticator, sign: Any
    ) -> None:
        other = begin_draft(actor=owner, record_id=uuid4())
        options = browser.post(f"/book/{other.pk}/sign/passkey/").json()
        assert "too late" in sign(device.get(options)).content.decode()
        assert not is_signed(clean_draft)

    def test_somebody_elses_passkey_does_not_sign(
        self, office: Any, browser_of: Any, clean_draft: Any, device: Authenticator, sign: Any
    ) -> None:
        theirs = Authenticator()
        added(browser_of(office), theirs)
        assert "does not fit" in sign(theirs.get).content.decode()
        assert not is_signed(clean_draft)

    def test_a_device_that_counts_has_to_count_on(
        self, clean_draft: Any, device: Authenticator, sign: Any
    ) -> None:
        Passkey.objects.update(counter=7)
        for counter in (0, 6, 7):
            device.counter = counter
            assert "does not fit" in sign(device.get).content.decode()
        device.counter = 8
        assert sign(device.get).status_code == 302
        assert Passkey.objects.get().counter == 8

    def test_too_many_wrong_ones_lock_as_wrong_passwords_do(
        self, settings: Any, clean_draft: Any, device: Authenticator, sign: Any
    ) -> None:
        settings.AXES_ENABLED = True
        wrong = Authenticator()
        answers = [sign(wrong.get).status_code for _ in range(settings.AXES_FAILURE_LIMIT)]
        assert answers[0] == 422
        assert answers[-1] == 429
        assert sign(device.get).status_code == 429
        assert not is_signed(clean_draft)

    def test_what_was_sent_is_not_kept_with_the_count(
        self, settings: Any, device: Authenticator, sign: Any
    ) -> None:
        from axes.models import AccessAttempt

        settings.AXES_ENABLED = True
        sign(Authenticator().get)
        assert "rawId" not in AccessAttempt.objects.get().post_data


class TestEntering:
    def test_a_login_takes_password_and_passkey(
        self, owner: Any, device: Authenticator, log_in: Any
    ) -> None:
        client = Client()
        assert client.post("/login/passkey/").status_code == 404
        assert log_in(client, owner.user.email, next="/shelf/rigs/")["Location"] == CODE
        assert "Use a passkey" in client.get(CODE).content.decode()
        made = device.get(client.post("/login/passkey/").json())
        assert not is_in(client)
        assert client.post(CODE, {"passkey": made})["Location"] == "/shelf/rigs/"
        assert is_in(client)

    def test_a_wrong_one_does_not_open_and_a_recovery_code_does(
        self, owner: Any, browser: Client, log_in: Any
    ) -> None:
        device = Authenticator()
        shown = added(browser, device).content.decode()
        code = re.findall(r"<li>(\w{5}-\w{5})</li>", shown)[0]
        client = Client()
        log_in(client, owner.user.email)
        device.flags = PRESENT
        made = device.get(client.post("/login/passkey/").json())
        answer = client.post(CODE, {"passkey": made})
        assert "does not fit" in answer.content.decode()
        assert not is_in(client)
        client.post(CODE, {"code": code})
        assert is_in(client)

    def test_too_many_wrong_ones_end_the_half_open_login(
        self, settings: Any, owner: Any, device: Authenticator, log_in: Any
    ) -> None:
        settings.AXES_ENABLED = True
        client = Client()
        log_in(client, owner.user.email)
        for _ in range(settings.AXES_FAILURE_LIMIT):
            answer = client.post(
                CODE, {"passkey": Authenticator().get(client.post("/login/passkey/").json())}
            )
        assert answer.status_code == 429
        assert log_in(Client(), owner.user.email).status_code == 429

    def test_a_challenge_of_signing_opens_no_login(
        self, owner: Any, device: Authenticator, sign: Any, log_in: Any
    ) -> None:
        client = Client()
        log_in(client, owner.user.email)
        client.post("/login/passkey/")
        client.post(CODE, {"passkey": device.get(sign.asked())})
        assert not is_in(client)


class TestKeeping:
    def test_it_is_renamed(self, browser: Client, device: Authenticator) -> None:
        address = f"/you/passkeys/{Passkey.objects.get().pk}/"
        assert browser.post(address, {"deed": "rename", "name": " "}).status_code == 422
        browser.post(address, {"deed": "rename", "name": "cab phone"})
        assert Passkey.objects.get().name == "cab phone"

    def test_it_is_removed_with_the_password_and_the_last_takes_the_codes(
        self, owner: Any, browser: Client, device: Authenticator, sign: Any, clean_draft: Any
    ) -> None:
        address = f"/you/passkeys/{Passkey.objects.get().pk}/"
        assert browser.post(address, {"deed": "remove", "password": "wrong"}).status_code == 422
        made = device.get(sign.asked())
        browser.post(address, {"deed": "remove", "password": PASSWORD})
        assert not second_factor.stands(owner.user)
        assert not StaticToken.objects.exists()
        assert "does not fit" in sign(made).content.decode()
        assert not is_signed(clean_draft)

    def test_beside_an_app_the_codes_stay(
        self, owner: Any, browser: Client, with_factor: Any
    ) -> None:
        with_factor(owner.user)
        added(browser, Authenticator())
        browser.post(
            f"/you/passkeys/{Passkey.objects.get().pk}/", {"deed": "remove", "password": PASSWORD}
        )
        assert second_factor.codes_left(owner.user) == 10
        added(browser, Authenticator())
        browser.post(SETTLE, {"password": PASSWORD, "deed": "off"})
        assert second_factor.stands(owner.user)
        assert second_factor.codes_left(owner.user) == 10

    def test_it_is_nobody_elses(
        self, office: Any, browser_of: Any, browser: Client, device: Authenticator
    ) -> None:
        address = f"/you/passkeys/{Passkey.objects.get().pk}/"
        other = browser_of(office)
        assert other.get(address).status_code == 404
        data = {"deed": "remove", "password": PASSWORD}
        assert other.post(address, data).status_code == 404
        assert Passkey.objects.exists()


# WebAuthn level 3, section 16.2 (none attestation, ES256): published test vector. Its flags are
# 0x19: somebody was present, and nobody was verified.
VECTOR = {
    "aaguid": "8446ccb9ab1db374750b2367ff6f3a1f",
    "id": "f91f391db4c9b2fde0ea70189cba3fb63f579ba6122b33ad94ff3ec330084be4",
    "key": "a5010203262001215820afefa16f97ca9b2d23eb86ccb64098d20db90856062eb249c33a9b672f26df61"
    "225820930a56b87a2fca66334b03458abf879717c12cc68ed73290af2e2664796b9220",
    "challenge": "39c0e7521417ba54d43e8dc95174f423dee9bf3cd804ff6d65c857c9abf4d408",
    "authenticatorData": "bfabc37432958b063360d3ad6461c9c4735ae7f8edd46592a5e0f01452b2e4b5"
    "1900000000",
    "signature": "3046022100f50a4e2e4409249c4a853ba361282f09841df4dd4547a13a87780218deffcd38"
    "0221008480ac0f0b93538174f575bf11a1dd5d78c6e486013f937295ea13653e331e87",
}


@pytest.mark.parametrize(("verification", "taken"), [("discouraged", True), ("required", False)])
def test_the_published_vector_fails_by_its_missing_verification_alone(
    settings: Any, owner: Any, rf: Any, verification: str, taken: bool
) -> None:
    settings.ALLOWED_HOSTS = ["example.org"]
    value = {name: bytes.fromhex(written) for name, written in VECTOR.items()}
    held = value["aaguid"] + len(value["id"]).to_bytes(2, "big") + value["id"] + value["key"]
    Passkey.objects.create(
        user=owner.user, name="w3c", credential_id=text(value["id"]), public_key=held
    )
    request = rf.post("/", headers={"host": "example.org"}, secure=True)
    request.session = Client().session
    passkeys.ask(request, user=owner.user, purpose=passkeys.ENTERING)
    request.session[passkeys.ASKED]["state"] = {
        "challenge": text(value["challenge"]),
        "user_verification": verification,
    }
    request.session.save()
    client = (
        f'{{"type":"webauthn.get","challenge":"{text(value["challenge"])}",'
        '"origin":"https://example.org","crossOrigin":false}'
    )
    sent = {
        "clientDataJSON": text(client.encode()),
        **{name: text(value[name]) for name in ("authenticatorData", "signature")},
    }
    answer = {"id": text(value["id"]), "rawId": text(value["id"]), "type": "public-key"}
    answer = json.dumps({**answer, "response": sent, "clientExtensionResults": {}})
    try:
        passkeys.confirm_passkey(request, user=owner.user, purpose=passkeys.ENTERING, answer=answer)
    except RefusedInput:
        assert not taken
    else:
        assert taken


@hypothesis_settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data())
def test_whatever_is_sent_is_refused_and_never_breaks(
    data: st.DataObject, clean_draft: Any, device: Authenticator, sign: Any
) -> None:
    made: Any = json.loads(device.get(sign.asked()))
    part = data.draw(st.sampled_from(["whole", "id", "rawId", "response", *made["response"]]))
    junk = data.draw(
        st.one_of(
            st.none(),
            st.integers(),
            st.text(max_size=30),
            st.lists(st.integers(), max_size=3),
            st.binary(max_size=200).map(text),
        )
    )
    if part in made["response"]:
        made["response"][part] = junk
    elif part == "whole":
        made = junk
    else:
        made[part] = junk
    # "id" alone is not looked at: the key is found by "rawId".
    if part == "id":
        made["rawId"] = junk
    answer = sign(json.dumps(made) or "null")
    assert answer.status_code == 422
    assert not is_signed(clean_draft)
