"""What one search finds: each app that has something to find adds a provider to SEARCHED.

A provider(user, query) starts from what the user may see and returns HitGroups of few rows.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from django.db.models import Model, Q, QuerySet

from apps.common.registry import Registry

# Chosen, because a longer list is not read: who sees it adds a word.
HITS_MAX = 10
QUERY_CHARS_MAX = 80
# More words than this narrow nothing and lengthen the question to the database.
WORDS_MAX = 6
EXCERPT_CHARS = 140

Row = TypeVar("Row", bound=Model)


@dataclass(frozen=True)
class Hit:
    """One thing that was looked for: its name, its page, where it belongs and what it says."""

    title: str
    url: str
    place: str = ""
    excerpt: str = ""


@dataclass(frozen=True)
class HitGroup:
    """Hits of one kind; `more` where there are others behind them."""

    key: str
    title: str
    hits: tuple[Hit, ...] = field(default=())
    more: bool = False


# In the order of the floors: tanks first, then what lies in them.
SEARCHED: Registry[HitGroup] = Registry()


def group_of(
    key: str, title: str, rows: QuerySet[Row], hit: Callable[[Row], Hit]
) -> list[HitGroup]:
    """Return the HitGroup of the first rows, or none where there are no rows; one query."""
    first = list(rows[: HITS_MAX + 1])
    if not first:
        return []
    hits = tuple(hit(row) for row in first[:HITS_MAX])
    return [HitGroup(key, title, hits, len(first) > HITS_MAX)]


def with_all_words(query: str, fields: Sequence[str]) -> Q:
    """Return the condition that each word of a query is in one of the fields."""
    wanted = Q()
    for word in query.split()[:WORDS_MAX]:
        one = Q()
        for spelling in spellings(word):
            for name in fields:
                one |= Q(**{f"{name}__icontains": spelling})
        wanted &= one
    return wanted


def spellings(word: str) -> set[str]:
    """Return a word as it may be written: SQLite folds the case of plain letters only."""
    if word.isascii():
        return {word}
    return {word, word.lower(), word.upper(), word.capitalize()}


def excerpt(text: str, query: str) -> str:
    """Return the part of a text round the first word of a query that is in it, on one line."""
    flat = " ".join(text.split())
    low = flat.lower()
    places = [low.find(word.lower()) for word in query.split()]
    start = max(min((place for place in places if place >= 0), default=0) - EXCERPT_CHARS // 3, 0)
    # Words stay whole at the front.
    start = flat.find(" ", start) + 1 if start else 0
    part = flat[start : start + EXCERPT_CHARS]
    return f"{'…' if start else ''}{part}{'…' if start + EXCERPT_CHARS < len(flat) else ''}"
