"""A survey looked at once more: what disagrees, what is not covered, what changed."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from apps.drawing.contours import TWO_WAY, filled_bands
from apps.drawing.cut import Water
from apps.drawing.frame import Frame
from apps.drawing.legend import CHANGE_LEVELS
from apps.drawing.level import level_points
from apps.drawing.marks import Mark
from apps.drawing.plan import plan_frame
from apps.photics.field.field_change import FieldChange, field_change
from apps.photics.field.light_field import LightField
from apps.photics.ground.arrays import BoolArray, FloatArray
from apps.surveys.models import Reading, Survey
from apps.tanks.models import Rock, Tank

# Places along each side at which the water is looked at.
ACROSS, DOWN = 11, 7


@dataclass(frozen=True)
class Coverage:
    """How much of the water lies beyond the readings, and the spot farthest from any of them."""

    beyond_percent: float
    far_cm: float
    far_x_cm: float
    far_y_cm: float
    far_depth_cm: float
    depths: int
    readings: int
    surveys: int  # that brought them


@dataclass(frozen=True)
class Disagreeing:
    """A reading that does not fit the rest."""

    number: int
    reading: Reading
    measured_umol: float
    expected_umol: float

    @property
    def ratio(self) -> float:
        """What it showed for 1 of what the others lead to [1]."""
        return self.measured_umol / self.expected_umol


@dataclass(frozen=True)
class Corrected:
    """A point that was kept with more than one value; the last one of `values` need not stand."""

    values: tuple[float, ...]
    standing: Reading | None  # None when it was taken back


@dataclass(frozen=True)
class ChangeDrawing:
    frame: Frame
    bands: tuple[tuple[str, str], ...]
    noise: str
    rocks: tuple[dict[str, str], ...]  # those that reach the level
    legend: tuple[tuple[str, str], ...]
    x_ticks: list[Mark]
    y_ticks: list[Mark]


@dataclass(frozen=True)
class ChangeFacts:
    """A level's change in words' numbers: shares of its water and the middle factor [1, %]."""

    brighter_percent: float
    dimmer_percent: float
    noise_percent: float
    middle: float
    drawing: ChangeDrawing


def disagreeing_readings(survey: Survey, field: LightField) -> list[Disagreeing]:
    """Return the survey's Disagreeing readings, the furthest off first."""
    readings = list(survey.readings.all())
    result = sorted(field.summary.disagreeing, key=lambda d: -abs(np.log(max(d.ratio, 1e-9))))
    return [
        Disagreeing(d.index + 1, readings[d.index], d.measured_umol, d.expected_umol)
        for d in result
    ]


@dataclass(frozen=True)
class WithinRock:
    """A reading whose place lies within a rock's box; its number in the survey's table."""

    number: int
    reading: Reading
    rock: Rock


def readings_within_rock(survey: Survey) -> list[WithinRock]:
    """Return the survey's readings that lie within a present rock, in the table's order."""
    rocks = [(rock, rock.scene()) for rock in survey.tank.rocks.present()]
    result = []
    for number, reading in enumerate(survey.readings.all(), start=1):
        place = reading.x_cm, reading.y_cm, reading.depth_cm
        rock = next((rock for rock, box in rocks if box.holds(*place)), None)
        if rock is not None:
            result.append(WithinRock(number, reading, rock))
    return result


def coverage(surveys: Sequence[Survey], field: LightField) -> Coverage:
    """Return the Coverage over the water outside rock of all readings that a field rests on.

    `surveys` are those it rests on: a check of two readings covers what the survey before it read.
    """
    tank = surveys[0].tank
    points = _clear_of_rock(_lattice(tank), tank)
    read = np.array(
        [(r.x_cm, r.y_cm, r.depth_cm) for s in surveys for r in s.readings.all()], float
    )
    apart = np.linalg.norm(points[:, None] - read[None], axis=2).min(axis=1)
    far = int(np.argmax(apart))
    return Coverage(
        beyond_percent=field.beyond_percent,
        far_cm=float(apart[far]),
        far_x_cm=float(points[far, 0]),
        far_y_cm=float(points[far, 1]),
        far_depth_cm=float(points[far, 2]),
        depths=len(np.unique(np.round(read[:, 2]))),
        readings=len(read),
        surveys=len(surveys),
    )


