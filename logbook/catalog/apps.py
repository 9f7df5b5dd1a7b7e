from django.apps import AppConfig


class CatalogConfig(AppConfig):
    name = "logbook.catalog"
    label = "catalog"
    verbose_name = "The shelf"

    def ready(self) -> None:
        from logbook.base import history
        from logbook.catalog.services import SHELVES

        for shape in SHELVES.values():
            history.follow(shape.model, shape.children.values())
