"""Filters of lists: one that is misspelt is refused, not left out without a word."""

import django_filters.rest_framework as django_filters
from django.db import models
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request

# Read by the pages of a list, and by the choice of a format.
ALWAYS_KNOWN = {"page", "format"}
NAMES_MAX = 20
UNKNOWN = "There is no such filter here."


class KeyFilter(django_filters.NumberFilter):
    """A filter by the number of a row: one that no row can have is refused, not looked for."""

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, min_value=0, max_value=models.BigIntegerField.MAX_BIGINT, **kwargs)


class StrictFilterBackend(django_filters.DjangoFilterBackend):
    """A filter backend that answers 400 to a query that names what it does not know."""

    def filter_queryset(self, request, queryset, view):
        filterset_class = self.get_filterset_class(view, queryset)
        known = set(filterset_class.base_filters) if filterset_class else set()
        unknown = sorted(request.query_params.keys() - known - ALWAYS_KNOWN)
        if unknown:
            raise ValidationError({name[:80]: [UNKNOWN] for name in unknown[:NAMES_MAX]})
        return super().filter_queryset(request, queryset, view)


def refuse_unknown(request: Request, known: set[str]) -> None:
    """Raise ValidationError that names what of an address' query is not known."""
    if unknown := sorted(request.query_params.keys() - known - ALWAYS_KNOWN):
        raise ValidationError({name[:80]: [UNKNOWN] for name in unknown[:NAMES_MAX]})
