"""What one tank adds to the pool: counts and log likelihoods, by question, group and genus."""

import hashlib
from collections.abc import Iterator, Sequence
from typing import TypedDict

import numpy as np
from django.db.models import Model, QuerySet, prefetch_related_objects

from apps.corals.models import Coral, HealthNote, Spot
from apps.lighting.models import HungFixture, LightChange
from apps.lightmap.joint_input import FIT_VERSION
from apps.lightmap.lightmap import tank_light
from apps.outcomes.association.events import Direction, corals_with_notes
from apps.outcomes.association.weighing import QUESTIONS, visits_of
from apps.outcomes.exposure.exposure import LightBook
from apps.photics.causes.response_curves import EDGES
from apps.photics.causes.tank_weeks import week_numbers
from apps.photics.causes.visits import Visits, dose_in_question
from apps.photics.causes.week_contrast import week_log_likelihood
from apps.photics.ground.arrays import FloatArray, IntArray
from apps.surveys.models import Reading, Survey
from apps.tanks.models import Tank

# Raise it when the parts change, so that all tanks are worked out again.
PART_VERSION = 2
DIGITS = 4  # of a log likelihood, of a sum of doses
PLACE = ("x_cm", "y_cm", "depth_cm")
STAY = ("added_on", "gone_on")


class Entry(TypedDict):
    """What one tank adds for one question and one group or genus; lists over the bins of EDGES."""

    question: str
    level: str
    name: str
    visits: list[int]
    events: list[int]
    doses: list[float]
    log_likelihood: list[float]


def tank_part(tank: Tank) -> list[Entry]:
    """Return the part of a tank: a list of plain dicts."""
    book = LightBook(tank, corals_with_notes(tank), tank_light(tank))
    result = ((kind, visits_of(book, kind)) for kind in Direction)
    return [entry for kind, visits in result if visits for entry in visits_part(kind, visits)]


def visits_part(direction: Direction, visits: Visits) -> list[Entry]:
    """Return the entries of one question's Visits: all corals, each group, each genus."""
    if not len(visits.day):
        return []
    order = np.argsort(visits.day, kind="stable")
    week = np.empty(len(order), int)
    week[order] = week_numbers(np.zeros(len(order), int), visits.day[order])
    dose = dose_in_question(visits, QUESTIONS[direction])
    chosen = [("all", "", np.ones(len(dose), bool))]
    chosen += [("group", name, visits.group == name) for name in np.unique(visits.group)]
    chosen += [("genus", name, visits.genus == name) for name in np.unique(visits.genus) if name]
    return [
        entry_of(direction, level, name, dose[at], visits.event[at], week[at])
        for level, name, at in chosen
    ]


def entry_of(
    direction: Direction, level: str, name: str, dose: FloatArray, event: FloatArray, week: IntArray
) -> Entry:
    place = np.searchsorted(np.log2(EDGES[1:-1]), dose, side="right")
    n_bins = len(EDGES) - 1
    log_likelihood = week_log_likelihood(dose, event, week)
    return {
        "question": str(direction),
        "level": level,
        "name": str(name),
        "visits": np.bincount(place, minlength=n_bins).tolist(),
        "events": np.bincount(place, event, minlength=n_bins).astype(int).tolist(),
        "doses": np.bincount(place, dose, minlength=n_bins).round(DIGITS).tolist(),  # sums [log2]
        "log_likelihood": log_likelihood.round(DIGITS).tolist() if log_likelihood.any() else [],
    }


def tank_digests(tanks: Sequence[Tank]) -> dict[int, str]:
    """Return {tank key: digest of every entry that its part rests on}; eight queries for all."""
    prefetch_related_objects(tanks, "rocks")
    rows = {
        tank.pk: [(PART_VERSION, FIT_VERSION, tank.scene(), tank.scene_rocks())] for tank in tanks
    }
    for queryset, tank_field, names in entries_of(tanks):
        for tank_pk, *values in queryset.order_by("pk").values_list(tank_field, "pk", *names):
            rows[tank_pk].append(values)
    return {pk: hashlib.sha256(repr(row).encode()).hexdigest() for pk, row in rows.items()}


def entries_of(tanks: Sequence[Tank]) -> Iterator[tuple[QuerySet, str, Sequence[str]]]:
    """Yield (rows, their way to the tank, the fields that matter) of all a part rests on."""
    surveys = Survey.objects.present().filter(tank__in=tanks)
    yield Coral.objects.present().filter(tank__in=tanks), "tank", ("group", "genus", *STAY)
    yield Spot.objects.filter(coral__tank__in=tanks), "coral__tank", ("coral", *PLACE, "since")
    notes = HealthNote.objects.present().filter(coral__tank__in=tanks)
    yield notes, "coral__tank", ("coral", "noted_on", "seen", "also_seen")
    changes = LightChange.objects.present().filter(tank__in=tanks)
    yield changes, "tank", columns(LightChange)
    yield HungFixture.objects.filter(change__in=changes), "change__tank", columns(HungFixture)
    yield surveys, "tank", columns(Survey)
    readings = Reading.objects.filter(survey__in=surveys)
    yield readings, "survey__tank", ("survey", *PLACE, "value_umol", "spread_umol")


def columns(model: type[Model]) -> list[str]:
    """Return all columns of a model: whatever is added to it later counts as well."""
    return [field.attname for field in model._meta.concrete_fields]
