from django.apps import AppConfig


class PlanningConfig(AppConfig):
    name = "apps.planning"

    def ready(self):
        from apps.planning.reminders import acclimation_reminders
        from apps.tanks.reminding import register_reminders

        register_reminders(acclimation_reminders)
