"""A rig over a tank: its light at any point, and how that light changes with all it depends on.

The parameters of a rig in one vector, F fixtures: log gain, shifts in x, y and height [cm] for
each fixture (4 F), then what all share: log factor on the beam's half width, edge of the beam,
log spill, log K [1/cm], log reflectance of a pane, log share the bottom returns, and log factors
on the lit face's two sides.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np

from apps.photics.ground.arrays import FloatArray, RealArray
from apps.photics.ground.recall import recall
from apps.photics.ground.scene import Fixture, Rock, Tank
from apps.photics.optics.beam import (
    FROM_WATER,
    HEIGHT_FLOOR_CM,
    Images,
    half_logcos,
    lay_emitters,
    look_up,
    unfold,
)
from apps.photics.optics.bottom import bottom_light, bottom_return
from apps.photics.optics.intensity_distribution import intensity_along
from apps.photics.optics.orientation import orientations_of
from apps.photics.optics.ray_geometry import RayGeometry, ray_geometry_of
from apps.photics.optics.shade import EDGE_CM, find_blocks, rock_shade
from apps.photics.rig.ray_light import FollowedRays, LightParts, Rays

# How many parameters all fixtures share, by the list above, and their places.
SHARED = 8
BEAM, EDGE, SPILL, ATTENUATION, PANE, BOTTOM, FACE_X, FACE_Y = range(SHARED)
# Points handled at once: chosen, because it keeps the ray arrays within a few MB, where numpy is
# fastest.
CHUNK_POINTS = 512
# Readings handled at once: chosen for a fit, which asks for the same ones again and again. 1,000
# under 40 fixtures took 2.3 s of CPU in one go, 1.6 by 128.
CHUNK_READINGS = 128
# What a rig is taken for before any reading. Edge between a bare diode (1) and a reflector (2),
# spill an eighth of the core, K and returns of a clear, sparsely sanded tank: our own choice.
NOMINAL_SHARED = np.array([0.0, 1.6, np.log(0.12), np.log(0.003), -0.03, np.log(0.2), 0.0, 0.0])

# A diode without an optic shines by Lambert's law: 120 degrees wide, with an edge of 1. A beam as
# wide may be one or a wide reflector's, so its edge is taken near that; from LENS_DEG down it is
# shaped by an optic [degrees, 1]. Our own choice.
LENS_DEG, BARE_DEG, BARE_EDGE = 90.0, 120.0, 1.2


# What of the points never changes while the parameters do: their images, and what the bottom
# returns per unit share (n, F).
Geometry = tuple[Images, FloatArray]


def usual_edge(fixture: Fixture) -> float:
    """Return the edge a fixture's beam is taken to have before any reading [1]."""
    shaped = float(NOMINAL_SHARED[EDGE])
    if fixture.optic is not None:
        # What it was measured to send is held against the shaped intensity.
        return shaped
    return float(np.interp(fixture.beam_deg, (LENS_DEG, BARE_DEG), (shaped, BARE_EDGE)))


