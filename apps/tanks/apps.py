from django.apps import AppConfig


class TanksConfig(AppConfig):
    name = "apps.tanks"

    def ready(self):
        # Models are there only now.
        from apps.tanks.removable import KINDS
        from apps.tanks.removable_kinds import register_removable

        register_removable(*KINDS)
