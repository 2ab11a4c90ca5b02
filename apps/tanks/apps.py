from django.apps import AppConfig


class TanksConfig(AppConfig):
    name = "apps.tanks"
