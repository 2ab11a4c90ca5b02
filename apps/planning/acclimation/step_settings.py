"""What to set for each step of light: the level, the height, the depth of the coral, a screen."""

import copy
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.corals.models import Spot
from apps.lighting.models import HungFixture, Zone
from apps.photics import limits
from apps.photics.day.acclimation import settings_for
from apps.photics.ground.arrays import ArrayLike, FloatArray
from apps.photics.optics.lit_face import hung_corners_cm
from apps.planning.models import Acclimation
from apps.planning.what_if.live_light import LiveLight
from apps.tanks.models import Tank

Means = Acclimation.Means
# Rounding of a light typed must not fail steps that end where the light is now [1]: chosen above
# half a percent, as PAR is typed.
SLACK = 1.005
# Fixtures are not lowered nearer to the water than this [cm]: chosen, because of splash.
NEAREST_CM = 5.0
# How far a rig is tried above where it hangs, and in which steps [cm]: chosen, because light
# changes little between, and no room is higher.
HIGHEST_RAISE_CM, RAISE_STEP_CM = 80.0, 4.0
# Depths tried along the water column over and under the coral [cm]: chosen, because no keeper sets
# a coral closer than that.
DEPTH_STEP_CM = 2.0


class UnreachableLight(ValueError):
    """No setting of the means gives one of the lights; the sentence says which and what would."""


@dataclass(frozen=True)
class Column:
    """Settings in order away from the most light, and the PAR at each [umol m-2 s-1]."""

    setting: FloatArray  # (k,)
    par_umol: FloatArray  # (k,)


def step_settings(means: str, lights_umol: ArrayLike, *, spot: Spot, live: LiveLight) -> FloatArray:
    """Return the setting of each light (n,) [umol m-2 s-1], (n,): see AcclimationStep.

    Raises UnreachableLight with a sentence. `means` one of Means; `spot` is where the
    coral sits, `live` the LiveLight of its tank.
    """
    lights = np.asarray(lights_umol, float)
    point = np.array([[spot.x_cm, spot.y_cm, spot.depth_cm]])
    now_umol = float(live.now_at(point).par_umol[0])
    if means in (Means.LEVEL, Means.SCREEN):
        daylight = daylight_at(point, live) if means == Means.LEVEL else 0.0
        return share_settings(means, lights, now_umol, live.rows, daylight)
    column = height_column(point, live) if means == Means.HEIGHT else depth_column(spot, live)
    # From the brightest on, so that a light is never read off the far side of it.
    brightest = int(np.argmax(column.par_umol))
    setting, par = column.setting[brightest:], column.par_umol[brightest:]
    settings = settings_for(lights, setting, par)
    if np.isnan(settings).any():
        raise UnreachableLight(out_of_range(means, lights, par))
    return settings


def share_settings(
    means: str,
    lights: FloatArray,
    now_umol: float,
    rows: Sequence[HungFixture],
    daylight_umol: float = 0.0,
) -> FloatArray:
    """Return each light as % of the light now, the dial being taken as proportional.

    Of levels it is that of the lamps' light, beside `daylight_umol` which stays.
    """
    lamps_umol = now_umol - daylight_umol
    most = share_limit(means, top_percent(rows))
    able = daylight_umol + lamps_umol * most / 100.0
    if lights.max() > able * SLACK:
        if means == Means.SCREEN:
            raise UnreachableLight(
                f"A screen only takes light away, and the spot has PAR {able:.0f} without one. "
                "Move the coral first, or change the lights."
            )
        raise UnreachableLight(
            f"Your lights give PAR {able:.0f} here at most "
            f"({100.0 * able / now_umol:.0f}\u00a0% of now), "
            "with one of them at full power. Hang them lower, fit a narrower lens, or choose "
            "a shallower spot."
        )
    if lights.min() <= daylight_umol:
        raise UnreachableLight(
            f"Daylight alone gives PAR {daylight_umol:.0f} here, and the steps go down to "
            f"{lights.min():.0f}. Choose another spot, or shade the window."
        )
    share: FloatArray = np.minimum(100.0 * (lights - daylight_umol) / lamps_umol, most)
    return share


def share_limit(means: str, top_percent: float) -> float:
    """Return the most light a screen or the levels can give, % of now; inf without a rig.

    `top_percent` is the highest level of any fixture now.
    """
    if means == Means.SCREEN:
        return 100.0
    return 100.0 * 100.0 / top_percent if top_percent else np.inf


