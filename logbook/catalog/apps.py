from django.apps import AppConfig
from django.core.checks import register


class CatalogConfig(AppConfig):
    name = "logbook.catalog"
    label = "catalog"
    verbose_name = "The shelf"

    def ready(self) -> None:
        from logbook.catalog.services import SHELVES
        from logbook.tenancy import history
        from logbook.uploads import check_readers

        for shape in SHELVES.values():
            history.follow(shape.model, shape.children.values())

        # It starts processes, so it is for `check --deploy` alone.
        register(check_readers, deploy=True)
