"""What was seen on corals, and the photos of it. The other tables of this app stand beside this."""

import datetime as dt
import uuid

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models.functions import Cast
from django.utils import timezone

from apps.common.removal import Removable, RemovableQuerySet
from apps.corals.colour_models import CoralSize, PhotoColour
from apps.corals.coral_models import Band, Coral, CoralQuerySet, Spot, usual_band
from apps.corals.history_models import HistoryImport, SentPhoto
from apps.corals.version_models import OtherVersion
from apps.corals.water_models import WaterEvent

# Django looks for models here.
__all__ = [
    "Band", "Coral", "CoralQuerySet", "CoralSize", "HealthNote", "HistoryImport",
    "OtherVersion", "Photo", "PhotoColour", "SentPhoto", "Spot", "WaterEvent", "usual_band",
]  # fmt: skip

# A text column has no end of its own, so clean() holds this one.
NOTE_CHARS_MAX = 2000
NOTE_PHOTOS_MAX = 12
TOO_MANY_PHOTOS = f"A note holds at most {NOTE_PHOTOS_MAX} photos."


class HealthNoteQuerySet(RemovableQuerySet):
    def visible_to(self, user):
        return self.present().filter(coral__in=Coral.objects.visible_to(user))

    def showing(self, sign):
        """Notes of which `HealthNote.shows` says that a sign is seen, main or further."""
        # SQLite can't look into a list; as text its members stand in quotes, and no sign has any.
        with_text = self.alias(also_text=Cast("also_seen", models.TextField()))
        return with_text.filter(models.Q(seen=sign) | models.Q(also_text__contains=f'"{sign}"'))


