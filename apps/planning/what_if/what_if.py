"""What if: a living tank's light under another rig, beside its light now."""

import copy
import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from apps.common.kept import kept
from apps.corals.models import Coral, Spot
from apps.corals.status import band_state
from apps.lighting.models import HungFixture
from apps.lightmap.band_share import BandShare, band_share
from apps.lightmap.pins import BandState
from apps.lightmap.rig_transition import Followed
from apps.lightmap.spot_light import SpotLight
from apps.photics.ground.arrays import BoolArray, FloatArray
from apps.photics.ground.scene import Tank as SceneTank
from apps.photics.layout.question import Zone
from apps.planning.what_if.live_light import LiveLight, PointLight

# Points of the map that follow a drag; fewer for more fixtures, whose light takes longer. Chosen,
# so that a drag is followed at once.
POINTS_MOST, POINTS_TIMES_FIXTURES = 320, 640
# Points all zones together are counted on, and each of them at least: chosen like those.
ZONE_POINTS_MOST, ZONE_POINTS_LEAST = 108, 24
NOW_VERSION = 3
# From here on light is more than it was, and a word of care is due: chosen.
BRIGHTER = 1.01


@dataclass(frozen=True)
class CoralChange:
    """One coral's light now and then, each with its state against the coral's band."""

    coral: Coral
    now: SpotLight
    then: SpotLight
    state_now: BandState
    state_then: BandState

    @property
    def percent(self) -> float | None:
        """Return how much more (+) or less (-) light it has then [%], None out of the dark."""
        if self.now.par_umol <= 0:
            return None
        return 100.0 * (self.then.par_umol / self.now.par_umol - 1.0)


@dataclass(frozen=True)
class ZoneChange:
    """A zone's share within a band now and then."""

    zone: str
    low_umol: float
    high_umol: float
    now: BandShare
    then: BandShare

    @property
    def now_percent(self) -> float:
        """The likeliest share now [%]."""
        return self.now.percent

    @property
    def then_percent(self) -> float:
        """The likeliest share then [%]."""
        return self.then.percent


@dataclass(frozen=True)
class Plane:
    """The light of one level on the grid of two axes [cm], arrays (ny, nx)."""

    x_cm: FloatArray
    y_cm: FloatArray
    depth_cm: float
    par_umol: FloatArray
    extrapolated: BoolArray


@dataclass(frozen=True)
class WhatIf:
    """The light of a plane, of corals and of zones, now and under another rig."""

    now: Plane
    then: Plane
    corals: tuple[CoralChange, ...]
    spots_cm: FloatArray  # where these corals sit, (m, 3)
    zones: tuple[ZoneChange, ...]
    ratio: float | None  # mean light of the plane then for 1 now; None in the dark
    within_rock: tuple[Coral, ...] = ()  # by their spots: nobody reads light there

    @property
    def is_brighter_anywhere(self) -> bool:
        """Whether a coral, or without corals a spot of the plane, would get more light."""
        if self.corals:
            return any(one.then.par_umol > BRIGHTER * one.now.par_umol for one in self.corals)
        return bool((self.then.par_umol > BRIGHTER * self.now.par_umol).any())


@dataclass(frozen=True)
class Layout:
    """The points looked at, and which of them are the plane's, the corals' and the zones'."""

    points_cm: np.ndarray
    x_cm: np.ndarray
    y_cm: np.ndarray
    corals: tuple[Coral, ...]
    within_rock: tuple[Coral, ...]
    zones: tuple[tuple[Zone, slice], ...]

    @property
    def plane(self) -> slice:
        return slice(0, len(self.x_cm) * len(self.y_cm))


def what_if(
    live: LiveLight, rows: Sequence[HungFixture], *, depth_cm: float, zones: Sequence[Zone] = ()
) -> WhatIf:
    """Return the WhatIf of a LiveLight under other HungFixtures, its plane at a depth [cm].

    Shares are counted of the Zones.

    One evaluation of the foretold field; what holds now comes from the cache while nothing
    changed. Raises ValueError with a sentence when nothing would shine.
    """
    layout = lay_points(live, depth_cm, zones=zones, fixtures=len(rows))
    now, followed = light_now(live, layout)
    then = live.after_at(rows, layout.points_cm, followed=followed)
    plane_now, plane_then = (plane_of(light, layout, depth_cm) for light in (now, then))
    return WhatIf(
        now=plane_now,
        then=plane_then,
        corals=coral_changes(live, layout, now, then),
        spots_cm=layout.points_cm[layout.plane.stop : layout.plane.stop + len(layout.corals)],
        zones=tuple(zone_changes(layout, now, then)),
        ratio=mean_ratio(plane_now, plane_then, live.tank.scene()),
        within_rock=layout.within_rock,
    )


def mean_ratio(now: Plane, then: Plane, tank: SceneTank) -> float | None:
    """Return the mean light of a Plane for 1 of another, None where that is dark.

    Nodes outside the panes of the `tank` do not count.
    """
    wet = ~tank.outside(now.x_cm[None, :], now.y_cm[:, None])
    mean = float(now.par_umol[wet].mean())
    return float(then.par_umol[wet].mean()) / mean if mean > 0 else None


