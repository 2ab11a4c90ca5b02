"""The log of the water, and of what happened to those who live in it."""

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

from apps.common.removal import Removable, RemovableQuerySet
from apps.common.validation import FIRST_MOMENT, bounds, bounds_check, too_early, year_check
from apps.photics import limits
from apps.tanks.models import Tank

WATER_VALUE = (0, limits.WATER_VALUE_MAX)


class WaterEventQuerySet(RemovableQuerySet):
    def visible_to(self, user):
        return self.present().filter(tank__in=Tank.objects.visible_to(user))

    def in_order(self):
        return self.order_by("happened_at", "pk")

    def could_hurt(self):
        """Events that may explain what light is blamed for; plain readings are no such thing."""
        return self.filter(could_hurt=True)


class WaterEvent(Removable):
    """A reading of the water, or something that happened to it or to those who live in it."""

    class Kind(models.TextChoices):
        TEMPERATURE = "temperature", "temperature"
        ALKALINITY = "alkalinity", "alkalinity"
        NUTRIENTS = "nutrients", "nutrients"
        DOSING = "dosing", "dosing"
        PEST = "pest", "pest or disease"
        ANIMALS = "animals", "new animals"
        WATER_CHANGE = "water_change", "water change"
        EQUIPMENT = "equipment", "equipment"
        OTHER = "other", "something else"

    tank = models.ForeignKey(Tank, on_delete=models.CASCADE, related_name="water_events")
    happened_at = models.DateTimeField("when")
    kind = models.CharField("what about", max_length=12, choices=Kind)
    value = models.FloatField("value", null=True, blank=True, validators=bounds(*WATER_VALUE))
    unit = models.CharField("unit", max_length=20, blank=True)
    text = models.CharField("in your words", max_length=300, blank=True)
    # The keeper's own judgement: only such events are weighed beside the light.
    could_hurt = models.BooleanField("could have hurt corals", default=False)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    created_at = models.DateTimeField(auto_now_add=True)

    objects = WaterEventQuerySet.as_manager()

    class Meta:
        ordering = ["-happened_at", "-pk"]
        indexes = [models.Index(fields=["tank", "happened_at"], name="water_event_by_tank")]
        constraints = [
            bounds_check("water_event", "value", *WATER_VALUE, null=True),
            year_check("water_event", "happened_at", FIRST_MOMENT),
        ]

    def __str__(self):
        return f"{self.happened_at:%Y-%m-%d} {self.in_words()}"

    def amount(self):
        """Return the value with its unit, empty without one: "8.2 dKH"."""
        return "" if self.value is None else f"{self.value:g} {self.unit}"

    def in_words(self):
        """Return what happened in a few words: "alkalinity 8.2 dKH, after the new salt"."""
        what = f"{self.get_kind_display()} {self.amount()}".strip()
        return f"{what}, {self.text}" if self.text else what

    def clean(self):
        errors = too_early(happened_at=self.happened_at)
        if self.happened_at and self.happened_at > timezone.now():
            errors["happened_at"] = "This is in the future."
        if self.value is not None and not self.unit:
            errors["unit"] = "Say in which unit: °C, dKH, mg/L nitrate, litres."
        if self.value is None and self.unit:
            errors["value"] = "A unit needs a value."
        if self.kind == self.Kind.OTHER and not self.text:
            errors["text"] = "Say in a few words what it was."
        if errors:
            raise ValidationError(errors)
