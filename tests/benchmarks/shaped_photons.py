"""Photons in tanks that are no boxes: true circles and slanted panes, braces, a lid, a window.

A sibling of `photon_world`, by the same photons: water is bounded by half planes and discs seen
from above, met where they truly are, so a round pane bends here as it does in glass.
"""

from dataclasses import dataclass

import numpy as np
from scipy.stats import qmc

from tests.benchmarks.photon_world import (
    BATCH,
    LEAST_WEIGHT,
    ROUNDS,
    Box,
    Tally,
    around,
    at_level,
    at_rock,
    at_scatter,
    normal_throws,
    refract,
    rippled,
    shine,
    to_rocks,
    to_side,
    turned,
)


@dataclass(frozen=True)
class ShapedBox(Box):
    """Water within its bounding box; what bounds it from aside is in `planes` and `discs`."""

    planes: tuple = ()  # (nx, ny, c): water where nx x + ny y <= c, normals of length 1
    discs: tuple = ()  # (x, y, r): water within
    dark_planes: tuple = ()  # numbers of planes that swallow
    braces: tuple = ()  # (x, y, length, width, transmission)
    cover: float = 1.0  # share of light a lid passes


def cylinder(radius, depth, **more):
    """Return the ShapedBox of an upright cylinder."""
    side = 2.0 * radius
    return ShapedBox(side, side, depth, discs=((radius, radius, radius),), **more)


def bow_front(length, width, depth, bow, **more):
    """Return the ShapedBox of a tank whose front is an arc that bulges by `bow`."""
    radius = (length**2 / 4.0 + bow**2) / (2.0 * bow)
    planes = ((-1.0, 0.0, 0.0), (1.0, 0.0, length), (0.0, 1.0, width))
    return ShapedBox(
        length, width, depth, planes=planes, discs=((length / 2, radius, radius),), **more
    )


def half_moon(radius, depth, **more):
    """Return the ShapedBox of half a cylinder, flat at the back."""
    return ShapedBox(
        2 * radius, radius, depth, planes=((0.0, 1.0, radius),), discs=((radius, radius, radius),),
        **more,
    )  # fmt: skip


def polygon(corners, depth, **more):
    """Return the ShapedBox of a convex polygon, corners left about."""
    corners = np.array(corners, float)
    way = np.roll(corners, -1, axis=0) - corners
    normal = np.stack([way[:, 1], -way[:, 0]], axis=1) / np.linalg.norm(way, axis=1)[:, None]
    planes = tuple((*n, n @ c) for n, c in zip(normal, corners, strict=True))
    length, width = corners.max(axis=0)
    return ShapedBox(length, width, depth, planes=planes, **more)


def margin(box, x, y):
    """Return how far places are within all that bounds the water [cm], below zero outside."""
    within = [c - nx * x - ny * y for nx, ny, c in box.planes]
    within += [r - np.hypot(x - cx, y - cy) for cx, cy, r in box.discs]
    return np.min(within, axis=0)


def trace_shaped(box, lamp, planes_cm, *, photons, seed):
    """Return the Tally of one lamp over a ShapedBox, its output shared by so many photons."""
    tally = Tally(box, np.asarray(planes_cm, float))
    rng = np.random.default_rng(seed)
    dice = qmc.Sobol(6, seed=rng)
    for begin in range(0, photons, BATCH):
        throws = dice.random(min(BATCH, photons - begin))
        at, way = shine(lamp, throws)
        weight = np.full(len(throws), lamp.output / photons)
        least = LEAST_WEIGHT * lamp.output / photons
        entered = enter_shaped(box, tally, at, way, weight, throws[:, 4:])
        follow_shaped(box, tally, rng, *entered, least)
    return tally


def enter_shaped(box, tally, at, way, weight, throws):
    """Bring photons from the air through lid, braces and surface into the water."""
    going = way[2] > 1e-6
    run = np.where(going, -at[2] / np.where(going, way[2], 1.0), 0.0)
    x, y = at[0] + way[0] * run, at[1] + way[1] * run
    meets = going & (margin(box, x, y) > 0)
    tally.book("beside the tank", weight[~meets])
    x, y, way, weight = x[meets], y[meets], way[:, meets], weight[meets]
    passed = np.full(len(x), box.cover)
    for left, front, length, width, transmission in box.braces:
        under = (x > left) & (x < left + length) & (y > front) & (y < front + width)
        passed = np.where(under, passed * transmission, passed)
    tally.book("lid and braces", weight * (1.0 - passed))
    weight = weight * passed
    normal = rippled(box, -1.0, normal_throws(throws[meets]))
    bent, mirrored = refract(way, normal, 1.0, box.index)
    bent[2] = np.maximum(bent[2], 1e-3)
    tally.book("mirrored by the surface", weight * mirrored)
    return np.stack([x, y, np.zeros(len(x))]), bent, weight * (1.0 - mirrored)