class HealthNote(Removable):
    FOLLOWED = "id"

    class Condition(models.IntegerChoices):
        """How a coral is as a whole; what each word means stands in `condition.py`."""

        THRIVING = 6, "thriving"
        GOOD = 5, "good"
        OFF = 4, "a little off"
        POOR = 3, "poor"
        BAD = 2, "bad"
        FAILING = 1, "failing"

    class Seen(models.TextChoices):
        WELL = "well", "looks well"
        PALING = "paling", "paling"
        BLEACHING = "bleaching", "bleaching: white or nearly"
        BROWNING = "browning", "browning"
        TISSUE_LOSS = "tissue_loss", "tissue loss"
        POLYPS_IN = "polyps_in", "polyps in"
        GROWTH = "growth", "growth"
        COLOUR_GAIN = "colour_gain", "colour gain"
        OTHER = "other", "something else"

    class Where(models.TextChoices):
        ALL_OVER = "all", "all over"
        TIPS = "tips", "at the tips or edges"
        TOP = "top", "on the upper side"
        UNDER = "under", "on the lower side"
        BASE = "base", "at the base"
        PATCH = "patch", "in patches"
        SIDE = "side", "on one side"

    class Strength(models.IntegerChoices):
        SLIGHT = 1, "slight"
        CLEAR = 2, "clear"
        STRONG = 3, "strong"

    # What a keeper says in a note, as against who wrote it and when.
    SAID = (
        "noted_on", "noted_time", "noted_by", "condition", "seen", "also_seen", "strength", "where",
        "text",
    )  # fmt: skip
    # What can come of too much light, and what of too little.
    LIGHTER = (Seen.PALING, Seen.BLEACHING)
    DARKER = (Seen.BROWNING,)

    coral = models.ForeignKey(Coral, on_delete=models.CASCADE, related_name="notes")
    # A device's own mark: the same note sent again is the same row.
    client_id = models.UUIDField(null=True, blank=True, unique=True, editable=False)
    noted_on = models.DateField("when")
    # By the tank's clock; many notes have none.
    noted_time = models.TimeField("at what time", null=True, blank=True)
    # Whose eyes they were, where not those of `created_by`: two may see one coral differently.
    noted_by = models.CharField("seen by", max_length=60, blank=True)
    condition = models.PositiveSmallIntegerField(
        "how it is", choices=Condition, null=True, blank=True
    )
    # The main sign; `signs` are all of them.
    seen = models.CharField("what is seen", max_length=11, choices=Seen)
    also_seen = models.JSONField("also seen", default=list, blank=True)
    strength = models.PositiveSmallIntegerField(
        "how strong", choices=Strength, default=Strength.CLEAR
    )
    where = models.CharField("where on the coral", max_length=5, choices=Where, blank=True)
    text = models.TextField("in your words", max_length=NOTE_CHARS_MAX, blank=True)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    created_at = models.DateTimeField(auto_now_add=True)
    # Counts what was saved; the last of these saves that no device sent; and how many of its own
    # changes the device of `client_id` has sent. How they are used stands in `noting.py`.
    version = models.PositiveIntegerField(default=0, editable=False)
    desk_version = models.PositiveIntegerField(default=0, editable=False)
    edition = models.PositiveIntegerField(default=0, editable=False)
    # Keys of the photos that devices sent: one that was deleted since does not come back with a
    # change that is sent again.
    sent_photos = models.JSONField(default=list, blank=True, editable=False)

    objects = HealthNoteQuerySet.as_manager()

    class Meta:
        ordering = ["-noted_on", "-pk"]
        indexes = [models.Index(fields=["coral", "noted_on"], name="note_by_coral")]

    def __str__(self):
        return f"{self.coral} {self.noted_on}: {self.get_seen_display()}"

    def said(self):
        """Return what the note says as plain values for JSON."""
        return {name: getattr(self, name) for name in self.SAID} | {
            "noted_on": self.noted_on.isoformat(),
            "noted_time": self.noted_time and self.noted_time.isoformat(timespec="minutes"),
        }

    def say(self, said):
        """Take over what `said` returned."""
        for name, value in said.items():
            setattr(self, name, value)
        self.noted_on = dt.date.fromisoformat(said["noted_on"])
        # Versions of before say nothing of a time.
        time = said.get("noted_time")
        self.noted_time = dt.time.fromisoformat(time) if time else None

    @property
    def eyes(self):
        """Whose eyes they were, as a key: the same for two notes by the same person."""
        return " ".join(self.noted_by.lower().split()) or self.created_by_id

    @property
    def signs(self):
        """All that is seen, the main sign first."""
        return (self.seen, *self.also_seen)

    def shows(self, kinds):
        """Tell whether any of these kinds is seen."""
        return any(sign in kinds for sign in self.signs)

    def signs_in_words(self):
        """Return all that is seen in words: "paling, also tissue loss and polyps in"."""
        also = [self.Seen(sign).label for sign in self.also_seen]
        return self.get_seen_display() + (f", also {' and '.join(also)}" if also else "")

    def in_words(self):
        """Return how it is, what is seen, how strong and where, in words.

        "Looks well" has no strength, and says nothing beside a condition.
        """
        parts = [self.get_condition_display()] if self.condition else []
        if self.seen != self.Seen.WELL:
            where = f" {self.get_where_display()}" if self.where else ""
            parts.append(f"{self.get_strength_display()} {self.signs_in_words()}{where}")
        elif not parts:
            parts.append(self.get_seen_display())
        return ", ".join(parts)

    def clean(self):
        errors = {}
        if self.noted_on and self.noted_on > self.coral.tank.today():
            errors["noted_on"] = "This is in the future."
        elif self.noted_time and self.is_ahead():
            errors["noted_time"] = "This is in the future."
        elif self.noted_on and self.noted_on < self.coral.added_on:
            errors["noted_on"] = f"It came on {self.coral.added_on:%-d %b %Y}, after this day."
        if len(self.text) > NOTE_CHARS_MAX:
            errors["text"] = f"A note holds at most {NOTE_CHARS_MAX} characters."
        poor = self.condition is not None and self.condition <= self.Condition.POOR
        if poor and self.seen == self.Seen.WELL:
            errors["seen"] = f"It can’t look well and be {self.get_condition_display()}."
        if unsound := self.unsound_signs():
            errors["also_seen"] = unsound
        if errors:
            raise ValidationError(errors)

    def is_ahead(self):
        """Tell whether its day and time are still to come at the tank."""
        zone = self.coral.tank.zone
        return bool(self.noted_on) and (
            dt.datetime.combine(self.noted_on, self.noted_time, tzinfo=zone) > timezone.now()
        )

    def unsound_signs(self):
        """Return what is wrong with the further signs, or nothing."""
        also = self.also_seen
        if not isinstance(also, list) or not all(map(self._is_further_sign, also)):
            return "The further signs are a list of what can be seen, “looks well” left out."
        if len(set(self.signs)) < len(self.signs):
            return "Each sign counts once: what is seen first is not also seen."
        if also and self.seen == self.Seen.WELL:
            return "What looks well shows no further sign: choose the main one above."
        return ""

    def _is_further_sign(self, sign):
        return isinstance(sign, str) and sign != self.Seen.WELL and sign in self.Seen.values


def photo_path(photo, name):
    """Return a path that tells nothing of tank or keeper."""
    return f"notes/{photo.key}-{name}"


class Photo(models.Model):
    """A photo of a note, always re-encoded here; the file that was sent is never kept."""

    FOLLOWED = "id"

    note = models.ForeignKey(HealthNote, on_delete=models.CASCADE, related_name="photos")
    key = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    image = models.ImageField(upload_to=photo_path)
    thumbnail = models.ImageField(upload_to=photo_path)
    # Of the image; unknown for photos kept before it was read.
    width_px = models.PositiveIntegerField(null=True, blank=True, editable=False)
    height_px = models.PositiveIntegerField(null=True, blank=True, editable=False)
    # A keyed hash of camera, mode and software (`pictures/camera_mark.py`): never shown.
    camera_mark = models.CharField(max_length=64, blank=True, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)
    # What no export of a tank takes along.
    STAYS_HERE = ("camera_mark",)

    class Meta:
        ordering = ["pk"]

    def __str__(self):
        return f"photo {self.pk} of {self.note}"

    def size_px(self):
        """Return width and height of the image; read from the file where they were not kept."""
        if self.width_px is None:
            self.width_px, self.height_px = self.image.width, self.image.height
            self.save(update_fields=["width_px", "height_px"])
        return self.width_px, self.height_px
