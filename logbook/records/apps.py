from django.apps import AppConfig
from django.core.checks import register
from django.db.models.signals import post_migrate, post_save, pre_migrate


class RecordsConfig(AppConfig):
    name = "logbook.records"
    label = "records"
    verbose_name = "The book"

    def ready(self) -> None:
        from logbook.accounts.models import User
        from logbook.records.sealing import freeze
        from logbook.records.writing.feeds import end_feeds_with_password

        pre_migrate.connect(freeze.remove_before_migrate, sender=self)
        post_migrate.connect(freeze.install_after_migrate, sender=self)
        post_save.connect(end_feeds_with_password, sender=User)
        register(freeze.check_installed, freeze.CHECK_TAG)
