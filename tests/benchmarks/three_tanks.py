"""Three tanks by which all times of pages are told: ordinary, middling and heavy.

    tank = make_middling(owner)

Ordinary: a year with 2 fixtures, 48 readings, 20 corals, 12 light changes, 60 notes. Middling: two
years with 6 fixtures, 3 surveys of 120, 80 corals, 60 changes, 240 notes. Heavy: five years with
40 fixtures, 3 surveys of 1,000, 300 corals, 2,000 changes (half of them store the whole rig,
40,000 rows of it), 600 notes. All is drawn by one seed and alike in every run but for the dates,
which count back from today. Rows go in at once, so that the heavy tank takes seconds.
"""

import datetime as dt
from dataclasses import dataclass, replace

import numpy as np
from django.utils import timezone

from apps.corals.models import Coral, HealthNote, Spot, WaterEvent
from apps.lighting.models import HungFixture, LightChange
from apps.surveys.models import Reading, Survey
from tests.factories import make_fixture, make_rock, make_tank

SEED = 12
# What a meter shows under the rig: cosine lobes by the inverse square, dimmed by the water [1/cm].
ATTENUATION_PER_CM, METER_NOISE, PER_FIXTURE = 0.006, 0.05, 2.5e5
# Of every ten changes: what each does; the others raise or dim some fixtures.
CLEANED, HOURS, SALT = (1, 5), (3, 8), (7,)
SIGNS = (
    HealthNote.Seen.WELL,
    HealthNote.Seen.GROWTH,
    HealthNote.Seen.WELL,
    HealthNote.Seen.PALING,
    HealthNote.Seen.BROWNING,
)


@dataclass(frozen=True)
class Measure:
    """How much of everything a tank has; sides [cm], rows and columns of fixtures."""

    name: str
    sides_cm: tuple[float, float, float]
    fixtures: tuple[int, int]
    surveys: int
    readings: int
    corals: int
    changes: int
    notes: int
    water: int
    rocks: int
    days: int


ORDINARY = Measure("Ordinary tank", (90, 45, 45), (2, 1), 1, 48, 20, 12, 60, 50, 2, 365)
MIDDLING = Measure("Middling tank", (180, 60, 60), (3, 2), 3, 120, 80, 60, 240, 100, 3, 730)
# Years of notes and 2,000 changes make lists longer, no page without end.
KEPT_FOR_YEARS = replace(MIDDLING, name="Kept for years", changes=2000, notes=600)
HEAVY = Measure("Heavy tank", (500, 100, 80), (10, 4), 3, 1000, 300, 2000, 600, 400, 6, 1826)


def make_ordinary(owner):
    """Make a keeper's usual tank; return it."""
    return make_measured(owner, ORDINARY)


def make_middling(owner):
    """Make a large and well-kept tank; return it."""
    return make_measured(owner, MIDDLING)


def make_heavy(owner):
    """Make a tank as heavy as any may become; return it."""
    return make_measured(owner, HEAVY)


THREE = {"ordinary": make_ordinary, "middling": make_middling, "heavy": make_heavy}


def make_measured(owner, measure):
    """Make a tank by a Measure; return it."""
    rng = np.random.default_rng(SEED)
    length, width, depth = measure.sides_cm
    tank = make_tank(owner, name=measure.name, length_cm=length, width_cm=width, depth_cm=depth)
    for n in range(measure.rocks):
        low_x = length * (n + 0.3) / measure.rocks
        make_rock(tank, x_cm=round(low_x, 1), y_cm=width * 0.6, depth_cm=depth - 15)
    rigs = hang_changes(tank, measure, rng)
    read_surveys(tank, measure, rigs, rng)
    keep_corals(tank, measure, rng)
    log_water(tank, measure, rng)
    return tank


def days_before(days):
    """Return the moment so many days, whole or not, before now."""
    return timezone.now() - dt.timedelta(days=days)


def hang_changes(tank, measure, rng):
    """Make the light log; return its rigs as (moment, [{setting: value}]), oldest first."""
    columns, rows = measure.fixtures
    rig = [
        {
            "x_cm": round(tank.length_cm * (i + 0.5) / columns, 1),
            "y_cm": round(tank.width_cm * (j + 0.5) / rows, 1),
            "height_cm": 25.0,
            "level_percent": 70.0,
        }
        for i in range(columns)
        for j in range(rows)
    ]
    fixture = make_fixture(tank.owner, name="Grey panel")
    changes, told, rigs = [], [], []
    for n in range(measure.changes):
        at = days_before(measure.days * (1 - n / measure.changes))
        fields, rig_after, names = change_fields(n, rig, rng)
        if rig_after is not None:
            rig = rig_after
            rigs.append((at, rig))
            told.append(names)
        changes.append(LightChange(tank=tank, happened_at=at, created_by=tank.owner, **fields))
    LightChange.objects.bulk_create(changes)
    telling = [change for change in changes if change.tells_rig]
    HungFixture.objects.bulk_create(
        (
            HungFixture(change=change, number=k, told=names[k - 1], **settings).take_facts(fixture)
            for change, (_, after), names in zip(telling, rigs, told, strict=True)
            for k, settings in enumerate(after, start=1)
        ),
        batch_size=2000,
    )
    return rigs


