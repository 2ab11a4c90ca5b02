from django.apps import AppConfig


class LightingConfig(AppConfig):
    name = "apps.lighting"
