"""Tanks that are no plain boxes, lit by `shaped_photons`, as a keeper knows them.

    from tests.benchmarks.shape_worlds import KINDS, shape_world
    world = shape_world("cylinder", seed=3)

`KINDS` are the kinds of tank by name, `shape_world(kind, seed=..., readings=..., truths=...,
photons=...)` makes one ShapeWorld, the same for the same arguments, in 3 to 20 seconds of CPU:

- `tank`: what the keeper says, a dict as TANK.json of `fit_field`, fixtures included;
- `readings` (n, 4): x, y, depth [cm] as written down, and what the meter read [umol m-2 s-1];
- `truth` (m, 4): other places of the water and their true PAR;
- `described()`: the TankFile of `tank`, read by the app as a file would be: `.tank`, `.fixtures`,
  `.rocks`.

Each has errors of a keeper: where and how level fixtures hang, their true beam, how unlike they
are, where the probe was and what the meter makes of it; its scale is that of the truth, so that
coverage counts all. `python -m tests.benchmarks.shape_worlds` makes tests/data/shaped_tanks again.
"""

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from apps.lightmap.field_files import read_tank
from tests.paths import DATA

from .photon_world import Lamp, bare, lens, reflector
from .shaped_photons import (
    ShapedBox,
    bow_front,
    cylinder,
    half_moon,
    margin,
    polygon,
    trace_shaped,
    trace_window,
)

FOLDER = DATA / "shaped_tanks"
PHOTONS = 1 << 20
READINGS, TRUTHS = 48, 300
# A keeper's errors: where a fixture hangs, where the probe was held [cm], what the meter reads
# [log], what a make's beam angle is off [log], how unlike two of one make are [log], how level a
# fixture hangs [slope].
PLACE_CM, PROBE_CM, METER, BEAM, ALIKE, TILT = 1.0, 0.7, 0.05, 0.06, 0.03, 0.01
# How far what a keeper says of a window is off [log].
TOLD = 0.1
PLANES = 14
# Nobody reads and nothing is asked closer to glass and rock than this [cm].
CLEAR_CM = 2.0
MEDIAN_UMOL = 180.0
SEA = {"ripple": 0.05, "scattering": 0.003, "absorption": 0.003}
CORNER = ((0, 60), (0, 0), (25, 0), (60, 35), (60, 60))
BOX = ((0, 0), (75, 0), (75, 48), (0, 48))


@dataclass(frozen=True)
class Kind:
    """What one kind of tank is like; `tank` is what a keeper says of it, without fixtures."""

    box: ShapedBox
    tank: dict
    lamps: tuple  # (x, y) each
    height_cm: float
    optic: Callable
    beam_deg: float
    face_cm: float
    window_plane: int | None = None


def sides(box, **more):
    """Return the bounding box as a keeper says it, and more."""
    return {
        "length_cm": float(box.length_cm), "width_cm": float(box.width_cm),
        "depth_cm": float(box.depth_cm), "back_wall": "black" if box.dark_planes else "glass",
    } | more  # fmt: skip


def brace(x, y, length, width, transmission):
    """Return a brace as a keeper says it."""
    names = ("x_cm", "y_cm", "length_cm", "width_cm", "transmission")
    return dict(zip(names, (x, y, length, width, transmission), strict=True))


def kinds():
    """Return the Kind of every name."""
    round_tank, wide = cylinder(27, 45, **SEA), cylinder(38, 55, **SEA)
    bow = bow_front(90, 50, 48, 12, **SEA)
    moon = half_moon(40, 45, dark_planes=(0,), **SEA)
    corner = polygon(CORNER, 50, **SEA)
    braces = ((0, 0, 75, 5, 0.8), (0, 43, 75, 5, 0.8), (34, 5, 7, 38, 0.8))
    lid = polygon(BOX, 45, braces=braces, cover=0.85, **SEA)
    overflow = polygon(BOX, 45, rocks=(((52, 30, 0), (75, 48, 45)),), rock=0.05, **SEA)
    daylit = polygon(BOX, 45, **SEA)
    return {
        "cylinder": Kind(
            round_tank, sides(round_tank, shape="cylinder", radius_cm=27.0),
            ((18, 27), (36, 27)), 20, lens, 80, 14,
        ),
        "wide cylinder": Kind(
            wide, sides(wide, shape="cylinder", radius_cm=38.0),
            ((25, 38), (51, 38)), 25, bare, 115, 20,
        ),
        "bow front": Kind(
            bow, sides(bow, shape="bow", bow_cm=12.0), ((23, 28), (67, 28)), 22, lens, 90, 18,
        ),
        "half moon": Kind(
            moon, sides(moon, shape="outline", outline_cm=moon_corners(40.0)),
            ((26, 25), (54, 25)), 20, reflector, 85, 14,
        ),
        "corner": Kind(
            corner, sides(corner, shape="outline", outline_cm=[list(c) for c in CORNER]),
            ((19, 35), (37, 38)), 20, reflector, 80, 14,
        ),
        "braces and lid": Kind(
            lid, sides(lid, braces=[brace(*b) for b in braces], cover_transmission=0.85),
            ((20, 24), (55, 24)), 20, lens, 90, 14,
        ),
        "window": Kind(
            daylit, sides(daylit, window={"side": "left", "par_umol": 25.0}),
            ((20, 24), (55, 24)), 20, lens, 80, 20, window_plane=3,
        ),
        "overflow": Kind(
            overflow,
            sides(overflow, overflow={"x_cm": 52, "y_cm": 30, "depth_cm": 0,
                                      "length_cm": 23, "width_cm": 18, "height_cm": 45}),
            ((20, 22), (52, 22)), 20, lens, 80, 18,
        ),
    }  # fmt: skip


