from django.apps import AppConfig
from django.core.validators import MaxLengthValidator, MaxValueValidator, MinValueValidator


class CommonConfig(AppConfig):
    name = "apps.common"

    def ready(self) -> None:
        # On the classes, so that fields of forms and of models say it and no migration holds it.
        MinValueValidator.message = "At least %(limit_value).10g, please."
        MaxValueValidator.message = "At most %(limit_value).10g, please."
        MaxLengthValidator.message = (
            "At most %(limit_value)d characters, please; these are %(show_value)d."
        )
