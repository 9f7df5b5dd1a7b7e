"""Addresses of the shelf."""

from django.urls import path

from logbook.web.catalog import history, views

urlpatterns = [
    path("", views.shelf, name="shelf"),
    path("business/", views.business, name="shelf-business"),
    path("business/history/", history.of_business, name="shelf-business-history"),
    path("history/", history.of_all, name="shelf-history"),
    path("<slug:kind>/", views.shelf_list, name="shelf-list"),
    path("<slug:kind>/list.csv", views.shelf_file, {"ending": "csv"}, name="shelf-csv"),
    path("<slug:kind>/list.xlsx", views.shelf_file, {"ending": "xlsx"}, name="shelf-xlsx"),
    path("<slug:kind>/new/", views.new, name="shelf-new"),
    path("<slug:kind>/<uuid:row_id>/", views.item, name="shelf-item"),
    path("<slug:kind>/<uuid:row_id>/history/", history.of_row, name="shelf-item-history"),
    path("<slug:kind>/<uuid:row_id>/edit/", views.edit, name="shelf-edit"),
]
