"""Saved plans, and acclimations: the steps from the light a coral is used to, to another."""

import datetime as dt

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.urls import reverse

from apps.accounts.models import User
from apps.common.removal import Removable, RemovableQuerySet
from apps.common.validation import bounds, bounds_check, too_early, too_far_ahead, year_check
from apps.corals.models import Coral
from apps.photics import limits
from apps.photics.day.acclimation import PACES
from apps.planning.documents import check_document
from apps.planning.stored_layout import read_question, read_state
from apps.tanks.models import Tank

LIGHT = (limits.BAND_MIN_UMOL, limits.PAR_MAX_UMOL)
RATE = (limits.RATE_MIN_PERCENT, limits.RATE_MAX_PERCENT)
EVERY = (limits.EVERY_DAYS_MIN, limits.EVERY_DAYS_MAX)
LETTERHEAD_MAX = 400
# The kinds of plans, as they are stored.
LAYOUT, WHAT_IF = "layout", "what_if"
PACE_OF = {pace.key: pace for pace in PACES}


class PlanQuerySet(RemovableQuerySet):
    def of_reader(self, user: User) -> "PlanQuerySet":
        """Plans a user may see, taken away or not: of tanks they see, and their own without one."""
        return self.filter(
            Q(tank__in=Tank.objects.visible_to(user)) | Q(tank__isnull=True, owner=user)
        )

    def visible_to(self, user: User) -> "PlanQuerySet":
        """Present plans of the tanks a user may see, and their own without a tank."""
        return self.present().of_reader(user)

    def matching(self, words: str) -> "PlanQuerySet":
        """Plans with a text in their name, notes, tank, or whom they are for and by."""
        hits = Q()
        for field in ("name", "notes", "for_whom", "by_whom", "tank__name"):
            hits |= Q(**{f"{field}__icontains": words})
        return self.filter(hits) if words else self


class Plan(Removable):
    """A question of the light, and the answer that was computed for it."""

    # Without a tank it is its owner's alone.
    FOLLOWED, KEEPER = "id", "owner"

    class Kind(models.TextChoices):
        LAYOUT = LAYOUT, "layout"
        WHAT_IF = WHAT_IF, "what if"

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="plans"
    )
    # None for a tank that is only dimensions yet.
    tank = models.ForeignKey(
        Tank, null=True, blank=True, on_delete=models.CASCADE, related_name="plans"
    )
    kind = models.CharField(max_length=7, choices=Kind)
    name = models.CharField(max_length=80)
    notes = models.TextField(max_length=4000, blank=True)
    # Printed on it: a plan made for somebody, and who answers for it.
    for_whom = models.CharField("for whom", max_length=80, blank=True)
    by_whom = models.CharField("by whom", max_length=80, blank=True)
    # The adviser's own lines at the head of what is printed: name, address, telephone.
    letterhead = models.TextField(max_length=LETTERHEAD_MAX, blank=True)
    # The plan as it was last sent (`planning/sent.py`), {} before.
    sent_at = models.DateTimeField(null=True, blank=True, editable=False)
    sent = models.JSONField(default=dict, blank=True, validators=[check_document], editable=False)
    # Each is {} or carries its own "version"; the modules of the kind read and write them.
    asked = models.JSONField(default=dict, blank=True, validators=[check_document])
    answer = models.JSONField(default=dict, blank=True, validators=[check_document])
    created_at = models.DateTimeField(auto_now_add=True)
    changed_at = models.DateTimeField(auto_now=True)

    objects = PlanQuerySet.as_manager()

    class Meta:
        ordering = ["-changed_at", "-pk"]
        indexes = [models.Index(fields=["tank", "kind"], name="plan_by_tank")]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse(f"{self.kind}_detail", args=[self.pk])

    def clean(self) -> None:
        if self.kind == self.Kind.LAYOUT and self.asked:
            read_question(self.asked)
            read_state(self.answer)


class AcclimationQuerySet(RemovableQuerySet):
    def visible_to(self, user: User) -> "AcclimationQuerySet":
        """Present acclimations of present corals in the tanks a user may see."""
        return self.present().filter(
            tank__in=Tank.objects.visible_to(user), coral__removed_at__isnull=True
        )

    def with_all(self) -> "AcclimationQuerySet":
        """Read at once what a plan is followed by."""
        return self.select_related("tank", "coral").prefetch_related("steps", "ticks")


