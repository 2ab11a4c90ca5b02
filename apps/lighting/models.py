"""Light changes: what was done to the light, when, and the day it left behind."""

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

from apps.common.removal import Removable, RemovableQuerySet
from apps.common.validation import bounds, bounds_check
from apps.photics import limits
from apps.tanks.models import Tank

FACTOR = (limits.LIGHT_FACTOR_MIN, limits.LIGHT_FACTOR_MAX)
HOURS = (0, limits.DAY_HOURS_MAX)


class LightChangeQuerySet(RemovableQuerySet):
    def visible_to(self, user):
        return self.present().filter(tank__in=Tank.objects.visible_to(user))

    def in_order(self):
        return self.order_by("happened_at", "pk")


class LightChange(Removable):
    """A dated change. It carries the day schedule that holds after it, not only the difference."""

    tank = models.ForeignKey(Tank, on_delete=models.CASCADE, related_name="light_changes")
    happened_at = models.DateTimeField("when")
    summary = models.CharField("what changed", max_length=200)
    factor = models.FloatField(
        "light after, for 1 before",
        default=1.0,
        validators=bounds(*FACTOR),
        help_text="1 is unchanged, 0.8 a fifth less, 1.25 a quarter more.",
    )
    # Blank until the keeper says how long the lights burn; without it no daily light is claimed.
    day_hours = models.FloatField(
        "hours from lights on to lights off", null=True, blank=True, validators=bounds(*HOURS)
    )
    ramp_hours = models.FloatField(
        "hours of ramp at each end", default=0.0, validators=bounds(*HOURS)
    )
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    created_at = models.DateTimeField(auto_now_add=True)

    objects = LightChangeQuerySet.as_manager()

    class Meta:
        ordering = ["-happened_at", "-pk"]
        indexes = [models.Index(fields=["tank", "happened_at"], name="light_change_by_tank")]
        constraints = [
            bounds_check("light_change", "factor", *FACTOR),
            bounds_check("light_change", "day_hours", *HOURS, null=True),
            bounds_check("light_change", "ramp_hours", *HOURS),
        ]

    def __str__(self):
        return f"{self.happened_at:%Y-%m-%d} {self.summary}"

    def clean(self):
        errors = {}
        if self.happened_at and self.happened_at > timezone.now():
            errors["happened_at"] = "This is in the future. Enter a change once it is done."
        if self.day_hours is not None and self.ramp_hours is not None:
            if 2 * self.ramp_hours > self.day_hours:
                errors["ramp_hours"] = "Two ramps must fit into the day."
        elif self.ramp_hours:
            errors["day_hours"] = "A ramp needs the hours of the whole day too."
        if errors:
            raise ValidationError(errors)