class Rig:
    """Fixtures over a tank, ready to be evaluated again and again."""

    def __init__(self, tank: Tank, fixtures: Sequence[Fixture], rocks: Sequence[Rock] = ()) -> None:
        self.tank = tank
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
        return Rig(self.tank, self.fixtures).lit_bottom if self.rocks else self.lit_bottom

    def nominal(self) -> FloatArray:
        """Return the parameters of the rig as the keeper describes it, (4 F + 8,) [log, cm]."""
        shared = NOMINAL_SHARED.copy()
        # One edge for all: where a file states what a fixture sends, it is the edge the file is
        # held against, whatever hangs beside it.
        if all(fixture.optic is None for fixture in self.fixtures):
            shared[EDGE] = np.mean([usual_edge(fixture) for fixture in self.fixtures])
        return np.concatenate([np.log(self.levels), np.zeros(3 * self.many), shared])

    def split(self, theta: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return log gains (F,), shifts (F, 3) [cm] and the shared part (8,) of a vector."""
        many = self.many
        return theta[:many], theta[many : 4 * many].reshape(3, many).T, theta[4 * many :]

    def geometry(self, points_cm: RealArray) -> Geometry:
        """Return the Geometry of `points_cm` (n, 3) in the tank's frame [cm]."""
        return self.images(points_cm), self.returned(points_cm)

    def images(self, points_cm: RealArray) -> Images:
        """Return the Images of `points_cm` (n, 3), with the rocks that may stand in their way."""
        return recall(images_in, points_cm, self.tank, self.rocks)

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
        return self.followed(images, theta).light

    def followed(self, images: Images, theta: FloatArray) -> FollowedRays:
        """Return the FollowedRays of images at a parameter vector (4 F + 8,)."""
        precision = images.x_cm.dtype
        _, shift, shared = self.split(theta)
        shared = shared.astype(precision)
        where = (self.place + shift).astype(precision)
        face = (self.offset * np.exp(shared[FACE_X:])).astype(precision)
        from_x, from_y = where[self.owner, 0] + face[:, 0], where[self.owner, 1] + face[:, 1]
        height = np.maximum(where[self.owner, 2] + self.rise.astype(precision), HEIGHT_FLOOR_CM)
        dx, dy, depth = images.x_cm - from_x, images.y_cm - from_y, images.depth_cm
        geometry = ray_geometry_of(dx, dy, height=height, depth=depth)
        intensity = intensity_along(
            geometry.cos,
            cos2=geometry.cos2,
            half=(self.half * np.exp(shared[BEAM]))[self.owner].astype(precision),
            edge=shared[EDGE],
            spill=(self.spill_unit * np.exp(shared[SPILL]))[self.owner].astype(precision),
            directions=None
            if self.orientations is None
            else self.orientations.directions(geometry),
        )
        k_per_cm = np.exp(shared[ATTENUATION])
        lost = k_per_cm * depth / geometry.cos_water
        light = geometry.received(intensity.light, lost=lost)
        light *= self.entering(
            images,
            from_cm=(from_x, from_y),
            way_cm=(dx, dy),
            part=height / geometry.spread,
            shared=shared,
        )
        light *= mirrored(images, geometry, shared)
        return FollowedRays(light, geometry, intensity, lost, face)

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
        )

    def log_light(
        self, geometry: Geometry, theta: FloatArray
    ) -> tuple[RealArray, RealArray, RealArray]:
        """Return log light (n,), its derivatives (n, 4 F + 8), and by place (n, 3) [1/cm]."""
        images = geometry[0]
        rays = self.rays(images, theta)
        gain = np.exp(self.split(theta)[0])
        log_light, slopes = self.parts(geometry, theta, rays).joined(gain)
        summed = (self.member * gain).sum(axis=1)

        def by_all(factor: RealArray) -> RealArray:
            light: RealArray = images.summed(rays.light * factor) @ summed
            return light

        place = np.stack(
            [
                -by_all(rays.by_shift_x * images.sign_x[:, None]),
                -by_all(rays.by_shift_y * images.sign_y[:, None]),
                by_all(rays.by_depth),
            ],
            axis=1,
        )
        return log_light, slopes, place / np.exp(log_light)[:, None]

    def parts(self, geometry: Geometry, theta: FloatArray, rays: Rays | None = None) -> LightParts:
        """Return the LightParts of the rig's fixtures at full level; theta's gains are moot.

        `theta` (4 F + 8,); `rays` where they are at hand.
        """
        images, back = geometry
        rays = self.rays(images, theta) if rays is None else rays
        shared = self.split(theta)[2]

        def by_fixture(factor: RealArray | float) -> RealArray:
            light: RealArray = images.summed(rays.light * factor) @ self.member
            return light

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
            by_fixture(images.bounces_x + images.bounces_y),
            sent_back,
            by_fixture(rays.by_shift_x * rays.face_x_cm),
            by_fixture(rays.by_shift_y * rays.face_y_cm),
        )
        return LightParts(by_fixture(1.0) + sent_back, np.stack(own), np.stack(common))

    def geometries(self, points_cm: RealArray) -> list[Geometry]:
        """Return the Geometry of `points_cm` (n, 3), chunk by chunk."""
        return [
            self.geometry(points_cm[i : i + CHUNK_READINGS])
            for i in range(0, len(points_cm), CHUNK_READINGS)
        ]

    def log_light_of(
        self, geometries: Sequence[Geometry], theta: FloatArray
    ) -> tuple[RealArray, RealArray, RealArray]:
        """Return `log_light` of the points of several geometries together."""
        parts = zip(*(self.log_light(geometry, theta) for geometry in geometries), strict=True)
        log_light, slopes, place = (np.concatenate(part) for part in parts)
        return log_light, slopes, place

    def log_light_at(self, points_cm: RealArray, theta: FloatArray) -> tuple[RealArray, RealArray]:
        """Return log light and its derivatives at points, in chunks: (n,), (n, 4 F + 8).

        `points_cm` (n, 3) in the tank's frame [cm], `theta` (4 F + 8,).
        """
        parts = [
            self.log_light(self.geometry(points_cm[i : i + CHUNK_POINTS]), theta)[:2]
            for i in range(0, len(points_cm), CHUNK_POINTS)
        ]
        return np.concatenate([p[0] for p in parts]), np.concatenate([p[1] for p in parts])

    def light_by_origin(
        self, points_cm: RealArray, theta: FloatArray
    ) -> tuple[RealArray, RealArray, RealArray]:
        """Return light by fixture: direct, by panes, by bottom, each (n, F) [exp of log light].

        `points_cm` (n, 3) in the tank's frame [cm], `theta` (4 F + 8,).
        """
        images, back = self.geometry(points_cm)
        gain, _, shared = self.split(theta)
        light = self.ray_light(images, theta) @ (self.member * np.exp(gain))
        straight = (images.bounces_x + images.bounces_y) == 0
        direct = images.summed(light * straight)
        everything = images.summed(light)
        return direct, everything - direct, np.exp(shared[BOTTOM]) * back * np.exp(gain)

    def entering(
        self,
        images: Images,
        *,
        from_cm: tuple[RealArray, RealArray],
        way_cm: tuple[RealArray, RealArray],
        part: RealArray,
        shared: RealArray,
    ) -> RealArray:
        """Return how much of each ray's emitter patch comes in by the open surface, (k, e) [1].

        `from_cm` emitters' x and y, (e,) each; `way_cm` from there to the images in x and y and
        `part` of that way to the surface, (k, e) each; `shared` (8,) parameters.
        """
        from_x, from_y = from_cm
        cell = (self.cell * np.exp(shared[FACE_X:])).astype(from_x.dtype)
        open_x, open_y = self.tank.length_cm, self.tank.width_cm
        at_x, at_y = from_x + way_cm[0] * part, from_y + way_cm[1] * part
        wide_x = cell[:, 0] * (1.0 - part) + EDGE_CM
        wide_y = cell[:, 1] * (1.0 - part) + EDGE_CM
        passed: RealArray = (
            np.clip(0.5 + at_x / wide_x, 0.0, 1.0)
            * np.clip(0.5 + (open_x - at_x) / wide_x, 0.0, 1.0)
            * np.clip(0.5 + at_y / wide_y, 0.0, 1.0)
            * np.clip(0.5 + (open_y - at_y) / wide_y, 0.0, 1.0)
        )
        if images.blocks is not None:
            passed = passed * rock_shade(images, images.blocks, enter_x=at_x, enter_y=at_y)
        return passed