def moon_corners(radius_cm, panes=16):
    """Return a half moon as a keeper draws it: the flat back and corners on the curve."""
    turns = np.linspace(np.pi, 2.0 * np.pi, panes + 1)
    x, y = radius_cm * (1.0 + np.cos(turns)), radius_cm * (1.0 + np.sin(turns))
    return [[round(float(a), 2), round(float(b), 2)] for a, b in zip(x, y, strict=True)]


KINDS = tuple(kinds())


@dataclass(frozen=True)
class ShapeWorld:
    """One tank as its keeper says it, and what is true of its light."""

    kind: str
    tank: dict
    readings: np.ndarray
    truth: np.ndarray

    def described(self):
        """Return the TankFile that the app reads from what the keeper says."""
        with TemporaryDirectory() as folder:
            path = Path(folder) / "tank.json"
            path.write_text(json.dumps(self.tank))
            return read_tank(path)


def shape_world(kind, *, seed=0, readings=READINGS, truths=TRUTHS, photons=PHOTONS):
    """Return the ShapeWorld of a kind; see the module."""
    scene = kinds()[kind]
    rng = np.random.default_rng([KINDS.index(kind), seed])
    planes = np.linspace(3.0, scene.box.depth_cm - 3.0, PLANES)
    at = places(scene.box, planes, rng, readings + truths)
    beam = scene.beam_deg * np.exp(rng.normal(0, BEAM))
    light, fixtures = 0.0, []
    for x, y in scene.lamps:
        off = rng.normal(0, PLACE_CM, 3)
        lamp = Lamp(
            x + off[0], y + off[1], scene.height_cm + off[2], scene.face_cm, scene.face_cm,
            scene.optic(beam), np.exp(rng.normal(0, ALIKE)), tilt=tuple(rng.normal(0, TILT, 2)),
        )  # fmt: skip
        tally = trace_shaped(scene.box, lamp, planes, photons=photons, seed=int(rng.integers(1e9)))
        light = light + tally.at(at)
        fixtures.append(
            {"x_cm": x, "y_cm": y, "height_cm": scene.height_cm, "beam_deg": scene.beam_deg,
             "panel_x_cm": scene.face_cm, "panel_y_cm": scene.face_cm}
        )  # fmt: skip
    light = light * (MEDIAN_UMOL / np.median(light))
    if scene.window_plane is not None:
        light = light + daylight(scene, planes, at, rng, photons)
    written = at[:readings] + rng.normal(0, PROBE_CM, (readings, 3))
    written = np.clip(written, 0.0, [scene.box.length_cm, scene.box.width_cm, scene.box.depth_cm])
    read = light[:readings] * np.exp(rng.normal(0, METER, readings))
    return ShapeWorld(
        kind,
        scene.tank | {"fixtures": fixtures},
        np.column_stack([written, read]).round(2),
        np.column_stack([at, light])[readings:].round(2),
    )


def places(box, planes, rng, many):
    """Return places of the water on the planes, clear of glass and rock, (many, 3)."""
    chosen = []
    while len(chosen) < many:
        at = np.array(
            [rng.uniform(0, box.length_cm), rng.uniform(0, box.width_cm), rng.choice(planes)]
        )
        in_rock = any(
            (at > np.array(low) - CLEAR_CM).all() and (at < np.array(high) + CLEAR_CM).all()
            for low, high in box.rocks
        )
        if margin(box, *at[:2]) > CLEAR_CM and not in_rock:
            chosen.append(at)
    return np.array(chosen)


def daylight(scene, planes, at, rng, photons):
    """Return the light of the window at places (n, 3), near what the keeper says of it."""
    tally = trace_window(
        scene.box, scene.window_plane, planes, photons=photons, seed=int(rng.integers(1e9))
    )
    beside = np.array([[3.0, scene.box.width_cm / 2.0, planes[PLANES // 2]]])
    said = scene.tank["window"]["par_umol"] * np.exp(rng.normal(0, TOLD))
    return tally.at(at) / tally.at(beside, radius_cm=2.5)[0] * said


def load_shaped(kind, folder=FOLDER):
    """Return the stored ShapeWorld of a kind."""
    stem = kind.replace(" ", "_")
    tank = json.loads((folder / f"{stem}.json").read_text())
    readings, truth = (
        np.loadtxt(folder / f"{stem}_{what}.csv", delimiter=",", skiprows=1)
        for what in ("readings", "truth")
    )
    return ShapeWorld(kind, tank, readings, truth)


def store(world, folder=FOLDER):
    """Write a ShapeWorld as the files that `load_shaped` reads."""
    folder.mkdir(exist_ok=True)
    stem = world.kind.replace(" ", "_")
    (folder / f"{stem}.json").write_text(json.dumps(world.tank, indent=1) + "\n")
    for what in ("readings", "truth"):
        np.savetxt(
            folder / f"{stem}_{what}.csv", getattr(world, what), "%.2f", ",",
            header="x_cm,y_cm,depth_cm,par_umol", comments="",
        )  # fmt: skip


def main():
    """Make tests/data/shaped_tanks again."""
    for kind in KINDS:
        store(shape_world(kind, truths=150))
        print(kind, flush=True)


if __name__ == "__main__":
    main()
