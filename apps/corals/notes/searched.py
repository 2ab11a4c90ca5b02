"""Notes among what a search finds."""

from django.urls import reverse
from django.utils.formats import date_format

from apps.accounts.models import User
from apps.common.searching.hits import Hit, HitGroup, excerpt, group_of, with_all_words
from apps.corals.models import HealthNote


def note_hits(user: User, query: str) -> list[HitGroup]:
    """Return the notes a user may see with all words in their text, newest first; one query."""
    notes = HealthNote.objects.visible_to(user).filter(with_all_words(query, ["text"]))
    notes = notes.select_related("coral__tank").order_by("-noted_on", "-pk")
    return group_of("notes", "Notes", notes, lambda note: note_hit(note, query))


def note_hit(note: HealthNote, query: str) -> Hit:
    title = f"{note.coral.name}, {date_format(note.noted_on, 'j M Y')}"
    page = reverse("coral_detail", args=[note.coral_id])
    return Hit(title, page, note.coral.tank.name, excerpt(note.text, query))
