from django.apps import AppConfig
from django.core.checks import register
from django.db.models.signals import post_migrate, pre_migrate


class RecordsConfig(AppConfig):
    name = "logbook.records"
    label = "records"
    verbose_name = "The book"

    def ready(self) -> None:
        from logbook.records import freeze

        pre_migrate.connect(freeze.remove_before_migrate, sender=self)
        post_migrate.connect(freeze.install_after_migrate, sender=self)
        register(freeze.check_installed, freeze.CHECK_TAG)
