"""How hard the shadows under a branch are: what one branch takes of the light behind it."""

import numpy as np

from apps.photics.ground.water import WATER_INDEX, slope_at_distance
from apps.photics.optics.bottom import bottom_return
from apps.photics.rig.rig import BOTTOM

# A branch a centimetre thick, three centimetres off, hides this half angle [degrees]: house rule.
BRANCH_HALF_DEG = float(np.degrees(np.arctan(0.5 / 3.0)))
# An emitter stands for a patch of the lit face, so the shadow's edge is drawn this soft [degrees].
EDGE_DEG = 4.0
# Ways a branch is laid across the light.
TURNS = 8


def branch_shadow(rig, theta, points_cm):
    """Return the share of the light one branch takes at points (n, 3), (n,) [1].

    The branch is straight and long, 1 cm thick and 3 cm off, and lies across the way to the
    fixture that gives most straight light; averaged over how it is turned about that way. Near 1
    the shadow is black, near 0 light from elsewhere fills it. Light from the bottom always does.
    """
    points = np.atleast_2d(np.asarray(points_cm, float))
    images, gain = rig.images(points), np.exp(rig.split(theta)[0])
    light = rig.ray_light(images, theta) * (rig.member * gain).sum(axis=1)
    way = ways_up(rig, images)
    back = np.exp(rig.split(theta)[2][BOTTOM]) * (bottom_return(points, rig) * gain).sum(axis=1)
    straight = (images.bounces_x + images.bounces_y)[:, 0] == 0
    ends = [*images.start[1:], len(images.row)]
    taken = []
    for k, (start, end) in enumerate(zip(images.start, ends, strict=True)):
        own, ways = light[start:end], way[start:end]
        toward = strongest_way(own, ways, straight[start:end], rig)
        hidden = np.mean([(own * covered(ways, n)).sum() for n in planes_through(toward)])
        taken.append(hidden / (own.sum() + back[k]))
    return np.array(taken)


def ways_up(rig, images):
    """Return the unit way in water from each image to each emitter, (k, e, 3), z up."""
    at = rig.place[rig.owner, :2] + rig.offset
    dx, dy = at[:, 0] - images.x_cm, at[:, 1] - images.y_cm
    away = np.hypot(dx, dy)
    height = np.maximum(rig.place[rig.owner, 2] + rig.rise, 1.0)
    slope = slope_at_distance(away, height_cm=height, depth_cm=images.depth_cm)
    sine = slope / np.sqrt(1.0 + slope * slope) / WATER_INDEX
    level = sine / np.maximum(away, 1e-9)
    # An image is the point seen in a pane: the way to it is mirrored back into the tank.
    return np.stack(
        [dx * level * images.sign_x[:, None], dy * level * images.sign_y[:, None],
         np.sqrt(1.0 - sine * sine)],
        axis=-1,
    )  # fmt: skip


def strongest_way(light, ways, straight, rig):
    """Return the mean way to the fixture that gives the most straight light at a point, (3,)."""
    each = light[straight] @ (rig.member > 0)
    fixture = int(each.sum(axis=0).argmax())
    own = rig.owner == fixture
    mean = (light[straight][:, own, None] * ways[straight][:, own]).sum(axis=(0, 1))
    far = np.linalg.norm(mean)
    # Where rock hides every fixture, a branch straight above is as good as any.
    return mean / far if far > 0 else np.array([0.0, 0.0, 1.0])


def planes_through(way):
    """Return the normals (TURNS, 3) of planes that hold a way: how a branch across it may lie."""
    first = np.cross(way, (1.0, 0.0, 0.0))
    first /= np.linalg.norm(first)
    second = np.cross(way, first)
    turns = np.arange(TURNS) / TURNS * np.pi
    return np.cos(turns)[:, None] * first + np.sin(turns)[:, None] * second


def covered(ways, normal):
    """Return how far ways (..., 3) lie behind a branch in the plane of a normal, 0 to 1."""
    off = np.degrees(np.arcsin(np.clip(np.abs(ways @ normal), 0.0, 1.0)))
    return np.clip(0.5 + (BRANCH_HALF_DEG - off) / EDGE_DEG, 0.0, 1.0)
