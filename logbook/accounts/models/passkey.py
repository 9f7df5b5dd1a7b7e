"""A passkey of a login: the public half of a key that a device keeps."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from logbook.accounts.models.user import User


class Passkey(models.Model):
    """One credential of Web Authentication (W3C, level 2).

    What is stored opens nothing: the private half never leaves the device.
    """

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="passkeys")
    name = models.CharField(max_length=64)
    # base64url; at most 1023 bytes (level 2, section 4).
    credential_id = models.CharField(max_length=1364, unique=True)
    # Attested credential data (section 6.5.1): authenticator model, credential id, public key.
    public_key = models.BinaryField()
    # Of signatures, as the device counts them; a device that does not count says 0.
    counter = models.PositiveBigIntegerField(default=0)
    created_at = models.DateTimeField(auto_now_add=True)
    last_used_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["created_at", "id"]
        verbose_name = _("passkey")

    def __str__(self) -> str:
        return f"passkey “{self.name}” of {self.user}"
