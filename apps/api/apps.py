from django.apps import AppConfig


class ApiConfig(AppConfig):
    name = "apps.api"

    def ready(self) -> None:
        # The schema finds how one signs in by what was imported.
        from apps.api import sign_in_schema  # noqa: F401
