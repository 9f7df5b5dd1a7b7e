from django.apps import AppConfig


class AccountsConfig(AppConfig):
    name = "logbook.accounts"
    label = "accounts"
    verbose_name = "Business and people"
