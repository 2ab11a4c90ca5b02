from django.apps import AppConfig


class OutcomesConfig(AppConfig):
    name = "apps.outcomes"

    def ready(self):
        from apps.outcomes.removable import KINDS
        from apps.outcomes.trial.reminders import trial_reminders
        from apps.tanks.reminding import register_reminders
        from apps.tanks.removable_kinds import register_removable

        register_reminders(trial_reminders)
        register_removable(*KINDS)
