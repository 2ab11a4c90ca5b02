"""Mirror images of points in panes that stand at any angle round a convex outline.

In a box every image is seen through every pane between; behind panes at other angles an image
is seen only through the pane that mirrors it, as through a window. Each image therefore keeps a
wedge, seen from above: rays that come to it from within the wedge meet its panes in their order.
A curved pane is a row of flat ones, and how many of their images a fixture is seen in is how it
focuses the light. Plane geometry: the method of images.
"""

from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import BoolArray, FloatArray, IntArray, RealArray
from apps.photics.ground.outline import Outline
from apps.photics.ground.scene import Tank
from apps.photics.optics.beam import FROM_WATER, Images, look_up
from apps.photics.optics.shade import EDGE_CM, REACH_PER_DEPTH

# Panes met one after another on the way to a point at most: chosen by the photon tracer, see
# docs/how_it_works.md.
BOUNCES_MOST = 3
# Rays from this far beyond what the surface lets in still count [cm]: chosen as in a box.
BEYOND_CM = 2.0
# A wedge thinner than this passes nothing [sine]: chosen as 0.006 degrees.
WEDGE_LEAST = 1e-4
# A point is no nearer to a pane, or its image would be itself [cm]: chosen, because no meter and
# no coral is.
OFF_PANE_CM = 0.02
# Emitters looked at together: chosen, because it keeps their arrays within some tens of MB.
EMITTERS_AT_ONCE = 64
# What stands where an image has met fewer panes than others: chosen, because no pane has it.
NO_PANE = -1


@dataclass(frozen=True)
class Chains:
    """Points mirrored in so many panes, from the point back toward the light."""

    row: IntArray  # (k,) which point
    # (k, b + 1, 2) what the light's way aims at, before any pane to after all [cm]
    places: FloatArray
    panes: IntArray  # (k, b) which panes it meets, in the light's order
    right: FloatArray  # (k, 2) unit ways from the image to the ends of its wedge [1]
    left: FloatArray  # (k, 2) [1]
    turn: FloatArray  # (k, 2, 2) how the image moves with the point [1]

    def among(self, chosen: BoolArray | IntArray) -> "Chains":
        """Return the `chosen` ones, where True (k,) or by their numbers (m,)."""
        return Chains(*(getattr(self, name)[chosen] for name in vars(self)))


@dataclass(frozen=True, kw_only=True)
class OutlineImages(Images):
    """Images behind the panes of an outline, sorted by point; `bounces_x` counts all panes."""

    outline: Outline
    dark: BoolArray  # (p,) panes that swallow the light
    places: FloatArray  # (k, BOUNCES_MOST + 1, 2) [cm]
    panes: IntArray  # (k, BOUNCES_MOST)
    right: RealArray  # (k, 2) [1], no wedge where zero
    left: RealArray  # (k, 2) [1]
    turn: RealArray  # (k, 2, 2) [1]

    def pick(self, *, from_cm: tuple[RealArray, RealArray], cell_cm: RealArray) -> "PickedRays":
        """Return the rays that come from emitters to images through the wedges of these.

        `from_cm` emitters' x and y, (e,) each; `cell_cm` (e, 2) what each stands for [cm].
        """
        emitters, images, parts = [], [], []
        for first in range(0, len(from_cm[0]), EMITTERS_AT_ONCE):
            some = slice(first, first + EMITTERS_AT_ONCE)
            through = self.through(from_cm[0][some], from_cm[1][some], cell_cm=cell_cm[some])
            emitter, image = np.nonzero(through.T > 0.0)
            emitters.append(emitter + first)
            images.append(image)
            parts.append(through[image, emitter])
        return PickedRays(
            self, np.concatenate(images), np.concatenate(emitters), np.concatenate(parts)
        )

    def through(self, x: RealArray, y: RealArray, *, cell_cm: RealArray) -> RealArray:
        """Return the share of emitters' patches that images' wedges show, (k, e), 0 or less: none.

        `x` and `y` (e,) and what each stands for, `cell_cm` (e, 2) [cm].
        """
        one = np.ones_like(x)
        # Across each end of a wedge: how far the emitter is within, and how wide its patch.
        through: RealArray = -np.ones((len(self.row), len(x)), x.dtype)
        aim_x, aim_y = self.x_cm[:, 0], self.y_cm[:, 0]
        for (along, up), sign in ((self.right.T, 1.0), (self.left.T, -1.0)):
            within = np.stack([-up, along, up * aim_x - along * aim_y], axis=1) * sign
            wide = np.stack([np.abs(up), np.abs(along), np.full_like(up, EDGE_CM)], axis=1)
            share = within.astype(x.dtype) @ np.stack([x, y, one])
            share /= wide.astype(x.dtype) @ np.stack([cell_cm[:, 0], cell_cm[:, 1], one])
            share += 0.5
            through += np.clip(share, 0.0, 1.0, out=share)
        through[self.bounces_x[:, 0] == 0] = 1.0
        return through


