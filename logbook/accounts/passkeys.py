"""Passkeys: a device proves who is at it by fingerprint, face or its own PIN (W3C WebAuthn).

The library checks what the standard asks for: origin, challenge, user verification, signature. A
challenge belongs to one session, one login and one purpose. The first answer uses it up, right or
wrong, and it ends after `SECONDS`. Wrong answers are counted with wrong passwords.
"""

from __future__ import annotations

import time
from typing import Any
from urllib.parse import urlsplit

from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext as _
from fido2.server import Fido2Server
from fido2.utils import websafe_encode
from fido2.webauthn import (
    AttestedCredentialData,
    AuthenticationResponse,
    PublicKeyCredentialRpEntity,
    PublicKeyCredentialUserEntity,
    ResidentKeyRequirement,
    UserVerificationRequirement,
)

from logbook.accounts import locks, second_factor
from logbook.accounts.models import Passkey, User
from logbook.accounts.services import Confirmation
from logbook.errors.exceptions import NotThere, Refused, RefusedInput
from logbook.facts.strict_json import json_value

SECONDS = 300
"""How long a challenge lives: the default that WebAuthn level 3 recommends for `timeout`."""
MOST = 20
"""Passkeys of one login. Our own measure, no source."""
LONGEST = 20_000
"""Characters of an answer; one is some hundreds. Our own measure, no source."""
ADDING = "add"
ENTERING = "log in"
ASKED = "passkey_asked"


def signing(record_id: object) -> str:
    """Return the purpose of a challenge that signs one record and no other."""
    return f"sign {record_id}"


def passkeys(user: User) -> QuerySet[Passkey]:
    """Return the passkeys of a login in the order in which they were added."""
    return user.passkeys.all()


def passkey(*, user: User, passkey_id: int) -> Passkey:
    """Return one passkey of a login.

    Raises: NotThere.
    """
    found = passkeys(user).filter(pk=passkey_id).first()
    if found is None:
        raise NotThere(_("There is no such passkey."))
    return found


def ask(request: HttpRequest, *, user: User, purpose: str) -> dict[str, Any]:
    """Return what the browser hands to the device, as JSON; the session keeps the challenge.

    Raises: Refused if there is no passkey to ask for, or no room for another.
    """
    server, known = _server(request), [_credential(one) for one in passkeys(user)]
    if purpose == ADDING:
        if len(known) >= MOST:
            raise Refused(_too_many())
        options: Any
        options, state = server.register_begin(
            # The standard wants a handle that tells nothing about the person.
            PublicKeyCredentialUserEntity(
                id=salted_hmac("logbook.passkey", str(user.pk), algorithm="sha256").digest(),
                name=user.email,
                display_name=user.name,
            ),
            known,
            resident_key_requirement=ResidentKeyRequirement.PREFERRED,
            user_verification=UserVerificationRequirement.REQUIRED,
        )
    else:
        if not known:
            raise Refused(_("This login has no passkey."))
        options, state = server.authenticate_begin(
            known, user_verification=UserVerificationRequirement.REQUIRED
        )
    request.session[ASKED] = {
        "state": state,
        "user": user.pk,
        "purpose": purpose,
        "until": time.time() + SECONDS,
    }
    return dict(options.public_key)


def add(request: HttpRequest, *, user: User, name: str, answer: str) -> list[str]:
    """Keep a new passkey; return recovery codes, to be shown once, if the login had none.

    From now on the login asks for a second factor.

    Args: answer, what the browser made of the device's answer, as JSON.
    Raises: RefusedInput naming the name or the passkey.
    """
    server = _server(request)
    state = _taken(request, user, ADDING)
    name = name.strip()
    if not name:
        raise RefusedInput({"name": [_("Give the passkey a name.")]})
    try:
        data: Any = server.register_complete(state, _read(answer)).credential_data
        fits = data.public_key.ALGORITHM in {one.alg for one in server.allowed_algorithms}
    except Exception:  # whatever a stranger's bytes make of the library is a refusal
        fits = False
    if not fits:
        raise _not_fitting()
    with transaction.atomic():
        User.objects.select_for_update().get(pk=user.pk)
        if passkeys(user).count() >= MOST:
            raise RefusedInput({"passkey": [_too_many()]})
        _row, new = Passkey.objects.get_or_create(
            credential_id=websafe_encode(data.credential_id),
            defaults={"user": user, "name": name, "public_key": bytes(data)},
        )
        if not new:
            raise RefusedInput({"passkey": [_("This passkey was added before.")]})
        return second_factor.first_codes(user)


