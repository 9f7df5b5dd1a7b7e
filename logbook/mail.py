"""E-mail: whether this installation sends any, and how a letter leaves."""

from __future__ import annotations

from django.conf import settings
from django.core.mail import EmailMessage

from logbook.localization.invisible import made_visible

SENDING_NOTHING = tuple(
    f"django.core.mail.backends.{name}.EmailBackend" for name in ("console", "dummy")
)


def is_sent() -> bool:
    """Return whether e-mail goes out at all; without EMAIL_URL it is printed, which reaches nobody.

    What carries a secret is not even written then, or the secret would stand in the log.
    """
    return settings.EMAIL_BACKEND not in SENDING_NOTHING


def send(*, subject: str, letter: str, to: str) -> None:
    """Send a letter to one person: nobody learns the address of another."""
    # A header is one line; a name that is not would end a run for everybody after it.
    one_line = " ".join(made_visible(subject).split())
    EmailMessage(subject=one_line, body=made_visible(letter), to=[to]).send()
