from django.apps import AppConfig


class OutcomesConfig(AppConfig):
    name = "apps.outcomes"
