"""Who sprays: person, licence, training."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from logbook.accounts.models.user import User
from logbook.facts.record import LicenceFacts, PersonFacts, TrainingFacts
from logbook.quantities.columns import column_of
from logbook.tenancy.models import TenantModel
from logbook.validators import place_validator


class Person(TenantModel):
    """Someone who sprays, supervises or helps; with or without a login."""

    name = column_of(PersonFacts, "name", blank=False)
    address = models.TextField(blank=True)
    phone = models.CharField(max_length=60, blank=True)
    user = models.ForeignKey(
        User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta(TenantModel.Meta):
        ordering = ["name", "id"]
        verbose_name_plural = _("people")

    def __str__(self) -> str:
        return str(self.name)


class Licence(models.Model):
    """A licence or certificate of a person, for a time and a place."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="licences")
    number = column_of(LicenceFacts, "number", blank=False)
    authority = column_of(LicenceFacts, "authority", blank=False)
    place = column_of(LicenceFacts, "place", blank=False, validators=[place_validator])
    categories = column_of(LicenceFacts, "categories", blank=False)
    certified = column_of(LicenceFacts, "certified")
    valid_from = column_of(LicenceFacts, "valid_from")
    expires_on = column_of(LicenceFacts, "expires_on")

    class Meta:
        ordering = ["expires_on", "id"]
        constraints = [
            models.CheckConstraint(
                name="licence_ends_after_start",
                condition=Q(expires_on__gte=F("valid_from")),
                violation_error_message=_("A licence cannot expire before it starts."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.number} ({self.authority})"

    def category_list(self) -> tuple[str, ...]:
        """Return the categories one by one."""
        return tuple(part.strip() for part in self.categories.split(",") if part.strip())


class Training(models.Model):
    """Training of a helper who works under supervision (US: 40 CFR 171.201)."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="trainings")
    trained_on = column_of(TrainingFacts, "trained_on")
    trainer = column_of(TrainingFacts, "trainer", blank=False)
    content = column_of(TrainingFacts, "content", blank=False)
    expires_on = column_of(TrainingFacts, "expires_on", null=True, blank=True)

    class Meta:
        ordering = ["-trained_on", "id"]
        constraints = [
            models.CheckConstraint(
                name="training_ends_after_start",
                condition=Q(expires_on__isnull=True) | Q(expires_on__gte=F("trained_on")),
                violation_error_message=_("A training cannot expire before it was given."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.content}, {self.trained_on}"
