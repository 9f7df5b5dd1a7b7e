"""The admin of one model in one line: what its list shows, what finds a row, what may be done."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.db import models

from logbook.quantities.columns import ReferenceValueField

# The stubs make these classes generic; at run time they cannot be subscripted.
if TYPE_CHECKING:
    Admin = admin.ModelAdmin[Any]
    LoginAdmin = UserAdmin[Any]
    Stacked = admin.StackedInline[Any, Any]
    Tabular = admin.TabularInline[Any, Any]
else:
    Admin = admin.ModelAdmin
    LoginAdmin = UserAdmin
    Stacked = admin.StackedInline
    Tabular = admin.TabularInline

ALL = "add change delete"
"""What may be done with rows that nothing freezes."""


class _Allowed:
    """Nothing may be done with the rows but what `may` names, not even by a superuser."""

    may = ""

    def has_add_permission(self, request: Any, *of: Any) -> bool:
        return "add" in self.may and bool(super().has_add_permission(request, *of))  # type: ignore[misc]

    def has_change_permission(self, request: Any, obj: Any = None) -> bool:
        return "change" in self.may and bool(super().has_change_permission(request, obj))  # type: ignore[misc]

    def has_delete_permission(self, request: Any, obj: Any = None) -> bool:
        return "delete" in self.may and bool(super().has_delete_permission(request, obj))  # type: ignore[misc]


def inlines_of(*rows: type[models.Model], may: str = "", table: bool = False) -> list[Any]:
    """Return the inlines of models whose rows hang on another."""
    base: Any = Tabular if table else Stacked
    return [
        type(f"{model.__name__}Inline", (_Allowed, base), {"model": model, "extra": 0, "may": may})
        for model in rows
    ]


def register(
    model: type[models.Model],
    shown: str,
    *,
    search: str = "",
    related: str = "",
    may: str = "",
    **options: Any,
) -> None:
    """Put a model into the admin.

    Args: shown, columns of its list; search, where a search looks; related, what is fetched with a
    row beyond the references shown; may, of `ALL`, nothing unless it is named; options of Django's
    class.
    """
    columns = model._meta.concrete_fields
    references = [one.name for one in columns if isinstance(one, models.ForeignKey)]
    hidden = options.get("exclude", ())
    options = {
        "list_display": shown.split(),
        "list_select_related": related.split()
        + [one for one in references if one in shown.split()],
        "search_fields": search.split(),
        "autocomplete_fields": references if "change" in may else (),
        "readonly_fields": [
            one.name
            for one in columns
            if not (one.editable or one.primary_key or isinstance(one, ReferenceValueField))
            and one.name not in hidden
        ],
        "may": may,
        **options,
    }
    admin.site.register(model, type(f"{model.__name__}Admin", (_Allowed, Admin), options))
