"""The admin of the book: everything can be looked at, nothing added, changed or removed.

A draft is written through the pages, whose services keep its parts together; a sealed record cannot
be changed by anybody.
"""

from __future__ import annotations

from typing import Any

from django.contrib import admin

from logbook.base.adminrows import Admin, Stacked
from logbook.records import models


class LookOnly:
    """No adding, changing or removing, not even by a superuser."""

    def has_add_permission(self, request: Any, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: Any, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: Any, obj: Any = None) -> bool:
        return False


class LookOnlyAdmin(LookOnly, Admin):
    list_per_page = 50
    show_full_result_count = False


class LookOnlyInline(LookOnly, Stacked):
    extra = 0


class ProductLineInline(LookOnlyInline):
    model = models.ProductLine


class LoadUseInline(LookOnlyInline):
    model = models.LoadUse


class WeatherReadingInline(LookOnlyInline):
    model = models.WeatherReading


class ExplanationInline(LookOnlyInline):
    model = models.Explanation


class CrewMemberInline(LookOnlyInline):
    model = models.CrewMember


class DutyEntryInline(LookOnlyInline):
    model = models.DutyEntry


class LoadPartInline(LookOnlyInline):
    model = models.LoadPart


@admin.register(models.ApplicationRecord)
class ApplicationRecordAdmin(LookOnlyAdmin):
    list_display = ("id", "business", "customer", "field", "started_at", "signed_at")
    list_select_related = ("business", "customer", "field")
    list_filter = (("signed_at", admin.EmptyFieldListFilter),)
    search_fields = ("business__name", "customer__name", "field__name")
    inlines = (
        *(ProductLineInline, LoadUseInline, WeatherReadingInline, ExplanationInline),
        *(CrewMemberInline, DutyEntryInline),
    )


@admin.register(models.Load)
class LoadAdmin(LookOnlyAdmin):
    list_display = ("id", "business", "rig", "mixed_volume", "created_at")
    list_select_related = ("business", "rig")
    search_fields = ("business__name", "rig__name")
    inlines = (LoadPartInline,)


@admin.register(models.Seal)
class SealAdmin(LookOnlyAdmin):
    list_display = ("number", "business", "signer", "sealed_at", "breaches")
    list_select_related = ("business", "signer")
    search_fields = ("=number", "business__name", "link")


@admin.register(models.Chain)
class ChainAdmin(LookOnlyAdmin):
    list_display = ("business", "last_number", "last_link")
    list_select_related = ("business",)


@admin.register(models.ProductLine)
class ProductLineAdmin(LookOnlyAdmin):
    list_display = ("record_id", "product", "planned_rate", "total_used")
    list_select_related = ("product",)
    search_fields = ("product__name",)


@admin.register(models.LoadPart)
class LoadPartAdmin(LookOnlyAdmin):
    list_display = ("load_id", "product", "amount")
    list_select_related = ("product",)


@admin.register(models.LoadUse)
class LoadUseAdmin(LookOnlyAdmin):
    list_display = ("record_id", "load_id", "order", "used")


@admin.register(models.WeatherReading)
class WeatherReadingAdmin(LookOnlyAdmin):
    list_display = ("record_id", "read_at", "wind_from", "wind_speed", "temperature")


@admin.register(models.Explanation)
class ExplanationAdmin(LookOnlyAdmin):
    list_display = ("record_id", "finding", "text")


@admin.register(models.CrewMember)
class CrewMemberAdmin(LookOnlyAdmin):
    list_display = ("record_id", "person")
    list_select_related = ("person",)


@admin.register(models.DutyEntry)
class DutyEntryAdmin(LookOnlyAdmin):
    list_display = ("kind", "business", "record_id", "to_whom", "how", "given_at", "by")
    list_select_related = ("business", "by")
    search_fields = ("business__name", "to_whom")


@admin.register(models.DueSheet)
class DueSheetAdmin(LookOnlyAdmin):
    list_display = ("record_id", "next_due_at", "late_count", "keep_until", "may_go_after")


@admin.register(models.LegalHold)
class LegalHoldAdmin(LookOnlyAdmin):
    list_display = ("business", "seal", "set_at", "set_by", "lifted_at")
    list_select_related = ("business", "seal", "set_by")


@admin.register(models.Purge)
class PurgeAdmin(LookOnlyAdmin):
    list_display = ("business", "seal", "purged_at", "purged_by", "keep_until")
    list_select_related = ("business", "seal", "purged_by")


@admin.register(models.FeedKey)
class FeedKeyAdmin(LookOnlyAdmin):
    """Who has a calendar link; the hash is not shown, it opens nothing."""

    list_display = ("user", "business", "created_at", "revoked_at")
    list_select_related = ("user", "business")
    exclude = ("hashed",)


@admin.register(models.SetAside)
class SetAsideAdmin(LookOnlyAdmin):
    list_display = ("record", "at", "by", "back_at", "back_by")
    list_select_related = ("record__business", "by", "back_by")
    search_fields = ("reason", "by__email")


@admin.register(models.SealedName)
class SealedNameAdmin(LookOnlyAdmin):
    list_display = ("name", "of", "business")
    list_select_related = ("business",)
    search_fields = ("name",)


@admin.register(models.LawText)
class LawTextAdmin(LookOnlyAdmin):
    list_display = ("digest",)
    search_fields = ("digest",)