def _lattice(tank: Tank) -> FloatArray:
    axes = np.meshgrid(
        np.linspace(0.0, tank.length_cm, ACROSS),
        np.linspace(0.0, tank.width_cm, ACROSS),
        np.linspace(0.0, tank.depth_cm, DOWN),
    )
    return np.stack([axis.ravel() for axis in axes], axis=1)


def _clear_of_rock(points: FloatArray, tank: Tank) -> FloatArray:
    free = ~tank.scene().outside(*points[:, :2].T)
    for rock in tank.rocks.present():
        low = np.array([rock.x_cm, rock.y_cm, rock.depth_cm])
        high = low + np.array([rock.length_cm, rock.width_cm, rock.height_cm])
        # Faces count as rock: where it meets the glass there is no water.
        free &= ~((points >= low) & (points <= high)).all(axis=1)
    return points[free] if free.any() else points


def corrected_points(survey: Survey) -> list[Corrected]:
    """Return the Corrected points of a survey: those that devices kept with more than one value."""
    readings = {reading.client_id: reading for reading in survey.readings.all()}
    values: dict[uuid.UUID, list[float]] = {}
    for edit in survey.edits.filter(row__isnull=False):
        values.setdefault(edit.point, []).append(edit.row["value_umol"])
    return [
        Corrected(tuple(kept), readings.get(point))
        for point, kept in values.items()
        if len(set(kept)) > 1
    ]


def change_at(
    tank: Tank,
    first: LightField,
    second: LightField,
    *,
    one_meter: bool,
    depth_cm: float,
    unit: str,
) -> ChangeFacts:
    """Return the ChangeFacts from one light field to another on the level at a depth [cm].

    `one_meter`: both were read with it, so that its scale cancels in their ratio.
    """
    _, _, points = level_points(tank, depth_cm)
    if one_meter:
        first, second = (replace(field, meter_deviation=0.0) for field in (first, second))
    result = field_change(first.at(points), second.at(points))
    return change_facts(tank, result, depth_cm=depth_cm, unit=unit)


def change_facts(tank: Water, change: FieldChange, *, depth_cm: float, unit: str) -> ChangeFacts:
    """Return the ChangeFacts of a FieldChange at the level's points."""
    x, y, _ = level_points(tank, depth_cm)
    real = change.is_real & ~change.beyond
    drawing = _draw(tank, x, y, change.ratio, real, unit=unit, depth_cm=depth_cm)
    # Rock has no light to change, unless there is nothing else.
    water = change.in_rock.all() | ~change.in_rock
    ratio, sure = change.ratio[water], real[water]
    return ChangeFacts(
        brighter_percent=100.0 * float((sure & (ratio > 1)).mean()),
        dimmer_percent=100.0 * float((sure & (ratio < 1)).mean()),
        noise_percent=100.0 * float((~sure).mean()),
        middle=float(np.median(ratio)),
        drawing=drawing,
    )


def level_words() -> list[str]:
    """Return the words of each band of a change."""
    between = [f"× {low:g} to {high:g}" for low, high in pairwise(CHANGE_LEVELS)]
    return [f"below × {CHANGE_LEVELS[0]:g}", *between, f"above × {CHANGE_LEVELS[-1]:g}"]


def _draw(
    tank: Water,
    x: FloatArray,
    y: FloatArray,
    ratio: FloatArray,
    real: BoolArray,
    *,
    unit: str,
    depth_cm: float,
) -> ChangeDrawing:
    frame = plan_frame(tank)
    shape = len(y), len(x)
    at = frame.x(x), frame.y(y)
    paths = filled_bands(*at, ratio.reshape(shape), CHANGE_LEVELS)
    drawn = [(p, c, w) for p, c, w in zip(paths, TWO_WAY, level_words(), strict=True) if p]
    return ChangeDrawing(
        frame=frame,
        bands=tuple((path, colour) for path, colour, _ in drawn),
        rocks=tuple(
            frame.rectangle(rock.x_cm, rock.y_cm, rock.length_cm, rock.width_cm)
            for rock in tank.scene_rocks()
            if rock.depth_cm <= depth_cm <= rock.depth_cm + rock.height_cm
        ),
        noise=filled_bands(*at, (~real).astype(float).reshape(shape), [0.5])[1],
        legend=tuple((word, colour) for _, colour, word in drawn),
        x_ticks=frame.x_ticks(unit),
        y_ticks=frame.y_ticks(unit),
    )
