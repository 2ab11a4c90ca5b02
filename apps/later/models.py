"""Work that no page waits for: a row a job, which says how it is with it."""

import uuid

from django.conf import settings
from django.db import models
from django.utils import timezone

# Below the storage's root.
JOB_FILES = "jobs"


def job_path(job: "Job", name: str) -> str:
    """Return a path that tells nothing of the keeper or of what the file is called."""
    return f"{JOB_FILES}/{job.key}{name}"


class Job(models.Model):
    """A named job with plain arguments: delivered as often as it may be, in effect once."""

    UNSHOWN = True

    class State(models.TextChoices):
        WAITING = "waiting"
        RUNNING = "running"
        DONE = "done"
        FAILED = "failed"

    key = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    name = models.CharField(max_length=40)
    # Keys of rows, never what a row says: a job may outlive it by a week.
    arguments = models.JSONField(default=dict, blank=True)
    # Who may look at it; nobody where the site does it for itself.
    keeper = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        on_delete=models.CASCADE,
        related_name="jobs",
    )
    # What it is about: of one name and subject one job waits at most. Empty: any number may.
    subject = models.CharField(max_length=60, blank=True)
    state = models.CharField(max_length=8, choices=State.choices, default=State.WAITING)
    tries = models.PositiveSmallIntegerField(default=0)
    made_at = models.DateTimeField(default=timezone.now)
    due_at = models.DateTimeField(default=timezone.now)
    # When whoever works on it last said so, and the mark by which only they may end it.
    alive_at = models.DateTimeField(null=True, blank=True)
    claim = models.UUIDField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    # Keys and counts of what came of it; or one sentence on why nothing did.
    outcome = models.JSONField(default=dict, blank=True)
    problem = models.TextField(blank=True)
    # What was sent for it or what it made; goes with the row.
    file = models.FileField(upload_to=job_path, blank=True)

    class Meta:
        ordering = ["due_at", "pk"]
        indexes = [models.Index(fields=["state", "due_at"], name="job_in_turn")]
        constraints = [
            models.UniqueConstraint(
                fields=["name", "subject"],
                condition=models.Q(state="waiting") & ~models.Q(subject=""),
                name="job_waits_once",
            )
        ]

    def __str__(self) -> str:
        return f"{self.name} {self.key}: {self.state}"

    @property
    def has_ended(self) -> bool:
        return self.state not in UNFINISHED


# The states of a job that still has something to do.
UNFINISHED = (Job.State.WAITING, Job.State.RUNNING)
