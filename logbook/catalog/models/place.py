"""Places near fields that spray must not reach."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from calc import geometry
from calc.errors import OutOfRange
from logbook.catalog.choices import SensitiveKind
from logbook.localization.locale import localized
from logbook.quantities.columns import QuantityField, bounded
from logbook.tenancy.models import TenantModel


class SensitivePlace(TenantModel):
    """A point or an outline that spray must not reach, and how far to keep from it."""

    name = models.CharField(max_length=200)
    kind = models.CharField(max_length=20, choices=SensitiveKind)
    shape = models.JSONField(
        help_text=gettext_lazy(
            "GeoJSON Point, LineString or Polygon; longitude first, WGS 84 (RFC 7946)."
        )
    )
    keep_off = QuantityField(
        gettext_lazy("distance to keep"),
        dimensions=["length"],
        words=False,
        above=0,
        help_text=gettext_lazy(
            "The buffer that the label or the law asks for here, as you read it."
        ),
    )
    note = models.TextField(blank=True)
    # A rectangle around the shape, to find what is near a field without reading every shape.
    west = models.FloatField(editable=False, default=0)
    east = models.FloatField(editable=False, default=0)
    south = models.FloatField(editable=False, default=0)
    north = models.FloatField(editable=False, default=0)

    class Meta(TenantModel.Meta):
        ordering = ["name", "id"]
        indexes = [models.Index(fields=["business", "south", "north"], name="place_by_latitude")]
        constraints = [
            models.CheckConstraint(
                name="sensitive_kind", condition=Q(kind__in=SensitiveKind.values)
            ),
            *bounded("sensitive_place", positive="keep_off"),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        super().clean()
        self._bound()

    def save(self, *args: Any, **kwargs: Any) -> None:
        self._bound()
        super().save(*args, **kwargs)

    def _bound(self) -> None:
        if not isinstance(self.shape, dict):
            return
        try:
            self.west, self.south, self.east, self.north = geometry.bounds(place=self.shape)
        except OutOfRange as bad:
            raise ValidationError({"shape": localized(bad)}) from None
