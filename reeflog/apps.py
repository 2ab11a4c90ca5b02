from django.apps import AppConfig


class ReeflogConfig(AppConfig):
    name = "reeflog"

    def ready(self) -> None:
        # Models are there only now.
        from reeflog.wiring import wire

        wire()