@dataclass(frozen=True)
class PickedRays:
    """Pairs of an image and an emitter that light joins, (r,), emitter by emitter."""

    images: OutlineImages
    image: IntArray
    emitter: IntArray
    through: RealArray  # share of the emitter's patch that is seen through the wedge [1]

    def summed(self, rays: RealArray, *, owner: IntArray, many: int) -> FloatArray:
        """Return rays (1, r) summed by point and fixture, (n, F) [as rays].

        `owner` (e,) which of `many` fixtures each emitter is of.
        """
        points = len(self.images.start)
        cell = self.images.row[self.image] * many + owner[self.emitter]
        whole = np.bincount(cell, weights=np.broadcast_to(rays, (1, len(cell)))[0],
                            minlength=points * many)  # fmt: skip
        return whole.reshape(points, many).astype(float)

    def dense(self, rays: RealArray, *, emitters: int) -> RealArray:
        """Return `rays` (1, r) in their places among all images and emitters, (k, e) [as rays]."""
        whole = np.zeros((len(self.images.row), emitters), rays.dtype)
        whole[self.image, self.emitter] = rays[0]
        return whole

    def by_point(self, by_x: RealArray, by_y: RealArray) -> tuple[RealArray, RealArray]:
        """Return derivatives by the points' x and y from those by their images', (1, r) each.

        `by_x` and `by_y` (1, r) [1/cm], which the answers are too.
        """
        turn = self.images.turn[self.image]
        return (
            turn[:, 0, 0] * by_x + turn[:, 1, 0] * by_y,
            turn[:, 0, 1] * by_x + turn[:, 1, 1] * by_y,
        )

    def mirrored(self, way: tuple[RealArray, RealArray], *, quality: float) -> RealArray:
        """Return what the panes leave of each ray, (1, r) [1].

        `way` sines of the rays' level parts in water along x and y, (1, r) each, before any pane;
        `quality` log of what each pane leaves beside Fresnel [1].
        """
        images, left = self.images, np.ones_like(way[0])
        ahead = np.stack([way[0][0], way[1][0]], axis=1)
        normals = images.outline.normals.astype(ahead.dtype)
        clear = ~images.dark
        for bounce in range(BOUNCES_MOST):
            pane = images.panes[self.image, bounce]
            hit = np.nonzero(pane != NO_PANE)[0]
            if not len(hit):
                break
            pane = pane[hit]
            toward = (ahead[hit] * normals[pane]).sum(axis=1)
            returned = look_up(FROM_WATER, np.clip(np.abs(toward), 0.0, 1.0))
            left[0, hit] *= returned * np.exp(quality) * clear[pane]
            ahead[hit] -= 2.0 * toward[:, None] * normals[pane]
        return left

    def legs(
        self, enter_x: RealArray, enter_y: RealArray
    ) -> list[tuple[IntArray, RealArray, RealArray, RealArray]]:
        """Return the straight parts of the rays' ways from the surface to the points.

        `enter_x`, `enter_y` (1, r) where they enter the water [cm]. Each part: which rays have it,
        where it begins and ends, (m, 2) each [cm], and the share of the ray's level way at its
        begin and end, (m, 2).
        """
        images = self.images
        at = np.stack([enter_x[0], enter_y[0]], axis=1)
        gone = np.zeros(len(at), at.dtype)
        who = np.arange(len(at))
        parts: list[tuple[IntArray, RealArray, RealArray, RealArray]] = []
        for bounce in range(BOUNCES_MOST + 1):
            aim = images.places[self.image[who], bounce].astype(at.dtype)
            pane = (
                images.panes[self.image[who], bounce]
                if bounce < BOUNCES_MOST
                else np.full(len(who), NO_PANE)
            )
            way = aim - at
            normals, offset = images.outline.normals[pane], images.outline.offsets[pane]
            speed = (normals * way).sum(axis=1)
            run = (offset - (normals * at).sum(axis=1)) / np.where(
                np.abs(speed) < 1e-9, 1e-9, speed
            )
            run = np.where(pane == NO_PANE, 1.0, np.clip(run, 0.0, 1.0)).astype(at.dtype)
            end, reached = at + way * run[:, None], gone + (1.0 - gone) * run
            parts.append((who, at, end, np.stack([gone, reached], axis=1)))
            on = pane != NO_PANE
            who, at, gone = who[on], end[on], reached[on]
            if not len(who):
                break
        return parts


