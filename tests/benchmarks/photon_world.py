"""Photons followed one by one through a tank: a world that knows nothing of the app's own model.

Depth z runs downward from the water, so a direction with uz > 0 goes down. Photons carry a weight;
what every pane, the bottom, rocks and the water take of it stands in a ledger. PAR is the weight
that crosses level planes downward, per cm2: the planar downwelling light a cosine sensor reads.
"""

from dataclasses import dataclass, field

import numpy as np
from scipy.special import expit
from scipy.stats import qmc

# Photons followed at once, and the weight below which one is given up [share of its first].
BATCH = 1 << 17
LEAST_WEIGHT = 2e-3
ROUNDS = 120
ANGLES = np.linspace(0.0, np.pi / 2.0, 2001)
CELL_CM = 1.0


# Optics: angular intensity over ANGLES, of any scale.


def bare(beam_deg, spill=0.0):
    """Return the lobe cos^m of a diode without a lens, with a share of light spilt all round."""
    power = np.log(0.5) / np.log(np.cos(np.radians(beam_deg / 2.0)))
    return with_spill(np.cos(ANGLES) ** power, spill)


def lens(beam_deg, spill=0.08, softness=0.11):
    """Return a flat top with a soft shoulder, and the light the lens spills."""
    half = np.radians(beam_deg / 2.0)
    return with_spill(expit((1.0 - ANGLES / half) / softness), spill)


def reflector(beam_deg, spill=0.2, cutoff_deg=62.0):
    """Return a bell round the axis, and the diode's own light as far as the rim lets it out."""
    half = np.radians(beam_deg / 2.0)
    rim = expit((np.radians(cutoff_deg) - ANGLES) / 0.06)
    return with_spill(np.exp(-np.log(2.0) * (ANGLES / half) ** 2), spill, np.cos(ANGLES) * rim)


def with_spill(core, share, spilt=None):
    """Return a core with a share of the whole light spilt as `spilt`, a cosine when None."""
    spilt = np.cos(ANGLES) if spilt is None else spilt
    light = np.sin(ANGLES)
    core, spilt = core / (core * light).sum(), spilt / (spilt * light).sum()
    return (1.0 - share) * core + share * spilt


@dataclass(frozen=True)
class Lamp:
    """A lit face at its true place [cm] with its true optic and output [photons of weight 1]."""

    x_cm: float
    y_cm: float
    height_cm: float
    face_x_cm: float
    face_y_cm: float
    optic: np.ndarray  # intensity over ANGLES
    output: float = 1.0
    round_face: bool = False
    tilt: tuple[float, float] = (0.0, 0.0)  # slopes of the axis along x and y


@dataclass(frozen=True)
class Box:
    """A tank of water with all that swallows, scatters and mirrors in it; lengths in cm."""

    length_cm: float
    width_cm: float
    depth_cm: float
    index: float = 1.34
    absorption: float = 0.003  # per cm
    scattering: float = 0.003  # per cm
    forward: float = 0.92  # mean cosine of a scattering (Henyey & Greenstein 1941)
    ripple: float = 0.05  # deviation of the surface's slope
    pane: float = 0.98  # share a film on the panes leaves of each mirroring
    dark_back: bool = False
    bottom: float = 0.2  # share the bottom returns, diffuse
    rocks: tuple = ()  # boxes ((x, y, z), (x, y, z)), low and high corners
    rock: float = 0.12  # share a rock returns, diffuse


