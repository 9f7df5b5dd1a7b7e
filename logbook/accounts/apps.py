from django.apps import AppConfig
from django.contrib.auth.signals import user_logged_in


class AccountsConfig(AppConfig):
    name = "logbook.accounts"
    label = "accounts"
    verbose_name = "Business and people"

    def ready(self) -> None:
        from logbook.accounts.devices import on_login
        from logbook.accounts.models import Business
        from logbook.accounts.services import PEOPLE
        from logbook.tenancy import history

        user_logged_in.connect(on_login, dispatch_uid="logbook.accounts.devices")
        history.follow(Business)
        history.follow(PEOPLE.model, PEOPLE.children.values())
