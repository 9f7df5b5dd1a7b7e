"""What was changed on the shelf: who, what, when, before and after."""

from __future__ import annotations

from django.db import models

from logbook.accounts.models.user import User
from logbook.tenancy.models import TenantModel


class ShelfChange(TenantModel):
    """One row written, changed or removed; `tenancy.history` writes it, triggers refuse changes.

    `created_at` says when. No key leads to the row: it may be gone, what was done with it stays.
    """

    # None: nobody was logged in, such as at a command of the service or at the opening of a book.
    by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    of = models.CharField(max_length=36)  # id of the row of the shelf that it is, or hangs on
    name = models.CharField(max_length=200)  # what that row was called then
    model = models.CharField(max_length=60)  # such as "catalog.planting"
    key = models.CharField(max_length=36)  # id of the row itself
    deed = models.CharField(
        max_length=8, choices=[(one, one) for one in ("added", "changed", "removed")]
    )
    # By column what stood there; columns that did not change are left out.
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)

    class Meta(TenantModel.Meta):
        ordering = ["-created_at", "-id"]
        indexes = [
            models.Index(fields=["business", "-created_at", "-id"], name="shelf_change_newest"),
            models.Index(fields=["business", "of", "-created_at", "-id"], name="shelf_change_of"),
        ]

    def __str__(self) -> str:
        return f"{self.name}, {self.deed}"
