"""Fixtures: the things that shine, as entries of a keeper's own library."""

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models

from apps.common.removal import Removable, RemovableQuerySet
from apps.common.validation import bounds, bounds_check
from apps.lighting.day_models import Zone
from apps.lighting.optic_models import FAMILY_BEAM_DEG, Optic, channel_name, check_channels
from apps.photics import limits
from apps.photics.rig.fixture_light import output_estimate

LIT_SIDE = (limits.FIXTURE_SIDE_MIN_CM, limits.FIXTURE_SIDE_MAX_CM)
BEAM = (limits.BEAM_MIN_DEG, limits.BEAM_MAX_DEG)
WATTS = (0, limits.WATTS_MAX)
PPF = (0, limits.PPF_MAX_UMOL_S)
EFFICACY = (limits.EFFICACY_MIN_UMOL_J, limits.EFFICACY_MAX_UMOL_J)


class FixtureQuerySet(RemovableQuerySet):
    def owned_by(self, user):
        return self.present().filter(owner=user)


class Emitter(models.TextChoices):
    """What shapes a fixture's beam."""

    BARE = "bare", "nothing: bare diodes or tubes"
    LENS = "lens", "a lens"
    REFLECTOR = "reflector", "a reflector"
    DIFFUSER = "diffuser", "a frosted or diffusing plate"


class Fixture(Removable):
    """A thing that shines, described by what it is; one entry of a keeper's own library."""

    class Kind(models.TextChoices):
        PUCK = "puck", "puck: one small spot"
        PANEL = "panel", "panel"
        TUBE = "tube", "tube or row of tubes"
        BAR = "bar", "bar"

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
            kind="tube" if self.kind == self.Kind.TUBE else "led",
            watts=self.watts,
            ppf_umol_s=self.ppf_umol_s,
            efficacy_umol_j=self.efficacy_umol_j,
        )
