"""A login, which may be a member of several businesses."""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.models import PermissionsMixin
from django.db import models
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from logbook.localization.locale import READINGS


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
    US = "us", _("US customary")
    METRIC = "metric", _("metric")


class User(AbstractBaseUser, PermissionsMixin):
    """A login. What it may do follows from its memberships, not from its flags."""

    email = models.EmailField(_("e-mail address"), unique=True)
    name = models.CharField(max_length=150)
    unit_system = models.CharField(
        max_length=6,
        choices=UnitSystem,
        default=UnitSystem.US,
        help_text=_("Offered first in forms."),
    )
    language = models.CharField(
        max_length=8,
        blank=True,
        default="",
        choices=[(code, one.name) for code, one in READINGS.items()],
        help_text=_("Blank follows the browser."),
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
