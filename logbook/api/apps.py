from django.apps import AppConfig


class ApiConfig(AppConfig):
    name = "logbook.api"
    label = "api"