@dataclass
class Tally:
    """Light through level planes, in cells of CELL_CM, and the ledger of where the rest went."""

    box: Box
    planes_cm: np.ndarray
    light: np.ndarray = None
    ledger: dict = field(default_factory=dict)

    def __post_init__(self):
        self.nx, self.ny = (
            int(np.ceil(side / CELL_CM)) for side in (self.box.length_cm, self.box.width_cm)
        )
        self.light = np.zeros(len(self.planes_cm) * self.nx * self.ny)

    def book(self, name, weight):
        """Enter weight taken by what `name` says."""
        self.ledger[name] = self.ledger.get(name, 0.0) + float(weight.sum())

    def cross(self, at, way, weight, length):
        """Count the photons that cross planes downward on the next `length` of their way."""
        down = np.nonzero(way[2] > 0.0)[0]
        z, uz = at[2][down], way[2][down]
        first = np.searchsorted(self.planes_cm, z, side="right")
        last = np.searchsorted(self.planes_cm, z + uz * length[down], side="right")
        many = last - first
        who = np.repeat(np.arange(len(down)), many)
        if not len(who):
            return
        plane = first[who] + np.arange(len(who)) - np.repeat(np.cumsum(many) - many, many)
        run = (self.planes_cm[plane] - z[who]) / uz[who]
        who = down[who]
        ix = np.clip(((at[0][who] + way[0][who] * run) / CELL_CM).astype(int), 0, self.nx - 1)
        iy = np.clip(((at[1][who] + way[1][who] * run) / CELL_CM).astype(int), 0, self.ny - 1)
        left = weight[who] * np.exp(-self.box.absorption * run)
        self.light += np.bincount(
            (plane * self.ny + iy) * self.nx + ix, weights=left, minlength=len(self.light)
        )

    def at(self, points_cm, radius_cm=1.5):
        """Return PAR at points (n, 3) on the planes, averaged over a level disc, (n,)."""
        points = np.asarray(points_cm, float)
        turn = np.arange(80) * np.pi * (3.0 - np.sqrt(5.0))
        out = radius_cm * np.sqrt((np.arange(80) + 0.5) / 80)
        x = points[:, :1] + out * np.cos(turn)
        y = points[:, 1:2] + out * np.sin(turn)
        ix = np.clip((x / CELL_CM).astype(int), 0, self.nx - 1)
        iy = np.clip((y / CELL_CM).astype(int), 0, self.ny - 1)
        plane = np.abs(self.planes_cm[None, :] - points[:, 2:]).argmin(axis=1)[:, None]
        return self.light[(plane * self.ny + iy) * self.nx + ix].mean(axis=1) / CELL_CM**2


def trace(box, lamp, planes_cm, *, photons, seed):
    """Return the Tally of one lamp over a box, its output shared by so many photons."""
    tally = Tally(box, np.asarray(planes_cm, float))
    rng = np.random.default_rng(seed)
    dice = qmc.Sobol(6, seed=rng)
    for begin in range(0, photons, BATCH):
        # Spread evenly over face and sky: only what happens in the water is left to chance.
        throws = dice.random(min(BATCH, photons - begin))
        at, way = shine(lamp, throws)
        weight = np.full(len(throws), lamp.output / photons)
        least = LEAST_WEIGHT * lamp.output / photons
        follow(box, tally, rng, *enter(box, tally, at, way, weight, throws[:, 4:]), least)
    return tally


def shine(lamp, throws):
    """Return where photons leave the lamp and which way they go, (3, n) each."""
    a, b = throws[:, 0], throws[:, 1]
    if lamp.round_face:
        out, turn = 0.5 * np.sqrt(a), 2.0 * np.pi * b
        x, y = out * np.cos(turn), out * np.sin(turn)
    else:
        x, y = a - 0.5, b - 0.5
    step = lamp.optic * np.sin(ANGLES)
    whole = np.concatenate([[0.0], np.cumsum(0.5 * (step[1:] + step[:-1]))])
    angle = np.interp(throws[:, 2] * whole[-1], whole, ANGLES)
    turn = 2.0 * np.pi * throws[:, 3]
    way = np.stack([np.sin(angle) * np.cos(turn), np.sin(angle) * np.sin(turn), np.cos(angle)])
    if any(lamp.tilt):
        axis = np.array([[lamp.tilt[0]], [lamp.tilt[1]], [1.0]])
        way = turned(way, np.repeat(axis / np.linalg.norm(axis), way.shape[1], axis=1))
    at = np.stack(
        [
            lamp.x_cm + lamp.face_x_cm * x,
            lamp.y_cm + lamp.face_y_cm * y,
            np.full(len(x), -lamp.height_cm),
        ]
    )
    return at, way


def turned(way, axis):
    """Return directions (3, n), told against straight down, told against an axis (3, n)."""
    ux, uy, uz = axis
    side = np.sqrt(np.maximum(1.0 - uz * uz, 0.0))
    flat = side < 1e-9
    safe = np.where(flat, 1.0, side)
    x, y, z = way
    sign = np.where(uz < 0.0, -1.0, 1.0)
    return np.stack(
        [
            np.where(flat, x, (ux * uz * x - uy * y) / safe + ux * z),
            np.where(flat, y, (uy * uz * x + ux * y) / safe + uy * z),
            np.where(flat, sign * z, -side * x + uz * z),
        ]
    )


