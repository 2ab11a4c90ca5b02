"""A rig over a tank: its light at any point, and how that light changes with all it depends on.

The parameters of a rig in one vector, F fixtures: log gain, shifts in x, y and height [cm] for
each fixture (4 F), then what all share: log factor on the beam's half width, edge of the beam,
log spill, log K [1/cm], log reflectance of a pane, log share the bottom returns, and log factors
on the lit face's two sides. Each part of the way by the law that its module in `optics` names.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import cached_property, partial

import numpy as np

from apps.photics.ground.arrays import FloatArray, RealArray
from apps.photics.ground.recall import recall
from apps.photics.ground.scene import Fixture, Rock, Tank, solids
from apps.photics.optics.beam import (
    HEIGHT_FLOOR_CM,
    Images,
    half_logcos,
    lay_emitters,
    unfold,
)
from apps.photics.optics.bottom import bottom_light, bottom_return
from apps.photics.optics.daylight import daylight_at
from apps.photics.optics.intensity_distribution import Ring, intensity_along
from apps.photics.optics.orientation import orientations_of
from apps.photics.optics.outline_images import OutlineImages, unfold_outline
from apps.photics.optics.ray_geometry import ray_geometry_of
from apps.photics.optics.shade import find_blocks
from apps.photics.optics.surface import Crossing, came_in
from apps.photics.rig.nominal import (
    ATTENUATION,
    BEAM,
    BOTTOM,
    EDGE,
    FACE_X,
    NOMINAL_SHARED,
    PANE,
    SPILL,
    usual_edge,
    usual_spill,
)
from apps.photics.rig.ray_light import (
    Emitters,
    FollowedRays,
    LightParts,
    RayEnds,
    Rays,
    left_by_panes,
)

# Points handled at once, and under a few emitters as many as make so many pairs with them: chosen,
# because it keeps the ray arrays within a few MB, where numpy is fastest. 2,100 points under 8
# emitters took 35 ms in parts of 512 and 27 in one.
CHUNK_POINTS, CHUNK_PAIRS = 512, 16_384
# Readings handled at once: chosen for a fit, which asks for the same ones again and again. 1,000
# under 40 fixtures took 2.3 s of CPU in one go, 1.6 by 128.
CHUNK_READINGS = 128
# However bright the window is said to be, fixtures give at least this of a reading [1]: chosen,
# because a lamp that gives nothing has no log.
DAYLIGHT_LEAVES = 0.1


# What of the points never changes while the parameters do: their images, what the bottom
# returns per unit share (n, F), and the daylight (n,) [PAR].
Geometry = tuple[Images, FloatArray, FloatArray]
# Single where many points want speed, else double.
Precision = np.dtype[np.floating]


class Rig:
    """Fixtures over a tank, ready to be evaluated again and again."""

    def __init__(
        self,
        tank: Tank,
        fixtures: Sequence[Fixture],
        rocks: Sequence[Rock] = (),
        ring: Ring | None = None,
    ) -> None:
        self.tank, self.ring = tank, ring
        self.fixtures = tuple(fixtures)
        self.rocks = tuple(rocks)
        laid = [lay_emitters(fixture) for fixture in self.fixtures]
        count = [len(face.offset) for face in laid]
        self.owner = np.repeat(np.arange(len(laid)), count)
        self.offset = np.concatenate([face.offset for face in laid])
        self.rise = np.concatenate([face.rise for face in laid])
        self.cell = np.repeat([face.cell for face in laid], count, axis=0)
        self.orientations = orientations_of(self.fixtures, count)
        self.place = np.array([(f.x_cm, f.y_cm, f.height_cm) for f in self.fixtures], float)
        self.half = half_logcos([f.beam_deg for f in self.fixtures])
        # The spill is counted as a share of the core's flux over a half space.
        self.spill_unit = 2.0 * (1.0 - np.exp(-self.half))
        self.levels = np.array([f.level for f in self.fixtures], float)
        member = self.owner[:, None] == np.arange(len(laid))[None, :]
        self.member = member / np.asarray(count, float)

    @property
    def many(self) -> int:
        """Return the number of fixtures."""
        return len(self.fixtures)

    @cached_property
    def lit_bottom(self) -> RealArray:
        """Return the light of the nominal rig on the bottom's cells, (cells, F) [intensity/cm2]."""
        return bottom_light(self)

    @cached_property
    def open_bottom(self) -> RealArray:
        """Return what `lit_bottom` would be without rocks, (cells, F) [intensity/cm2]."""
        if not self.rocks:
            return self.lit_bottom
        return Rig(self.tank, self.fixtures, ring=self.ring).lit_bottom

    def under(self, tank: Tank, rocks: Sequence[Rock]) -> "Rig":
        """Return the same fixtures over a tank taken otherwise, or among other rocks."""
        return Rig(tank, self.fixtures, rocks, self.ring)

    def ringed(self, ring: Ring | None) -> "Rig":
        """Return the same rig, its fixtures throwing a Ring or none."""
        return Rig(self.tank, self.fixtures, self.rocks, ring)

    def nominal(self) -> FloatArray:
        """Return the parameters of the rig as the keeper describes it, (4 F + 8,) [log, cm]."""
        shared = NOMINAL_SHARED.copy()
        # One edge for all: where a file states what a fixture sends, it is the edge the file is
        # held against, whatever hangs beside it.
        if all(fixture.optic is None for fixture in self.fixtures):
            shared[EDGE] = np.mean([usual_edge(fixture) for fixture in self.fixtures])
            shared[SPILL] = np.mean([usual_spill(fixture) for fixture in self.fixtures])
        return np.concatenate([np.log(self.levels), np.zeros(3 * self.many), shared])

    def split(self, theta: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return log gains (F,), shifts (F, 3) [cm], shared part (8,) of `theta` (4 F + 8,)."""
        many = self.many
        return theta[:many], theta[many : 4 * many].reshape(3, many).T, theta[4 * many :]

    def geometry(self, points_cm: RealArray) -> Geometry:
        """Return the Geometry of `points_cm` (n, 3) in the tank's frame [cm]."""
        return self.images(points_cm), self.returned(points_cm), self.daylight(points_cm)

    def images(self, points_cm: RealArray) -> Images:
        """Return the Images of `points_cm` (n, 3), with the rocks that may stand in their way."""
        return recall(images_in, points_cm, self.tank, self.rocks)

    def daylight(self, points_cm: RealArray) -> FloatArray:
        """Return the PAR of the tank's window at `points_cm` (n, 3), (n,) [umol m-2 s-1]."""
        return recall(daylight_at, points_cm, self.tank, self.rocks)

    def returned(self, points_cm: RealArray) -> FloatArray:
        """Return what the bottom sends back at `points_cm` (n, 3), of the nominal rig, (n, F).

        Per unit share of light it returns [intensity/cm2].
        """
        return bottom_return(points_cm, self)

    def ray_light(self, images: Images, theta: FloatArray) -> RealArray:
        """Return the light along every ray, (k, e) [axial intensity per cm2].

        `images` of the points; `theta` (4 F + 8,). Worked out in the precision of the images:
        single where many points want speed.
        """
        rays = self.followed(images, theta)
        if rays.picked is None:
            return rays.light
        return rays.picked.dense(rays.light, emitters=len(self.owner))

    def followed(self, images: Images, theta: FloatArray) -> FollowedRays:
        """Return the FollowedRays of images at a parameter vector `theta` (4 F + 8,)."""
        shared = self.split(theta)[2].astype(images.x_cm.dtype)
        ends = self.ray_ends(images, theta)
        start = ends.start
        dx, dy = ends.x_cm - start.x_cm, ends.y_cm - start.y_cm
        geometry = ray_geometry_of(dx, dy, height=start.height_cm, depth=ends.depth_cm)
        intensity = intensity_along(
            geometry.cos,
            cos2=geometry.cos2,
            half=start.half,
            edge=shared[EDGE],
            spill=start.spill,
            directions=None if start.frames is None else start.frames.directions(geometry),
            ring=self.ring,
        )
        lost = np.exp(shared[ATTENUATION]) * ends.depth_cm / geometry.cos_water
        light = geometry.received(intensity.light, lost=lost)
        part = start.height_cm / geometry.spread
        crossing = Crossing(
            x_cm=start.x_cm + dx * part,
            y_cm=start.y_cm + dy * part,
            cell_cm=start.cell_cm,
            part=part,
        )
        light *= came_in(crossing, images, self.tank, solids(self.tank, self.rocks), ends.picked)
        light *= left_by_panes(images, geometry, shared[PANE], ends.picked)
        return FollowedRays(light, geometry, intensity, lost, start.face_cm, ends.picked)

    def emitters(self, theta: FloatArray, precision: Precision) -> Emitters:
        """Return the Emitters at `theta` (4 F + 8,), in single or double precision."""
        _, shift, shared = self.split(theta)
        shared = shared.astype(precision)
        where = (self.place + shift).astype(precision)[self.owner]
        face = (self.offset * np.exp(shared[FACE_X:])).astype(precision)
        return Emitters(
            x_cm=where[:, 0] + face[:, 0],
            y_cm=where[:, 1] + face[:, 1],
            height_cm=np.maximum(where[:, 2] + self.rise.astype(precision), HEIGHT_FLOOR_CM),
            half=(self.half * np.exp(shared[BEAM]))[self.owner].astype(precision),
            spill=(self.spill_unit * np.exp(shared[SPILL]))[self.owner].astype(precision),
            cell_cm=(self.cell * np.exp(shared[FACE_X:])).astype(precision),
            face_cm=face,
            frames=self.orientations,
        )

    def ray_ends(self, images: Images, theta: FloatArray) -> RayEnds:
        """Return the RayEnds of rays from all emitters to images, at `theta` (4 F + 8,)."""
        start = self.emitters(theta, images.x_cm.dtype)
        if not isinstance(images, OutlineImages):
            return RayEnds(start, images.x_cm, images.y_cm, images.depth_cm)
        # Most emitters are not seen in most images: only rays that are go on, in one row.
        picked = images.pick(from_cm=(start.x_cm, start.y_cm), cell_cm=start.cell_cm)
        counts = np.bincount(self.owner[picked.emitter], minlength=self.many)
        frames = orientations_of(self.fixtures, counts.tolist())
        x, y, depth = (part[picked.image].T for part in (images.x_cm, images.y_cm, images.depth_cm))
        return RayEnds(start.of_rays(picked, frames), x, y, depth, picked)

    def rays(self, images: Images, theta: FloatArray) -> Rays:
        """Return the light along every ray with its log derivatives, as Rays.

        `images` of the points; `theta` (4 F + 8,).
        """
        rays = self.followed(images, theta)
        geometry, intensity, lost, face = rays.geometry, rays.intensity, rays.lost, rays.face_cm
        k_per_cm = np.exp(self.split(theta)[2].astype(lost.dtype)[ATTENUATION])
        by_slope, by_azimuth = intensity.by_direction(
            geometry.slope, cos=geometry.cos, cos2=geometry.cos2
        )
        by_away = geometry.by_away(by_slope, lost=lost)
        by_shift_x, by_shift_y = geometry.by_place(by_away, by_azimuth=by_azimuth)
        return Rays(
            light=rays.light,
            by_shift_x=by_shift_x,
            by_shift_y=by_shift_y,
            by_height=geometry.by_height(by_away),
            by_depth=geometry.by_depth(by_away, k_per_cm=k_per_cm),
            by_beam=intensity.by_beam,
            by_edge=intensity.by_edge,
            by_spill=intensity.by_spill,
            by_attenuation=-lost,
            face_x_cm=face[:, 0],
            face_y_cm=face[:, 1],
            picked=rays.picked,
        )

    def log_light(
        self, geometry: Geometry, theta: FloatArray
    ) -> tuple[RealArray, RealArray, RealArray]:
        """Return log light (n,), its derivatives (n, 4 F + 8), and by place (n, 3) [1/cm].

        At `theta` (4 F + 8,).
        """
        images = geometry[0]
        rays = self.rays(images, theta)
        gain = np.exp(self.split(theta)[0])
        log_light, slopes = self.parts(geometry, theta, rays).joined(gain)
        summed = (self.member * gain).sum(axis=1)

        def by_all(factor: RealArray) -> RealArray:
            if rays.picked is not None:
                many: RealArray = self.by_fixture(images, rays, factor) @ gain
                return many
            light: RealArray = images.summed(rays.light * factor) @ summed
            return light

        by_x: RealArray
        by_y: RealArray
        if rays.picked is None:
            by_x = rays.by_shift_x * images.sign_x[:, None]
            by_y = rays.by_shift_y * images.sign_y[:, None]
        else:
            by_x, by_y = rays.picked.by_point(rays.by_shift_x, rays.by_shift_y)
        place = np.stack([-by_all(by_x), -by_all(by_y), by_all(rays.by_depth)], axis=1)
        return log_light, slopes, place / np.exp(log_light)[:, None]

    def parts(self, geometry: Geometry, theta: FloatArray, rays: Rays | None = None) -> LightParts:
        """Return the LightParts of the rig's fixtures at full level; theta's gains are moot.

        `theta` (4 F + 8,); `rays` where they are at hand.
        """
        images, back, daylight = geometry
        rays = self.rays(images, theta) if rays is None else rays
        shared = self.split(theta)[2]
        by_fixture = partial(self.by_fixture, images, rays)
        bounces = images.bounces_x + images.bounces_y
        if rays.picked is not None:
            bounces = bounces[rays.picked.image].T
        sent_back = np.exp(shared[BOTTOM]) * back
        own = (
            by_fixture(rays.by_shift_x),
            by_fixture(rays.by_shift_y),
            by_fixture(rays.by_height),
        )
        common = (
            by_fixture(rays.by_beam),
            by_fixture(rays.by_edge),
            by_fixture(rays.by_spill),
            by_fixture(rays.by_attenuation),
            by_fixture(bounces),
            sent_back,
            by_fixture(rays.by_shift_x * rays.face_x_cm),
            by_fixture(rays.by_shift_y * rays.face_y_cm),
        )
        each = by_fixture(1.0) + sent_back
        return LightParts(each, np.stack(own), np.stack(common), daylight)

    def ring_slopes(self, points_cm: FloatArray, theta: FloatArray, ring: Ring) -> FloatArray:
        """Return the derivative of log light by a Ring's strength at `points_cm` (n, 3), (n,) [1].

        `theta` (4 F + 8,).
        """
        images, back, daylight = self.geometry(points_cm)
        rays = self.followed(images, theta)
        gain, _, shared = self.split(theta)
        each = self.by_fixture(images, rays, 1.0) + np.exp(shared[BOTTOM]) * back
        thrown = self.by_fixture(images, rays, rays.intensity.by_ring(ring))
        slopes: FloatArray = (thrown @ np.exp(gain)) / (each @ np.exp(gain) + daylight)
        return slopes

    def by_fixture(
        self, images: Images, rays: Rays | FollowedRays, factor: RealArray | float
    ) -> RealArray:
        """Return the light of rays times a factor, summed by point and fixture, (n, F) [of rays].

        `factor` scalar or (k, e) [1].
        """
        if rays.picked is not None:
            whole = rays.picked.summed(rays.light * factor, owner=self.owner, many=self.many)
            each: RealArray = whole / np.bincount(self.owner)
            return each
        light: RealArray = images.summed(rays.light * factor) @ self.member
        return light

    def geometries(self, points_cm: RealArray) -> list[Geometry]:
        """Return the Geometry of `points_cm` (n, 3), chunk by chunk."""
        return [
            self.geometry(points_cm[i : i + CHUNK_READINGS])
            for i in range(0, len(points_cm), CHUNK_READINGS)
        ]

    def log_light_of(
        self, geometries: Sequence[Geometry], theta: FloatArray
    ) -> tuple[RealArray, RealArray, RealArray]:
        """Return `log_light` of the points of several geometries together, three arrays as there.

        (n,) [log], (n, p) and (n, 3) [1/cm] at `theta` (p,).
        """
        parts = zip(*(self.log_light(geometry, theta) for geometry in geometries), strict=True)
        log_light, slopes, place = (np.concatenate(part) for part in parts)
        return log_light, slopes, place

    def light_of(
        self, geometries: Iterable[Geometry], theta: FloatArray
    ) -> tuple[RealArray, RealArray]:
        """Return what `log_light_of` does but for what the light is by place, for less.

        (n,) [log] and (n, p) at `theta` (p,).
        """
        gain = np.exp(self.split(theta)[0])
        pairs = (self.parts(geometry, theta).joined(gain) for geometry in geometries)
        log_light, slopes = (np.concatenate(part) for part in zip(*pairs, strict=True))
        return log_light, slopes

    def log_gain(
        self, geometries: Sequence[Geometry], log_par: FloatArray, theta: FloatArray
    ) -> float:
        """Return the log gain all fixtures need for the middle of log PAR values (n,) [1].

        `geometries` of their points, `theta` (4 F + 8,).
        """
        log_light = self.light_of(geometries, theta)[0]
        daylight = np.concatenate([geometry[2] for geometry in geometries])
        if not daylight.any():
            return float(np.median(log_par - log_light))
        lit = np.exp(log_light) - daylight
        left = np.maximum(np.exp(log_par) - daylight, DAYLIGHT_LEAVES * np.exp(log_par))
        return float(np.median(np.log(left / np.maximum(lit, 1e-300))))

    def log_light_at(self, points_cm: RealArray, theta: FloatArray) -> tuple[RealArray, RealArray]:
        """Return log light and its derivatives at points, in chunks: (n,), (n, 4 F + 8).

        `points_cm` (n, 3) in the tank's frame [cm], `theta` (4 F + 8,).
        """
        return self.light_of(map(self.geometry, self.chunks(points_cm)), theta)

    def chunks(self, points_cm: RealArray) -> list[RealArray]:
        """Return `points_cm` (n, 3) in parts that are handled at once, (m, 3) each [cm]."""
        many = max(CHUNK_POINTS, CHUNK_PAIRS // len(self.owner))
        return [points_cm[i : i + many] for i in range(0, len(points_cm), many)]

    def proportions_at(self, points_cm: RealArray, theta: FloatArray) -> RealArray:
        """Return the part of the light that comes from each fixture at points, (n, F) [1].

        `points_cm` (n, 3) in the tank's frame [cm], `theta` (4 F + 8,). They are the derivatives
        by the log gains that `log_light_at` returns, at a third of its price.
        """
        log_gain, _, shared = self.split(theta)
        gain, proportions = np.exp(log_gain), []
        for some in self.chunks(points_cm):
            images, back, daylight = self.geometry(some)
            rays = self.followed(images, theta)
            each = (self.by_fixture(images, rays, 1.0) + np.exp(shared[BOTTOM]) * back) * gain
            proportions.append(each / (each.sum(axis=1) + daylight)[:, None])
        return np.concatenate(proportions)

    def light_by_origin(
        self, points_cm: RealArray, theta: FloatArray
    ) -> tuple[RealArray, RealArray, RealArray]:
        """Return light by fixture: direct, by panes, by bottom, each (n, F) [exp of log light].

        `points_cm` (n, 3) in the tank's frame [cm], `theta` (4 F + 8,).
        """
        images, back, _ = self.geometry(points_cm)
        gain, _, shared = self.split(theta)
        light = self.ray_light(images, theta) @ (self.member * np.exp(gain))
        straight = (images.bounces_x + images.bounces_y) == 0
        direct = images.summed(light * straight)
        everything = images.summed(light)
        return direct, everything - direct, np.exp(shared[BOTTOM]) * back * np.exp(gain)


def images_in(points_cm: RealArray, tank: Tank, rocks: Sequence[Rock]) -> Images:
    """Return the Images of `points_cm` (n, 3) in a tank with the rocks in their way."""
    if not tank.is_box:
        return unfold_outline(points_cm, tank)
    # The same ones whatever stands in their way.
    images = recall(unfold, points_cm, tank)
    return replace(images, blocks=find_blocks(images, tank, solids(tank, rocks)))
