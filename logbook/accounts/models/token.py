"""A secret with which a program acts for a person: hashed, scoped, expiring, revocable."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from logbook.accounts.models.user import User
from logbook.tenancy.models import TenantModel


class ApiToken(TenantModel):
    """What one person lets one program do in one business; the secret itself is nowhere stored."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="api_tokens")
    name = models.CharField(max_length=80, help_text=_("Which program, on which machine."))
    start = models.CharField(_("begins with"), max_length=16)
    hashed = models.CharField(max_length=64, unique=True)
    scopes = models.JSONField(default=list)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True)
    revoked_at = models.DateTimeField(null=True)

    class Meta(TenantModel.Meta):
        ordering = ["-made_at", "id"]
        verbose_name = _("API token")
        constraints = [
            models.CheckConstraint(
                name="token_expires_after_made", condition=Q(expires_at__gt=F("made_at"))
            ),
            models.CheckConstraint(name="token_has_name", condition=~Q(name="")),
        ]

    def __str__(self) -> str:
        return f"token “{self.name}” of {self.user}"
