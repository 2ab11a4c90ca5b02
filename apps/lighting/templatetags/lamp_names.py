"""Lamps as pages call them."""

from collections.abc import Iterable

from django import template

from apps.lighting.change.summary import names_of
from apps.lighting.models import HungFixture

register = template.Library()


@register.filter
def with_names(hung: Iterable[HungFixture]) -> list[tuple[str, HungFixture]]:
    """Return each with what to call it: numbered where another has its name."""
    rows = list(hung)
    names = names_of(rows)
    return [(names[row.number], row) for row in rows]
