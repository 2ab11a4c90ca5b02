"""Tanks among what a search finds."""

from django.urls import reverse

from apps.accounts.models import User
from apps.common.searching.hits import Hit, HitGroup, group_of, with_all_words
from apps.tanks.models import Tank


def tank_hits(user: User, query: str) -> list[HitGroup]:
    """Return the tanks a user may see whose name has all words of a query; one query."""
    tanks = Tank.objects.visible_to(user).filter(with_all_words(query, ["name"]))
    return group_of("tanks", "Tanks", tanks, hit_of)


def hit_of(tank: Tank) -> Hit:
    return Hit(tank.name, reverse("tank_detail", args=[tank.pk]))
