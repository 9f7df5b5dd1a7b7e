"""The journal of a business: a chain of what was done beside the signing of records."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from logbook.hashing import NOTHING_YET
from logbook.tenancy.models import TenantModel


class Journal(models.Model):
    """The end of a business's journal; its row is the lock under which the journal grows."""

    business = models.OneToOneField(
        "accounts.Business", on_delete=models.PROTECT, primary_key=True, related_name="journal"
    )
    last_number = models.PositiveIntegerField(default=0)
    last_link = models.CharField(max_length=64, default=NOTHING_YET)
    last_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return f"journal of {self.business_id}, {self.last_number} entries"


class JournalEntry(TenantModel):
    """What one row said when it was written: canonical text, and its place in the chain.

    leaf = SHA-256(0x00 ‖ text); link = SHA-256(0x01 ‖ previous link ‖ leaf), as of a seal. The
    database refuses every change.
    """

    number = models.PositiveIntegerField()
    kind = models.CharField(max_length=20)
    row_id = models.UUIDField(null=True)  # of the row it is about; none of the first entry
    text = models.TextField()
    leaf = models.CharField(max_length=64)
    previous = models.CharField(max_length=64)
    link = models.CharField(max_length=64)

    class Meta(TenantModel.Meta):
        ordering = ["number"]
        verbose_name_plural = "journal entries"
        indexes = [models.Index(fields=["business", "kind", "row_id"], name="journal_of_row")]
        constraints = [
            models.UniqueConstraint(fields=["business", "number"], name="journal_number_once"),
            models.UniqueConstraint(fields=["business", "previous"], name="journal_follows_once"),
            models.CheckConstraint(name="journal_number_from_one", condition=Q(number__gte=1)),
        ]

    def __str__(self) -> str:
        return f"{self.number}: {self.kind}"
