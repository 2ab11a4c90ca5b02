"""A rig after a change: fixtures under a new optic have a beam, an edge and a spill of their own.

Its parameters, for G fixtures and J new optics: those of a Rig (4 G + 8), then log factor on the
half width, edge and log spill of each new optic (3 J). The gain of a fixture under a new optic is
that of its whole light, not of its axis, by the law that energy is kept: an optic passes light on
and makes none, so a beam that is narrower than stated is brighter in the middle by itself.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np

from apps.photics.ground.arrays import ArrayLike, FloatArray, IntArray, RealArray
from apps.photics.ground.scene import Fixture, Rock, Tank
from apps.photics.optics.intensity_distribution import Ring
from apps.photics.rig.flux import OF_INTENSITY, flux_of, flux_slopes
from apps.photics.rig.nominal import SHARED
from apps.photics.rig.ray_light import LightParts
from apps.photics.rig.rig import CHUNK_POINTS, Rig


class RefittedRig:
    """Fixtures over a tank; `new_optic` (G,) has 0 for an optic that readings know, else 1 to J."""

    def __init__(
        self,
        tank: Tank,
        fixtures: Sequence[Fixture],
        rocks: Sequence[Rock],
        new_optic: ArrayLike,
        ring: Ring | None = None,
    ) -> None:
        """`new_optic` (G,) labels as above; `ring` of those optics that readings know."""
        self.ring = ring
        self.tank, self.fixtures, self.rocks = tank, tuple(fixtures), tuple(rocks)
        self.new_optic = np.asarray(new_optic, int)
        self.optics = int(self.new_optic.max(initial=0))

    @cached_property
    def sets(self) -> list[tuple[IntArray, Rig]]:
        """Return for each optic its fixtures' places (g,) in the list and the Rig of these."""
        sets: list[tuple[IntArray, Rig]] = []
        for optic in np.unique(self.new_optic):
            members = np.nonzero(self.new_optic == optic)[0]
            ring = None if optic else self.ring
            rig = Rig(self.tank, [self.fixtures[k] for k in members], self.rocks, ring)
            sets.append((members, rig))
        return sets

    @property
    def many(self) -> int:
        """Return the number of fixtures."""
        return len(self.fixtures)

    @property
    def rings(self) -> list[Ring | None]:
        """Return the Ring of each fixture, None where it throws none or its optic is new."""
        return [None if optic else self.ring for optic in self.new_optic]

    def shifts(self, theta: FloatArray) -> FloatArray:
        """Return the shifts in x, y and height of each fixture, (G, 3) [cm], at `theta` (p,)."""
        return theta[self.many : 4 * self.many].reshape(3, self.many).T

    def laws(self, theta: FloatArray) -> FloatArray:
        """Return the shared parameters at `theta` (p,) as each fixture has them, (G, 8) [log]."""
        rest = theta[4 * self.many :]
        laws = np.tile(rest[:SHARED], (self.many, 1))
        for k, optic in enumerate(self.new_optic):
            if optic:
                laws[k, OF_INTENSITY] = rest[SHARED + 3 * (optic - 1) :][:3]
        return laws

    def log_axial(self, theta: FloatArray) -> FloatArray:
        """Return the log of each fixture's axial intensity, (G,) [log PAR cm2], at `theta` (p,)."""
        gain = theta[: self.many].copy()
        for k, (fixture, law) in enumerate(zip(self.fixtures, self.laws(theta), strict=True)):
            if self.new_optic[k]:
                gain[k] -= flux_of(fixture, law)
        return gain

    def set_thetas(self, theta: FloatArray) -> list[tuple[IntArray, Rig, FloatArray]]:
        """Return for each set of one optic its members (g,), its Rig and that rig's parameters.

        `theta` (p,) and those (4 g + 8,) [log, cm].
        """
        shifts, laws, axial = self.shifts(theta), self.laws(theta), self.log_axial(theta)
        return [
            (some, rig, np.concatenate([axial[some], shifts[some].T.ravel(), laws[some[0]]]))
            for some, rig in self.sets
        ]

    def joined(self, parts: LightParts, theta: FloatArray) -> tuple[RealArray, RealArray]:
        """Return log light (n,) and its derivatives (n, 4 G + 8 + 3 J) from LightParts.

        `parts`: those of all fixtures at full level, in order, by a Rig's own parameters; `theta`
        (p,). Log light [log PAR].
        """
        common = np.zeros((SHARED + 3 * self.optics, *parts.each.shape), parts.each.dtype)
        common[:SHARED] = parts.common
        laws = self.laws(theta)
        for k in np.nonzero(self.new_optic)[0]:
            own = SHARED + 3 * (self.new_optic[k] - 1)
            flux = flux_slopes(self.fixtures[k], laws[k])
            for j, parameter in enumerate(OF_INTENSITY):
                common[parameter, :, k] = 0.0
                common[own + j, :, k] = parts.common[parameter, :, k] - flux[j] * parts.each[:, k]
        return replace(parts, common=common).joined(np.exp(self.log_axial(theta)))

    def log_light_at(self, points_cm: RealArray, theta: FloatArray) -> tuple[RealArray, RealArray]:
        """Return log light (n,) [1] and its slopes (n, 4 G + 8 + 3 J) at `points_cm` (n, 3).

        `theta` (p,).
        """
        sets = self.set_thetas(theta)
        order = np.argsort(np.concatenate([members for members, _, _ in sets]))
        chunks = []
        for i in range(0, len(points_cm), CHUNK_POINTS):
            some = points_cm[i : i + CHUNK_POINTS]
            parts = LightParts.beside([rig.parts(rig.geometry(some), own) for _, rig, own in sets])
            chunks.append(self.joined(in_order(parts, order), theta))
        log_light, slopes = (np.concatenate(part) for part in zip(*chunks, strict=True))
        return log_light, slopes

    def place_slopes_at(self, points_cm: FloatArray, theta: FloatArray) -> FloatArray:
        """Return the derivatives of log light by place at `points_cm` (n, 3), (n, 3) [1/cm].

        `theta` (p,). Light adds up, so its derivatives do: the rule of sums.
        """
        light, steep = np.zeros(len(points_cm)), np.zeros((len(points_cm), 3))
        for _, rig, own in self.set_thetas(theta):
            geometries = rig.geometries(points_cm)
            log_light, _, place = rig.log_light_of(geometries, own)
            daylight = np.concatenate([geometry[2] for geometry in geometries])
            light += np.exp(log_light) - daylight
            steep += place * np.exp(log_light)[:, None]
        slopes: FloatArray = steep / (light + daylight)[:, None]
        return slopes

    def light_by_origin(
        self, points_cm: RealArray, theta: FloatArray
    ) -> tuple[RealArray, RealArray, RealArray]:
        """Return light by fixture: direct, by panes, by bottom, each (n, G) [exp of log light].

        `points_cm` (n, 3) in the tank's frame [cm], `theta` (p,).
        """
        parts = np.zeros((3, len(points_cm), self.many))
        for members, rig, own in self.set_thetas(theta):
            parts[:, :, members] = rig.light_by_origin(points_cm, own)
        direct, panes, bottom = parts
        return direct, panes, bottom


def in_order(parts: LightParts, order: IntArray) -> LightParts:
    """Return `parts` with the fixtures in another `order` (G,) of their places."""
    return LightParts(
        parts.each[:, order], parts.own[..., order], parts.common[..., order], parts.daylight
    )
