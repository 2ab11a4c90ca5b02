"""Corals, the light each should have, and where they sat and when."""

from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q

from apps.common.removal import Removable, RemovableQuerySet
from apps.common.validation import bounds, bounds_check, too_early, year_check
from apps.photics import limits
from apps.photics.ground.usual_bands import band_hours, band_umol
from apps.tanks.models import Tank

BAND = (limits.BAND_MIN_UMOL, limits.BAND_MAX_UMOL)
SPOT_TAKEN = "It already has a spot from that day. Change that one."


@dataclass(frozen=True)
class Band:
    """A PAR band [umol m-2 s-1], whose choice it is, and the hours of full light it counts on."""

    low_umol: float
    high_umol: float
    source: str
    full_hours: float | None = None  # [h], None where its daily light is not known


def usual_band(group, full_hours):
    """Return the usual Band of a group of corals under a day's hours [h], None for unstated."""
    ends = band_umol(group, full_hours=full_hours)
    return Band(*ends, "the usual band of its group", band_hours(full_hours))


class CoralQuerySet(RemovableQuerySet):
    def visible_to(self, user):
        return self.present().filter(tank__in=Tank.objects.visible_to(user))

    def living(self):
        return self.filter(gone_on__isnull=True)

    def living_on(self, day):
        """Corals that were not gone yet at the end of a day."""
        return self.filter(Q(gone_on__isnull=True) | Q(gone_on__gt=day))


class Coral(Removable):
    FOLLOWED = "id"

    class Group(models.TextChoices):
        SOFT = "soft", "soft coral"
        LPS = "lps", "LPS: large-polyp stony"
        SPS = "sps", "SPS: small-polyp stony"
        OTHER = "other", "other photosynthetic"

    class Gone(models.TextChoices):
        DIED = "died", "died"
        GIVEN = "given", "given away"
        SOLD = "sold", "sold"
        MOVED = "moved", "moved to another tank"
        LOST = "lost", "not found any more"

    tank = models.ForeignKey(Tank, on_delete=models.CASCADE, related_name="corals")
    name = models.CharField(max_length=80)
    group = models.CharField(max_length=5, choices=Group)
    genus = models.CharField(max_length=60, blank=True)
    band_low_umol = models.FloatField(
        "wants PAR from", null=True, blank=True, validators=bounds(*BAND)
    )
    band_high_umol = models.FloatField("to", null=True, blank=True, validators=bounds(*BAND))
    added_on = models.DateField("in this tank since")
    came_from = models.CharField("came from", max_length=120, blank=True)
    parent = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.SET_NULL, related_name="frags"
    )
    gone_on = models.DateField("gone on", null=True, blank=True)
    gone_how = models.CharField("what became of it", max_length=5, choices=Gone, blank=True)
    gone_words = models.CharField("to whom, or why", max_length=200, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)

    objects = CoralQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            bounds_check("coral", "band_low_umol", *BAND, null=True),
            bounds_check("coral", "band_high_umol", *BAND, null=True),
            year_check("coral", "added_on"),
        ]

    def __str__(self):
        return self.name

    def clean(self):
        errors = too_early(added_on=self.added_on)
        today = self.tank.today()
        if self.added_on and self.added_on > today:
            errors["added_on"] = "This is in the future."
        if self.gone_on and self.gone_on > today:
            errors["gone_on"] = "This is in the future."
        if self.gone_on and self.added_on and self.gone_on < self.added_on:
            errors["gone_on"] = "It can't be gone before it came."
        if not self.gone_on and (self.gone_how or self.gone_words):
            errors["gone_on"] = "Say on which day it went."
        if problem := self.parent_problem():
            errors["parent"] = problem
        if (self.band_low_umol is None) != (self.band_high_umol is None):
            errors["band_high_umol"] = "Give both ends of the band, or neither."
        elif self.band_low_umol is not None and self.band_low_umol >= self.band_high_umol:
            errors["band_high_umol"] = "The upper end must be above the lower one."
        if errors:
            raise ValidationError(errors)

    def problems_of_return(self):
        spots = sorted(self.spots.all(), key=lambda spot: (spot.since, spot.pk))
        if self.gone_on or not spots:
            return []
        last = spots[-1]
        outside = self.tank.point_errors(x_cm=last.x_cm, y_cm=last.y_cm, depth_cm=last.depth_cm)
        problem = "The tank is smaller now, and its last spot would lie outside the water."
        return [problem] if outside else []

    def parent_problem(self):
        """Return what speaks against its parent colony, or an empty text."""
        parent = self.parent
        if parent is None:
            return ""
        if parent.tank_id != self.tank_id:
            return "The colony it was cut from must be in this tank's list."
        if self.added_on and parent.added_on > self.added_on:
            return f"{parent} came only on {parent.added_on:%-d %b %Y}."
        seen = set()
        while parent is not None and parent.pk not in seen:
            if self.pk and parent.pk == self.pk:
                return "A coral can't be cut from itself or from its own frag."
            seen.add(parent.pk)
            parent = parent.parent
        return ""

    def group_short(self):
        """Return the group as keepers say it: SPS, LPS, soft coral."""
        return self.get_group_display().partition(":")[0]

    def band(self, full_hours):
        """Return the PAR band it should have: the keeper's, else the usual one of its group.

        The usual one is daily light, so its PAR follows the tank's hours of full light a day [h],
        None where nobody stated them.
        """
        if self.band_low_umol is not None:
            return Band(self.band_low_umol, self.band_high_umol, "your choice", full_hours)
        return usual_band(self.group, full_hours)

    def spot_on(self, day):
        """Return where it sat on a date, or None. Reads the prefetched spots."""
        past = [spot for spot in self.spots.all() if spot.since <= day]
        return max(past, key=lambda spot: (spot.since, spot.pk)) if past else None


class PresentSpots(models.Manager):
    """Spots not taken away: what `coral.spots` and every map of the tank reads."""

    def get_queryset(self):
        return super().get_queryset().filter(removed_at__isnull=True)


class Spot(Removable):
    """Where a coral sits from a date on."""

    FOLLOWED = "id"

    coral = models.ForeignKey(Coral, on_delete=models.CASCADE, related_name="spots")
    x_cm = models.FloatField("from the left end")
    y_cm = models.FloatField("from the front pane")
    depth_cm = models.FloatField("below the surface")
    since = models.DateField("from")

    objects = PresentSpots()
    every = models.Manager()

    class Meta:
        ordering = ["coral", "since"]
        constraints = [
            models.UniqueConstraint(
                fields=["coral", "since"],
                condition=models.Q(removed_at__isnull=True),
                name="spot_once_a_day",
                violation_error_message=SPOT_TAKEN,
            ),
            bounds_check("spot", "x_cm", 0, limits.TANK_SIDE_MAX_CM),
            bounds_check("spot", "y_cm", 0, limits.TANK_SIDE_MAX_CM),
            bounds_check("spot", "depth_cm", 0, limits.TANK_DEPTH_MAX_CM),
            year_check("spot", "since"),
        ]

    def __str__(self):
        return f"{self.coral} at {self.x_cm:g}, {self.y_cm:g}, {self.depth_cm:g} from {self.since}"

    def problems_of_return(self):
        if self.coral.spots.filter(since=self.since).exists():
            return [SPOT_TAKEN]
        return []

    def clean(self):
        errors = self.coral.tank.point_errors(
            x_cm=self.x_cm, y_cm=self.y_cm, depth_cm=self.depth_cm
        )
        if self.since and self.since > self.coral.tank.today():
            errors["since"] = "This is in the future."
        errors |= too_early(since=self.since)
        if errors:
            raise ValidationError(errors)
