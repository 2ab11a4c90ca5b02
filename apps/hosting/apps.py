from django.apps import AppConfig
from django.db.backends.signals import connection_created


class HostingConfig(AppConfig):
    name = "apps.hosting"

    def ready(self) -> None:
        from apps.hosting.watching.slow_queries import watch

        connection_created.connect(watch)
