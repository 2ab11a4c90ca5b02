"""What rows a program may follow, and where each is read."""

from dataclasses import dataclass

from django.db import models
from django.urls import reverse

from apps.corals.models import Coral, CoralSize, HealthNote, PhotoColour, Spot, WaterEvent
from apps.lighting.models import DayCurve, LightChange
from apps.outcomes.models import Trial
from apps.planning.models import Acclimation, Plan
from apps.surveys.models import Survey
from apps.tanks.kept_pages.tables import path_to_tank
from apps.tanks.models import Rock, Tank


@dataclass(frozen=True)
class Kind:
    """A kind of row: its name in an answer, its model, and the name of its address."""

    name: str
    model: type[models.Model]
    address: str
    # How a row names its coral, where the address does; and its tank.
    coral: str = ""

    @property
    def tank(self) -> str:
        """Return the lookup of a row's tank."""
        keys = [key.name for key in path_to_tank(self.model) or ()]
        return "__".join([*keys, "pk"])

    def path(self, pk: int, tank_pk: int, coral_pk: int | None) -> str:
        """Return where a row is read."""
        words = {"pk": pk}
        if self.model not in (Tank, Plan):
            words["tank_pk"] = tank_pk
        if coral_pk is not None:
            words["coral_pk"] = coral_pk
        return reverse(f"{self.address}-detail", kwargs=words)


TANK = Kind("tank", Tank, "api-tank")
KINDS = (
    TANK,
    Kind("rock", Rock, "api-rock"),
    Kind("survey", Survey, "api-survey"),
    Kind("light_change", LightChange, "api-light-change"),
    Kind("day_curve", DayCurve, "api-day-curve"),
    Kind("coral", Coral, "api-coral"),
    Kind("spot", Spot, "api-spot", coral="coral_id"),
    Kind("note", HealthNote, "api-note", coral="coral_id"),
    Kind("size", CoralSize, "api-coral-size", coral="coral_id"),
    Kind("colour", PhotoColour, "api-photo-colour", coral="photo__note__coral_id"),
    Kind("water_event", WaterEvent, "api-water-event"),
    Kind("plan", Plan, "api-plan"),
    Kind("acclimation", Acclimation, "api-acclimation"),
    Kind("trial", Trial, "api-trial"),
)
BY_TABLE = {kind.model._meta.db_table: kind for kind in KINDS}
NAMES = tuple(kind.name for kind in KINDS)
