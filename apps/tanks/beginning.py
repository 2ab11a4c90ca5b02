"""The way of a new tank, from its measures to corals that are watched, shown until it is walked.

The tank's page lies below the apps whose records show how far it is: they add to STAGES a
provider(tank, now) that returns Stages.
"""

from dataclasses import dataclass

from django.urls import reverse

from apps.common.registry import Registry

# The order in which a tank is begun. Nothing forbids another one.
ORDER = ("describe", "hang", "survey", "map", "place", "schedule", "watch")


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

    @property
    def later(self) -> Stage | None:
        """The open Stage after the next one, for a keeper who leaves that for later."""
        rest = [stage for stage in self.stages if not stage.is_done and stage != self.next]
        return rest[0] if rest else None

    @property
    def steps(self) -> tuple[tuple[Stage, str], ...]:
        """The Stages, each with a word on how far it is."""
        return tuple(
            (stage, "done" if stage.is_done else "next" if stage == self.next else "open")
            for stage in self.stages
        )


STAGES: Registry[Stage] = Registry()


def beginning_of(tank, now):
    """Return the Beginning of a tank."""
    described = Stage(
        "describe",
        "Describe the tank",
        "Its inside measures, and rock if you like.",
        reverse("tank_edit", args=[tank.pk]),
        is_done=True,
    )
    result = [described, *STAGES.collect(tank, now)]
    stages = tuple(sorted(result, key=lambda stage: ORDER.index(stage.key)))
    return Beginning(stages, next((stage for stage in stages if not stage.is_done), None))
