"""The admin of the book: everything can be looked at, nothing added, changed or removed.

A draft is written through the pages, whose services keep its parts together; a sealed record cannot
be changed by anybody.
"""

from __future__ import annotations

from typing import Any

from django.contrib import admin

from logbook.records import models as m
from logbook.tenancy.admin import inlines_of, register

BOOK: dict[str, Any] = {"list_per_page": 50, "show_full_result_count": False}

register(
    m.ApplicationRecord,
    "id business customer field started_at signed_at",
    search="business__name customer__name field__name",
    list_filter=[("signed_at", admin.EmptyFieldListFilter)],
    inlines=inlines_of(
        *(m.ProductLine, m.LoadUse, m.WeatherReading, m.Explanation, m.CrewMember, m.DutyEntry)
    ),
    **BOOK,
)
register(
    m.Load,
    "id business rig mixed_volume created_at",
    search="business__name rig__name",
    inlines=inlines_of(m.LoadPart),
    **BOOK,
)
for model, shown, search in (
    (m.Seal, "number business signer sealed_at breaches", "=number business__name link"),
    (m.Chain, "business last_number last_link", ""),
    (m.ProductLine, "record_id product planned_rate total_used", "product__name"),
    (m.LoadPart, "load_id product amount", ""),
    (m.LoadUse, "record_id load_id order used", ""),
    (m.WeatherReading, "record_id read_at wind_from wind_speed temperature", ""),
    (m.Explanation, "record_id finding text", ""),
    (m.CrewMember, "record_id person", ""),
    (m.Picture, "record_id shows caption sha256", ""),
    (m.DutyEntry, "kind business record_id to_whom how given_at by", "business__name to_whom"),
    (m.DueSheet, "record_id next_due_at late_count keep_until may_go_after", ""),
    (m.LegalHold, "business seal set_at set_by lifted_at", ""),
    (m.Purge, "business seal purged_at purged_by keep_until", ""),
    (m.SealedName, "name of business", "name"),
    (m.LawText, "digest", "digest"),
):
    register(model, shown, search=search, **BOOK)
register(
    m.SetAside,
    "record at by back_at back_by",
    search="reason by__email",
    related="record__business",
    **BOOK,
)
# Who has a calendar link; the hash is not shown, it opens nothing.
register(m.FeedKey, "user business created_at revoked_at", exclude=["hashed"], **BOOK)