class Acclimation(Removable):
    """A plan in steps. Where it stands is never stored: it follows from ticks and notes."""

    FOLLOWED = "id"

    class Means(models.TextChoices):
        LEVEL = "level", "level of the lights"
        HEIGHT = "height", "height of the lights"
        DEPTH = "depth", "depth of the coral"
        SCREEN = "screen", "a shading screen"

    # What changes the light of the whole tank, and so of every coral in it.
    WHOLE_TANK_MEANS = (Means.LEVEL, Means.HEIGHT)

    class Pace(models.TextChoices):
        FAST = "fast", PACE_OF["fast"].words
        TYPICAL = "typical", PACE_OF["typical"].words
        SLOW = "slow", PACE_OF["slow"].words

    tank = models.ForeignKey(Tank, on_delete=models.CASCADE, related_name="acclimations")
    # The coral it is for; of a whole tank the one whose light would go furthest from what it is
    # used to.
    coral = models.ForeignKey(Coral, on_delete=models.CASCADE, related_name="acclimations")
    whole_tank = models.BooleanField(default=False)
    means = models.CharField("by", max_length=6, choices=Means, default=Means.LEVEL)
    starts_on = models.DateField("first step on")
    # PAR at the coral's spot at the day's peak.
    start_umol = models.FloatField("light now", validators=bounds(*LIGHT))
    target_umol = models.FloatField("target light", validators=bounds(*LIGHT))
    pace = models.CharField("pace", max_length=7, choices=Pace, default=Pace.TYPICAL)
    rate_percent = models.FloatField(
        "most rise from a day to the next, %", default=15.0, validators=bounds(*RATE)
    )
    every_days = models.PositiveSmallIntegerField(
        "days between steps", default=3, validators=bounds(*EVERY)
    )
    waits = models.BooleanField("each step waits for a note that the coral is well", default=False)
    text = models.TextField("in your words", max_length=2000, blank=True)
    # The rig in force when the plan was made, one dict a fixture: what levels and heights of
    # the steps are counted from. Empty when nobody had described it.
    rig = models.JSONField(default=list, blank=True, editable=False)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    created_at = models.DateTimeField(auto_now_add=True)

    objects = AcclimationQuerySet.as_manager()

    class Meta:
        ordering = ["-starts_on", "-pk"]
        constraints = [
            bounds_check("acclimation", "start_umol", *LIGHT),
            bounds_check("acclimation", "target_umol", *LIGHT),
            bounds_check("acclimation", "rate_percent", *RATE),
            bounds_check("acclimation", "every_days", *EVERY),
            year_check("acclimation", "starts_on"),
        ]

    def __str__(self) -> str:
        of = "the whole tank" if self.whole_tank else self.coral.name
        return f"{of}: PAR {self.start_umol:.0f} to {self.target_umol:.0f}"

    def clean(self) -> None:
        errors = too_early(starts_on=self.starts_on)
        if self.tank_id:
            errors |= too_far_ahead(self.tank.today(), starts_on=self.starts_on)
        if self.coral_id and self.tank_id and self.coral.tank_id != self.tank_id:
            errors["coral"] = "This coral lives in another tank."
        if self.whole_tank and self.means not in self.WHOLE_TANK_MEANS:
            errors["means"] = "A whole tank is led by the level or the height of its lights."
        if self.pk and self.every_days and self.pace in PACE_OF:
            steps, least = self.steps.count(), PACE_OF[self.pace].least_days
            if steps > 1 and (steps - 1) * self.every_days < least:
                errors["every_days"] = (
                    f"The {steps} steps of this plan then take less than the {least} days of its "
                    f"pace: at least {-(-least // (steps - 1))} days apart."
                )
        if errors:
            raise ValidationError(errors)

    def planned_on(self, number: int) -> dt.date:
        """Return the day a step was planned for, whatever happened since."""
        return self.starts_on + dt.timedelta(days=self.every_days * (number - 1))


class AcclimationStep(models.Model):
    """One step: the light after it, and what to set for that."""

    FOLLOWED = "acclimation"

    acclimation = models.ForeignKey(Acclimation, on_delete=models.CASCADE, related_name="steps")
    number = models.PositiveSmallIntegerField()
    light_umol = models.FloatField(validators=bounds(*LIGHT))
    # By means: % of the levels at the plan's making, cm the rig is raised, depth [cm], % a screen
    # lets through.
    setting = models.FloatField()

    class Meta:
        ordering = ["acclimation", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["acclimation", "number"], name="acclimation_step_once_a_number"
            ),
            bounds_check("acclimation_step", "light_umol", *LIGHT),
        ]

    def __str__(self) -> str:
        return f"step {self.number}: PAR {self.light_umol:.0f}"


class AcclimationTick(models.Model):
    """A step that was taken; number 0 is the light before the first, come back to."""

    FOLLOWED = "acclimation"

    acclimation = models.ForeignKey(Acclimation, on_delete=models.CASCADE, related_name="ticks")
    number = models.PositiveSmallIntegerField()
    done_on = models.DateField("done on")
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["created_at", "pk"]

    def __str__(self) -> str:
        return f"step {self.number} on {self.done_on}"
