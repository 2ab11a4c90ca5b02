from django.apps import AppConfig


class OutcomesConfig(AppConfig):
    name = "apps.outcomes"

    def ready(self):
        from apps.outcomes.reminders import trial_reminders
        from apps.tanks.reminding import register_reminders

        register_reminders(trial_reminders)
