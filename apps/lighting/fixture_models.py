"""Fixtures: the things that shine, as entries of a keeper's own library."""

import math
from typing import Self

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models

from apps.clubs.models import Club
from apps.clubs.shared_rows import SharedRowsQuerySet
from apps.common.removal import Removable, RemovableQuerySet
from apps.common.validation import bounds, bounds_check
from apps.lighting.day_models import Zone
from apps.lighting.optic_models import FAMILY_BEAM_DEG, Optic, channel_name, check_channels
from apps.photics import limits
from apps.photics.day.meter_scale import ratio_with_deviation
from apps.photics.rig.fixture_light import output_estimate

LIT_SIDE = (limits.FIXTURE_SIDE_MIN_CM, limits.FIXTURE_SIDE_MAX_CM)
BEAM = (limits.BEAM_MIN_DEG, limits.BEAM_MAX_DEG)
WATTS = (0, limits.WATTS_MAX)
PPF = (0, limits.PPF_MAX_UMOL_S)
EFFICACY = (limits.EFFICACY_MIN_UMOL_J, limits.EFFICACY_MAX_UMOL_J)
PASSES = (100 * limits.COVER_TRANSMISSION_MIN, 100)
COVER_READING = (limits.PAR_RATIO_MIN_UMOL, limits.PAR_MAX_UMOL)
# How far what a cover is stated to pass may be off [log]: our own choice, as its maker measured
# another light than that of this tank.
STATED_DEVIATION = 0.05
# A diffuser also spreads the light, which a share alone does not tell [log]. Chosen: a spread of 60
# degrees moves the light of 60 and 80 degree lenses 15 to 30 cm up by a deviation of 0.05 to 0.67
# between places, more often below this than above (`reeflog.demo_light`, three tanks).
SPREAD_DEVIATION = 0.2


class FixtureQuerySet(RemovableQuerySet):
    def owned_by(self, user):
        return self.present().filter(owner=user)


class Emitter(models.TextChoices):
    """What shapes a fixture's beam."""

    BARE = "bare", "nothing: bare diodes or tubes"
    LENS = "lens", "a lens"
    REFLECTOR = "reflector", "a reflector"
    DIFFUSER = "diffuser", "a frosted or diffusing plate"


class Lamp(models.TextChoices):
    """What makes a fixture's light; with watts alone it tells how much that is."""

    LED = "led", "LED"
    TUBE = "tube", "fluorescent tubes"
    HALIDE = "halide", "metal halide"


class Fixture(Removable):
    """A thing that shines, described by what it is; one entry of a keeper's own library."""

    class Kind(models.TextChoices):
        PUCK = "puck", "puck: one small spot"
        PANEL = "panel", "panel"
        TUBE = "tube", "tube or row of tubes"
        BAR = "bar", "bar"

    FOLLOWED, KEEPER = "id", "owner"

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="fixtures"
    )
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=5, choices=Kind, default=Kind.PANEL)
    # The lit area, as it lies over the tank when not turned.
    lit_length_cm = models.FloatField("lit length", validators=bounds(*LIT_SIDE))
    lit_width_cm = models.FloatField("lit width", validators=bounds(*LIT_SIDE))
    optic = models.CharField(max_length=6, choices=Optic, default=Optic.ANGLE)
    # In force whatever the optic is: a named one and a file set it.
    beam_deg = models.FloatField(
        "beam angle, degrees",
        default=120.0,
        validators=bounds(*BEAM),
        help_text="Full angle at half strength: about 120 without a lens, 90 medium, 55 narrow.",
    )
    emitter = models.CharField("shaped by", max_length=9, choices=Emitter, blank=True)
    # Blank: tubes where it is a tube, else LED.
    lamp = models.CharField("shines by", max_length=6, choices=Lamp, blank=True)
    watts = models.FloatField("rated watts", null=True, blank=True, validators=bounds(*WATTS))
    ppf_umol_s = models.FloatField(
        "rated output, µmol/s", null=True, blank=True, validators=bounds(*PPF)
    )
    efficacy_umol_j = models.FloatField(
        "efficacy, µmol/J", null=True, blank=True, validators=bounds(*EFFICACY)
    )
    zone = models.CharField(max_length=10, choices=Zone, default=Zone.DISPLAY)
    # [{"name", "peak_nm" or "white_kelvin", "share_percent" of PAR at full level}, ...]
    channels = models.JSONField(default=list, blank=True)

    objects = FixtureQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            bounds_check("fixture", "lit_length_cm", *LIT_SIDE),
            bounds_check("fixture", "lit_width_cm", *LIT_SIDE),
            bounds_check("fixture", "beam_deg", *BEAM),
            bounds_check("fixture", "watts", *WATTS, null=True),
            bounds_check("fixture", "ppf_umol_s", *PPF, null=True),
            bounds_check("fixture", "efficacy_umol_j", *EFFICACY, null=True),
        ]

    def __str__(self):
        return self.name

    def clean(self):
        self.beam_deg = FAMILY_BEAM_DEG.get(self.optic, self.beam_deg)
        if self.optic == Optic.FILE and not self.measured:
            raise ValidationError({"optic": "Bring its photometric file first."})
        if self.optic == Optic.FILE:
            self.beam_deg = self.measured.beam_deg
        try:
            check_channels(self.channels)
        except ValidationError as problem:
            raise ValidationError({"channels": problem.messages}) from None
        self.channels = [row | {"name": channel_name(row)} for row in self.channels]

    @property
    def measured(self):
        """Its PhotometricFile, or None."""
        return getattr(self, "photometric_file", None) if self.pk else None

    @property
    def rays_id(self):
        """Key of the RayTable its photometric file gives, or None."""
        return self.measured.rays_id if self.optic == Optic.FILE and self.measured else None

    def output(self):
        """Return the OutputEstimate of what it gives at full level, None when nothing is known."""
        return output_estimate(
            kind=self.lamp or (Lamp.TUBE if self.kind == self.Kind.TUBE else Lamp.LED),
            watts=self.watts,
            ppf_umol_s=self.ppf_umol_s,
            efficacy_umol_j=self.efficacy_umol_j,
        )


