from django.apps import AppConfig


class WebConfig(AppConfig):
    name = "logbook.web"
    label = "web"
