"""How hard the shadows under a branch are: what one branch takes of the light behind it."""

import numpy as np

from apps.photics.ground.arrays import ArrayLike, BoolArray, FloatArray, RealArray
from apps.photics.ground.water import WATER_INDEX, slope_at_distance
from apps.photics.optics.beam import Images
from apps.photics.optics.bottom import bottom_return
from apps.photics.rig.nominal import BOTTOM
from apps.photics.rig.rig import Rig

# A branch a centimetre thick, three centimetres off, hides this half angle [degrees]: chosen, as a
# staghorn's branch stands over the next.
BRANCH_HALF_DEG = float(np.degrees(np.arctan(0.5 / 3.0)))
# An emitter stands for a patch of the lit face, so the shadow's edge is drawn this soft [degrees]:
# chosen, because emitters a few cm apart and 20-40 cm up lie so far from each other.
EDGE_DEG = 4.0
# In how many directions a branch is laid across the light: chosen, because more change little.
TURNS = 8


def branch_shadow(rig: Rig, theta: FloatArray, points_cm: ArrayLike) -> FloatArray:
    """Return the share of the light that one branch takes at points, (n,) [1].

    `theta` (4 F + 8,) the rig's parameters, `points_cm` (n, 3) or (3,) in the tank's frame [cm].
    The branch is straight and long, 1 cm thick and 3 cm off, and lies across the direction to the
    fixture that gives most straight light; averaged over how it is turned about that. Near 1
    the shadow is black, near 0 light from elsewhere fills it. Light from the bottom always does. By
    geometry alone, the branch being our own choice.
    """
    points = np.atleast_2d(np.asarray(points_cm, float))
    images, gain = rig.images(points), np.exp(rig.split(theta)[0])
    light = rig.ray_light(images, theta) * (rig.member * gain).sum(axis=1)
    directions = directions_up(rig, images)
    back = np.exp(rig.split(theta)[2][BOTTOM]) * (bottom_return(points, rig) * gain).sum(axis=1)
    straight = (images.bounces_x + images.bounces_y)[:, 0] == 0
    ends = [*images.start[1:], len(images.row)]
    taken = []
    for k, (start, end) in enumerate(zip(images.start, ends, strict=True)):
        own, up = light[start:end], directions[start:end]
        toward = strongest_direction(rig, own, up, straight[start:end])
        hidden = np.mean([(own * covered(up, n)).sum() for n in planes_through(toward)])
        taken.append(hidden / (own.sum() + back[k]))
    return np.array(taken)


def directions_up(rig: Rig, images: Images) -> RealArray:
    """Return the unit ray direction in water from each image to each emitter, (k, e, 3) [1], z up.

    Bent at the surface by Snell's law.
    """
    at = rig.place[rig.owner, :2] + rig.offset
    dx, dy = at[:, 0] - images.x_cm, at[:, 1] - images.y_cm
    away = np.hypot(dx, dy)
    height = np.maximum(rig.place[rig.owner, 2] + rig.rise, 1.0)
    slope = slope_at_distance(away, height_cm=height, depth_cm=images.depth_cm)
    sine = slope / np.sqrt(1.0 + slope * slope) / WATER_INDEX
    level = sine / np.maximum(away, 1e-9)
    # An image is the point seen in a pane: the direction to it is mirrored back into the tank.
    return np.stack(
        [dx * level * images.sign_x[:, None], dy * level * images.sign_y[:, None],
         np.sqrt(1.0 - sine * sine)],
        axis=-1,
    )  # fmt: skip


def strongest_direction(
    rig: Rig, light: RealArray, directions: RealArray, straight: BoolArray
) -> RealArray:
    """Return the mean direction to the fixture that gives the most straight light, (3,) [1].

    Of one point with k images: `light` (k, e) along its rays, their `directions` (k, e, 3) [1], and
    whether an image is the point itself, `straight` (k,).
    """
    each = light[straight] @ (rig.member > 0)
    fixture = int(each.sum(axis=0).argmax())
    own = rig.owner == fixture
    mean = (light[straight][:, own, None] * directions[straight][:, own]).sum(axis=(0, 1))
    far = np.linalg.norm(mean)
    # Where rock hides every fixture, a branch straight above is as good as any.
    return mean / far if far > 0 else np.array([0.0, 0.0, 1.0])


def planes_through(direction: RealArray) -> RealArray:
    """Return the normals (TURNS, 3) of planes that hold a direction (3,), all of length 1 [1].

    They are how a branch may lie, turned evenly, by geometry.
    """
    first = np.cross(direction, (1.0, 0.0, 0.0))
    first /= np.linalg.norm(first)
    second = np.cross(direction, first)
    turns = np.arange(TURNS) / TURNS * np.pi
    normals: RealArray = np.cos(turns)[:, None] * first + np.sin(turns)[:, None] * second
    return normals


def covered(directions: RealArray, normal: RealArray) -> RealArray:
    """Return how far directions (..., 3) lie behind a branch in a plane, (...), 0 to 1 [1].

    `normal` (3,) is the plane's, of length 1 [1].
    """
    off = np.degrees(np.arcsin(np.clip(np.abs(directions @ normal), 0.0, 1.0)))
    hidden: RealArray = np.clip(0.5 + (BRANCH_HALF_DEG - off) / EDGE_DEG, 0.0, 1.0)
    return hidden
