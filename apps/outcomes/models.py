"""Trials: one step of light on a day drawn by lot. It asks about the light, so its table is here.

All else in this app is worked out from what the apps below hold; a trial is a promise of days that
nobody else can know.
"""

import datetime as dt
import secrets

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models

from apps.clubs.models import Club
from apps.clubs.shared_rows import SharedRowsQuerySet
from apps.common.removal import Removable, RemovableQuerySet
from apps.common.validation import bounds, bounds_check, too_far_ahead
from apps.corals.models import Coral
from apps.photics.limits import TRIAL_FACTOR
from apps.tanks.models import Tank

# The plan of days: twelve weeks. House rules, chosen by what tests/benchmarks/bench_trial.py shows:
# days of the lot lie apart, since a coral that takes a week to answer blurs days close together.
NOTE_EVERY_DAYS = 3
NOTES_BEFORE, STARTS, START_EVERY_NOTES, NOTES_AFTER = 5, 8, 2, 9
NOTES = NOTES_BEFORE + START_EVERY_NOTES * (STARTS - 1) + NOTES_AFTER
CORALS_MAX = 4
# Fewer corals have nothing to be set against: a step shows on one coral by chance as well.
CORALS_COMPARED = 2


class TrialQuerySet(RemovableQuerySet):
    def visible_to(self, user):
        return self.present().filter(tank__in=Tank.objects.visible_to(user))


class Trial(Removable):
    FOLLOWED = "id"

    class Question(models.TextChoices):
        LESS = "less", "less light: does paling stop?"
        MORE = "more", "more light: does browning stop?"

    tank = models.ForeignKey(Tank, on_delete=models.CASCADE, related_name="trials")
    question = models.CharField("what to try", max_length=4, choices=Question)
    step = models.CharField("the one step", max_length=200)
    factor = models.FloatField("light after, for 1 before", validators=bounds(*TRIAL_FACTOR))
    began_on = models.DateField("first day of notes")
    # The keeper's word after a pause: colour that was lost by then no longer pauses it.
    resumed_on = models.DateField(null=True, blank=True, editable=False)
    stopped_on = models.DateField(null=True, blank=True, editable=False)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    created_at = models.DateTimeField(auto_now_add=True)

    objects = TrialQuerySet.as_manager()

    class Meta:
        ordering = ["-began_on", "-pk"]
        constraints = [bounds_check("trial", "factor", *TRIAL_FACTOR)]

    def __str__(self):
        return f"{self.get_question_display()} from {self.began_on}"

    def clean(self):
        errors = too_far_ahead(self.tank.today(), began_on=self.began_on)
        if self.pk is None and self.began_on and self.began_on < self.tank.today():
            errors["began_on"] = "Notes made before the lot was drawn cannot count: from today on."
        if self.question == self.Question.LESS and self.factor and self.factor >= 1:
            errors["factor"] = "Less light is below 1: 0.8 is a fifth less."
        if self.question == self.Question.MORE and self.factor and self.factor <= 1:
            errors["factor"] = "More light is above 1: 1.25 is a quarter more."
        if errors:
            raise ValidationError(errors)

    @property
    def starts(self):
        """The days of which one was drawn for each coral."""
        return [self.day(NOTES_BEFORE + START_EVERY_NOTES * k) for k in range(STARTS)]

    @property
    def ends_on(self):
        """The day of the last note."""
        return self.day(NOTES - 1)

    @property
    def note_days(self):
        return [self.day(k) for k in range(NOTES)]

    def day(self, number):
        return self.began_on + dt.timedelta(days=NOTE_EVERY_DAYS * number)


class TrialCoral(models.Model):
    """A coral in a trial, with the day of its step as the lot fell."""

    FOLLOWED = "trial"

    trial = models.ForeignKey(Trial, on_delete=models.CASCADE, related_name="draws")
    coral = models.ForeignKey(Coral, on_delete=models.CASCADE, related_name="trial_draws")
    drawn = models.PositiveSmallIntegerField("place among the days", editable=False)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["trial", "coral"], name="coral_once_a_trial"),
            models.CheckConstraint(condition=models.Q(drawn__lt=STARTS), name="trial_coral_drawn"),
        ]

    def __str__(self):
        return f"{self.coral} in {self.trial}"

    def clean(self):
        if self.coral.tank_id != self.trial.tank_id:
            raise ValidationError({"coral": "This coral is in another tank."})

    @property
    def starts_on(self):
        return self.trial.starts[self.drawn]


def draw_place() -> int:
    """Return the place of a day, drawn by lot: each as likely, and not to be foreseen."""
    return secrets.randbelow(STARTS)


class PoolShare(models.Model):
    """An owner's word that a tank may count among others; taken back, nothing of it stays."""

    tank = models.OneToOneField(Tank, on_delete=models.CASCADE, related_name="pool_share")
    agreed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    agreed_at = models.DateTimeField(auto_now_add=True)
    # What the tank adds up to, and a digest of the entries it came from: unchanged ones are not
    # worked out again.
    digest = models.CharField(max_length=64, blank=True, editable=False)
    part = models.JSONField(default=list, blank=True, editable=False)

    class Meta:
        ordering = ["pk"]

    def __str__(self):
        return f"{self.tank} among others"


class ClubPoolShareQuerySet(SharedRowsQuerySet):
    shared = "share__tank"


class ClubPoolShare(models.Model):
    """An owner's word that a tank, which counts among all others, may count in a club as well."""

    UNSHOWN = True

    share = models.ForeignKey(PoolShare, on_delete=models.CASCADE, related_name="in_clubs")
    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="+")
    agreed_at = models.DateTimeField(auto_now_add=True)

    objects = ClubPoolShareQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["share", "club"], name="pooled_once_a_club")]

    def __str__(self):
        return f"What {self.share.tank} counts for among the club’s tanks"


class PooledCurve(models.Model):
    """What shared tanks together say of one group or genus; written by the batch alone.

    Of all tanks, or of one club's.
    """

    class Level(models.TextChoices):
        ALL = "all", "all corals"
        GROUP = "group", "group"
        GENUS = "genus", "genus"

    club = models.ForeignKey(
        Club, null=True, blank=True, on_delete=models.CASCADE, related_name="+", editable=False
    )
    question = models.CharField(max_length=7)  # lighter or darker
    level = models.CharField(max_length=5, choices=Level)
    name = models.CharField(max_length=60, blank=True)
    n_tanks = models.PositiveIntegerField()
    n_keepers = models.PositiveIntegerField()
    ratio = models.FloatField(null=True)
    low = models.FloatField(null=True)
    high = models.FloatField(null=True)
    # [low edge, high edge, events, visits, mean dose in log2] of each bin that may be shown.
    bins = models.JSONField(default=list)
    computed_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["question", "level", "name"]
        constraints = [
            models.UniqueConstraint(
                fields=["question", "level", "name"],
                condition=models.Q(club__isnull=True),
                name="one_pooled_curve",
            ),
            models.UniqueConstraint(
                fields=["club", "question", "level", "name"], name="one_pooled_curve_a_club"
            ),
        ]

    def __str__(self):
        return f"{self.question} {self.level} {self.name}"
