"""The admin of logins, businesses and people; for the one who runs the service."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from logbook.accounts.models import (
    ApiToken,
    Business,
    Device,
    Grant,
    GrantedCustomer,
    GrantedField,
    Invitation,
    Journal,
    JournalEntry,
    Licence,
    Membership,
    Person,
    ShelfChange,
    Training,
    User,
    Visit,
)
from logbook.base.adminrows import Admin, LoginAdmin, Stacked, Tabular


class MembershipInline(Tabular):
    model = Membership
    extra = 0
    autocomplete_fields = ("user", "business")


@admin.register(User)
class UserAdmin(LoginAdmin):
    ordering = ("email",)
    list_display = ("email", "name", "is_active", "is_staff")
    list_filter = ("is_active", "is_staff")
    search_fields = ("email", "name")
    readonly_fields = ("date_joined", "last_login")
    inlines = (MembershipInline,)
    fieldsets = (
        (None, {"fields": ("email", "password", "name", "unit_system")}),
        ("What it may", {"fields": ("is_active", "is_staff", "is_superuser")}),
        ("Since when", {"fields": ("date_joined", "last_login")}),
    )
    add_fieldsets = (
        (None, {"fields": ("email", "name", "usable_password", "password1", "password2")}),
    )
    filter_horizontal = ()


@admin.register(Business)
class BusinessAdmin(Admin):
    list_display = ("name", "licence_number", "time_zone", "created_at")
    search_fields = ("name", "licence_number")
    readonly_fields = ("created_at",)


@admin.register(Membership)
class MembershipAdmin(Admin):
    list_display = ("user", "business", "role")
    list_filter = ("role",)
    list_select_related = ("user", "business")
    search_fields = ("user__email", "business__name")
    autocomplete_fields = ("user", "business")


@admin.register(Invitation)
class InvitationAdmin(Admin):
    """To be looked at and struck out: a link is made and mailed by the members' page alone."""

    list_display = ("email", "business", "role", "sent_at", "expires_at", "accepted_at")
    list_select_related = ("business",)
    search_fields = ("email", "business__name")

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(Device)
class DeviceAdmin(Admin):
    list_display = ("user", "agent", "address", "last_seen")
    list_select_related = ("user",)
    search_fields = ("user__email",)
    # The session's key is as good as a login.
    exclude = ("session",)

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


class LicenceInline(Stacked):
    model = Licence
    extra = 0


class TrainingInline(Stacked):
    model = Training
    extra = 0


@admin.register(Person)
class PersonAdmin(Admin):
    list_display = ("name", "business", "user")
    list_select_related = ("business", "user")
    search_fields = ("name", "business__name")
    autocomplete_fields = ("business", "user")
    inlines = (LicenceInline, TrainingInline)


@admin.register(Licence)
class LicenceAdmin(Admin):
    list_display = ("number", "person", "authority", "place", "expires_on")
    list_select_related = ("person",)
    search_fields = ("number", "person__name")
    autocomplete_fields = ("person",)


@admin.register(Training)
class TrainingAdmin(Admin):
    list_display = ("content", "person", "trained_on", "expires_on")
    list_select_related = ("person",)
    search_fields = ("content", "person__name")
    autocomplete_fields = ("person",)


class Readable(Admin):
    """Rows that stand as they were written; the admin shows them and changes nothing."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(Grant)
class GrantAdmin(Readable):
    list_display = ("user", "role", "business", "begins_at", "ends_at", "withdrawn_at")
    list_filter = ("role",)
    list_select_related = ("user", "business")
    search_fields = ("user__email", "business__name")


@admin.register(Visit)
class VisitAdmin(Readable):
    list_display = ("at", "user", "business", "method", "path", "status", "address")
    list_select_related = ("user", "business")
    search_fields = ("user__email", "business__name", "path")


@admin.register(ShelfChange)
class ShelfChangeAdmin(Readable):
    list_display = ("created_at", "by", "business", "name", "model", "deed")
    list_select_related = ("by", "business")
    search_fields = ("by__email", "business__name", "name")


@admin.register(GrantedCustomer)
class GrantedCustomerAdmin(Readable):
    list_display = ("grant", "customer")
    list_select_related = ("grant__user", "grant__business", "customer")
    search_fields = ("customer__name",)


@admin.register(GrantedField)
class GrantedFieldAdmin(Readable):
    list_display = ("grant", "field")
    list_select_related = ("grant__user", "grant__business", "field")
    search_fields = ("field__name",)


@admin.register(Journal)
class JournalAdmin(Readable):
    list_display = ("business", "last_number", "last_link", "last_at")
    list_select_related = ("business",)


@admin.register(JournalEntry)
class JournalEntryAdmin(Readable):
    list_display = ("number", "business", "kind", "created_at")
    list_filter = ("kind",)
    list_select_related = ("business",)
    search_fields = ("=number", "business__name", "link")


@admin.register(ApiToken)
class ApiTokenAdmin(Readable):
    list_display = ("user", "business", "name", "expires_at", "last_used_at", "revoked_at")
    list_select_related = ("user", "business")
    search_fields = ("user__email", "business__name", "name")
    exclude = ("hashed",)
