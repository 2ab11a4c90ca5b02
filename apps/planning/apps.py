from django.apps import AppConfig


class PlanningConfig(AppConfig):
    name = "apps.planning"

    def ready(self):
        from apps.planning.acclimation.reminders import acclimation_reminders
        from apps.planning.removable import KINDS
        from apps.tanks.reminding import register_reminders
        from apps.tanks.removable_kinds import register_removable

        register_reminders(acclimation_reminders)
        register_removable(*KINDS)
