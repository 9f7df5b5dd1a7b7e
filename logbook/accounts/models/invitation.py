"""An invitation by e-mail link."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from logbook.accounts.models.user import User
from logbook.accounts.rights import INSIDE, OUTSIDE, Role
from logbook.tenancy.models import TenantModel


class Invitation(TenantModel):
    """What an address is invited to; the link's token is kept as its hash alone.

    What it opens is a role of the business, or access from outside on the terms kept here.
    `invitations.admit` is the only reader of that.
    """

    email = models.EmailField(_("e-mail address"))
    role = models.CharField(max_length=12, choices=[(r.value, r.value) for r in Role])
    # Of access from outside: what `grants.give_grant` takes, days as ISO text.
    terms = models.JSONField(null=True, blank=True, editable=False)
    token_hash = models.CharField(max_length=64, unique=True, editable=False)
    invited_by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, related_name="+")
    sent_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_by = models.ForeignKey(
        User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta(TenantModel.Meta):
        ordering = ["-sent_at", "id"]
        constraints = [
            models.UniqueConstraint(
                Lower("email"),
                "business",
                name="one_open_invitation",
                condition=Q(accepted_at__isnull=True, withdrawn_at__isnull=True),
            ),
            models.CheckConstraint(
                name="invitation_role_known",
                condition=Q(role__in=[r.value for r in INSIDE], terms__isnull=True)
                | Q(role__in=[r.value for r in OUTSIDE], terms__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.email}, {self.role} of {self.business}"
