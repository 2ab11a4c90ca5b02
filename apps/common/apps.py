from django import forms
from django.apps import AppConfig
from django.core.validators import MaxLengthValidator, MaxValueValidator, MinValueValidator
from django.db import models
from rest_framework.fields import CharField, Field
from rest_framework.relations import PrimaryKeyRelatedField

from apps.common.validation import FILL_IN


class CommonConfig(AppConfig):
    name = "apps.common"

    def ready(self) -> None:
        # On the classes, so that fields of forms and of models say it and no migration holds it.
        MinValueValidator.message = "At least %(limit_value).10g, please."
        MaxValueValidator.message = "At most %(limit_value).10g, please."
        MaxLengthValidator.message = (
            "At most %(limit_value)d characters, please; these are %(show_value)d."
        )
        # What a page, a row and a program leave out is called for by one sentence.
        forms.Field.default_error_messages["required"] = FILL_IN
        models.Field.default_error_messages |= {"null": FILL_IN, "blank": FILL_IN}
        Field.default_error_messages |= {"required": FILL_IN, "null": FILL_IN}
        CharField.default_error_messages["blank"] = FILL_IN
        PrimaryKeyRelatedField.default_error_messages["required"] = FILL_IN
