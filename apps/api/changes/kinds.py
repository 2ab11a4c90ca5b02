"""What rows a program may follow, and where each is read."""

import uuid
from collections.abc import Collection
from dataclasses import dataclass

from django.db import models
from django.urls import reverse

from apps.common.removal import Removable
from apps.corals.models import (
    Coral,
    CoralSize,
    HealthNote,
    Photo,
    PhotoColour,
    Spot,
    WaterEvent,
)
from apps.lighting.models import DayCurve, Fixture, LightChange
from apps.outcomes.models import Trial
from apps.planning.models import Acclimation, Plan
from apps.surveys.models import LoggedSeries, Meter, MeterCheck, Survey
from apps.tanks.kept_pages.tables import path_to_tank, shelf_of
from apps.tanks.models import Rock, Tank

# What the address of a row names beside its tank: numbers, and the key of a photo.
Words = dict[str, int | uuid.UUID]


@dataclass(frozen=True)
class Kind:
    """A kind of row: its name in an answer, its model, and the name of its address."""

    name: str
    model: type[models.Model]
    address: str
    # How a row names what stands beside its own number in the address, but for its tank.
    words: tuple[tuple[str, str], ...] = ()

    @property
    def stands(self) -> dict[str, bool]:
        """Return the lookups of rows that were not taken away; a photo is, or is no more."""
        is_removable = issubclass(self.model, Removable)
        return {"removed_at__isnull": True} if is_removable else {}

    @property
    def tank(self) -> str:
        """Return the lookup of a row's tank, "" for a kind that lies in none."""
        way = path_to_tank(self.model)
        return "" if way is None else "__".join([*(key.name for key in way), "pk"])

    def path(self, pk: int, tank_pk: int | None, words: Words) -> str:
        """Return where a row is read; `words` are what its address names beside it."""
        of_tank = {"tank_pk": tank_pk} if self.tank and self.model not in (Tank, Plan) else {}
        # A photo is found by its key, which is among its words.
        own = {} if "key" in words else {"pk": pk}
        return reverse(f"{self.address}-detail", kwargs=own | of_tank | words)

    def present(self, pks: Collection[int]) -> dict[int, tuple[int | None, Words]]:
        """Return {row: (tank or shelf, words of its address)} of those that were not taken away.

        A row that is neither in a tank nor a keeper's alone has None.
        """
        here = self.model._base_manager.filter(pk__in=pks, **self.stands)
        keeper, unless = (getattr(self.model, name, "") for name in ("KEEPER", "KEEPER_UNLESS"))
        names = {"pk", *filter(None, (self.tank, keeper, unless)), *dict(self.words).values()}
        result = {}
        for row in here.values(*names):
            place = row[self.tank] if self.tank else None
            if place is None and keeper and not (unless and row[unless]):
                place = shelf_of(row[keeper])
            result[row["pk"]] = (place, {word: row[name] for word, name in self.words})
        return result


TANK = Kind("tank", Tank, "api-tank")
OF_CORAL = (("coral_pk", "coral_id"),)
KINDS = (
    TANK,
    Kind("rock", Rock, "api-rock"),
    Kind("survey", Survey, "api-survey"),
    Kind("logged_series", LoggedSeries, "api-logged-series"),
    Kind("light_change", LightChange, "api-light-change"),
    Kind("day_curve", DayCurve, "api-day-curve"),
    Kind("coral", Coral, "api-coral"),
    Kind("spot", Spot, "api-spot", OF_CORAL),
    Kind("note", HealthNote, "api-note", OF_CORAL),
    Kind("photo", Photo, "api-photo", (("coral_pk", "note__coral_id"), ("key", "key"))),
    Kind("size", CoralSize, "api-coral-size", OF_CORAL),
    Kind("colour", PhotoColour, "api-photo-colour", (("coral_pk", "photo__note__coral_id"),)),
    Kind("water_event", WaterEvent, "api-water-event"),
    Kind("plan", Plan, "api-plan"),
    Kind("acclimation", Acclimation, "api-acclimation"),
    Kind("trial", Trial, "api-trial"),
    Kind("meter", Meter, "api-meter"),
    Kind("meter_check", MeterCheck, "api-meter-check", (("meter_pk", "meter_id"),)),
    Kind("fixture", Fixture, "api-fixture"),
)
BY_TABLE = {kind.model._meta.db_table: kind for kind in KINDS}
NAMES = tuple(kind.name for kind in KINDS)
