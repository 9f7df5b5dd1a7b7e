"""All addresses: pages, the API under its version, the admin."""

from django.contrib import admin
from django.urls import include, path

from logbook.web.gate.entering import admin_login

urlpatterns = [
    # One login for all, so that a second factor cannot be gone around.
    path("admin/login/", admin_login),
    path("admin/", admin.site.urls),
    path("api/v1/", include("logbook.api.urls")),
    path("", include("logbook.web.urls")),
]
