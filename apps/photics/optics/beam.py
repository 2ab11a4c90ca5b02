"""Light of fixtures in a glass box of water: emitters, beams, pane images, the diffuse bottom.

Every fixture is a set of emitters over its lit face. From each emitter one ray per pane image
reaches a point: the box is unfolded at its panes, so a ray that is mirrored twice is a straight
ray to the point's image two boxes away. Lengths are in cm, so PAR comes per cm2 of a source with
axial intensity 1; the calibration's gain carries the unit.
"""

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from scipy.sparse import csr_array

from apps.photics.ground.arrays import ArrayLike, FloatArray, IntArray, RealArray
from apps.photics.ground.scene import Fixture, Tank
from apps.photics.ground.water import WATER_INDEX, fresnel
from apps.photics.optics.shade import REACH_PER_DEPTH, Blocks, fold_positions

# A plain float, because one of numpy would lift single precision to double.
LN2 = math.log(2.0)
# What Snell's law adds to the tangent's square; exact.
BEND = WATER_INDEX**2 - 1.0
# Nodes of the tables below [1]: chosen, because 1,024 steps of them are fine against a meter.
# A side pane of glass with air behind reflects like water against air: the pane's thickness
# shifts the ray but not the critical angle.
COSINES = np.linspace(0.0, 1.0, 1025)
FROM_WATER = fresnel(COSINES, index_from=WATER_INDEX, index_to=1.0)
LOG_INTO_WATER = np.log(
    np.maximum(1.0 - fresnel(COSINES, index_from=1.0, index_to=WATER_INDEX), 1e-12)
)
SLOPE_INTO_WATER = np.gradient(LOG_INTO_WATER, COSINES)
# Emitters are no further apart than this, nor than the width of a narrow beam NARROW_AT_CM below,
# nor need they be nearer than PITCH_LEAST_CM [cm]; and no more than so many a side. Chosen, because
# closer ones change the light in the water little and cost time.
EMITTER_PITCH_CM = 12.0
NARROW_AT_CM = 30.0
PITCH_LEAST_CM = 2.0
EMITTERS_PER_SIDE = 5
# Faces whose emitters are remembered: chosen, because a rig is laid out for every change of a
# history.
FACES = 256
# Share of light a dark pane still mirrors is taken as none; image boxes further off than this are
# left out: chosen, because their light met a pane four times and is dim.
IMAGES = 3
# No emitter is nearer to the water [cm]: chosen, because light close to a point has no bound.
HEIGHT_FLOOR_CM = 1.0


def look_up(table: FloatArray, cosines: RealArray) -> RealArray:
    """Return a table straight between its nodes, of the shape and precision of the cosines [1].

    Chosen linear, because its steps are fine against a meter.

    `table` over COSINES; `cosines` 0 to 1, any shape [1].
    """
    at = cosines * (len(COSINES) - 1)
    node = np.minimum(at.astype(np.int32), len(COSINES) - 2)
    table = table.astype(cosines.dtype)
    # Whole numbers would lift single precision to double.
    beyond = at - node.astype(at.dtype)
    between: RealArray = table[node] + beyond * (table[1:] - table[:-1])[node]
    return between


def half_logcos(beam_deg: ArrayLike) -> FloatArray:
    """Return -ln cos of half the beam, the width in the scale of `intensity`, of its shape [1].

    `beam_deg` full width at half maximum, scalar or array, above 0 and below 180 [degrees].
    """
    width: FloatArray = -np.log(np.cos(np.radians(np.asarray(beam_deg, float) / 2.0)))
    return width


def intensity(cos_air: RealArray, *, half: float, edge: float, spill: float) -> RealArray:
    """Return the angular intensity of an emitter, 1 + spill straight down, (...) [1].

    `cos_air` cosine of the angle from the axis, (...), 0 to 1 [1]; `half` the beam by
    `half_logcos`, `edge` and `spill` above zero [1]. With u = -ln cos(a): a core
    exp(-ln2 (u / half)^edge) and a spill of cos(a). Our own choice: an edge of 1 is
    the plain cos^m of a bare diode; 2 is the flat top and sharp shoulder of a lens or reflector;
    the spill is what either sends astray.
    """
    u = np.maximum(-np.log(np.maximum(cos_air, 1e-12)), 1e-12)
    light: RealArray = np.exp(-LN2 * (u / half) ** edge) + spill * cos_air
    return light


@dataclass(frozen=True)
class Face:
    """Emitters over a lit face [cm]; shared by all fixtures alike, so nobody writes into it."""

    offset: FloatArray  # (e, 2) level, from the fixture's middle
    rise: FloatArray  # (e,) above its middle, where the face is tilted
    cell: FloatArray  # (2,) what one emitter stands for, seen from above


def lay_emitters(fixture: Fixture) -> Face:
    """Return the Face of a fixture: a grid of emitters over its lit face, in cm."""
    return laid_face(
        fixture.kind,
        beam_deg=fixture.beam_deg,
        panel_x_cm=fixture.panel_x_cm,
        panel_y_cm=fixture.panel_y_cm,
        turn_deg=fixture.turn_deg,
        tilt_deg=fixture.tilt_deg,
    )


