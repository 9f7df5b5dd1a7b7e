"""All addresses: pages, the API under its version, the admin."""

from django.contrib import admin
from django.urls import include, path

urlpatterns = [
    path("admin/", admin.site.urls),
    path("api/v1/", include("logbook.api.urls")),
    path("", include("logbook.web.urls")),
]
