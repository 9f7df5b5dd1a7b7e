from django.apps import AppConfig
from django.contrib.auth.signals import user_logged_in


class AccountsConfig(AppConfig):
    name = "logbook.accounts"
    label = "accounts"
    verbose_name = "Business and people"

    def ready(self) -> None:
        from logbook.accounts.devices import on_login

        user_logged_in.connect(on_login, dispatch_uid="logbook.accounts.devices")
