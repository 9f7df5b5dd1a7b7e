"""What is opened to somebody outside the business, and every use that was made of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from logbook.accounts.models.user import User
from logbook.accounts.rights import OUTSIDE, Role
from logbook.tenancy.models import TenantModel


@dataclass(frozen=True, kw_only=True)
class Scope:
    """Which sealed records a grant opens; each condition narrows the ones before it."""

    every_customer: bool
    customer_ids: tuple[UUID, ...]
    field_ids: tuple[UUID, ...]  # empty: every field of those customers
    started_from: datetime | None
    started_before: datetime | None


class Grant(TenantModel):
    """Sealed records opened to a user from outside, for a reason and a time.

    A grant is never deleted nor changed but for its withdrawal: triggers see to it. Its customers
    and fields are rows that keep what they name, so that no scope widens by a row that went.
    """

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="grants")
    role = models.CharField(max_length=12, choices=[(r.value, r.value) for r in OUTSIDE])
    # Message, never meant by an empty list: a grant without customers opens nothing.
    every_customer = models.BooleanField(default=False)
    day_from = models.DateField(_("work from"), null=True, blank=True)
    day_to = models.DateField(_("work until"), null=True, blank=True)
    reason = models.CharField(max_length=500, blank=True)
    begins_at = models.DateTimeField()
    ends_at = models.DateTimeField(null=True, blank=True)
    given_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, editable=False)
    withdrawn_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, related_name="+", editable=False
    )

    class Meta(TenantModel.Meta):
        ordering = ["-begins_at", "id"]
        constraints = [
            models.CheckConstraint(
                name="grant_role_known", condition=Q(role__in=[r.value for r in OUTSIDE])
            ),
            models.CheckConstraint(
                name="grant_inspector_has_reason_and_end",
                condition=~Q(role=Role.INSPECTOR.value)
                | (~Q(reason="") & Q(ends_at__isnull=False)),
            ),
            models.CheckConstraint(
                name="grant_farm_manager_has_customers",
                condition=~Q(role=Role.FARM_MANAGER.value) | Q(every_customer=False),
            ),
            models.CheckConstraint(
                name="grant_ends_after_it_begins",
                condition=Q(ends_at__isnull=True) | Q(ends_at__gt=F("begins_at")),
            ),
            models.CheckConstraint(
                name="grant_days_in_order",
                condition=Q(day_from__isnull=True)
                | Q(day_to__isnull=True)
                | Q(day_to__gte=F("day_from")),
            ),
            models.CheckConstraint(
                name="grant_withdrawn_by_somebody",
                condition=Q(withdrawn_at__isnull=True, withdrawn_by__isnull=True)
                | Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False),
            ),
        ]
        indexes = [models.Index(fields=["user", "ends_at"], name="grant_of_user")]

    def __str__(self) -> str:
        return f"{self.user}, {self.role} at {self.business}"

    def stands(self, now: datetime) -> bool:
        """Return whether the grant opens anything at `now`."""
        return (
            self.withdrawn_at is None
            and self.begins_at <= now
            and (self.ends_at is None or now < self.ends_at)
        )

    @property
    def first_day(self) -> date:
        """The day on which it begins, by the clock of the business."""
        return self.begins_at.astimezone(self._zone).date()

    @property
    def last_day(self) -> date | None:
        """The last day on which it stands, by the clock of the business; None if it has no end."""
        if self.ends_at is None:
            return None
        return (self.ends_at - timedelta(microseconds=1)).astimezone(self._zone).date()

    @property
    def _zone(self) -> ZoneInfo:
        return ZoneInfo(self.business.time_zone)

    @property
    def scope(self) -> Scope:
        """What it opens; days are those of the clock of the business."""

        def midnight(day: date | None, *, after: int = 0) -> datetime | None:
            if day is None:
                return None
            return datetime.combine(day + timedelta(days=after), time.min, self._zone)

        return Scope(
            every_customer=self.every_customer,
            customer_ids=tuple(one.customer_id for one in self.customers.all()),
            field_ids=tuple(one.field_id for one in self.fields.all()),
            started_from=midnight(self.day_from),
            started_before=midnight(self.day_to, after=1),
        )


class GrantedCustomer(models.Model):
    """A customer whose records a grant opens."""

    grant = models.ForeignKey(Grant, on_delete=models.PROTECT, related_name="customers")
    customer = models.ForeignKey("catalog.Customer", on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["grant", "customer"], name="granted_customer_once")
        ]

    def __str__(self) -> str:
        return str(self.customer)


class GrantedField(models.Model):
    """A field to which a grant is narrowed."""

    grant = models.ForeignKey(Grant, on_delete=models.PROTECT, related_name="fields")
    field = models.ForeignKey("catalog.Field", on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["grant", "field"], name="granted_field_once")
        ]

    def __str__(self) -> str:
        return str(self.field)


class Visit(TenantModel):
    """One request made by a grant: who, when, what, from which address, and what was answered.

    Written by the middleware before the answer leaves; triggers refuse every change.
    """

    grant = models.ForeignKey(Grant, on_delete=models.PROTECT, related_name="visits")
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    method = models.CharField(max_length=10)
    path = models.CharField(max_length=500)
    page = models.CharField(max_length=60)  # the name of the address
    record_id = models.UUIDField(null=True)  # no key: a record may be purged, the visit stays
    status = models.PositiveSmallIntegerField()
    address = models.CharField(max_length=64)

    class Meta(TenantModel.Meta):
        ordering = ["-at", "id"]
        indexes = [models.Index(fields=["business", "-at", "id"], name="visit_newest_first")]

    def __str__(self) -> str:
        return f"{self.user}, {self.method} {self.path}"
