"""The admin's classes under names that a type checker and the running program both accept."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin

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

__all__ = ["Admin", "LoginAdmin", "Stacked", "Tabular"]
