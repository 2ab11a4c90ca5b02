from django.apps import AppConfig


class LightmapConfig(AppConfig):
    name = "apps.lightmap"

    def ready(self) -> None:
        # Models are there only now.
        from apps.lightmap.warming import warm_after_saves

        warm_after_saves()