def unfold_outline(points_cm: RealArray, tank: Tank) -> OutlineImages:
    """Return the OutlineImages of points that light from above can come to, in their precision.

    `points_cm` (n, 3) in the tank's frame [cm]; one outside the panes stands for the nearest
    place inside.
    """
    outline = tank.panes
    dark = dark_panes(tank, outline)
    places = off_panes(outline, points_cm[:, :2].astype(float))
    reach_cm = points_cm[:, 2].astype(float) * REACH_PER_DEPTH + BEYOND_CM
    generations = [unmirrored(places)]
    for _ in range(BOUNCES_MOST):
        grown = mirror_again(generations[-1], outline, reach_cm=reach_cm)
        generations.append(grown.among(~dark[grown.panes[:, 0]]))
    return collected(generations, points_cm, outline, dark)


def dark_panes(tank: Tank, outline: Outline) -> BoolArray:
    """Return which panes of a tank, as an outline has them, swallow the light, (p,)."""
    return outline.facing("back") & (tank.back_pane == "dark")


def off_panes(outline: Outline, places_cm: FloatArray) -> FloatArray:
    """Return `places_cm` (n, 2) moved into the outline, OFF_PANE_CM or more off its panes [cm]."""
    inside = outline.drawn_in(places_cm)
    middle = np.array(outline.middle_cm)
    room = outline.inside_cm(*middle)
    short = np.maximum(OFF_PANE_CM - outline.inside_cm(*inside.T), 0.0) / room
    moved: FloatArray = inside + (middle - inside) * short[:, None]
    return moved


def unmirrored(places_cm: FloatArray) -> Chains:
    """Return the Chains of places (n, 2) themselves."""
    many = len(places_cm)
    none = np.zeros((many, 2))
    return Chains(
        np.arange(many),
        places_cm[:, None, :],
        np.zeros((many, 0), int),
        none,
        none,
        np.tile(np.eye(2), (many, 1, 1)),
    )


def mirror_again(chains: Chains, outline: Outline, *, reach_cm: FloatArray) -> Chains:
    """Return Chains that meet one more pane before those they meet, all there are.

    `reach_cm` (n,) how far from a point its light enters the water at most.
    """
    which, pane = panes_ahead(chains, outline, reach_cm=reach_cm)
    old, normal = chains.among(which), outline.normals[pane]
    at = old.places[:, 0]
    inner = outline.offsets[pane] - (at * normal).sum(axis=1)
    right, left = unit(outline.begins[pane] - at), unit(outline.ends[pane] - at)
    if chains.panes.shape[1]:
        # Both wedges are seen from outside the panes, so all their ways lie within a half turn.
        right = np.where((cross(old.right, right) > 0.0)[:, None], right, old.right)
        left = np.where((cross(old.left, left) < 0.0)[:, None], left, old.left)
    square = (cross(right, normal) >= 0.0) & (cross(normal, left) >= 0.0)
    steepest = np.maximum((right * normal).sum(axis=1), (left * normal).sum(axis=1))
    steepest = np.where(square, 1.0, np.maximum(steepest, 1e-9))
    met = (cross(right, left) > WEDGE_LEAST) & (inner <= reach_cm[old.row] * steepest)
    old, normal, right, left = old.among(met), normal[met], right[met], left[met]
    pane = pane[met]
    image = old.places[:, 0] + 2.0 * inner[met][:, None] * normal
    mirror = np.eye(2) - 2.0 * normal[:, :, None] * normal[:, None, :]
    return Chains(
        old.row,
        np.concatenate([image[:, None], old.places], axis=1),
        np.concatenate([pane[:, None], old.panes], axis=1),
        mirrored_ways(left, normal),
        mirrored_ways(right, normal),
        mirror @ old.turn,
    )


