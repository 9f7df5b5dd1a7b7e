"""Who uses the book (user, business, membership) and who sprays (person, licence, training)."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.models import PermissionsMixin
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower

from logbook.accounts.rights import Role
from logbook.base.tenancy import TenantModel
from logbook.base.validators import place_validator, validate_time_zone


class UserManager(BaseUserManager["User"]):
    """Makes users who log in by e-mail address."""

    def get_by_natural_key(self, username: str | None) -> User:
        return self.get(email__iexact=username)

    def create_user(self, email: str, password: str | None = None, **extra: Any) -> User:
        """Return a new saved user.

        Raises: ValueError if the e-mail address is empty.
        """
        if not email:
            raise ValueError("A user needs an e-mail address.")
        user = self.model(email=self.normalize_email(email), **extra)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def create_superuser(self, email: str, password: str | None = None, **extra: Any) -> User:
        """Return a new saved user who may enter the admin."""
        return self.create_user(email, password, is_staff=True, is_superuser=True, **extra)


class UnitSystem(models.TextChoices):
    US = "us", "US customary"
    METRIC = "metric", "metric"


class User(AbstractBaseUser, PermissionsMixin):
    """A login. What it may do follows from its memberships, not from its flags."""

    email = models.EmailField("e-mail address", unique=True)
    name = models.CharField(max_length=150)
    unit_system = models.CharField(
        max_length=6, choices=UnitSystem, default=UnitSystem.US, help_text="Offered first in forms."
    )
    is_staff = models.BooleanField("may enter the admin", default=False)
    is_active = models.BooleanField(default=True)
    date_joined = models.DateTimeField(auto_now_add=True)

    objects = UserManager()

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    class Meta:
        constraints = [models.UniqueConstraint(Lower("email"), name="user_email_unique")]

    def __str__(self) -> str:
        return self.name or self.email


class PaperSize(models.TextChoices):
    LETTER = "letter", "Letter"
    A4 = "a4", "A4"


class Business(models.Model):
    """The licensed for-hire operator: the tenant, with its own yardsticks for the checks."""

    name = models.CharField(max_length=200)
    address = models.TextField()
    phone = models.CharField(max_length=60, blank=True)
    licence_number = models.CharField("business licence number", max_length=60, blank=True)
    time_zone = models.CharField(max_length=60, default="UTC", validators=[validate_time_zone])
    paper_size = models.CharField(max_length=6, choices=PaperSize, default=PaperSize.LETTER)
    look_again_percent = models.DecimalField(
        "look again beyond",
        max_digits=4,
        decimal_places=1,
        default=Decimal("5.0"),
        validators=[MinValueValidator(Decimal("0.1")), MaxValueValidator(Decimal(50))],
        help_text="Percent from the planned rate. 5 % is the trade's yardstick; no law sets it.",
    )
    disagree_percent = models.DecimalField(
        "does not agree beyond",
        max_digits=4,
        decimal_places=1,
        default=Decimal("10.0"),
        validators=[MinValueValidator(Decimal("0.1")), MaxValueValidator(Decimal(50))],
        help_text="Percent from the planned rate. The label's own limits have no tolerance.",
    )
    catch_test_max_days = models.PositiveSmallIntegerField(
        "a catch test holds for (days)",
        default=365,
        validators=[MinValueValidator(1), MaxValueValidator(1000)],
    )
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        verbose_name_plural = "businesses"
        constraints = [
            models.CheckConstraint(
                name="business_tolerances_in_order",
                condition=Q(look_again_percent__gt=0)
                & Q(disagree_percent__gte=F("look_again_percent")),
                violation_error_message='"Look again" must be more than 0 and not beyond '
                '"does not agree".',
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
    role = models.CharField(max_length=10, choices=[(r.value, r.value) for r in Role])

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["user", "business"], name="one_role_per_business"),
            models.CheckConstraint(
                name="membership_role_known", condition=Q(role__in=[r.value for r in Role])
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user}, {self.role} of {self.business}"


class Person(TenantModel):
    """Someone who sprays, supervises or helps; with or without a login."""

    name = models.CharField(max_length=150)
    address = models.TextField(blank=True)
    phone = models.CharField(max_length=60, blank=True)
    user = models.ForeignKey(
        User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta(TenantModel.Meta):
        ordering = ["name", "id"]
        verbose_name_plural = "people"

    def __str__(self) -> str:
        return self.name


class Licence(models.Model):
    """A licence or certificate of a person, for a time and a place."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="licences")
    number = models.CharField(max_length=60)
    authority = models.CharField(max_length=200, help_text="Who issued it.")
    place = models.CharField(
        max_length=6, validators=[place_validator], help_text='ISO 3166-2, such as "US-ND".'
    )
    categories = models.CharField(
        max_length=300, help_text="As printed on the licence, separated by commas."
    )
    certified = models.BooleanField("certified applicator", default=True)
    valid_from = models.DateField()
    expires_on = models.DateField()

    class Meta:
        ordering = ["expires_on", "id"]
        constraints = [
            models.CheckConstraint(
                name="licence_ends_after_start",
                condition=Q(expires_on__gte=F("valid_from")),
                violation_error_message="A licence cannot expire before it starts.",
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
    trained_on = models.DateField()
    trainer = models.CharField(max_length=150)
    content = models.CharField("what was taught", max_length=300)
    expires_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-trained_on", "id"]
        constraints = [
            models.CheckConstraint(
                name="training_ends_after_start",
                condition=Q(expires_on__isnull=True) | Q(expires_on__gte=F("trained_on")),
                violation_error_message="A training cannot expire before it was given.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.content}, {self.trained_on}"
