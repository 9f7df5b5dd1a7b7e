"""E-mail: whether this installation sends any."""

from __future__ import annotations

from django.conf import settings

SENDING_NOTHING = tuple(
    f"django.core.mail.backends.{name}.EmailBackend" for name in ("console", "dummy")
)


def is_sent() -> bool:
    """Return whether e-mail goes out at all; without EMAIL_URL it is printed, which reaches nobody.

    What carries a secret is not even written then, or the secret would stand in the log.
    """
    return settings.EMAIL_BACKEND not in SENDING_NOTHING
