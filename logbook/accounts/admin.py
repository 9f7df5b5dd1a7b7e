"""The admin of logins, businesses and people; for the one who runs the service."""

from __future__ import annotations

from django.contrib import admin

from logbook.accounts import models as m
from logbook.tenancy.admin import ALL, LoginAdmin, Tabular, inlines_of, register


class MembershipInline(Tabular):
    model = m.Membership
    extra = 0
    autocomplete_fields = ("user", "business")


@admin.register(m.User)
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


USER_AND_BUSINESS = "user__email business__name"

register(
    m.Business,
    "name licence_number time_zone created_at",
    search="name licence_number",
    may=ALL,
)
register(
    m.Membership, "user business role", search=USER_AND_BUSINESS, may=ALL, list_filter=["role"]
)
register(
    m.Person,
    "name business user",
    search="name business__name",
    may=ALL,
    inlines=inlines_of(m.Licence, m.Training, may=ALL),
)
register(
    m.Licence,
    "number person authority place expires_on",
    search="number person__name",
    may=ALL,
)
register(m.Training, "content person trained_on expires_on", search="content person__name", may=ALL)
# To be looked at and struck out: a link is made and mailed by the members' page alone.
register(
    m.Invitation,
    "email business role sent_at expires_at accepted_at",
    search="email business__name",
    may="delete",
)
# The session's key is as good as a login.
register(
    m.Device,
    "user agent address last_seen",
    search="user__email",
    may="delete",
    exclude=["session"],
)
register(
    m.Passkey,
    "name user created_at last_used_at",
    search="user__email",
    may="delete",
    exclude=["public_key"],
)

# Rows that stand as they were written.
register(
    m.Grant,
    "user role business begins_at ends_at withdrawn_at",
    search=USER_AND_BUSINESS,
    list_filter=["role"],
)
for model, shown, search in (
    (m.Visit, "at user business method path status address", f"{USER_AND_BUSINESS} path"),
    (m.ShelfChange, "created_at by business name model deed", "by__email business__name name"),
    (m.Journal, "business last_number last_link last_at", ""),
):
    register(model, shown, search=search)
WHOSE_GRANT = "grant__user grant__business"
register(m.GrantedCustomer, "grant customer", search="customer__name", related=WHOSE_GRANT)
register(m.GrantedField, "grant field", search="field__name", related=WHOSE_GRANT)
register(
    m.JournalEntry,
    "number business kind created_at",
    search="=number business__name link",
    list_filter=["kind"],
)
register(
    m.ApiToken,
    "user business name expires_at last_used_at revoked_at",
    search=f"{USER_AND_BUSINESS} name",
    exclude=["hashed"],
)
