"""The second factor of a login: codes from an app (TOTP, RFC 6238), and codes for when it is lost.

A passkey is a second factor too (`passkeys`); the recovery codes serve both. django-otp keeps the
app's secret, refuses a code used twice and slows down whoever guesses; django-axes locks as it does
for wrong passwords. A recovery code is kept as a keyed hash.
"""

from __future__ import annotations

import secrets
from base64 import b32encode
from dataclasses import dataclass
from typing import Any

import segno
from django.db import transaction
from django.http import HttpRequest
from django.utils.crypto import salted_hmac
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from logbook.accounts import locks
from logbook.accounts.models import User
from logbook.accounts.services import Confirmation
from logbook.errors.exceptions import Refused, RefusedInput

CODES = 10
_ALPHABET = "abcdefghjkmnpqrstuvwxyz23456789"
"""No letter that reads like another or like a figure."""


@dataclass(frozen=True)
class SetUp:
    """What an app needs to make codes: as a picture to be read by a camera, and as text."""

    picture: SafeString
    secret: str


def stands(user: User) -> bool:
    """Return whether this login asks for a code or a passkey."""
    return has_app(user) or user.passkeys.exists()


def has_app(user: User) -> bool:
    """Return whether an app makes codes for this login."""
    return bool(TOTPDevice.objects.filter(user=user, confirmed=True).exists())


def codes_left(user: User) -> int:
    """Return how many recovery codes are not used up."""
    return int(StaticToken.objects.filter(device__user=user).count())


def begin(*, confirmation: Confirmation) -> None:
    """Make a new secret; it counts for nothing until a code has come from it.

    Raises: Refused if an app is set up already.
    """
    user = confirmation.user
    with transaction.atomic():
        User.objects.select_for_update().get(pk=user.pk)
        if has_app(user):
            raise Refused(_("This login has an app for codes already; switch it off first."))
        TOTPDevice.objects.filter(user=user).delete()
        TOTPDevice.objects.create(user=user, name="app", confirmed=False)


def set_up(user: User) -> SetUp | None:
    """Return what the app needs while a second factor is being set up; None if none is."""
    device = TOTPDevice.objects.filter(user=user, confirmed=False).first()
    if device is None:
        return None
    secret = b32encode(device.bin_key).decode()
    picture = segno.make_qr(device.config_url, error="m").svg_inline(
        scale=4, light="#fff", dark="#000", svgclass="qr", lineclass=None
    )
    return SetUp(
        # An SVG path of numbers; nothing that anybody typed is written into it.
        picture=mark_safe(picture),  # noqa: S308
        secret=" ".join(secret[at : at + 4] for at in range(0, len(secret), 4)),
    )


def finish(request: HttpRequest, *, user: User, code: str) -> list[str]:
    """Return the recovery codes, to be shown once; from now on the login asks for a code.

    Raises: RefusedInput naming the code; Refused if nothing is being set up; Locked.
    """
    if set_up(user) is None:
        raise Refused(_("Nothing is being set up; begin again."))
    device = _must_fit(request, user=user, code=code, confirmed=False)
    with transaction.atomic():
        TOTPDevice.objects.filter(pk=device.pk).update(confirmed=True)
        return _new_codes(user)


def check_code(request: HttpRequest, *, user: User, code: str) -> None:
    """Return if the code is right: the app's of now, or a recovery code, which is then used up.

    Raises: RefusedInput naming the code; Locked after too many.
    """
    _must_fit(request, user=user, code=code, confirmed=True)


def _must_fit(request: HttpRequest, *, user: User, code: str, confirmed: bool) -> Any:
    """Return the device, of app or recovery codes, that the code is of; count it if of none."""
    locks.must_be_open(request, user.email)
    typed = "".join(code.split()).replace("-", "").lower()
    with transaction.atomic():
        kind = TOTPDevice if typed.isdigit() else StaticDevice
        rows = kind.objects.select_for_update().filter(user=user, confirmed=confirmed)
        device = rows.first()
        in_time = device is None or device.verify_is_allowed()[0]
        fits = device is not None and device.verify_token(
            typed if kind is TOTPDevice else _hashed(user, typed)
        )
    if fits:
        return device
    locks.count(request, user.email)
    raise RefusedInput(
        {
            "code": [
                _("This code does not fit, or was used already. Wait for the app's next one.")
                if in_time
                else _("That was too soon after a wrong code. Wait a little, then try again.")
            ]
        }
    )


def new_codes(*, confirmation: Confirmation) -> list[str]:
    """Return new recovery codes, to be shown once; the old ones open nothing any more.

    Raises: Refused if the login has no second factor.
    """
    with transaction.atomic():
        User.objects.select_for_update().get(pk=confirmation.user.pk)
        if not stands(confirmation.user):
            raise Refused(_("This login has no second factor."))
        return _new_codes(confirmation.user)


def switch_off(*, confirmation: Confirmation) -> None:
    """Take the app away; without a passkey the recovery codes go too."""
    user = confirmation.user
    with transaction.atomic():
        User.objects.select_for_update().get(pk=user.pk)
        TOTPDevice.objects.filter(user=user).delete()
        end_codes(user)


def first_codes(user: User) -> list[str]:
    """Return recovery codes, to be shown once, for a login that has none; else []."""
    return [] if StaticDevice.objects.filter(user=user).exists() else _new_codes(user)


def end_codes(user: User) -> None:
    """Take the recovery codes of a login away that has no second factor any more."""
    if not stands(user):
        StaticDevice.objects.filter(user=user).delete()


def _new_codes(user: User) -> list[str]:
    StaticDevice.objects.filter(user=user).delete()
    device = StaticDevice.objects.create(user=user, name="recovery codes")
    codes = ["".join(secrets.choice(_ALPHABET) for _place in range(10)) for _code in range(CODES)]
    StaticToken.objects.bulk_create(
        StaticToken(device=device, token=_hashed(user, code)) for code in codes
    )
    return [f"{code[:5]}-{code[5:]}" for code in codes]


def _hashed(user: User, code: str) -> str:
    """Return what is stored of a code: 80 bits keyed with the installation's secret."""
    digest = salted_hmac("logbook.recovery", f"{user.pk} {code}", algorithm="sha256").digest()
    return b32encode(digest[:10]).decode()