def change_fields(n, rig, rng):
    """Return the fields of the n-th change, the rig after it (None: untold), and what is told."""
    if n == 0:
        first = {"summary": "Hung the panels", "reason": "hung", "tells_rig": True}
        return first | {"day_hours": 10, "ramp_hours": 1}, rig, [["hung"]] * len(rig)
    if n % 10 in CLEANED:
        return {"reason": "cleaned", "factor": 1.01}, None, ()
    if n % 10 in HOURS:
        return {"reason": "hours", "day_hours": 9 + n % 3, "ramp_hours": 1}, None, ()
    if n % 10 in SALT:
        return {"summary": "Salt on the glass", "factor": 0.99}, None, ()
    after, names = [dict(lamp) for lamp in rig], [[] for _ in rig]
    name = "height_cm" if n % 10 == 9 else "level_percent"
    for k in rng.choice(len(rig), size=max(1, len(rig) // 8), replace=False):
        span = (18, 34) if name == "height_cm" else (45, 100)
        after[k][name] = float(round(rng.uniform(*span)))
        names[k] = [name]
    reason = "moved" if name == "height_cm" else "level"
    return {"reason": reason, "tells_rig": True}, after, names


def read_surveys(tank, measure, rigs, rng):
    """Make the surveys, spread evenly over the tank's time, from what hung by then."""
    for n in range(measure.surveys):
        at = days_before(measure.days * (0.9 - 0.8 * n / max(measure.surveys, 2)))
        rig = [rig for moment, rig in rigs if moment <= at][-1]
        points = rng.uniform(0.04, 0.96, (measure.readings, 3)) * measure.sides_cm
        points = points.round(1)
        par = shown_par(points, rig) * np.exp(rng.normal(0, METER_NOISE, len(points)))
        survey = Survey.objects.create(tank=tank, taken_at=at)
        Reading.objects.bulk_create(
            Reading(survey=survey, position=k, x_cm=x, y_cm=y, depth_cm=z, value_umol=value)
            for k, ((x, y, z), value) in enumerate(
                zip(points.tolist(), par.round(1).tolist(), strict=True), start=1
            )
        )


def shown_par(points, rig):
    """Return what a meter shows at points (m, 3) [cm] under a rig (m,) [umol m-2 s-1]."""
    found = np.zeros(len(points))
    for lamp in rig:
        down = lamp["height_cm"] + points[:, 2] / 1.34
        far2 = (points[:, 0] - lamp["x_cm"]) ** 2 + (points[:, 1] - lamp["y_cm"]) ** 2 + down**2
        light = lamp["level_percent"] / 100 * PER_FIXTURE * (down / np.sqrt(far2)) ** 3 / far2
        found += light * np.exp(-ATTENUATION_PER_CM * points[:, 2])
    return found


def keep_corals(tank, measure, rng):
    """Make corals with a spot each, and notes on them spread over the tank's time."""
    added = tank.today() - dt.timedelta(days=measure.days - 20)
    groups = [Coral.Group.SPS, Coral.Group.LPS, Coral.Group.SOFT]
    corals = Coral.objects.bulk_create(
        Coral(tank=tank, name=f"Frag {n + 1}", group=groups[n % 3], added_on=added)
        for n in range(measure.corals)
    )
    places = (rng.uniform(0.05, 0.95, (measure.corals, 3)) * measure.sides_cm).round(1)
    Spot.objects.bulk_create(
        Spot(coral=coral, x_cm=x, y_cm=y, depth_cm=z, since=added)
        for coral, (x, y, z) in zip(corals, places.tolist(), strict=True)
    )
    HealthNote.objects.bulk_create(
        HealthNote(
            coral=corals[int(rng.integers(len(corals)))],
            noted_on=tank.today() - dt.timedelta(days=int(rng.integers(0, measure.days - 40))),
            seen=SIGNS[int(rng.integers(len(SIGNS)))],
            text=f"Looked at it, {n}.",
            created_by=tank.owner,
        )
        for n in range(measure.notes)
    )


def log_water(tank, measure, rng):
    """Make the water log: alkalinity week by week, now and then something that could hurt."""
    WaterEvent.objects.bulk_create(
        WaterEvent(
            tank=tank,
            happened_at=days_before(measure.days * (1 - n / measure.water)),
            kind=WaterEvent.Kind.ALKALINITY,
            value=round(rng.normal(8, 0.4), 1),
            unit="dKH",
            text="a bad swing" if n % 25 == 24 else "",
            could_hurt=n % 25 == 24,
        )
        for n in range(measure.water)
    )