def images_in(points_cm: RealArray, tank: Tank, rocks: Sequence[Rock]) -> Images:
    """Return the Images of `points_cm` (n, 3) in a tank with the rocks in their way."""
    images = unfold(points_cm, tank)
    return replace(images, blocks=find_blocks(images, tank, rocks))


def mirrored(images: Images, geometry: RayGeometry, shared: RealArray) -> RealArray:
    """Return what is left of each ray after its panes, (k, e) [1].

    Fresnel at the pane, times its quality by the `shared` (8,) parameters.
    """
    dx, dy = geometry.dx, geometry.dy
    sine_per_cm = np.sqrt(geometry.sin2_water) / np.maximum(geometry.away, 1e-9)
    left = np.exp(shared[PANE] * (images.bounces_x + images.bounces_y))
    left = np.broadcast_to(left, dx.shape).copy()
    for bounces, way in ((images.bounces_x, dx), (images.bounces_y, dy)):
        hit = np.nonzero(bounces[:, 0])[0]
        cosine = np.abs(way[hit]) * sine_per_cm[hit]
        returned = look_up(FROM_WATER, cosine)
        # Most meet the pane once, and a power costs more than all else here.
        often = np.nonzero(bounces[hit, 0] > 1)[0]
        returned[often] **= bounces[hit[often]]
        left[hit] *= returned
    return left