def confirm_passkey(request: HttpRequest, *, user: User, purpose: str, answer: str) -> Confirmation:
    """Return the proof that `user` is at the device; a wrong answer counts as a failed login.

    Raises: RefusedInput naming the passkey; Locked after too many.
    """
    locks.must_be_open(request, user.email)
    state = _taken(request, user, purpose)
    with transaction.atomic():
        rows = {one.credential_id: one for one in passkeys(user).select_for_update()}
        try:
            given = AuthenticationResponse.from_dict(_read(answer))
            used: Any = _server(request).authenticate_complete(
                state, [_credential(one) for one in rows.values()], given
            )
            row = rows[websafe_encode(used.credential_id)]
            counted = given.response.authenticator_data.counter
            # A device that counts counts on; else two devices hold the key (level 2, section 7.2).
            fits = counted > row.counter or counted == row.counter == 0
        except Exception:  # as above
            fits = False
        if fits:
            row.counter, row.last_used_at = counted, timezone.now()
            row.save(update_fields=["counter", "last_used_at"])
    if not fits:
        locks.count(request, user.email)
        raise _not_fitting()
    return Confirmation(user=user, by="passkey")


def rename(*, user: User, passkey_id: int, name: str) -> None:
    """Give a passkey another name.

    Raises: NotThere.
    """
    passkey(user=user, passkey_id=passkey_id)
    passkeys(user).filter(pk=passkey_id).update(name=name)


def remove(*, confirmation: Confirmation, passkey_id: int) -> None:
    """Take a passkey away; without any second factor the recovery codes go too.

    Raises: NotThere.
    """
    user = confirmation.user
    with transaction.atomic():
        User.objects.select_for_update().get(pk=user.pk)
        passkey(user=user, passkey_id=passkey_id).delete()
        second_factor.end_codes(user)


def _server(request: HttpRequest) -> Fido2Server:
    """Return the checks for the address at which the browser asked, which ALLOWED_HOSTS knows."""
    origin = f"{request.scheme}://{request.get_host()}"
    server = Fido2Server(
        PublicKeyCredentialRpEntity(name=_("Spray logbook"), id=urlsplit(origin).hostname),
        verify_origin=lambda said: said == origin,
    )
    server.timeout = SECONDS * 1000  # type: ignore[assignment]
    return server


def _credential(row: Passkey) -> AttestedCredentialData:
    return AttestedCredentialData(bytes(row.public_key))


def _read(answer: str) -> Any:
    if len(answer) > LONGEST:
        raise ValueError("too long")
    return json_value(answer)


def _taken(request: HttpRequest, user: User, purpose: str) -> Any:
    """Return what the library kept of the challenge, which nobody gets a second time.

    Raises: RefusedInput if none was asked for, or it ended.
    """
    session: Any = request.session
    with transaction.atomic():
        # As stored, behind a lock: of two answers at once one finds it.
        User.objects.select_for_update().get(pk=user.pk)
        asked = session.load().get(ASKED)
        session.pop(ASKED, None)
        if asked:
            session.save()
    if (
        not asked
        or (asked["user"], asked["purpose"]) != (user.pk, purpose)
        or asked["until"] < time.time()
    ):
        raise RefusedInput(
            {"passkey": [_("The passkey came too late or was used already. Use it once more.")]}
        )
    return asked["state"]


def _not_fitting() -> RefusedInput:
    return RefusedInput(
        {"passkey": [_("This passkey does not fit, or the device did not check who you are.")]}
    )


def _too_many() -> str:
    return _("A login has at most %(most)s passkeys. Remove one first.") % {"most": MOST}