class OfferedFixtureQuerySet(SharedRowsQuerySet):
    shared = "fixture"

    def in_club(self, club: Club) -> Self:
        offers = super().in_club(club)
        return offers.select_related("fixture__owner", "fixture__photometric_file")


class OfferedFixture(models.Model):
    """A lamp that a club may copy, for as long as its keeper offers it."""

    # No page of a tank shows it (`tanks/kept_pages`).
    UNSHOWN = True

    fixture = models.ForeignKey(Fixture, on_delete=models.CASCADE, related_name="offers")
    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="+")
    offered_at = models.DateTimeField(auto_now_add=True)

    objects = OfferedFixtureQuerySet.as_manager()

    class Meta:
        ordering = ["fixture__name", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["fixture", "club"], name="offered_once_a_club")
        ]

    def __str__(self) -> str:
        return f"The lamp {self.fixture}, which you offer"


class Covered(models.Model):
    """What lies between fixtures and water: a lid, a screen, a diffuser, dirt on a lens."""

    class Cover(models.TextChoices):
        LID = "lid", "lid or glass cover"
        SCREEN = "screen", "screen or net"
        DIFFUSER = "diffuser", "diffuser"
        LENS = "lens", "dirt on lens or glass"

    class CoverDone(models.TextChoices):
        ON = "on", "it is on from then on"
        OFF = "off", "it is off from then on"

    # What lies between the fixtures and the water from then on, or no longer, and what of the light
    # it passes: as stated, or by two readings at one spot, one with it and one without.
    cover = models.CharField("put on or taken off", max_length=8, choices=Cover, blank=True)
    cover_done = models.CharField("which of it", max_length=3, choices=CoverDone, blank=True)
    cover_percent = models.FloatField(
        "it passes, %", null=True, blank=True, validators=bounds(*PASSES)
    )
    cover_without_umol = models.FloatField(
        "PAR without it", null=True, blank=True, validators=bounds(*COVER_READING)
    )
    cover_with_umol = models.FloatField(
        "PAR with it", null=True, blank=True, validators=bounds(*COVER_READING)
    )

    class Meta:
        abstract = True

    @property
    def is_cover_measured(self):
        """Whether two readings say what the cover passes."""
        return None not in (self.cover_with_umol, self.cover_without_umol)

    @property
    def cover_title(self):
        """What was put on or taken off, "" without a cover."""
        if not self.cover:
            return ""
        done = "put on" if self.cover_done == self.CoverDone.ON else "taken off"
        return f"{self.get_cover_display().capitalize()} {done}"

    @property
    def transmission(self):
        """What of the light the cover passes [1]; 1 where there is none."""
        if not self.cover:
            return 1.0
        if self.is_cover_measured:
            return self.cover_with_umol / self.cover_without_umol
        return self.cover_percent / 100.0

    @property
    def cover_factor(self):
        """Light after it for 1 before, by the cover alone [1]."""
        passes = self.transmission
        return passes if self.cover_done == self.CoverDone.ON else 1.0 / passes

    @property
    def cover_deviation(self):
        """How far that may be off [log], None without a cover."""
        if not self.cover:
            return None
        deviation = STATED_DEVIATION
        if self.is_cover_measured:
            with_it, without = [self.cover_with_umol], [self.cover_without_umol]
            deviation = ratio_with_deviation(without, with_it)[1]
        spread = SPREAD_DEVIATION if self.cover == self.Cover.DIFFUSER else 0.0
        return math.hypot(deviation, spread)

    @property
    def cover_words(self):
        """What was put on or taken off, and what it passes; "" without a cover."""
        if not self.cover:
            return ""
        done = "on" if self.cover_done == self.CoverDone.ON else "off"
        how = "stated"
        if self.is_cover_measured:
            how = f"measured: {self.cover_with_umol:g} with it, {self.cover_without_umol:g} without"
        what = self.get_cover_display()
        return f"{what} {done}, passes {100 * self.transmission:.3g}\u00a0% ({how})"

    def cover_problems(self):
        """Return {field: sentence} of what is said of a cover and does not go together."""
        readings = {
            "cover_without_umol": self.cover_without_umol, "cover_with_umol": self.cover_with_umol
        }  # fmt: skip
        given = [value for value in readings.values() if value is not None]
        if not self.cover:
            if given or self.cover_percent is not None or self.cover_done:
                return {"cover": "Of what? Choose a lid, a screen, a diffuser or dirt."}
            return {}
        errors = {}
        if not self.cover_done:
            errors["cover_done"] = "Is it on or off from then on?"
        if len(given) == 1:
            missing = next(name for name, value in readings.items() if value is None)
            errors[missing] = "It takes both readings, with it and without it."
        elif given and given[1] > given[0]:
            errors["cover_with_umol"] = "More light with it than without? Are the two swapped?"
        elif given and given[1] < given[0] * limits.COVER_TRANSMISSION_MIN:
            errors["cover_with_umol"] = "That is darker than any cover a tank has."
        elif not given and self.cover_percent is None:
            errors["cover_percent"] = "Say what it passes, or enter two readings."
        return errors
