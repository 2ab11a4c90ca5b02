from django.apps import AppConfig


class CoralsConfig(AppConfig):
    name = "apps.corals"