@lru_cache(maxsize=FACES)
def laid_face(
    kind: str,
    *,
    beam_deg: float,
    panel_x_cm: float,
    panel_y_cm: float,
    turn_deg: float,
    tilt_deg: float,
) -> Face:
    """Return what `lay_emitters` does, by what it depends on.

    `kind`, `beam_deg` [degrees], `panel_x_cm` and `panel_y_cm` [cm], `turn_deg` and `tilt_deg`
    [degrees] are a Fixture's.
    """
    narrow = NARROW_AT_CM * np.tan(np.radians(min(beam_deg, 90.0) / 2.0))
    pitch = min(EMITTER_PITCH_CM, max(narrow, PITCH_LEAST_CM))
    size = np.array([panel_x_cm, panel_y_cm])
    count = np.clip(np.ceil(size / pitch), 1, EMITTERS_PER_SIDE).astype(int)
    along = [((np.arange(n) + 0.5) / n - 0.5) * s for n, s in zip(count, size, strict=True)]
    offsets = np.stack(np.meshgrid(*along, indexing="ij"), axis=-1).reshape(-1, 2)
    cell = size / count
    if kind == "puck":
        # A square's emitters drawn in to a round face of the same width.
        offsets = offsets * np.sqrt(np.pi) / 2.0
        cell = cell * np.sqrt(np.pi) / 2.0
    turn, tilt = np.radians(turn_deg), np.radians(tilt_deg)
    # Tilted about its length, its width is foreshortened and one long edge goes up.
    rise = offsets[:, 1] * np.sin(tilt)
    seen = np.array([1.0, np.cos(tilt)])
    rotate = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return Face((offsets * seen) @ rotate.T, rise, np.abs(rotate) @ (cell * seen))


@dataclass(frozen=True)
class Images:
    """Points and their images in the unfolded box, sorted by point."""

    row: IntArray  # (k,) which point
    start: IntArray  # (n,) first image of each point
    x_cm: RealArray  # (k, 1)
    y_cm: RealArray  # (k, 1)
    depth_cm: RealArray  # (k, 1)
    bounces_x: RealArray  # (k, 1) mirrorings at the left and right panes [1]
    bounces_y: RealArray  # (k, 1) at the front and back panes [1]
    sign_x: RealArray  # (k,) -1 where the image is a mirrored one [1]
    sign_y: RealArray  # (k,) [1]
    box_x: IntArray  # (k,) number of the image box along x, 0 for the tank itself
    box_y: IntArray  # (k,)
    blocks: Blocks | None = None  # the rocks that may stand in the way

    def summed(self, rays: RealArray) -> RealArray:
        """Return rays (k,) or (k, e) summed over each point's images, (n,) or (n, e) [as rays]."""
        summed: RealArray = self._sums @ rays
        return summed

    @cached_property
    def _sums(self) -> csr_array:
        """The sums as a sparse product: in a fifth of the time of numpy's sums over slices."""
        many = len(self.row)
        ends = np.append(self.start, many)
        ones = np.ones(many, self.x_cm.dtype)
        return csr_array((ones, np.arange(many), ends), shape=(len(self.start), many))


def back_bounces(image: int) -> int:
    """Return how often a ray to image box number `image` in y meets the back pane."""
    return (image + 1) // 2 if image > 0 else -image // 2


def unfold(points_cm: RealArray, tank: Tank) -> Images:
    """Return the Images of points that light from above can come to, in their precision.

    `points_cm` (n, 3) in the tank's frame [cm]. The method of images: mirrored panes
    unfold the box.
    """
    x, y, depth = points_cm.T
    limit2 = (depth * REACH_PER_DEPTH + 2.0) ** 2
    rows = []
    for i in range(-IMAGES, IMAGES + 1):
        at_x = fold_positions(x, size_cm=tank.length_cm, image=i)
        out_x = np.maximum(0.0, np.maximum(-at_x, at_x - tank.length_cm))
        # Far boxes are near few points: only these are asked about along the width.
        some = np.nonzero((out_x**2 <= limit2) | (i == 0))[0]
        if not len(some):
            continue
        left2 = limit2[some] - out_x[some] ** 2
        for j in range(-IMAGES, IMAGES + 1):
            if tank.back_pane == "dark" and back_bounces(j):
                continue
            at_y = fold_positions(y[some], size_cm=tank.width_cm, image=j)
            out_y = np.maximum(0.0, np.maximum(-at_y, at_y - tank.width_cm))
            is_near = (out_y**2 <= left2) | ((i == 0) & (j == 0))
            near = some[is_near]
            many = len(near)
            rows.append((near, at_x[near], at_y[is_near], np.full(many, i), np.full(many, j)))
    joined = [np.concatenate(part) for part in zip(*rows, strict=True)]
    order = np.argsort(joined[0], kind="stable")
    row, at_x, at_y, box_x, box_y = (part[order] for part in joined)
    start = np.searchsorted(row, np.arange(len(points_cm)))
    return Images(
        row,
        start,
        at_x[:, None],
        at_y[:, None],
        depth[row][:, None],
        np.abs(box_x)[:, None].astype(x.dtype),
        np.abs(box_y)[:, None].astype(x.dtype),
        np.where(box_x % 2 == 0, 1.0, -1.0).astype(x.dtype),
        np.where(box_y % 2 == 0, 1.0, -1.0).astype(x.dtype),
        box_x,
        box_y,
    )
