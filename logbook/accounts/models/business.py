"""The business that is the tenant, and who is what in it."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from logbook.accounts.models.user import UnitSystem, User
from logbook.accounts.rights import INSIDE
from logbook.validators import validate_time_zone


class PaperSize(models.TextChoices):
    LETTER = "letter", _("Letter")
    A4 = "a4", "A4"


class Business(models.Model):
    """The licensed for-hire operator: the tenant, with its own yardsticks for the checks."""

    name = models.CharField(max_length=200)
    address = models.TextField()
    phone = models.CharField(max_length=60, blank=True)
    licence_number = models.CharField(_("business licence number"), max_length=60, blank=True)
    time_zone = models.CharField(max_length=60, default="UTC", validators=[validate_time_zone])
    paper_size = models.CharField(max_length=6, choices=PaperSize, default=PaperSize.LETTER)
    unit_system = models.CharField(
        _("units of its papers"),
        max_length=6,
        choices=UnitSystem,
        blank=True,
        help_text=_("Blank: each record speaks the units in which it was entered."),
    )
    look_again_percent = models.DecimalField(
        _("look again beyond"),
        max_digits=4,
        decimal_places=1,
        default=Decimal("5.0"),
        validators=[MinValueValidator(Decimal("0.1")), MaxValueValidator(Decimal(50))],
        help_text=_("Percent from the planned rate. 5 % is the trade's yardstick; no law sets it."),
    )
    disagree_percent = models.DecimalField(
        _("does not agree beyond"),
        max_digits=4,
        decimal_places=1,
        default=Decimal("10.0"),
        validators=[MinValueValidator(Decimal("0.1")), MaxValueValidator(Decimal(50))],
        help_text=_("Percent from the planned rate. The label's own limits have no tolerance."),
    )
    catch_test_max_days = models.PositiveSmallIntegerField(
        _("a catch test holds for (days)"),
        default=365,
        validators=[MinValueValidator(1), MaxValueValidator(1000)],
    )
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        verbose_name_plural = _("businesses")
        constraints = [
            models.CheckConstraint(
                name="business_tolerances_in_order",
                condition=Q(look_again_percent__gt=0)
                & Q(disagree_percent__gte=F("look_again_percent")),
                violation_error_message=_(
                    '"Look again" must be more than 0 and not beyond "does not agree".'
                ),
            ),
            models.CheckConstraint(
                name="business_catch_test_days", condition=Q(catch_test_max_days__gt=0)
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Membership(models.Model):
    """The role of a user in a business."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="memberships")
    business = models.ForeignKey(Business, on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=10, choices=[(r.value, r.value) for r in INSIDE])

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["user", "business"], name="one_role_per_business"),
            models.CheckConstraint(
                name="membership_role_known", condition=Q(role__in=[r.value for r in INSIDE])
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user}, {self.role} of {self.business}"