def trace_window(box, plane, planes_cm, *, photons, seed):
    """Return the Tally of daylight, alike from all the room, through one plane's glass.

    `plane` is the number of a straight pane; the photons' weights add up to 1 before the glass.
    """
    tally = Tally(box, np.asarray(planes_cm, float))
    rng = np.random.default_rng(seed)
    nx, ny, c = box.planes[plane]
    foot, along = np.array([nx, ny]) * c, np.array([-ny, nx])
    ends = chord(box, plane, foot, along)
    for begin in range(0, photons, BATCH):
        many = min(BATCH, photons - begin)
        place = foot[:, None] + along[:, None] * rng.uniform(*ends, many)
        at = np.stack([*place, rng.uniform(0.0, box.depth_cm, many)])
        inward = np.repeat([[-nx], [-ny], [0.0]], many, axis=1)
        way = turned(around(rng, np.sqrt(rng.random(many))), inward)
        bent, mirrored = refract(way, -inward, 1.0, box.index)
        weight = np.full(many, 1.0 / photons)
        tally.book("mirrored by the window", weight * mirrored)
        at[:2] -= 1e-6 * np.array([[nx], [ny]])
        least = LEAST_WEIGHT / photons
        follow_shaped(box, tally, rng, at, bent, weight * (1.0 - mirrored), least)
    return tally


def chord(box, plane, foot, along):
    """Return from where to where a plane bounds the water, along it from its foot [cm]."""
    low, high = -1e3, 1e3
    for number, (nx, ny, c) in enumerate(box.planes):
        speed = nx * along[0] + ny * along[1]
        if number == plane or abs(speed) < 1e-12:
            continue
        at = (c - nx * foot[0] - ny * foot[1]) / speed
        low, high = (low, min(high, at)) if speed > 0 else (max(low, at), high)
    for cx, cy, r in box.discs:
        middle = (cx - foot[0]) * along[0] + (cy - foot[1]) * along[1]
        off2 = (cx - foot[0]) ** 2 + (cy - foot[1]) ** 2 - middle**2
        half = np.sqrt(max(r * r - off2, 0.0))
        low, high = max(low, middle - half), min(high, middle + half)
    return low, high


def follow_shaped(box, tally, rng, at, way, weight, least):
    """Follow photons in the water until the ledger has them all."""
    for _ in range(ROUNDS):
        lives = weight > least
        tally.book("given up", weight[~lives])
        at, way, weight = at[:, lives], way[:, lives], weight[lives]
        if not len(weight):
            return
        glass, normal, dark = to_glass(box, at, way)
        level = to_side(at[2], way[2], box.depth_cm)
        stones, faces = to_rocks(box, at, way)
        free = rng.exponential(1.0, len(weight)) / max(box.scattering, 1e-12)
        runs = np.stack([glass, level, stones, free])
        event, length = runs.argmin(axis=0), runs.min(axis=0)
        tally.cross(at, way, weight, length)
        left = weight * np.exp(-box.absorption * length)
        tally.book("water", weight - left)
        at, weight = at + way * length, left
        who = np.nonzero(event == 0)[0]
        if len(who):
            new, kept = at_glass(box, tally, way[:, who], weight[who], normal[:, who], dark[who])
            way[:, who], weight[who] = new, kept
            # Off the glass, so that rounding leaves no photon behind it.
            at[:2, who] -= 1e-7 * normal[:, who]
        for k, meet in ((1, at_level), (2, at_rock), (3, at_scatter)):
            who = np.nonzero(event == k)[0]
            if len(who):
                axis = faces[who] if k == 2 else 2
                new, kept = meet(box, tally, rng, at[:, who], way[:, who], weight[who], axis)
                way[:, who], weight[who] = new, kept
        at[2] = np.clip(at[2], 0.0, box.depth_cm)
    tally.book("given up", weight)


def to_glass(box, at, way):
    """Return the run to the glass, its outward normal there (2, n) and whether it swallows."""
    run = np.full(at.shape[1], np.inf)
    normal, dark = np.zeros((2, at.shape[1])), np.zeros(at.shape[1], bool)
    for number, (nx, ny, c) in enumerate(box.planes):
        speed = nx * way[0] + ny * way[1]
        gap = np.maximum(c - nx * at[0] - ny * at[1], 0.0)
        own = np.where(speed > 1e-12, gap / np.where(speed > 1e-12, speed, 1.0), np.inf)
        nearer = own < run
        run = np.where(nearer, own, run)
        normal = np.where(nearer, [[nx], [ny]], normal)
        dark = np.where(nearer, number in box.dark_planes, dark)
    level2 = np.maximum(way[0] ** 2 + way[1] ** 2, 1e-18)
    for cx, cy, r in box.discs:
        dx, dy = at[0] - cx, at[1] - cy
        ahead = dx * way[0] + dy * way[1]
        root = np.sqrt(np.maximum(ahead**2 - level2 * (dx**2 + dy**2 - r * r), 0.0))
        own = np.maximum((root - ahead) / level2, 0.0)
        nearer = own < run
        run = np.where(nearer, own, run)
        hit = np.stack([dx + way[0] * own, dy + way[1] * own]) / r
        normal = np.where(nearer, hit, normal)
        dark = np.where(nearer, False, dark)
    return run, normal, dark


def at_glass(box, tally, way, weight, normal, dark):
    """Mirror photons at a pane: water against the air behind the glass."""
    toward = way[0] * normal[0] + way[1] * normal[1]
    cosine = np.clip(np.abs(toward), 0.0, 1.0)
    sin2 = box.index**2 * (1.0 - cosine**2)
    out = np.sqrt(np.maximum(1.0 - sin2, 0.0))
    across = (box.index * cosine - out) / (box.index * cosine + out)
    along = (cosine - box.index * out) / (cosine + box.index * out)
    share = np.where(sin2 >= 1.0, 1.0, 0.5 * (across**2 + along**2)) * box.pane
    share = np.where(dark, 0.0, share)
    tally.book("panes", weight * (1.0 - share))
    way = way.copy()
    way[:2] -= 2.0 * toward * normal
    return way, weight * share
