from django.apps import AppConfig


class DocumentsConfig(AppConfig):
    name = "logbook.documents"
    label = "documents"
