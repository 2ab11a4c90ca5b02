from django.apps import AppConfig


class LightmapConfig(AppConfig):
    name = "apps.lightmap"
