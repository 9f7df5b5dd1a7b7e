"""A file that is being brought in: kept from the look at it to the deed."""

from __future__ import annotations

from django.db import models

from logbook.tenancy.models import TenantModel


class ImportFile(TenantModel):
    """One file that somebody chose, what it would come to, and whether it was written."""

    class State(models.TextChoices):
        CHOSEN = "chosen", "chosen"
        LOOKED_AT = "looked at", "looked at"
        WRITTEN = "written", "written"

    kind = models.CharField(max_length=20)
    name = models.CharField(max_length=200)
    content = models.BinaryField(help_text="Emptied when it is written.")
    made_by = models.ForeignKey("accounts.User", on_delete=models.CASCADE, related_name="+")
    options = models.JSONField(default=dict, blank=True)
    state = models.CharField(max_length=20, choices=State, default=State.CHOSEN)
    report = models.JSONField(default=dict, blank=True)
    digest = models.CharField(max_length=64, blank=True)

    class Meta(TenantModel.Meta):
        ordering = ["-created_at", "id"]

    def __str__(self) -> str:
        return self.name
