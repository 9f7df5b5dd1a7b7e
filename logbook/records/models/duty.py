"""What the law asks beyond the record itself: things done, what is due, holds, and purges."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import ClassVar
from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Coalesce
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.records.choices import Delivery, DutyKind
from logbook.records.models.record import ApplicationRecord
from logbook.records.models.seal import Seal
from logbook.tenancy.models import TenantModel

SAYS_WHY = (Delivery.NOT_OWED, Delivery.AROSE)
"""What an entry with one of these means stands in its note."""

LAST = datetime(9000, 1, 1, tzinfo=UTC)
"""Stands in the lists for the instant of what waits without one: after all that has one."""


class DutyEntry(TenantModel):
    """One thing done for a record: a notice given, a copy handed over, a report sent.

    That a thing is not owed here ("no workers on this farm") is an entry too, with its reason; so
    is that somebody asked for it, or that the case arose in which it is due: a clock starts. The
    database refuses every change to an entry. A mistaken one is answered by a further entry
    that strikes it; both stay readable.
    """

    record = models.ForeignKey(
        ApplicationRecord, on_delete=models.CASCADE, related_name="duty_entries"
    )
    kind = models.CharField(gettext_lazy("what was done"), max_length=20, choices=DutyKind)
    to_whom = models.CharField(gettext_lazy("to whom"), max_length=200)
    how = models.CharField(max_length=12, choices=Delivery)
    given_at = models.DateTimeField(gettext_lazy("when"))
    consent_on = models.DateField(
        gettext_lazy("written consent of"),
        null=True,
        blank=True,
        help_text=gettext_lazy(
            "The day of the customer's written consent, where electronic delivery needs it."
        ),
    )
    note = models.TextField(blank=True)
    strikes = models.OneToOneField(
        "self", on_delete=models.CASCADE, null=True, blank=True, related_name="struck_by"
    )
    by = models.ForeignKey("accounts.User", on_delete=models.PROTECT, related_name="+")

    ELECTRONIC: ClassVar = (Delivery.EMAIL, Delivery.ELECTRONIC)

    class Meta(TenantModel.Meta):
        ordering = ["given_at", "created_at", "id"]
        verbose_name = gettext_lazy("entry")
        verbose_name_plural = gettext_lazy("duty entries")
        constraints = [
            models.CheckConstraint(name="duty_entry_kind", condition=Q(kind__in=DutyKind.values)),
            models.CheckConstraint(name="duty_entry_how", condition=Q(how__in=Delivery.values)),
            models.CheckConstraint(
                name="duty_entry_says_why",
                condition=(Q(strikes__isnull=True) & ~Q(how__in=SAYS_WHY)) | ~Q(note=""),
                violation_error_message=gettext_lazy(
                    "Say in the note why it is struck, not owed, or which case arose."
                ),
            ),
            models.CheckConstraint(
                name="duty_entry_strikes_another",
                condition=Q(strikes__isnull=True) | ~Q(strikes=F("id")),
            ),
        ]

    def __str__(self) -> str:
        if self.how == Delivery.ASKED:
            return _("%(who)s asked (%(what)s)") % {
                "who": self.to_whom,
                "what": self.get_kind_display(),
            }
        return f"{self.get_kind_display()}, {self.to_whom}"

    def clean(self) -> None:
        super().clean()
        if self.how == Delivery.NOT_OWED and not self.note.strip():
            raise ValidationError({"note": _("Say why it is not owed here.")})
        if self.how == Delivery.AROSE and not self.note.strip():
            raise ValidationError({"note": _("Say in the note which case arose.")})
        if self.consent_on is not None and self.how not in self.ELECTRONIC:
            raise ValidationError(
                {
                    "consent_on": _(
                        "Consent is asked for electronic delivery; this was not electronic."
                    )
                }
            )

    @property
    def gives(self) -> bool:
        """Whether a thing was given by it: it is no request, and no reason that nothing is owed."""
        return self.how not in (Delivery.NOT_OWED, Delivery.ASKED, Delivery.AROSE)

    @property
    def lacks_consent(self) -> bool:
        """Whether it went electronically without the customer's written consent beforehand.

        The entry stays as it is, for it is what happened; where the law asks for consent first, it
        does not count.
        """
        if self.how not in self.ELECTRONIC:
            return False
        given = self.given_at.astimezone(ZoneInfo(self.record.time_zone)).date()
        return self.consent_on is None or self.consent_on > given


class DueSheet(models.Model):
    """What is due for one signed record and until when it is kept, as computed from its seal.

    A signed record's facts never change, so this changes only with a new entry, an amendment, or
    the data of the law; `law` says by which data it was computed.
    """

    record = models.OneToOneField(
        ApplicationRecord, on_delete=models.CASCADE, primary_key=True, related_name="due_sheet"
    )
    law = models.CharField(max_length=64)
    items = models.JSONField(default=list)
    next_due_at = models.DateTimeField(null=True, db_index=True)
    # What lists are sorted by: never null, for databases differ in where null stands.
    due_or_last = models.GeneratedField(
        expression=Coalesce("next_due_at", models.Value(LAST, models.DateTimeField())),
        output_field=models.DateTimeField(),
        db_persist=True,
        db_index=True,
    )
    late_count = models.PositiveSmallIntegerField(default=0)
    # Things that somebody asked for, to which no law that is carried gives an instant.
    waiting = models.PositiveSmallIntegerField(default=0)
    # The period, such as "us-ny 2026", of which a report to the authority is one for all records.
    report_of = models.CharField(max_length=80, blank=True, db_index=True)
    keep_until = models.DateField(null=True)
    kept_by = models.TextField(blank=True)
    # Of the field as it was sealed, ISO 3166-2: what is carried of its law is said in the lists.
    place = models.CharField(max_length=6, blank=True)
    # That the period is too uncertain to let the record go by it.
    in_doubt = models.BooleanField(default=False)
    may_go_after = models.DateField(null=True, db_index=True)

    def __str__(self) -> str:
        return f"due for {self.record_id}"


class LawText(models.Model):
    """The text of a duty set as it stood when a record was signed, under its SHA-256 digest.

    It belongs to no business: the law is the same for all. The database refuses every change.
    """

    digest = models.CharField(max_length=64, primary_key=True)
    text = models.TextField()

    def __str__(self) -> str:
        return self.digest


class LegalHold(TenantModel):
    """A reason to keep one sealed record, or the whole book, whatever the law lets go."""

    seal = models.ForeignKey(
        Seal,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="holds",
        help_text=gettext_lazy("Blank: the whole book."),
    )
    reason = models.TextField()
    set_at = models.DateTimeField()
    set_by = models.ForeignKey("accounts.User", on_delete=models.PROTECT, related_name="+")
    lifted_at = models.DateTimeField(null=True)
    lifted_by = models.ForeignKey(
        "accounts.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    lift_reason = models.TextField(blank=True)

    class Meta(TenantModel.Meta):
        ordering = ["-set_at", "id"]
        constraints = [
            models.CheckConstraint(name="hold_has_reason", condition=~Q(reason="")),
            models.CheckConstraint(
                name="hold_lifted_whole",
                condition=Q(lifted_at__isnull=True, lifted_by__isnull=True, lift_reason="")
                | (Q(lifted_at__isnull=False, lifted_by__isnull=False) & ~Q(lift_reason="")),
            ),
        ]

    def __str__(self) -> str:
        return f"hold on {self.seal or 'the whole book'}"


class Purge(TenantModel):
    """That the text of a seal and the rows of its record were let go: who, when, why, by what law.

    The seal keeps its number, leaf and link, so the chain still verifies without it.
    """

    seal = models.OneToOneField(Seal, on_delete=models.PROTECT, related_name="purge")
    purged_at = models.DateTimeField()
    purged_by = models.ForeignKey("accounts.User", on_delete=models.PROTECT, related_name="+")
    reason = models.TextField()
    keep_until = models.DateField()
    allowed_by = models.TextField()

    class Meta(TenantModel.Meta):
        ordering = ["-purged_at", "seal__number"]
        constraints = [
            models.CheckConstraint(name="purge_has_reason", condition=~Q(reason="")),
        ]

    def __str__(self) -> str:
        return f"purge of {self.seal}"


class FeedKey(TenantModel):
    """The secret behind one person's calendar link; the secret itself is nowhere stored."""

    user = models.ForeignKey("accounts.User", on_delete=models.CASCADE, related_name="+")
    hashed = models.CharField(max_length=64, unique=True)
    revoked_at = models.DateTimeField(null=True)

    class Meta(TenantModel.Meta):
        ordering = ["-created_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["user", "business"],
                condition=Q(revoked_at__isnull=True),
                name="one_feed_key_a_person",
            )
        ]

    def __str__(self) -> str:
        return f"feed of {self.user}"
