"""Clubs among what a search finds."""

from django.urls import reverse

from apps.accounts.models import User
from apps.clubs.models import Club
from apps.common.searching.hits import Hit, HitGroup, group_of, with_all_words


def club_hits(user: User, query: str) -> list[HitGroup]:
    """Return the clubs a user is in whose name has all words of a query; one query."""
    clubs = Club.objects.visible_to(user).filter(with_all_words(query, ["name"]))
    return group_of("clubs", "Clubs", clubs, hit_of)


def hit_of(club: Club) -> Hit:
    return Hit(club.name, reverse("club_detail", args=[club.pk]))
