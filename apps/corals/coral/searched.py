"""Corals among what a search finds."""

from django.urls import reverse

from apps.accounts.models import User
from apps.common.searching.hits import Hit, HitGroup, group_of, with_all_words
from apps.corals.models import Coral

FIELDS = ("name", "genus", "came_from", "gone_words")


def coral_hits(user: User, query: str) -> list[HitGroup]:
    """Return the corals a user may see that have all words of a query; one query."""
    corals = Coral.objects.visible_to(user).filter(with_all_words(query, FIELDS))
    return group_of("corals", "Corals", corals.select_related("tank"), coral_hit)


def coral_hit(coral: Coral) -> Hit:
    return Hit(coral.name, reverse("coral_detail", args=[coral.pk]), coral.tank.name)
