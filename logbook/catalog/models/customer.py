"""Customers, their fields, and what is planted on them."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from calc import geometry
from calc.errors import OutOfRange
from logbook.base.fields import QuantityField, bounded
from logbook.base.locale import spoken
from logbook.base.tenancy import TenantModel
from logbook.base.validators import place_validator, validate_time_zone
from logbook.catalog.choices import LocationKind
from logbook.catalog.locations import location_fault


class Customer(TenantModel):
    """The person for whom the work is done."""

    name = models.CharField(max_length=200)
    address = models.TextField()
    phone = models.CharField(max_length=60, blank=True)
    email = models.EmailField(gettext_lazy("e-mail address"), blank=True)

    class Meta(TenantModel.Meta):
        ordering = ["name", "id"]
        indexes = [models.Index(fields=["business", "name", "id"], name="customer_by_name")]

    def __str__(self) -> str:
        return self.name


class Field(TenantModel):
    """A piece of land of one customer; its area is measured on the ellipsoid from its boundary."""

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="fields")
    name = models.CharField(max_length=200)
    place = models.CharField(
        gettext_lazy("state or province"),
        max_length=6,
        validators=[place_validator],
        help_text=gettext_lazy('ISO 3166-2, such as "US-ND". The law of this place decides.'),
    )
    time_zone = models.CharField(
        max_length=60,
        validators=[validate_time_zone],
        help_text=gettext_lazy('Such as "America/Chicago".'),
    )
    boundary = models.JSONField(
        null=True,
        blank=True,
        help_text=gettext_lazy(
            "GeoJSON Polygon or MultiPolygon; longitude first, WGS 84 (RFC 7946)."
        ),
    )
    area_ha = models.FloatField(
        gettext_lazy("area from the boundary (ha)"), null=True, editable=False
    )
    planted_size = QuantityField(dimensions=["area"], words=False, above=0)

    class Meta(TenantModel.Meta):
        ordering = ["name", "id"]
        indexes = [models.Index(fields=["business", "name", "id"], name="field_by_name")]
        constraints = [
            *bounded("field", positive="planted_size"),
            models.CheckConstraint(
                name="field_area_with_boundary",
                condition=Q(area_ha__isnull=True) | Q(area_ha__gt=0),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        super().clean()
        self.area_ha = self._measured_area()

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.area_ha = self._measured_area()
        super().save(*args, **kwargs)

    def _measured_area(self) -> float | None:
        if not self.boundary:
            return None
        try:
            return float(geometry.area_ha(shape=self.boundary))
        except OutOfRange as bad:
            raise ValidationError({"boundary": spoken(bad)}) from None


class FieldLocation(models.Model):
    """One typed way of saying where the field is; laws differ in which they accept."""

    field = models.ForeignKey(Field, on_delete=models.CASCADE, related_name="locations")
    kind = models.CharField(max_length=20, choices=LocationKind)
    text = models.TextField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                name="field_location_kind", condition=Q(kind__in=LocationKind.values)
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.text}"

    def clean(self) -> None:
        """Refuse a text that is not of its kind; one that stands already stays as it is."""
        super().clean()
        if self.pk and type(self).objects.filter(pk=self.pk, kind=self.kind, text=self.text):
            return
        why = location_fault(kind=self.kind, text=self.text, place=self.field.place)
        if why:
            raise ValidationError({"text": why})


class Planting(models.Model):
    """A crop on a field in a season."""

    field = models.ForeignKey(Field, on_delete=models.CASCADE, related_name="plantings")
    season = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(1990), MaxValueValidator(2200)]
    )
    crop = models.CharField(max_length=120)
    eppo_code = models.CharField(
        gettext_lazy("EPPO code"),
        max_length=6,
        blank=True,
        validators=[
            RegexValidator(
                r"^[A-Z0-9]{5,6}$", gettext_lazy('Five or six letters, such as "GLXMA".')
            )
        ],
    )
    planted_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-season", "id"]
        constraints = [
            models.CheckConstraint(
                name="planting_season_range", condition=Q(season__gte=1990) & Q(season__lte=2200)
            )
        ]

    def __str__(self) -> str:
        return f"{self.crop} {self.season}"
