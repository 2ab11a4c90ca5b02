"""The dated changes of a tank's light, and the fixtures as they hang after each."""

import math

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.urls import reverse
from django.utils import timezone

from apps.common.removal import Removable, RemovableQuerySet
from apps.common.validation import (
    FIRST_MOMENT,
    VisibleTexts,
    bounds,
    bounds_check,
    too_early,
    year_check,
)
from apps.lighting.day_models import DayCurve, RunningCurve, Zone
from apps.lighting.fixture_models import (
    BEAM,
    COVER_READING,
    LIT_SIDE,
    PASSES,
    PPF,
    Covered,
    Emitter,
    Fixture,
    OfferedFixture,
)
from apps.lighting.optic_models import (
    Optic,
    PhotometricFile,
    RayTable,
    check_channel_levels,
    lit_share,
    measured_rays,
)
from apps.photics import limits
from apps.photics.ground import scene
from apps.tanks.models import Tank

__all__ = [
    "DayCurve",
    "Fixture",
    "HungFixture",
    "LightChange",
    "OfferedFixture",
    "Optic",
    "PhotometricFile",
    "RayTable",
    "RunningCurve",
    "Zone",
]

FACTOR = (limits.LIGHT_FACTOR_MIN, limits.LIGHT_FACTOR_MAX)
HOURS = (0, limits.DAY_HOURS_MAX)
HEIGHT = (limits.FIXTURE_HEIGHT_MIN_CM, limits.FIXTURE_HEIGHT_MAX_CM)
TURN = (0, limits.TURN_MAX_DEG)
TILT = (-limits.TILT_MAX_DEG, limits.TILT_MAX_DEG)
LEVEL = (0, limits.LEVEL_MAX_PERCENT)
LOSS = (0, limits.AGEING_LOSS_MAX_PERCENT)
HOURS_BESIDE_A_CURVE = "A day curve starts with this entry: leave the hours blank."


class LightChangeQuerySet(RemovableQuerySet):
    def visible_to(self, user):
        return self.present().filter(tank__in=Tank.objects.visible_to(user))

    def in_order(self):
        return self.order_by("happened_at", "pk")


class LightChange(Covered, Removable):
    """A dated change. It carries the whole state that holds after it, not only the difference."""

    FOLLOWED = "id"

    class Reason(models.TextChoices):
        RAISED = "raised", "raised"
        LOWERED = "lowered", "lowered"
        MOVED = "moved", "moved, turned or tilted"
        LEVEL = "level", "level turned up or down"
        LENS = "lens", "lens changed"
        TUBES = "tubes", "tubes replaced"
        CLEANED = "cleaned", "cleaned"
        FRAG = "frag", "dimmed for a frag"
        STEP = "step", "acclimation step"
        HUNG = "hung", "hung or taken down"
        HOURS = "hours", "hours of the day changed"
        COVER = "cover", "lid, screen or diffuser put on or off"
        OTHER = "other", "something else"

    tank = models.ForeignKey(Tank, on_delete=models.CASCADE, related_name="light_changes")
    happened_at = models.DateTimeField("when")
    reason = models.CharField("why", max_length=7, choices=Reason, default=Reason.OTHER)
    summary = models.CharField("in your words", max_length=200, blank=True)
    # What the fixtures hung after it cannot tell: salt, dust, a lid. They tell the rest.
    factor = models.FloatField(
        "light after, for 1 before, besides what the fixtures tell",
        default=1.0,
        validators=bounds(*FACTOR),
        help_text="1 is unchanged, 0.8 a fifth less, 1.25 a quarter more.",
    )
    # True where `hung` says what hangs from then on; with no rows that is nothing.
    tells_rig = models.BooleanField(default=False, editable=False)
    # Numbers of the fixtures this change took down.
    taken_down = models.JSONField(default=list, blank=True, editable=False)
    # Blank until the keeper says how long the lights burn; without it no daily light is claimed.
    day_hours = models.FloatField(
        "hours from lights on to lights off", null=True, blank=True, validators=bounds(*HOURS)
    )
    ramp_hours = models.FloatField(
        "hours of ramp at each end", default=0.0, validators=bounds(*HOURS)
    )
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
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
            year_check("light_change", "happened_at", FIRST_MOMENT),
            bounds_check("light_change", "cover_percent", *PASSES, null=True),
            bounds_check("light_change", "cover_without_umol", *COVER_READING, null=True),
            bounds_check("light_change", "cover_with_umol", *COVER_READING, null=True),
        ]

    def __str__(self):
        return f"{self.happened_at:%Y-%m-%d} {self.title}"

    def place_in_log(self):
        """Return the address of this entry on its own page of the light log."""
        log = reverse("light_change_list", args=[self.tank_id])
        return f"{log}?entry={self.pk}#light-change-{self.pk}"

    @property
    def title(self):
        """What the keeper said of it, else what was put on or taken off, else the reason."""
        return self.summary or self.cover_title or self.get_reason_display().capitalize()

    def clean(self):
        errors = too_early(happened_at=self.happened_at)
        if self.happened_at and self.happened_at > timezone.now():
            errors["happened_at"] = "This is in the future. Enter a change once it is done."
        if self.day_hours is not None and self.ramp_hours is not None:
            if 2 * self.ramp_hours > self.day_hours:
                errors["ramp_hours"] = "Two ramps must fit into the day."
        elif self.ramp_hours:
            errors["day_hours"] = "A ramp needs the hours of the whole day too."
        if self.pk and self.day_hours is not None and self.days.exists():
            errors["day_hours"] = HOURS_BESIDE_A_CURVE
        errors |= self.cover_problems()
        if self.reason == self.Reason.OTHER and not self.summary and not self.cover:
            errors["summary"] = "Say in a few words what it was, or choose what was done."
        if errors:
            raise ValidationError(errors)


