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
# By kind and unit in lower case: what lies beyond is another unit or a slip.
VALUE_BOUNDS = {
    ("ph", "ph"): limits.WATER_PH,
    ("salinity", "ppt"): limits.WATER_SALINITY_PPT,
    ("salinity", "psu"): limits.WATER_SALINITY_PPT,
    ("salinity", "sg"): limits.WATER_GRAVITY,
    ("salinity", "ms/cm"): limits.WATER_CONDUCTIVITY_MS,
    ("calcium", "mg/l"): limits.WATER_CALCIUM_MG,
    ("calcium", "ppm"): limits.WATER_CALCIUM_MG,
}


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

    FOLLOWED = "id"

    class Kind(models.TextChoices):
        TEMPERATURE = "temperature", "temperature"
        ALKALINITY = "alkalinity", "alkalinity"
        NUTRIENTS = "nutrients", "nutrients"
        SALINITY = "salinity", "salinity"
        CALCIUM = "calcium", "calcium"
        PH = "ph", "pH"
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
        """Return the value with its unit, empty without one: "8.2 dKH"; of a pH the value alone."""
        if self.value is None:
            return ""
        return f"{self.value:g}" if self.unit == "pH" else f"{self.value:g} {self.unit}"

    def in_words(self):
        """Return what happened in a few words: "alkalinity 8.2 dKH, after the new salt"."""
        what = f"{self.get_kind_display()} {self.amount()}".strip()
        return f"{what}, {self.text}" if self.text else what

    def value_problem(self):
        """Return what is wrong with the value of a kind that has bounds, or nothing."""
        bounds_here = VALUE_BOUNDS.get((self.kind, self.unit.strip().lower()))
        if self.value is None or bounds_here is None:
            return ""
        low, high = bounds_here
        if low <= self.value <= high:
            return ""
        return f"{self.get_kind_display()} in {self.unit} lies between {low:g} and {high:g}."

    def clean(self):
        errors = too_early(happened_at=self.happened_at)
        if self.happened_at and self.happened_at > timezone.now():
            errors["happened_at"] = "This is in the future."
        if self.value is not None and not self.unit and self.kind == self.Kind.PH:
            # The one reading that has no unit to write.
            self.unit = "pH"
        if self.value is not None and not self.unit:
            errors["unit"] = "Say in which unit: °C, dKH, mg/L nitrate, ppt, litres."
        if problem := self.value_problem():
            errors["value"] = problem
        if self.value is None and self.unit:
            errors["value"] = "A unit needs a value."
        if self.kind == self.Kind.OTHER and not self.text:
            errors["text"] = "Say in a few words what it was."
        if errors:
            raise ValidationError(errors)