def enter(box, tally, at, way, weight, throws):
    """Bring photons from the air through the surface: places, ways and weights in the water."""
    going = way[2] > 1e-6
    run = np.where(going, -at[2] / np.where(going, way[2], 1.0), 0.0)
    x, y = at[0] + way[0] * run, at[1] + way[1] * run
    meets = going & (x > 0) & (x < box.length_cm) & (y > 0) & (y < box.width_cm)
    tally.book("beside the tank", weight[~meets])
    x, y, way, weight = x[meets], y[meets], way[:, meets], weight[meets]
    normal = rippled(box, -1.0, normal_throws(throws[meets]))
    bent, mirrored = refract(way, normal, 1.0, box.index)
    bent[2] = np.maximum(bent[2], 1e-3)
    tally.book("mirrored by the surface", weight * mirrored)
    return np.stack([x, y, np.zeros(len(x))]), bent, weight * (1.0 - mirrored)


def normal_throws(throws):
    """Return two independent normal numbers from two even ones (n, 2) -> (2, n)."""
    out = np.sqrt(-2.0 * np.log(np.maximum(throws[:, 0], 1e-12)))
    return out * np.cos(2 * np.pi * throws[:, 1]), out * np.sin(2 * np.pi * throws[:, 1])


def rippled(box, side, slopes):
    """Return unit normals (3, n) of the moving surface that look up (-1) or down (1)."""
    normal = np.stack(
        [box.ripple * slopes[0], box.ripple * slopes[1], np.full(len(slopes[0]), side)]
    )
    return normal / np.linalg.norm(normal, axis=0)


def refract(way, normal, index_from, index_to):
    """Return ways after an interface (3, n) and the share mirrored, by Snell and Fresnel (n,)."""
    cos_in = np.clip(-(way * normal).sum(axis=0), 1e-6, 1.0)
    ratio = index_from / index_to
    sin2 = ratio**2 * (1.0 - cos_in**2)
    total = sin2 >= 1.0
    cos_out = np.sqrt(np.where(total, 0.0, 1.0 - sin2))
    across = (index_from * cos_in - index_to * cos_out) / (index_from * cos_in + index_to * cos_out)
    along = (index_to * cos_in - index_from * cos_out) / (index_to * cos_in + index_from * cos_out)
    mirrored = np.where(total, 1.0, 0.5 * (across**2 + along**2))
    bent = ratio * way + (ratio * cos_in - cos_out) * normal
    return bent / np.linalg.norm(bent, axis=0), mirrored


def follow(box, tally, rng, at, way, weight, least):
    """Follow photons in the water until the ledger has them all."""
    sizes = np.array([box.length_cm, box.width_cm, box.depth_cm])
    for _ in range(ROUNDS):
        lives = weight > least
        tally.book("given up", weight[~lives])
        at, way, weight = at[:, lives], way[:, lives], weight[lives]
        if not len(weight):
            return
        runs = np.stack([to_side(at[k], way[k], sizes[k]) for k in range(3)])
        stones, faces = to_rocks(box, at, way)
        free = rng.exponential(1.0, len(weight)) / max(box.scattering, 1e-12)
        runs = np.concatenate([runs, stones[None], free[None]])
        event = runs.argmin(axis=0)
        length = runs.min(axis=0)
        tally.cross(at, way, weight, length)
        left = weight * np.exp(-box.absorption * length)
        tally.book("water", weight - left)
        at, weight = at + way * length, left
        for k, meet in enumerate((at_side, at_side, at_level, at_rock, at_scatter)):
            who = np.nonzero(event == k)[0]
            if len(who):
                axis = faces[who] if k == 3 else k
                new, kept = meet(box, tally, rng, at[:, who], way[:, who], weight[who], axis)
                way[:, who], weight[who] = new, kept
        at = np.clip(at, 0.0, sizes[:, None])
    tally.book("given up", weight)


