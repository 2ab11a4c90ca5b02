"""What a health note said, or would have said, where two wrote without knowing of each other."""

from django.conf import settings
from django.db import models


class OtherVersionQuerySet(models.QuerySet):
    def open(self):
        """Versions that no keeper has looked at yet."""
        return self.filter(settled_at__isnull=True)


class OtherVersion(models.Model):
    """A version of a note that does not stand, kept beside the one that does."""

    class Source(models.TextChoices):
        ROUND = "round", "entered in a notes round"
        PAGE = "page", "saved on another page"
        STOOD = "stood", "stood before"

    note = models.ForeignKey("corals.HealthNote", on_delete=models.CASCADE, related_name="others")
    # As `HealthNote.said` returns it.
    said = models.JSONField()
    source = models.CharField(max_length=5, choices=Source)
    # Which of its device's changes this is, for one from a round.
    edition = models.PositiveIntegerField(null=True, blank=True)
    sent_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    kept_at = models.DateTimeField(auto_now_add=True)
    settled_at = models.DateTimeField(null=True, blank=True)

    objects = OtherVersionQuerySet.as_manager()

    class Meta:
        ordering = ["-kept_at", "-pk"]

    def __str__(self):
        return f"another version of note {self.note_id}"

    def as_note(self):
        """Return an unsaved note that says the same, to be put in words."""
        note = type(self.note)(coral_id=self.note.coral_id)
        note.say(self.said)
        return note
