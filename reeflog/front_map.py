"""The map on the front page: the demo's long tank, surveyed as keepers do and drawn as every map.

No rows: what is read comes from the demo's tables, so a visitor sees it on an empty database too.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.common.kept import kept
from apps.drawing.cut import OnCut
from apps.lightmap.page.looks import LOOKS, PAR
from apps.lightmap.page.planes import MapPlanes, MapView, draw_planes
from apps.lightmap.pins import Pin
from apps.photics.day.curve import DayCurve
from apps.photics.field.light_field import LightField, fit_light_field
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.lengths import CM
from apps.photics.ground.scene import Fixture, Rock, Tank
from apps.photics.ground.usual_bands import SPS, band_umol
from reeflog.demo import METER_NOISE, SEED, coral_points, grid_points, in_rock
from reeflog.demo_light import true_par
from reeflog.demo_scenario import SHELF

# At the height of the shelves, where the corals of the demo sit [cm].
DEPTH_CM, CUT_CM = 19.0, 30.0
SHOWN = ("Blue stag", "Yellow porous", "Amber stag", "Rose bubble")
KEY = "front-map"

Spot = tuple[float, float, float]


@dataclass(frozen=True)
class FrontWater:
    """The demo's long tank without a row behind it, as drawings take it."""

    tank: Tank
    rocks: tuple[Rock, ...]

    @property
    def length_cm(self) -> float:
        return self.tank.length_cm

    @property
    def width_cm(self) -> float:
        return self.tank.width_cm

    @property
    def depth_cm(self) -> float:
        return self.tank.depth_cm

    def scene(self) -> Tank:
        return self.tank

    def scene_rocks(self) -> tuple[Rock, ...]:
        return self.rocks


def front_map() -> MapPlanes:
    """Return the drawings of the front page; fitted once for all workers."""
    return kept(KEY, drawn)


def drawn() -> MapPlanes:
    water, pins = front_water(), front_pins()
    wanted = band_umol(SPS, full_hours=full_hours())
    view = MapView(LOOKS[PAR], DEPTH_CM, CUT_CM, wanted=wanted)
    over = OnCut((), pins, ())
    return draw_planes(field_of(water), water, view, over=over, pins=pins, unit=CM).ready()


def front_water() -> FrontWater:
    tank = Tank(*SHELF.box_cm, back_pane=SHELF.back_pane, bottom="sand")
    return FrontWater(tank, tuple(Rock(*box) for _, *box in SHELF.rocks))


def front_pins() -> tuple[Pin, ...]:
    """Return a Pin for each coral shown, where it sat last."""
    rows, hours = (row for row in SHELF.corals if row.name in SHOWN), full_hours()
    return tuple(
        Pin(row.name, *min(row.spots)[1:], "", "", *band_umol(row.group, full_hours=hours))
        for row in rows
    )


def full_hours() -> float:
    """Return the hours of full light that the day running over the tank is worth [h]."""
    running = next(day for day in SHELF.days if day.started_days_ago is not None)
    points = tuple((60 * hour, level / 100) for hour, level in running.points)
    return float(DayCurve(points).full_hours)


def fixtures() -> list[Fixture]:
    return [
        Fixture(
            hung.x_cm,
            hung.y_cm,
            hung.height_cm,
            SHELF.beam_deg,
            *SHELF.lamp_cm,
            level=hung.level_percent / 100,
        )
        for hung in SHELF.changes[0].rig
    ]


def true_light(places: Sequence[Spot], water: FrontWater) -> FloatArray:
    """Return what an ideal meter would show at each place of x, y, depth [cm]."""
    return true_par(
        places,
        tank=water.tank,
        fixtures=fixtures(),
        rocks=water.rocks,
        ppf_umol_s=SHELF.ppf_umol_s,
    )


def field_of(water: FrontWater) -> LightField:
    """Return the field fitted to the survey of the demo, noise of the meter included."""
    places = grid_points(SHELF.surveys[0], water) + coral_points(SHELF.surveys[0], SHELF)
    places = [place for place in places if not in_rock(place, water.rocks)]
    noise = np.random.default_rng(SEED).normal(0.0, METER_NOISE, len(places))
    shown = true_light(places, water) * np.exp(noise)
    return fit_light_field(places, shown, tank=water.tank, fixtures=fixtures(), rocks=water.rocks)
