"""What imports of history brought, so that one can be taken back whole, and photos that wait."""

import uuid
from collections import defaultdict
from collections.abc import Iterable, Iterator

from django.apps import apps
from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.utils import timezone

from apps.common.moments import day_text
from apps.common.removal import NotRemoved, Removable, RemovableQuerySet
from apps.lighting.hanging import rebuild_rigs
from apps.tanks.models import Tank

# In the order in which they come back: what the others hang on comes first.
ADDED = {
    "coral": "corals.Coral",
    "spot": "corals.Spot",
    "note": "corals.HealthNote",
    "size": "corals.CoralSize",
    "water": "corals.WaterEvent",
    "light": "lighting.LightChange",
}
# What the rows of a kind are called: one, many.
NOUNS = {
    "coral": ("coral", "corals"),
    "spot": ("spot", "spots"),
    "note": ("note", "notes"),
    "size": ("size", "sizes"),
    "water": ("entry in the water log", "entries in the water log"),
    "light": ("light change", "light changes"),
}
# The way from a row to its tank, which its checks ask; by its coral where it is not named.
TO_TANK = {"coral": "tank", "water": "tank", "light": "tank"}
# What else of a coral means that a keeper goes on with it.
OF_CORAL = ("spot", "note", "size")
KEYS_AT_ONCE = 500


class HistoryImport(Removable):
    """One import of a tank's history: which rows it added, and the arrivals it dated back."""

    tank = models.ForeignKey(Tank, on_delete=models.CASCADE, related_name="history_imports")
    made_at = models.DateTimeField(auto_now_add=True)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    source = models.CharField("from", max_length=120, blank=True)
    # [[one of ADDED, the row's key, a fingerprint of what was imported], ...]
    added = models.JSONField(default=list, blank=True)
    # [[a coral's key, the day it came as stated before, and since], ...], days in ISO form.
    arrivals = models.JSONField(default=list, blank=True)

    objects = RemovableQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"import of {self.made_at:%Y-%m-%d} into {self.tank}"

    def counts(self) -> dict[str, int]:
        """Return how many rows of each kind it added."""
        result = {kind: sum(1 for row in self.added if row[0] == kind) for kind in ADDED}
        return {kind: count for kind, count in result.items() if count}

    def in_words(self) -> str:
        """Return what it added: “3 notes, 1 light change”."""
        return ", ".join(
            f"{count:,} {NOUNS[kind][count != 1]}" for kind, count in self.counts().items()
        )

    def day_words(self) -> str:
        return day_text(self.made_at.astimezone(self.tank.zone))

    @transaction.atomic
    def remove(self) -> None:
        """Delete all it added that is still there; a coral that was used since stays."""
        now = timezone.now()
        keys = self._keys()
        keys["coral"] = [pk for pk in keys["coral"] if not self._is_used(pk, keys)]
        for kind, some in portions(keys):
            rows(kind).filter(pk__in=some, removed_at=None).update(removed_at=now)
        rebuild_rigs(self.tank)
        for pk, before, since in self.arrivals:
            if not self._is_used_before(pk, before):
                rows("coral").filter(pk=pk, added_on=since).update(added_on=before)
        self.removed_at = now
        self.save(update_fields=["removed_at"])

    @transaction.atomic
    def restore(self) -> None:
        """Bring back what went with it, or raise ValidationError where some no longer fits."""
        if self.removed_at is None:
            raise NotRemoved
        for pk, before, since in self.arrivals:
            rows("coral").filter(pk=pk, added_on=before).update(added_on=since)
        for kind, some in portions(self._keys()):
            gone = rows(kind).filter(pk__in=some, removed_at=self.removed_at)
            for row in gone.select_related(TO_TANK.get(kind, "coral__tank")):
                try:
                    row.restore()
                except ValidationError as problem:
                    raise ValidationError(f"{row}: {' '.join(problem.messages)}") from None
        rebuild_rigs(self.tank)
        self.removed_at = None
        self.save(update_fields=["removed_at"])

    def _keys(self) -> dict[str, list[int]]:
        keys: dict[str, list[int]] = defaultdict(list)
        for kind, pk, _ in self.added:
            keys[kind].append(pk)
        return {kind: keys[kind] for kind in ADDED}

    def _is_used(self, coral_pk: int, keys: dict[str, list[int]]) -> bool:
        """Whether a coral has something that this import did not add."""
        return any(
            rows(kind).filter(coral=coral_pk, removed_at=None).exclude(pk__in=keys[kind]).exists()
            for kind in OF_CORAL
        )

    def _is_used_before(self, coral_pk: int, day: str) -> bool:
        """Whether something of a coral is dated before a day."""
        dates = {"spot": "since", "note": "noted_on", "size": "measured_on"}
        return any(
            rows(kind).filter(coral=coral_pk, removed_at=None, **{f"{name}__lt": day}).exists()
            for kind, name in dates.items()
        )


def rows(kind: str) -> models.QuerySet:
    """All rows of one of ADDED, deleted or not."""
    return apps.get_model(ADDED[kind])._base_manager.all()


def portions(keys: dict[str, list[int]]) -> Iterator[tuple[str, Iterable[int]]]:
    """Yield (kind, keys), so many at once as one query takes."""
    for kind, some in keys.items():
        for at in range(0, len(some), KEYS_AT_ONCE):
            yield kind, some[at : at + KEYS_AT_ONCE]


def waiting_path(sent: "SentPhoto", name: str) -> str:
    """Return a path that tells nothing of tank or keeper."""
    return f"waiting/{sent.key}-{name}"


class SentPhoto(models.Model):
    """A photo sent among many: it waits for its coral, then tells that the file was stored.

    The file that was sent is never kept, only what `photo_cleaning` makes of it.
    """

    tank = models.ForeignKey(Tank, on_delete=models.CASCADE, related_name="sent_photos")
    key = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    # Of the file as it was sent, so that it is known when it comes again.
    digest = models.CharField(max_length=64)
    name = models.CharField(max_length=120, blank=True)
    taken_on = models.DateField(null=True, blank=True)
    image = models.ImageField(upload_to=waiting_path, blank=True)
    thumbnail = models.ImageField(upload_to=waiting_path, blank=True)
    # What else a CleanPhoto holds beside its two pictures.
    facts = models.JSONField(default=dict, blank=True)
    # The photo of a note it became; with it goes the memory of it.
    photo = models.ForeignKey(
        "corals.Photo", null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    created_at = models.DateTimeField(auto_now_add=True)

    # What an export leaves out: `facts` holds what is never shown of a photo's camera.
    STAYS_HERE = ("facts", "digest")

    class Meta:
        ordering = [models.F("taken_on").asc(nulls_last=True), "name", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["tank", "digest"], name="photo_sent_once_a_tank"),
        ]

    def __str__(self) -> str:
        return f"photo {self.name} sent to {self.tank}"
