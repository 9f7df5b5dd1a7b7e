"""Seals and the chain they hang on."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext as _

from logbook.records.models.record import ApplicationRecord
from logbook.tenancy.models import TenantModel

NO_SEAL_YET = "0" * 64


class Chain(models.Model):
    """The end of a business's chain of seals; its row is the lock that keeps numbers gap-free."""

    business = models.OneToOneField(
        "accounts.Business", on_delete=models.PROTECT, primary_key=True, related_name="chain"
    )
    last_number = models.PositiveIntegerField(default=0)
    last_link = models.CharField(max_length=64, default=NO_SEAL_YET)

    def __str__(self) -> str:
        return f"chain of {self.business_id}, {self.last_number} seals"


class Seal(TenantModel):
    """One sealed record: the canonical text of everything it states, and its place in the chain.

    leaf = SHA-256(0x00 ‖ text); link = SHA-256(0x01 ‖ previous link ‖ leaf), the domain separation
    of RFC 6962 section 2.1. Text, not JSON: a JSON column may reorder its keys.

    A purged seal has lost its text and its record, and keeps the rest: the chain verifies by the
    leaf alone.
    """

    # No foreign key in the database: a purged seal still names the record that is gone. Triggers
    # keep a sealed record where it is as long as its seal is not purged.
    record = models.OneToOneField(
        ApplicationRecord, on_delete=models.DO_NOTHING, related_name="seal", db_constraint=False
    )
    number = models.PositiveIntegerField()
    text = models.TextField()
    leaf = models.CharField(max_length=64)
    previous = models.CharField(max_length=64)
    link = models.CharField(max_length=64)
    sealed_at = models.DateTimeField()
    signer = models.ForeignKey("accounts.User", on_delete=models.PROTECT, related_name="+")
    breaches = models.PositiveSmallIntegerField(default=0)
    findings = models.PositiveSmallIntegerField(default=0)
    # Null of a seal that was purged before these were counted: its text is gone.
    mismatches = models.PositiveSmallIntegerField(null=True, editable=False)
    missing = models.PositiveSmallIntegerField(null=True, editable=False)
    # Findings of any severity that nothing was said about.
    unexplained = models.PositiveSmallIntegerField(null=True, editable=False)
    # Written at sealing: the last day on which the law, as it stood, asks to keep it. Triggers let
    # no seal go before, and none that has no such day.
    keep_until = models.DateField(null=True, editable=False)
    purged_at = models.DateTimeField(null=True, editable=False)

    class Meta(TenantModel.Meta):
        ordering = ["number"]
        indexes = [
            models.Index(fields=["business", name], name=f"seal_by_{name}")
            for name in ("breaches", "findings", "mismatches", "missing", "unexplained")
        ]
        constraints = [
            models.UniqueConstraint(fields=["business", "number"], name="seal_number_once"),
            models.UniqueConstraint(fields=["business", "previous"], name="seal_follows_once"),
            models.CheckConstraint(name="seal_number_from_one", condition=Q(number__gte=1)),
            models.CheckConstraint(
                name="seal_text_unless_purged",
                condition=(Q(purged_at__isnull=True) & ~Q(text=""))
                | Q(purged_at__isnull=False, text=""),
            ),
        ]

    def __str__(self) -> str:
        return _("no. %(number)s") % {"number": self.number}


class SealedName(TenantModel):
    """A name under which a customer, field or product was sealed at least once, for the search.

    What a record was sealed with stands on the record and its lines, which are frozen.
    """

    of = models.UUIDField()  # the row of the shelf
    name = models.CharField(max_length=200)

    class Meta(TenantModel.Meta):
        constraints = [
            models.UniqueConstraint(fields=["business", "of", "name"], name="sealed_name_once")
        ]

    def __str__(self) -> str:
        return self.name