class HungFixture(VisibleTexts, models.Model):
    """Where one fixture hangs after a light change, and how it is set.

    The rows of a change are the whole rig from then on, not only what moved. What the fixture is
    was copied when it was hung: editing the library rewrites no history, nor does losing it.
    """

    FOLLOWED = "change"

    # What is copied from the library: field here, field there.
    FACTS = {
        "name": "name",
        "kind": "kind",
        "lit_length_cm": "lit_length_cm",
        "lit_width_cm": "lit_width_cm",
        "own_beam_deg": "beam_deg",
        "emitter": "emitter",
        "ppf_umol_s": "ppf_umol_s",
        "zone": "zone",
        "channels": "channels",
        "rays_id": "rays_id",
    }
    # What a keeper sets of a fixture that hangs.
    SETTINGS = (
        "x_cm",
        "y_cm",
        "height_cm",
        "turn_deg",
        "tilt_deg",
        "beam_deg",
        "level_percent",
        "channel_levels",
        "loss_percent",
    )

    change = models.ForeignKey(LightChange, on_delete=models.CASCADE, related_name="hung")
    fixture = models.ForeignKey(
        Fixture, null=True, blank=True, on_delete=models.SET_NULL, related_name="hangings"
    )
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=5, choices=Fixture.Kind)
    lit_length_cm = models.FloatField(validators=bounds(*LIT_SIDE))
    lit_width_cm = models.FloatField(validators=bounds(*LIT_SIDE))
    own_beam_deg = models.FloatField(validators=bounds(*BEAM))
    emitter = models.CharField(max_length=9, choices=Emitter, blank=True, editable=False)
    # What its photometric file says it sends where; blank: as its beam alone says.
    rays = models.ForeignKey(
        RayTable,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="hangings",
        editable=False,
    )
    ppf_umol_s = models.FloatField(null=True, blank=True, validators=bounds(*PPF))
    # Only those of the display shine on what the light map shows.
    zone = models.CharField(max_length=10, choices=Zone, default=Zone.DISPLAY)
    # A fixture keeps its number from change to change, for as long as it hangs.
    number = models.PositiveSmallIntegerField()
    x_cm = models.FloatField("centre from the left end")
    y_cm = models.FloatField("centre from the front pane")
    height_cm = models.FloatField("above the water", validators=bounds(*HEIGHT))
    turn_deg = models.FloatField("turned by, degrees", default=0.0, validators=bounds(*TURN))
    # About its own length, above zero so that it shines to the back when not turned.
    tilt_deg = models.FloatField("tilted by, degrees", default=0.0, validators=bounds(*TILT))
    # Blank keeps the fixture's own beam; a number is the lens fitted for this hanging.
    beam_deg = models.FloatField(
        "beam angle with this lens", null=True, blank=True, validators=bounds(*BEAM)
    )
    level_percent = models.FloatField(
        "level at the day’s peak, %", default=100.0, validators=bounds(*LEVEL)
    )
    # As in the library; without them the fixture has its one level.
    channels = models.JSONField(default=list, blank=True, editable=False)
    # {channel's name: its level at the day's peak under level_percent, %}; 100 where not named.
    channel_levels = models.JSONField("levels of its channels, %", default=dict, blank=True)
    # For tubes: what is lost in 1,000 h of light since they were new; blank: not reckoned.
    loss_percent = models.FloatField(
        "lost in 1,000 hours, %", null=True, blank=True, validators=bounds(*LOSS)
    )
    # Which SETTINGS this change set, or "hung"; the others follow the change before.
    told = models.JSONField(default=list, blank=True, editable=False)

    class Meta:
        ordering = ["change", "number"]
        constraints = [
            models.UniqueConstraint(fields=["change", "number"], name="hung_once_a_number"),
            bounds_check("hung", "height_cm", *HEIGHT),
            bounds_check("hung", "turn_deg", *TURN),
            bounds_check("hung", "tilt_deg", *TILT),
            bounds_check("hung", "beam_deg", *BEAM, null=True),
            bounds_check("hung", "level_percent", *LEVEL),
            bounds_check("hung", "loss_percent", *LOSS, null=True),
            bounds_check("hung", "lit_length_cm", *LIT_SIDE),
            bounds_check("hung", "lit_width_cm", *LIT_SIDE),
            bounds_check("hung", "own_beam_deg", *BEAM),
            bounds_check("hung", "ppf_umol_s", *PPF, null=True),
        ]

    def __str__(self):
        return f"{self.name} {self.number} at {self.x_cm:g}, {self.y_cm:g}, {self.height_cm:g}"

    def take_facts(self, fixture):
        """Become a hanging of a library's Fixture as it is now; return self."""
        self.fixture = fixture
        for here, there in self.FACTS.items():
            setattr(self, here, getattr(fixture, there))
        return self

    @property
    def make(self):
        """What tells one make of fixture from another."""
        lit = self.lit_length_cm, self.lit_width_cm
        return self.name, self.kind, *lit, self.own_beam_deg, self.rays_id

    @property
    def beam_in_force_deg(self):
        """The beam with the lens fitted, else the fixture's own."""
        return self.own_beam_deg if self.beam_deg is None else self.beam_deg

    @property
    def light_percent(self):
        """Its PAR for 100 of all channels at full level [%]: levels weighed by their shares."""
        return self.level_percent * lit_share(self.channels, self.channel_levels)

    @property
    def lit_channels(self):
        """Names of its channels that are not turned off; its own where no channels are known."""
        levels = self.channel_levels
        lit = (row["name"] for row in self.channels if levels.get(row["name"], 100.0) > 0)
        return tuple(lit) if self.channels else (self.name,)

    def clean(self):
        # A fixture may hang past the rim, but not beyond the room beside the tank.
        ends = {"x_cm": self.change.tank.length_cm, "y_cm": self.change.tank.width_cm}
        errors = {
            name: f"Too far from the tank: {-end / 2:g} to {end * 1.5:g} cm."
            for name, end in ends.items()
            if (value := getattr(self, name)) is not None and not -end / 2 <= value <= end * 1.5
        }
        if None not in (self.height_cm, self.tilt_deg, self.lit_width_cm) and self.tilt_deg:
            rise = abs(math.sin(math.radians(self.tilt_deg))) * self.lit_width_cm / 2
            # The sine of 30 degrees falls a bit short of a half: touching counts as within.
            if self.height_cm <= rise + 1e-6:
                errors["height_cm"] = (
                    "Tilted so, its lower edge would hang in the water. Never let a fixture touch "
                    f"it: the middle must be more than {rise:.3g} cm above."
                )
        try:
            check_channel_levels(self.channel_levels, self.channels)
        except ValidationError as problem:
            errors["channel_levels"] = problem.messages
        if errors:
            raise ValidationError(errors)

    def validate_constraints(self, exclude=None):
        """Ask the database nothing: the validators say what its bounds say, ten to a row."""

    @property
    def optic_in_force(self):
        """The MeasuredOptic it shines with; None for its beam alone, as with another lens."""
        is_own = self.beam_in_force_deg == self.own_beam_deg
        return measured_rays(self.rays_id) if self.rays_id and is_own else None

    @property
    def emitter_in_force(self):
        """What shapes its beam, "" where nobody said; a lens fitted for this hanging is one."""
        is_own = self.beam_in_force_deg == self.own_beam_deg
        return self.emitter if is_own or not self.emitter else Emitter.LENS.value

    def scene(self):
        """Return the fixture as photics knows it."""
        return scene.Fixture(
            x_cm=self.x_cm,
            y_cm=self.y_cm,
            height_cm=self.height_cm,
            beam_deg=self.beam_in_force_deg,
            panel_x_cm=self.lit_length_cm,
            panel_y_cm=self.lit_width_cm,
            kind=self.kind,
            level=self.light_percent / 100.0,
            turn_deg=self.turn_deg,
            tilt_deg=self.tilt_deg,
            optic=self.optic_in_force,
            emitter=self.emitter_in_force,
            name=f"{self.name} {self.number}",
        )
