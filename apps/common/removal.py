"""Taking a thing away so that it can come back: nothing a keeper typed is deleted by a tap."""

from collections.abc import Callable
from typing import Self

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import models
from django.http import HttpRequest
from django.utils import timezone

from apps.common.validation import VisibleTexts, allowed_gaps


class NotRemoved(Exception):
    """A row that is to come back was never away, or is back already."""


class RemovableQuerySet(models.QuerySet):
    def present(self) -> Self:
        """Rows that were not taken away."""
        return self.filter(removed_at__isnull=True)


class Removable(VisibleTexts, models.Model):
    """A row that is hidden, not deleted, until `purge_deleted` is run some time later."""

    removed_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        abstract = True

    def remove(self) -> None:
        self.removed_at = timezone.now()
        self.save(update_fields=["removed_at"])

    def restore(self) -> None:
        """Bring the row back; ValidationError when it no longer fits what changed since.

        Raises NotRemoved where nothing is to be done.
        """
        if self.removed_at is None:
            raise NotRemoved
        self.full_clean(exclude=allowed_gaps(self, shown=()))
        problems = self.problems_of_return()
        if problems:
            raise ValidationError(problems)
        self.removed_at = None
        self.save(update_fields=["removed_at"])

    def problems_of_return(self) -> list[str]:
        """Return sentences on what hangs on the row and fits no more."""
        return []


UNDO_TAG = "undo "


def offer_undo(request: HttpRequest, text: str, url: str) -> None:
    """Tell the keeper what was done, with a button that posts to `url` to take it back."""
    messages.success(request, text, extra_tags=UNDO_TAG + url)


def bring_back(request: HttpRequest, restore: Callable[[], object], said: str) -> bool:
    """Call `restore` and say so, or say why things can't be as they were; return if it is back."""
    try:
        restore()
    except NotRemoved:
        messages.info(request, "Already restored.")
        return True
    except ValidationError as problem:
        messages.error(request, f"Not restored: {' '.join(problem.messages)}")
        return False
    messages.success(request, said)
    return True
