"""What keepers ask of the host about their data."""

from django.conf import settings
from django.db import models

# So many of one keeper may wait: more say the same.
WAITING_MOST = 5
WORDS_MOST = 1000


class DataRequestQuerySet(models.QuerySet):
    def waiting(self) -> "DataRequestQuerySet":
        """Those that nobody answered, the oldest first."""
        return self.filter(state=DataRequest.State.WAITING).order_by("made_at", "pk")


class DataRequest(models.Model):
    """One request of a keeper, and what became of it; it goes with the account."""

    UNSHOWN = True

    class Kind(models.TextChoices):
        COPY = "copy", "a copy of the data"
        DELETION = "deletion", "deletion of something"
        CORRECTION = "correction", "correction of something"
        OTHER = "other", "something else"

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        DONE = "done", "done"
        DECLINED = "declined", "declined"

    keeper = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="data_requests"
    )
    kind = models.CharField("What do you want?", max_length=10, choices=Kind)
    words = models.TextField("Details", max_length=WORDS_MOST)
    made_at = models.DateTimeField(auto_now_add=True)
    state = models.CharField(
        "it is", max_length=8, choices=State, default=State.WAITING, editable=False
    )
    answer = models.TextField("your answer", max_length=WORDS_MOST, blank=True, editable=False)
    answered_at = models.DateTimeField(null=True, editable=False)

    objects = DataRequestQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"request for {self.get_kind_display()}"
