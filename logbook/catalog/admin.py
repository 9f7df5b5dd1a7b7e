"""The admin of the shelf. Its users see every business; the pages show only one."""

from __future__ import annotations

from typing import ClassVar

from django.contrib import admin

from logbook.base.adminrows import Admin, Stacked, Tabular
from logbook.catalog import models


class TenantAdmin(Admin):
    """A row of a business: listed with it, found by it."""

    list_select_related: ClassVar[tuple[str, ...]] = ("business",)
    autocomplete_fields: ClassVar[tuple[str, ...]] = ("business",)
    readonly_fields: ClassVar[tuple[str, ...]] = ("created_at",)


class LocationInline(Stacked):
    model = models.FieldLocation
    extra = 0


class PlantingInline(Tabular):
    model = models.Planting
    extra = 0


class IngredientInline(Tabular):
    model = models.Ingredient
    extra = 0


class LabelAskInline(Tabular):
    model = models.LabelAsk
    extra = 0


class LabelDeadlineInline(Tabular):
    model = models.LabelDeadline
    extra = 0


class ClassRowInline(Tabular):
    model = models.NozzleClassRow
    extra = 0


@admin.register(models.Customer)
class CustomerAdmin(TenantAdmin):
    list_display = ("name", "business", "phone")
    search_fields = ("name", "business__name")


@admin.register(models.Field)
class FieldAdmin(TenantAdmin):
    list_display = ("name", "customer", "business", "place", "area_ha")
    list_select_related = ("business", "customer")
    search_fields = ("name", "customer__name", "business__name")
    autocomplete_fields = ("business", "customer")
    readonly_fields = ("area_ha", "created_at")
    inlines = (LocationInline, PlantingInline)


@admin.register(models.Product)
class ProductAdmin(TenantAdmin):
    list_display = ("name", "kind", "registration_number", "business")
    list_filter = ("kind",)
    search_fields = ("name", "registration_number", "business__name")


@admin.register(models.LabelEdition)
class LabelEditionAdmin(TenantAdmin):
    list_display = ("product", "edition", "in_force_from", "in_force_to", "business")
    list_select_related = ("business", "product")
    search_fields = ("product__name", "edition", "business__name")
    autocomplete_fields = ("business", "product")
    inlines = (IngredientInline, LabelAskInline, LabelDeadlineInline)


@admin.register(models.NozzleModel)
class NozzleModelAdmin(TenantAdmin):
    list_display = ("name", "kind", "size", "angle", "business")
    list_filter = ("kind",)
    search_fields = ("name", "business__name")
    inlines = (ClassRowInline,)


@admin.register(models.Rig)
class RigAdmin(TenantAdmin):
    list_display = ("name", "plate", "nozzle_count", "business")
    search_fields = ("name", "plate", "business__name")


@admin.register(models.NozzleSet)
class NozzleSetAdmin(TenantAdmin):
    list_display = ("nozzle", "rig", "mounted_on", "removed_on", "business")
    list_select_related = ("business", "nozzle", "rig")
    search_fields = ("nozzle__name", "rig__name", "business__name")
    autocomplete_fields = ("business", "nozzle", "rig")


@admin.register(models.CatchTest)
class CatchTestAdmin(TenantAdmin):
    list_display = ("nozzle_set", "tested_on", "tested_by", "business")
    list_select_related = ("business", "nozzle_set__nozzle", "nozzle_set__rig")
    search_fields = ("nozzle_set__nozzle__name", "nozzle_set__rig__name")
    autocomplete_fields = ("business", "nozzle_set")


@admin.register(models.FieldLocation)
class FieldLocationAdmin(Admin):
    list_display = ("field", "kind", "text")
    list_select_related = ("field",)


@admin.register(models.Planting)
class PlantingAdmin(Admin):
    list_display = ("field", "season", "crop")
    list_select_related = ("field",)


@admin.register(models.Ingredient)
class IngredientAdmin(Admin):
    list_display = ("edition", "name", "content")
    list_select_related = ("edition__product",)


@admin.register(models.NozzleClassRow)
class NozzleClassRowAdmin(Admin):
    list_display = ("nozzle", "pressure", "droplet_class")
    list_select_related = ("nozzle",)


@admin.register(models.LabelAsk)
class LabelAskAdmin(Admin):
    list_display = ("edition", "element", "when")
    list_select_related = ("edition__product",)
    autocomplete_fields = ("edition",)


@admin.register(models.LabelDeadline)
class LabelDeadlineAdmin(Admin):
    list_display = ("edition", "kind", "clock", "count", "since")
    list_select_related = ("edition__product",)
    autocomplete_fields = ("edition",)


@admin.register(models.SensitivePlace)
class SensitivePlaceAdmin(TenantAdmin):
    list_display = ("name", "kind", "business", "keep_off")
    search_fields = ("name", "business__name")


@admin.register(models.ImportFile)
class ImportFileAdmin(TenantAdmin):
    list_display = ("name", "kind", "business", "made_by", "state")
    list_select_related = ("business", "made_by")
    search_fields = ("name", "business__name")
    exclude = ("content",)
    readonly_fields = ("created_at", "made_by", "kind", "options", "state", "report", "digest")