def panes_ahead(
    chains: Chains, outline: Outline, *, reach_cm: FloatArray
) -> tuple[IntArray, IntArray]:
    """Return pairs (m,) of a chain and a pane that its wedge may show and its light may reach.

    `reach_cm` (n,) as in `mirror_again`.
    """
    at = chains.places[:, 0]
    inner = outline.offsets - at @ outline.normals.T
    near = (inner > 0.5 * OFF_PANE_CM) & (inner <= reach_cm[chains.row][:, None])
    if chains.panes.shape[1]:
        for (along, up), corners, sign in (
            (chains.right.T, outline.ends, 1.0),
            (chains.left.T, outline.begins, -1.0),
        ):
            aside = np.stack([-up, along, up * at[:, 0] - along * at[:, 1]], axis=1) * sign
            near &= aside @ np.append(corners, np.ones((len(corners), 1)), axis=1).T > 0.0
    which, pane = np.nonzero(near)
    return which, pane


def collected(
    generations: list[Chains], points_cm: RealArray, outline: Outline, dark: BoolArray
) -> OutlineImages:
    """Return the Chains of all numbers of mirrorings as one, sorted by point.

    `points_cm` (n, 3) in the tank's frame [cm], `dark` (p,) the panes that swallow light.
    """
    precision = points_cm.dtype
    padded = [padded_chains(chains) for chains in generations]
    row, places, panes, right, left, turn = (
        np.concatenate([getattr(chains, name) for chains in padded]) for name in vars(padded[0])
    )
    order = np.argsort(row, kind="stable")
    row, places, panes = row[order], places[order], panes[order]
    right, left, turn = (part[order].astype(precision) for part in (right, left, turn))
    bounces = (panes != NO_PANE).sum(axis=1)[:, None].astype(precision)
    still = np.zeros(len(row), int)
    return OutlineImages(
        row,
        np.searchsorted(row, np.arange(len(points_cm))),
        places[:, 0, :1].astype(precision),
        places[:, 0, 1:].astype(precision),
        points_cm[row, 2:],
        bounces,
        np.zeros_like(bounces),
        np.ones(len(row), precision),
        np.ones(len(row), precision),
        still,
        still,
        outline=outline,
        dark=dark,
        places=places,
        panes=panes,
        right=right,
        left=left,
        turn=turn,
    )


def padded_chains(chains: Chains) -> Chains:
    """Return Chains with room for BOUNCES_MOST panes each; the last place is repeated."""
    short = BOUNCES_MOST - chains.panes.shape[1]
    return Chains(
        chains.row,
        np.pad(chains.places, ((0, 0), (0, short), (0, 0)), mode="edge"),
        np.pad(chains.panes, ((0, 0), (0, short)), constant_values=NO_PANE),
        chains.right,
        chains.left,
        chains.turn,
    )


def cross(first: FloatArray, second: FloatArray) -> FloatArray:
    """Return the cross product (...) of level ways, above zero where the second is left.

    `first` (..., 2) and `second` (..., 2) in any units.
    """
    product: FloatArray = first[..., 0] * second[..., 1] - first[..., 1] * second[..., 0]
    return product


def unit(way: FloatArray) -> FloatArray:
    """Return each level `way` (..., 2), in any unit, at length 1, (..., 2)."""
    length = np.sqrt((way * way).sum(axis=-1, keepdims=True))
    ways: FloatArray = way / np.maximum(length, 1e-12)
    return ways


def mirrored_ways(way: FloatArray, normals: FloatArray) -> FloatArray:
    """Return each level `way` (k, 2) [1] after a pane with one of the `normals` (k, 2) [1]."""
    ways: FloatArray = way - 2.0 * (way * normals).sum(axis=-1, keepdims=True) * normals
    return ways
