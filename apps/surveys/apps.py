from django.apps import AppConfig


class SurveysConfig(AppConfig):
    name = "apps.surveys"

    def ready(self):
        from apps.lighting.change.log import register_forecast_words
        from apps.lightmap.check.reminders import light_reminders
        from apps.lightmap.check.words import score_words
        from apps.lightmap.page.overview import map_lines
        from apps.lightmap.stages import survey_stages
        from apps.surveys.removable import KINDS
        from apps.surveys.rezoned import survey_moments
        from apps.tanks.beginning import register_stages
        from apps.tanks.overview import register_overview
        from apps.tanks.reminding import register_reminders
        from apps.tanks.removable_kinds import register_removable
        from apps.tanks.rezoning import register_clock_rows

        register_forecast_words(score_words)
        register_overview(map_lines)
        register_reminders(light_reminders)
        register_removable(*KINDS)
        register_clock_rows(survey_moments)
        register_stages(survey_stages)