def to_side(at, way, size):
    """Return the run to the box's end that lies ahead along one axis."""
    with np.errstate(divide="ignore"):
        run = np.where(way > 0.0, size - at, at) / np.abs(way)
    return np.where(way == 0.0, np.inf, run)


def to_rocks(box, at, way):
    """Return the run to the first rock ahead and the face met: axis + 1, signed by its normal."""
    run, face = np.full(at.shape[1], np.inf), np.zeros(at.shape[1], int)
    safe = np.where(np.abs(way) < 1e-12, 1e-12, way)
    for low, high in box.rocks:
        ends = [(np.array(end, float)[:, None] - at) / safe for end in (low, high)]
        near, far = np.minimum(*ends), np.maximum(*ends)
        axis, enters = near.argmax(axis=0), near.max(axis=0)
        # From a face the photon starts at run 0: only rocks ahead are met.
        hit = (enters < far.min(axis=0)) & (enters > 1e-9) & (enters < run)
        run = np.where(hit, enters, run)
        sign = -np.sign(np.take_along_axis(safe, axis[None], axis=0)[0])
        face = np.where(hit, (axis + 1) * sign, face).astype(int)
    return run, face


def at_side(box, tally, rng, at, way, weight, axis):
    """Mirror photons at a side pane: water against the air behind the glass."""
    cosine = np.abs(way[axis])
    sin2 = box.index**2 * (1.0 - cosine**2)
    out = np.sqrt(np.maximum(1.0 - sin2, 0.0))
    across = (box.index * cosine - out) / (box.index * cosine + out)
    along = (cosine - box.index * out) / (cosine + box.index * out)
    share = np.where(sin2 >= 1.0, 1.0, 0.5 * (across**2 + along**2)) * box.pane
    if axis == 1 and box.dark_back:
        share = np.where(way[1] > 0.0, 0.0, share)
    tally.book("panes", weight * (1.0 - share))
    way = way.copy()
    way[axis] = -way[axis]
    return way, weight * share


def at_level(box, tally, rng, at, way, weight, axis):
    """Send photons back from the bottom, diffuse, or from under the moving surface, mirrored."""
    down = way[2] > 0.0
    up = diffuse(rng, len(weight))
    up[2] = -up[2]
    normal = rippled(box, 1.0, rng.normal(size=(2, len(weight))))
    # A slope the photon could not meet from below is as good as none.
    cosine = np.maximum(-(way * normal).sum(axis=0), 1e-6)
    mirrored = refract(way, normal, box.index, 1.0)[1]
    back = way + 2.0 * cosine * normal
    back[2] = np.maximum(np.abs(back[2]), 1e-3)
    back /= np.linalg.norm(back, axis=0)
    share = np.where(down, box.bottom, mirrored)
    tally.book("bottom", (weight * (1.0 - share))[down])
    tally.book("out of the surface", (weight * (1.0 - share))[~down])
    return np.where(down, up, back), weight * share


def at_rock(box, tally, rng, at, way, weight, face):
    """Send photons back from a rock's face, diffuse."""
    tally.book("rocks", weight * (1.0 - box.rock))
    axis = np.zeros_like(way)
    axis[np.abs(face) - 1, np.arange(len(face))] = np.sign(face)
    return turned(diffuse(rng, len(weight)), axis), weight * box.rock


def at_scatter(box, tally, rng, at, way, weight, axis):
    """Turn photons that the water scatters."""
    return turned(scattered(rng, box.forward, len(weight)), way), weight


def scattered(rng, forward, many):
    """Return ways (3, n) after a scattering of straight-down photons: Henyey and Greenstein's."""
    cosine = 1.0 - 2.0 * rng.random(many)
    if forward:
        part = (1.0 - forward**2) / (1.0 - forward + 2.0 * forward * rng.random(many))
        cosine = (1.0 + forward**2 - part**2) / (2.0 * forward)
    return around(rng, cosine)


def diffuse(rng, many):
    """Return ways (3, n) of a cosine law round straight down."""
    return around(rng, np.sqrt(rng.random(many)))


def around(rng, cosine):
    """Return ways (3, n) of these cosines to straight down, all round."""
    sine, turn = np.sqrt(np.maximum(1.0 - cosine**2, 0.0)), rng.uniform(0, 2 * np.pi, len(cosine))
    return np.stack([sine * np.cos(turn), sine * np.sin(turn), cosine])
