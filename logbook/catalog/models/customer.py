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
from logbook.catalog.locations import location_fault
from logbook.catalog.models.standing import StandingBlanks
from logbook.facts.choices import LOCATION_KINDS
from logbook.facts.record import CropFacts, CustomerFacts, FieldFacts, LocationFacts
from logbook.localization.locale import localized
from logbook.quantities.columns import bounds_of, column_of
from logbook.tenancy.models import TenantModel
from logbook.validators import place_validator, validate_time_zone


class Customer(TenantModel):
    """The person for whom the work is done."""

    name = column_of(CustomerFacts, "name", blank=False)
    address = column_of(CustomerFacts, "address", blank=False)
    phone = models.CharField(max_length=60, blank=True)
    email = models.EmailField(gettext_lazy("e-mail address"), blank=True)

    class Meta(TenantModel.Meta):
        ordering = ["name", "id"]
        indexes = [models.Index(fields=["business", "name", "id"], name="customer_by_name")]

    def __str__(self) -> str:
        return str(self.name)


class Field(StandingBlanks, TenantModel):
    """A piece of land of one customer; its area is measured on the ellipsoid from its boundary."""

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="fields")
    name = column_of(FieldFacts, "name", blank=False)
    place = column_of(FieldFacts, "place", blank=False, validators=[place_validator])
    time_zone = column_of(FieldFacts, "time_zone", blank=False, validators=[validate_time_zone])
    boundary = column_of(FieldFacts, "boundary")
    area_ha = column_of(FieldFacts, "area_ha")
    planted_size = column_of(FieldFacts, "planted_size")
    elevation = column_of(FieldFacts, "elevation")

    class Meta(TenantModel.Meta):
        ordering = ["name", "id"]
        indexes = [models.Index(fields=["business", "name", "id"], name="field_by_name")]
        constraints = [
            *bounds_of("field", FieldFacts),
            models.CheckConstraint(
                name="field_area_with_boundary",
                condition=Q(area_ha__isnull=True) | Q(area_ha__gt=0),
            ),
        ]

    def __str__(self) -> str:
        return str(self.name)

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
            raise ValidationError({"boundary": localized(bad)}) from None


class FieldLocation(models.Model):
    """One typed way of saying where the field is; laws differ in which they accept."""

    field = models.ForeignKey(Field, on_delete=models.CASCADE, related_name="locations")
    kind = column_of(LocationFacts, "kind", max_length=20)
    text = column_of(LocationFacts, "text", blank=False)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                name="field_location_kind", condition=Q(kind__in=[*LOCATION_KINDS])
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
    crop = column_of(CropFacts, "name", blank=False)
    eppo_code = column_of(
        CropFacts,
        "eppo_code",
        validators=[
            RegexValidator(
                r"^[A-Z0-9]{5,6}$", gettext_lazy('Five or six letters, such as "GLXMA".')
            )
        ],
    )
    planted_on = column_of(CropFacts, "planted_on", null=True, blank=True)

    class Meta:
        ordering = ["-season", "id"]
        constraints = [
            models.CheckConstraint(
                name="planting_season_range", condition=Q(season__gte=1990) & Q(season__lte=2200)
            )
        ]

    def __str__(self) -> str:
        return f"{self.crop} {self.season}"
