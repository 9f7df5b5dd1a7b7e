from django.apps import AppConfig


class CatalogConfig(AppConfig):
    name = "logbook.catalog"
    label = "catalog"
    verbose_name = "The shelf"
