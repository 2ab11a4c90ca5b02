"""What the map shows where its address says nothing: a depth and a band that matter in the tank."""

from collections import Counter
from collections.abc import Sequence

import numpy as np

from apps.drawing.cut import NEAR_MIN_CM, NEAR_SHARE, Place
from apps.lightmap.joint_input import Contribution
from apps.lightmap.page.joined_words import is_check
from apps.lightmap.page.looks import CHANGE, LOOKS, PAR, SHADOW
from apps.lightmap.page.planes import MapView
from apps.lightmap.page.query import MapQuery
from apps.lightmap.page.shown_light import MapLight
from apps.lightmap.pins import Pin
from apps.surveys.models import Survey
from apps.tanks.models import Tank

Band = tuple[float, float]
NO_SHADOWS = (
    "This map does not know its lamps, so it can’t say where light comes from. "
    "Add your lights in the light log."
)
NOTHING_EARLIER = "There is no earlier light to compare with yet."


def view_of(query: MapQuery, tank: Tank, light: MapLight, readings: Sequence[Place]) -> MapView:
    """Return the MapView of a query, before it is set against an earlier light."""
    look, problem = LOOKS[query.view], ""
    if look.key == SHADOW and light.field.field.rig_fit is None:
        look, problem = LOOKS[PAR], NO_SHADOWS
    elif look.key == CHANGE:
        look, problem = LOOKS[PAR], NOTHING_EARLIER
    depth_cm = usual_depth_cm(tank, readings) if query.depth_cm is None else query.depth_cm
    return MapView(
        look=look,
        depth_cm=depth_cm,
        y_cm=round(tank.width_cm / 2, 1) if query.y_cm is None else query.y_cm,
        look_problem=problem,
    )


def usual_band(pins: Sequence[Pin]) -> Band | None:
    """Return the band that most pins have [umol m-2 s-1]; of equals, the lower one."""
    bands = Counter(band for pin in pins if (band := band_of(pin)))
    return min(bands, key=lambda band: (-bands[band], band), default=None)


def band_of(pin: Pin) -> Band | None:
    """Return the band of a pin, None where it has none [umol m-2 s-1]."""
    if pin.band_low_umol is None or pin.band_high_umol is None:
        return None
    return pin.band_low_umol, pin.band_high_umol


def usual_depth_cm(tank: Tank, readings: Sequence[Place]) -> float:
    """Return the depth shown first where no coral stands [cm].

    The top of the largest rock, within what was read; without rock, where most readings lie.
    """
    depths = [reading.depth_cm for reading in readings] or [tank.depth_cm / 2]
    largest = max(tank.scene_rocks(), key=lambda r: r.length_cm * r.width_cm, default=None)
    usual = np.median(depths) if largest is None else np.clip(largest.depth_cm, *ends(depths))
    return round(float(usual), 1)


def places_read(
    rows: Sequence[Place], surveys: Sequence[Survey], rests_on: Sequence[Contribution]
) -> Sequence[Place]:
    """Return what the map's depth goes by: its own readings, of a check those it rests on too."""
    if not is_check(rests_on):
        return rows
    joined = {one.survey_pk for one in rests_on}
    return [r for survey in surveys if survey.pk in joined for r in survey.readings.all()]


def ends(depths_cm: Sequence[float]) -> tuple[float, float]:
    return min(depths_cm), max(depths_cm)


def corals_depth_cm(tank: Tank, pins: Sequence[Pin], band: Band | None) -> float | None:
    """Return the depth at which most corals that want a band stand [cm]; None without corals.

    Of depths with as many of them, that with most corals of any kind, then the higher.
    """
    if not pins:
        return None
    near_cm = max(NEAR_MIN_CM, NEAR_SHARE * tank.depth_cm)

    def beside(depth_cm: float) -> list[Pin]:
        return [pin for pin in pins if abs(pin.depth_cm - depth_cm) <= near_cm]

    def rank(depth_cm: float) -> tuple[int, int, float]:
        there = beside(depth_cm)
        return -sum(band_of(pin) == band for pin in there), -len(there), depth_cm

    depth_cm = min((pin.depth_cm for pin in pins), key=rank)
    return round(float(np.median([pin.depth_cm for pin in beside(depth_cm)])), 1)
