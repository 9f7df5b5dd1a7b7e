"""Rows that belong to one business, and the one place that keeps businesses apart.

Every query that a person causes starts with `Model.objects.within(business)`; every row refuses
to point at a row of another business when it is cleaned.
"""

from __future__ import annotations

import uuid
from typing import Any, Self

from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext as _

from logbook.localization.locale import translate_word


class TenantQuerySet(models.QuerySet[Any]):
    """Queries of rows that belong to a business."""

    def within(self, business: Any) -> Self:
        """Return only the rows of `business`."""
        return self.filter(business=business)


class TenantModel(models.Model):
    """A row of one business; its id says nothing about how many there are."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    business = models.ForeignKey("accounts.Business", on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    objects = models.Manager.from_queryset(TenantQuerySet)()

    class Meta:
        abstract = True

    def clean(self) -> None:
        """Refuse a reference to a row of another business."""
        super().clean()
        errors = {}
        for column in self._meta.concrete_fields:
            model = column.related_model
            if model is None or not issubclass(model, TenantModel):
                continue
            other = getattr(self, column.name) if getattr(self, column.attname) else None
            if other is not None and other.business_id != self.business_id:
                errors[column.name] = _("There is no such %(what)s in this business.") % {
                    "what": translate_word(str(column.verbose_name))
                }
        if errors:
            raise ValidationError(errors)
