"""What came in from a zip: files that wait for a word, and tanks that were made of one."""

import uuid

from django.conf import settings
from django.db import models

from apps.tanks.models import Tank


def arrival_path(arrival: "Arrival", name: str) -> str:
    """Return a path that tells nothing of the keeper or of what the file is called."""
    return f"arrivals/{arrival.key}.zip"


class Arrival(models.Model):
    """A zip that a keeper sent: it waits a day for their word, and remembers what it became."""

    UNSHOWN = True

    keeper = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="arrivals"
    )
    key = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    # Empty once it was imported or has waited too long.
    file = models.FileField(upload_to=arrival_path, blank=True)
    name = models.CharField(max_length=120, blank=True)
    sent_at = models.DateTimeField(auto_now_add=True)
    imported_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-sent_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.name} sent by {self.keeper}"


class TankImport(models.Model):
    """A tank that was made of a zip: of which, and whom its rows name of people elsewhere."""

    tank = models.OneToOneField(Tank, on_delete=models.CASCADE, related_name="import_record")
    keeper = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="tank_imports"
    )
    # Of the zip's rows and photos: the same content is known again.
    digest = models.CharField(max_length=64)
    arrival = models.ForeignKey(
        Arrival, null=True, blank=True, on_delete=models.SET_NULL, related_name="tank_imports"
    )
    made_at = models.DateTimeField(auto_now_add=True)
    # {table: {row's key: {field: name}}}: who did it, as the zip says. They have no account here,
    # or it is not for a zip to say which.
    people = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["-made_at", "-pk"]
        indexes = [models.Index(fields=["keeper", "digest"], name="tank_import_by_digest")]

    def __str__(self) -> str:
        return f"import of {self.tank}"
