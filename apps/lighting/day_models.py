"""Named day curves of a tank, and the copies of them that run from a light change on."""

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models

from apps.common.removal import Removable, RemovableQuerySet
from apps.common.validation import VisibleTexts, bounds, bounds_check
from apps.photics import limits
from apps.photics.day import curve as photics
from apps.tanks.models import Tank

LEVEL = (0, limits.LEVEL_MAX_PERCENT)


class Zone(models.TextChoices):
    """Which water a light shines on. The light map and daily light are those of the display."""

    DISPLAY = "display", "display"
    REFUGIUM = "refugium", "refugium"
    FRAG_RACK = "frag_rack", "frag rack"


def number(value):
    """Return a JSON number as it is; texts and truth values are none. Raises TypeError."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TypeError(f"{value!r} is not a number.")
    return float(value)


class DayFields(VisibleTexts, models.Model):
    """What a day curve is: levels through the day for one group of channels in one zone."""

    name = models.CharField("what you call it", max_length=80)
    zone = models.CharField(max_length=10, choices=Zone, default=Zone.DISPLAY)
    # Blank: every channel follows this curve.
    group = models.CharField("channel group", max_length=40, blank=True)
    # Blank: as the channels of what hangs say, whenever that changes.
    share_percent = models.FloatField(
        "its share of PAR at full level, %",
        default=100.0,
        null=True,
        blank=True,
        validators=bounds(*LEVEL),
    )
    is_moonlight = models.BooleanField("this is moonlight", default=False)
    # [[minute after midnight, level in percent], ...] in the order of the day, which may pass
    # midnight once. One value, not rows: a curve is read and written as a whole.
    points = models.JSONField(default=list)

    class Meta:
        abstract = True

    def __str__(self):
        return self.name

    def clean(self):
        try:
            self.curve()
        except photics.DayCurveError as problem:
            raise ValidationError({"points": list(problem.problems)}) from None
        except (TypeError, ValueError, OverflowError):
            raise ValidationError(
                {"points": "Each point is a pair: minute after midnight, level in percent."}
            ) from None

    def curve(self):
        """Return the photics DayCurve. Raises DayCurveError for points that make none."""
        points = [(number(minute), number(level) / 100.0) for minute, level in self.points]
        if len(points) < limits.DAY_POINTS_MIN:
            raise photics.DayCurveError(["A day schedule needs at least two points."])
        return photics.day_curve(points, moonlight=self.is_moonlight, name=self.name)


class DayCurve(Removable, DayFields):
    """A named day of one tank. It holds from the light change on that starts it."""

    FOLLOWED = "id"

    tank = models.ForeignKey(Tank, on_delete=models.CASCADE, related_name="day_curves")
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    created_at = models.DateTimeField(auto_now_add=True)

    class QuerySet(RemovableQuerySet):
        def visible_to(self, user):
            return self.present().filter(tank__in=Tank.objects.visible_to(user))

    objects = QuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [bounds_check("day_curve", "share_percent", *LEVEL, null=True)]


class RunningCurve(DayFields):
    """A day curve as it runs from a light change on, copied when it was started.

    Shaping the named curve later does not rewrite the light that was. A change holds only the
    curve it starts; which others run on beside it, `lighting/history.py` works out each time.
    """

    FOLLOWED = "change"

    change = models.ForeignKey(
        "lighting.LightChange", on_delete=models.CASCADE, related_name="days"
    )
    source = models.ForeignKey(
        DayCurve, null=True, blank=True, on_delete=models.SET_NULL, related_name="runs"
    )

    class Meta:
        ordering = ["change", "zone", "group", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["change", "zone", "group"], name="one_curve_a_group"),
            bounds_check("running_curve", "share_percent", *LEVEL, null=True),
        ]