def most_by_level(
    now_umol: float, rows: Sequence[HungFixture], daylight_umol: float = 0.0
) -> float:
    """Return the PAR that levels can give a spot which has PAR `now_umol` [umol m-2 s-1].

    `daylight_umol` of it stays as it is. Infinite without a rig: nobody knows.
    """
    most = share_limit(str(Means.LEVEL), top_percent(rows))
    return daylight_umol + (now_umol - daylight_umol) * most / 100.0


def top_percent(rows: Sequence[HungFixture]) -> float:
    """Return the highest level of the fixtures that shine on the display [%], 0 without one."""
    lit = (row for row in rows if row.zone == Zone.DISPLAY and row.light_percent > 0)
    return max((row.level_percent for row in lit), default=0.0)


def daylight_at(point_cm: ArrayLike, live: LiveLight) -> float:
    """Return the PAR at a point (1, 3) [cm] that stays whatever the levels [umol m-2 s-1]."""
    if live.tank.scene().window is None or live.problem or not top_percent(live.rows):
        return 0.0
    now = float(live.now_at(point_cm).par_umol[0])
    half = float(live.after_at(halved_rig(live.rows), point_cm).par_umol[0])
    return min(max(2.0 * half - now, 0.0), now)


def height_column(point_cm: FloatArray, live: LiveLight) -> Column:
    """Return the Column of the whole rig raised by so many cm [cm]; negative is lowered."""
    if live.problem:
        raise UnreachableLight(live.problem)
    # The lower edge of a tilted one comes to the water first.
    edges = [height for row in live.rows for _, _, height in hung_corners_cm(row.scene())]
    down = max(0.0, min(edges) - NEAREST_CM)
    highest = max(row.height_cm for row in live.rows)
    up = min(HIGHEST_RAISE_CM, limits.FIXTURE_HEIGHT_MAX_CM - highest)
    raised = np.arange(-down, up + 1e-9, RAISE_STEP_CM)
    par = [live.after_at(raised_rig(live.rows, by), point_cm).par_umol[0] for by in raised]
    return Column(raised, np.array(par))


def raised_rig(rows: Sequence[HungFixture], by_cm: float) -> list[HungFixture]:
    """Return copies of the rows of a rig with every fixture raised [cm]."""
    raised = []
    for row in rows:
        moved = copy.copy(row)
        moved.height_cm = row.height_cm + by_cm
        raised.append(moved)
    return raised


def halved_rig(rows: Sequence[HungFixture]) -> list[HungFixture]:
    """Return copies of the rows of a rig with every fixture at half its level."""
    halved = []
    for row in rows:
        dimmed = copy.copy(row)
        dimmed.level_percent = row.level_percent / 2.0
        halved.append(dimmed)
    return halved


def depth_column(spot: Spot, live: LiveLight) -> Column:
    """Return the Column of depths the coral could have straight over or under where it sits."""
    top, foot = free_depths(spot, live.tank)
    depth = np.append(np.arange(top, foot, DEPTH_STEP_CM), foot)
    points = np.stack([np.full_like(depth, spot.x_cm), np.full_like(depth, spot.y_cm), depth], 1)
    return Column(depth, live.now_at(points).par_umol)


def free_depths(spot: Spot, tank: Tank) -> tuple[float, float]:
    """Return the shallowest and the deepest place of the water column the spot is in [cm]."""
    top, foot = 0.0, tank.depth_cm
    for rock in tank.scene_rocks():
        over = rock.x_cm < spot.x_cm < rock.x_cm + rock.length_cm
        if over and rock.y_cm < spot.y_cm < rock.y_cm + rock.width_cm:
            middle = rock.depth_cm + rock.height_cm / 2
            if middle > spot.depth_cm:
                foot = min(foot, max(rock.depth_cm, spot.depth_cm))
            else:
                top = max(top, min(rock.depth_cm + rock.height_cm, spot.depth_cm))
    return top, foot


def out_of_range(means: str, lights: FloatArray, par_umol: FloatArray) -> str:
    """Say between which lights a means can choose, and what would do instead."""
    span = f"PAR {par_umol.min():.0f} to {par_umol.max():.0f}"
    wanted = f"the steps go from {lights.min():.0f} to {lights.max():.0f}"
    if means == Means.HEIGHT:
        return (
            f"Raising or lowering the lights gives this spot {span}; {wanted}. Change the level "
            "of the lights instead, or with it."
        )
    return (
        f"The water straight over and under this spot has {span}; {wanted}. Start from another "
        "spot, or dim the lights instead."
    )
