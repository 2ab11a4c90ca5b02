"""What loggers saw at one fixed point."""

from typing import Self

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models

from apps.accounts.models import User
from apps.common.removal import Removable, RemovableQuerySet
from apps.common.validation import bounds, bounds_check
from apps.surveys.meter_models import METER_FACTOR
from apps.tanks.models import Tank


class LoggedSeriesQuerySet(RemovableQuerySet):
    def visible_to(self, user: User) -> Self:
        return self.present().filter(tank__in=Tank.objects.visible_to(user))


class LoggedSeries(Removable):
    """What a logger saw at one fixed point through days: times and values as it wrote them."""

    FOLLOWED = "id"

    tank = models.ForeignKey(Tank, on_delete=models.CASCADE, related_name="logged_series")
    label = models.CharField("what you call it", max_length=80)
    x_cm = models.FloatField("from the left end")
    y_cm = models.FloatField("from the front pane")
    depth_cm = models.FloatField("below the surface")
    correction_factor = models.FloatField(
        "multiply readings by", default=1.0, validators=bounds(*METER_FACTOR)
    )
    # [[seconds since 1970, PAR as logged], ...], ascending.
    samples = models.JSONField()
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        editable=False,
        on_delete=models.SET_NULL,
        related_name="+",
    )
    created_at = models.DateTimeField(auto_now_add=True)

    objects = LoggedSeriesQuerySet.as_manager()

    class Meta:
        ordering = ["-created_at", "-pk"]
        verbose_name_plural = "logged series"
        constraints = [bounds_check("logged_series", "correction_factor", *METER_FACTOR)]

    def __str__(self) -> str:
        return self.label

    def clean(self) -> None:
        errors = self.tank.point_errors(x_cm=self.x_cm, y_cm=self.y_cm, depth_cm=self.depth_cm)
        if errors:
            raise ValidationError(errors)
