"""Taking a thing away so that it can come back: nothing a keeper typed is deleted by a tap."""

from django.contrib import messages
from django.db import models
from django.utils import timezone


class RemovableQuerySet(models.QuerySet):
    def present(self):
        """Rows that were not taken away."""
        return self.filter(removed_at__isnull=True)


class Removable(models.Model):
    """A row that is hidden, not deleted, until its tank goes."""

    removed_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        abstract = True

    def remove(self):
        self.removed_at = timezone.now()
        self.save(update_fields=["removed_at"])

    def restore(self):
        self.removed_at = None
        self.save(update_fields=["removed_at"])


UNDO_TAG = "undo "


def offer_undo(request, text, url):
    """Tell the keeper what was done, with a button that posts to `url` to take it back."""
    messages.success(request, text, extra_tags=UNDO_TAG + url)
