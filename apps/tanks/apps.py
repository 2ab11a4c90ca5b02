from django.apps import AppConfig
from django.db.models.signals import post_migrate, pre_migrate


class TanksConfig(AppConfig):
    name = "apps.tanks"

    def ready(self) -> None:
        from apps.tanks.kept_pages.triggers import drop_triggers, make_triggers

        # Once a run of `migrate`, since both see to every app's tables.
        pre_migrate.connect(drop_triggers, sender=self)
        post_migrate.connect(make_triggers, sender=self)
