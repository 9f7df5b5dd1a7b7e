"""The admin of the shelf. Its users see every business; the pages show only one."""

from __future__ import annotations

from logbook.catalog import models as m
from logbook.tenancy.admin import ALL, inlines_of, register

BY_NAME = "name business__name"

register(m.Customer, "name business phone", search=BY_NAME, may=ALL)
register(
    m.Field,
    "name customer business place area_ha",
    search="name customer__name business__name",
    may=ALL,
    inlines=[
        *inlines_of(m.FieldLocation, may=ALL),
        *inlines_of(m.Planting, may=ALL, table=True),
    ],
)
register(
    m.Product,
    "name kind registration_number business",
    search="name registration_number business__name",
    may=ALL,
    list_filter=["kind"],
)
register(
    m.LabelEdition,
    "product edition in_force_from in_force_to business",
    search="product__name edition business__name",
    may=ALL,
    inlines=inlines_of(m.Ingredient, m.LabelAsk, m.LabelDeadline, may=ALL, table=True),
)
register(
    m.NozzleModel,
    "name kind size angle business",
    search=BY_NAME,
    may=ALL,
    list_filter=["kind"],
    inlines=inlines_of(m.NozzleClassRow, may=ALL, table=True),
)
register(m.Rig, "name plate nozzle_count business", search="name plate business__name", may=ALL)
register(
    m.NozzleSet,
    "nozzle rig mounted_on removed_on business",
    search="nozzle__name rig__name business__name",
    may=ALL,
)
register(
    m.CatchTest,
    "nozzle_set tested_on tested_by business",
    search="nozzle_set__nozzle__name nozzle_set__rig__name",
    related="nozzle_set__nozzle nozzle_set__rig",
    may=ALL,
)
register(m.FieldLocation, "field kind text", may=ALL)
register(m.Planting, "field season crop", may=ALL)
register(m.Ingredient, "edition name content", related="edition__product", may=ALL)
register(m.NozzleClassRow, "nozzle pressure droplet_class", may=ALL)
register(m.LabelAsk, "edition element when", related="edition__product", may=ALL)
register(m.LabelDeadline, "edition kind clock count since", related="edition__product", may=ALL)
register(m.SensitivePlace, "name kind business keep_off", search=BY_NAME, may=ALL)
register(
    m.ImportFile,
    "name kind business made_by state",
    search=BY_NAME,
    may=ALL,
    exclude=["content"],
    autocomplete_fields=["business"],
    readonly_fields=["created_at", "made_by", "kind", "options", "state", "report", "digest"],
)
