"""The way of a new tank, from its measures to corals that are watched, told until it is walked.

The tank's page lies below the apps whose records show how far it is. Such an app registers a
provider in its AppConfig.ready(): provider(tank, now) returns Stages.
"""

from dataclasses import dataclass

from django.urls import reverse

# The order in which a tank is begun. Nothing forbids another one.
ORDER = ("describe", "hang", "survey", "map", "place", "schedule", "watch")

_providers = []


@dataclass(frozen=True)
class Stage:
    """One part of the way, and whether the tank's records show it done."""

    key: str  # one of ORDER
    title: str
    why: str
    url: str
    is_done: bool


@dataclass(frozen=True)
class Beginning:
    """All Stages in order, and the first that is still open; None when all are done."""

    stages: tuple[Stage, ...]
    next: Stage | None


def register_stages(provider):
    """Add what a higher app knows of the way: provider(tank, now) returns Stages."""
    if provider not in _providers:
        _providers.append(provider)


def beginning_of(tank, now):
    """Return the Beginning of a tank."""
    described = Stage(
        "describe",
        "Describe the tank",
        "Its inside measures, and rock as boxes if you like.",
        reverse("tank_edit", args=[tank.pk]),
        is_done=True,
    )
    found = [described, *(stage for provider in _providers for stage in provider(tank, now))]
    stages = tuple(sorted(found, key=lambda stage: ORDER.index(stage.key)))
    return Beginning(stages, next((stage for stage in stages if not stage.is_done), None))