def lay_points(live: LiveLight, depth_cm: float, *, zones: Sequence[Zone], fixtures: int) -> Layout:
    """Return the Layout of a tank: the plane first, then the corals, then the zones."""
    tank = live.tank
    most = min(POINTS_MOST, POINTS_TIMES_FIXTURES // max(fixtures, 1))
    pitch = float(np.sqrt(tank.length_cm * tank.width_cm / most))
    x = np.linspace(0.0, tank.length_cm, max(5, round(tank.length_cm / pitch) + 1))
    y = np.linspace(0.0, tank.width_cm, max(5, round(tank.width_cm / pitch) + 1))
    plane = np.stack(
        [*(a.ravel() for a in np.meshgrid(x, y)), np.full(len(x) * len(y), depth_cm)], 1
    )
    placed, within_rock = placed_corals(live)
    parts, slices, start = [plane], [], len(plane) + len(placed)
    if placed:
        parts.append(np.array([(s.x_cm, s.y_cm, s.depth_cm) for _, s in placed]))
    most = max(ZONE_POINTS_LEAST, ZONE_POINTS_MOST // max(len(zones), 1))
    for zone in zones:
        points = thinned(zone.points(tank.scene_rocks(), tank=tank.scene()), most)
        parts.append(points)
        slices.append((zone, slice(start, start + len(points))))
        start += len(points)
    corals = tuple(coral for coral, _ in placed)
    return Layout(np.concatenate(parts), x, y, corals, within_rock, tuple(slices))


def placed_corals(live: LiveLight) -> tuple[list[tuple[Coral, Spot]], tuple[Coral, ...]]:
    """Return the (coral, spot) pairs in open water, and the corals whose spot lies within rock."""
    today = live.now.astimezone(live.tank.zone).date()
    living = Coral.objects.present().living().filter(tank=live.tank).prefetch_related("spots")
    placed = [(coral, spot) for coral in living if (spot := coral.spot_on(today))]
    inside = live.light.in_rock([(s.x_cm, s.y_cm, s.depth_cm) for _, s in placed])
    pairs = list(zip(placed, inside, strict=True))
    return (
        [pair for pair, is_inside in pairs if not is_inside],
        tuple(coral for (coral, _), is_inside in pairs if is_inside),
    )


def thinned(points_cm: FloatArray, most: int) -> FloatArray:
    """Return at most so many of the points, spread evenly over them."""
    if len(points_cm) <= most:
        return points_cm
    kept_cm: FloatArray = points_cm[np.linspace(0, len(points_cm) - 1, most).round().astype(int)]
    return kept_cm


def light_now(live: LiveLight, layout: Layout) -> tuple[PointLight, Followed]:
    """Return the PointLight now, and the map at these points with each lamp's light worked out.

    Both are cached until anything they rest on changes: a drag moves one lamp of many.
    """
    transition = live.light.transition(live.survey_map, live.now)
    factors = [c.factor for c in live.light.history.changes]
    served = live.survey_map
    key = repr((
        NOW_VERSION, served.fitted.cache_key, served.survey_pk, transition, factors,
        layout.points_cm.tobytes(),
    ))  # fmt: skip
    key = "light-now-" + hashlib.sha256(key.encode()).hexdigest()

    def work_out() -> tuple[PointLight, Followed]:
        followed = live.followed(layout.points_cm)
        now = live.now_at(layout.points_cm, followed=followed)
        # Evaluated under a rig once, it knows the light of every lamp there is.
        if any(row.light_percent > 0 for row in live.rows):
            live.after_at(nudged(live.rows), layout.points_cm, followed=followed)
        return now, followed

    light: tuple[PointLight, Followed] = kept(key, work_out)
    return light


def nudged(rows: Sequence[HungFixture]) -> list[HungFixture]:
    """Return copies of rows in their places, of which the first shines a little less."""
    first = copy.copy(rows[0])
    first.level_percent = 0.99 * first.level_percent
    return [first, *rows[1:]]


def plane_of(light: PointLight, layout: Layout, depth_cm: float) -> Plane:
    """Return the Plane of a PointLight."""
    shape = len(layout.y_cm), len(layout.x_cm)
    par = light.par_umol[layout.plane].reshape(shape)
    beyond = light.extrapolated[layout.plane].reshape(shape)
    return Plane(layout.x_cm, layout.y_cm, depth_cm, par, beyond)


def coral_changes(
    live: LiveLight, layout: Layout, now: PointLight, then: PointLight
) -> tuple[CoralChange, ...]:
    """Return the CoralChanges, in order of name: their numbers on the drawings."""
    first = layout.plane.stop
    changes = []
    for k, coral in enumerate(layout.corals, start=first):
        before, after = spot_light(live, now, k), spot_light(live, then, k)
        band = coral.band(live.full_hours)
        changes.append(
            CoralChange(coral, before, after, band_state(before, band), band_state(after, band))
        )
    return tuple(changes)


def spot_light(live: LiveLight, light: PointLight, k: int) -> SpotLight:
    """Return the SpotLight of one point of a PointLight."""
    par = float(light.par_umol[k])
    return SpotLight(
        par_umol=par,
        low_umol=float(light.low_umol[k]),
        high_umol=float(light.high_umol[k]),
        extrapolated=bool(light.extrapolated[k]),
        dli_mol=live.dli_mol(par),
        **live.light.provenance(live.survey_map, live.now),
    )


def zone_changes(layout: Layout, now: PointLight, then: PointLight) -> Iterator[ZoneChange]:
    """Yield the ZoneChange of every zone."""
    for zone, part in layout.zones:
        shares = [zone_share(zone, light, part) for light in (now, then)]
        yield ZoneChange(zone.name, zone.low_umol, zone.high_umol, *shares)


def zone_share(zone: Zone, light: PointLight, part: slice) -> BandShare:
    """Return the BandShare of a Zone, whose points are a part of a PointLight's."""
    par = light.par_umol[part]
    return band_share(
        par,
        light.low_umol[part],
        light.high_umol[part],
        np.ones(len(par)),
        band=(zone.low_umol, zone.top_umol),
        common_log=light.common_log,
    )
