from django.apps import AppConfig


class SurveysConfig(AppConfig):
    name = "apps.surveys"

    def ready(self):
        from apps.lighting.log import register_forecast_words
        from apps.surveys.scoring import score_words

        register_forecast_words(score_words)
