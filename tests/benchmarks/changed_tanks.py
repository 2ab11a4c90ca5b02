"""Tanks before and after a change of their light, lit by `photon_world`, as a keeper knows them.

`python -m tests.benchmarks.changed_tanks` makes tests/data/changed_tanks again (about half an
hour); the benchmark and the tests read what it wrote. A file pair a tank: `.json` has the box and,
change by change, the fixtures as the keeper wrote them down; `.csv` the readings and the truths.
"""

import json
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from .photon_world import Box, Lamp, bare, lens, reflector, trace

FOLDER = Path(__file__).resolve().parents[1] / "data" / "changed_tanks"
PHOTONS = 1 << 22
# A keeper's errors: where a fixture hangs, where the probe was held [cm], what the meter reads
# [log], what a make's beam angle is off [log], how unlike two of one make are [log], how level a
# fixture hangs [slope].
PLACE_CM, PROBE_CM, METER, BEAM, ALIKE, TILT = 1.0, 1.0, 0.05, 0.06, 0.03, 0.01
# A lens passes on nearly all of its fixture's light [log mean, log deviation].
LENS_LOSS, LENS_SPREAD = -0.02, 0.03
METER_GAIN = 6.0e5
SPOTS, SPOT_LEVELS, SPOT_CM = 100, 6, 2.0
RAISED_CM, MOVED_CM = 33.0, 17.0


@dataclass(frozen=True)
class Scene:
    """What is invented for one tank; beams are those a box would print."""

    box: Box
    lamps: tuple  # (x, y) of each, where the keeper meant to hang them
    height_cm: float
    face_cm: tuple
    optic: object
    beam_deg: float
    fitted: object  # the narrower optic
    fitted_deg: float
    readings: tuple  # columns, rows, levels
    round_face: bool = False
    added: tuple | None = None  # where one more like the first is hung
    over_rock: int | None = None  # the fixture that is moved along x, and which way
    way: int = 1


def rock(x, y, top, length, width, depth):
    """Return a rock on the bottom by its corner, the depth of its top and its sides [cm]."""
    return (float(x), float(y), float(top)), (float(x + length), float(y + width), float(depth))


SCENES = (
    Scene(
        Box(60, 45, 42, bottom=0.35, ripple=0.05, rocks=(rock(34, 20, 24, 16, 14, 42),)),
        ((20, 22), (42, 23)),
        20.0,
        (14, 14),
        bare,
        120,
        lens,
        60,
        (4, 3, 3),
        round_face=True,
        over_rock=1,
        way=-1,
    ),
    Scene(
        Box(60, 60, 50, 1.34, 0.004, 0.004, dark_back=True, rocks=(rock(10, 30, 30, 18, 20, 50),)),
        ((18, 30), (42, 30)),
        20.0,
        (18, 18),
        lens,
        90,
        lens,
        55,
        (3, 3, 3),
        added=(30, 14),
        over_rock=0,
    ),
    Scene(
        Box(90, 45, 45, 1.34, 0.002, 0.003, ripple=0.07, bottom=0.4, rocks=()),
        ((23, 22), (67, 22)),
        20.0,
        (25, 25),
        bare,
        110,
        reflector,
        50,
        (5, 3, 3),
        added=(45, 22),
        over_rock=1,
        way=-1,
    ),
    Scene(
        Box(
            90,
            60,
            52,
            1.34,
            0.004,
            0.006,
            dark_back=True,
            bottom=0.1,
            rocks=(rock(12, 28, 28, 22, 20, 52), rock(58, 32, 22, 16, 16, 52)),
        ),
        ((23, 30), (68, 30)),
        20.0,
        (36, 14),
        reflector,
        80,
        lens,
        55,
        (5, 3, 4),
        over_rock=0,
    ),
    Scene(
        Box(120, 50, 48, 1.34, 0.003, 0.002, pane=0.95, rocks=(rock(48, 22, 26, 24, 18, 48),)),
        ((20, 25), (60, 25), (100, 25)),
        20.0,
        (18, 18),
        lens,
        100,
        lens,
        60,
        (5, 3, 3),
        over_rock=2,
        way=-1,
    ),
    Scene(
        Box(
            120,
            60,
            56,
            1.34,
            0.005,
            0.004,
            dark_back=True,
            ripple=0.03,
            rocks=(rock(20, 30, 30, 26, 20, 56), rock(80, 24, 36, 22, 24, 56)),
        ),
        ((30, 30), (90, 30)),
        20.0,
        (36, 14),
        reflector,
        95,
        reflector,
        60,
        (5, 3, 4),
        added=(60, 30),
    ),
    Scene(
        Box(75, 50, 45, 1.34, 0.003, 0.008, bottom=0.5, rocks=(rock(26, 24, 26, 20, 18, 45),)),
        ((19, 25), (56, 25)),
        20.0,
        (20, 20),
        bare,
        90,
        lens,
        55,
        (4, 3, 3),
        round_face=True,
        over_rock=0,
    ),
    Scene(
        Box(
            150,
            60,
            58,
            1.34,
            0.003,
            0.003,
            ripple=0.06,
            bottom=0.15,
            rocks=(rock(30, 28, 30, 30, 20, 58), rock(96, 30, 38, 30, 22, 58)),
        ),
        ((25, 30), (75, 30), (125, 30)),
        20.0,
        (22, 22),
        lens,
        80,
        reflector,
        50,
        (6, 3, 3),
    ),
)


class Hanging:
    """A scene's lamps as they truly hang, and the fixtures its keeper believes in."""

    def __init__(self, scene, rng):
        self.scene, self.rng = scene, rng
        self.beam = scene.beam_deg * np.exp(rng.normal(0, BEAM))
        self.fitted = scene.fitted_deg * np.exp(rng.normal(0, BEAM))
        self.passed = np.exp(rng.normal(LENS_LOSS, LENS_SPREAD))
        self.lamps = [self.hung(*place) for place in scene.lamps]
        self.told = [self.wrote(*place) for place in scene.lamps]

    def hung(self, x, y):
        """Return a lamp of the scene's make hung near a place."""
        scene, off = self.scene, self.rng.normal(0, PLACE_CM, 3)
        return Lamp(
            x + off[0],
            y + off[1],
            scene.height_cm + off[2],
            *scene.face_cm,
            scene.optic(self.beam),
            np.exp(self.rng.normal(0, ALIKE)),
            scene.round_face,
            tuple(self.rng.normal(0, TILT, 2)),
        )

    def wrote(self, x, y):
        """Return a fixture as a keeper writes it down."""
        scene = self.scene
        return {
            "x_cm": x,
            "y_cm": y,
            "height_cm": scene.height_cm,
            "beam_deg": scene.beam_deg,
            "panel_x_cm": scene.face_cm[0],
            "panel_y_cm": scene.face_cm[1],
            "kind": "puck" if scene.round_face else "panel",
        }

    def raised(self, lamp):
        """Return a lamp hung higher; half of the new error of its height is the old one."""
        old = lamp.height_cm - self.scene.height_cm
        return replace(
            lamp, height_cm=RAISED_CM + 0.5 * old + self.rng.normal(0, np.sqrt(0.75) * PLACE_CM)
        )

    def lensed(self, lamp):
        """Return a lamp under the scene's narrower optic."""
        return replace(lamp, optic=self.scene.fitted(self.fitted), output=lamp.output * self.passed)

    def changes(self):
        """Return for each change the lamps and fixtures after it, in one order."""
        lamps, told, scene = self.lamps, self.told, self.scene
        narrow, high = {"beam_deg": scene.fitted_deg}, {"height_cm": RAISED_CM}
        raised = [self.raised(lamp) for lamp in lamps]
        last = len(lamps) - 1
        levels = [0.4, 0.8, 0.6][: len(lamps)]
        found = {
            "raised": (raised, [f | high for f in told]),
            "raised, narrower": (
                [self.lensed(lamp) for lamp in raised],
                [f | high | narrow for f in told],
            ),
            "narrower on one": (
                [*lamps[:last], self.lensed(lamps[last])],
                [*told[:last], told[last] | narrow],
            ),
            "one off": (
                [replace(lamps[0], output=0.0), *lamps[1:]],
                [told[0] | {"level": 0.0}, *told[1:]],
            ),
            "levels": (
                [
                    replace(lamp, output=lamp.output * share)
                    for lamp, share in zip(lamps, levels, strict=True)
                ],
                [f | {"level": share} for f, share in zip(told, levels, strict=True)],
            ),
        }
        if scene.added:
            found["one added"] = (
                [*lamps, self.hung(*scene.added)],
                [*told, self.wrote(*scene.added) | {"new": True, "same_as": 1}],
            )
        if scene.over_rock is not None:
            k = scene.over_rock
            by = scene.way * MOVED_CM
            x, y = lamps[k].x_cm + by + 0.5 * self.rng.normal(), lamps[k].y_cm
            moved = replace(lamps[k], x_cm=x, y_cm=y)
            found["moved over rock"] = (
                [*lamps[:k], moved, *lamps[k + 1 :]],
                [*told[:k], told[k] | {"x_cm": told[k]["x_cm"] + by}, *told[k + 1 :]],
            )
        return found


def open_water(box, points):
    """Return which points (n, 3) lie in no rock."""
    inside = np.zeros(len(points), bool)
    for low, high in box.rocks:
        inside |= ((points > np.array(low) - 0.5) & (points < np.array(high) + 0.5)).all(axis=1)
    return ~inside


def reading_places(scene, rng):
    """Return where readings are said to be and where the probe was held, (n, 3) each [cm]."""
    box, (columns, rows, levels) = scene.box, scene.readings
    axes = (
        np.linspace(0.12, 0.88, columns) * box.length_cm,
        np.linspace(0.16, 0.84, rows) * box.width_cm,
        np.linspace(0.14, 0.8, levels) * box.depth_cm,
    )
    said = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3).round()
    held = said + rng.normal(0, PROBE_CM, said.shape)
    # Planes are counted at whole centimetres.
    held[:, 2] = held[:, 2].round()
    sizes = np.array([box.length_cm, box.width_cm, box.depth_cm])
    held = np.clip(held, 1.5, sizes - 1.5)
    held[:, 2] = held[:, 2].round()
    free = open_water(box, held) & open_water(box, said)
    return said[free], held[free]


def truth_places(scene, rng):
    """Return spots of open water on a few levels, (n, 3) [cm]."""
    box = scene.box
    levels = np.linspace(0.1, 0.9, SPOT_LEVELS) * box.depth_cm
    spots = np.column_stack(
        [
            rng.uniform(2.5, box.length_cm - 2.5, 4 * SPOTS).round(),
            rng.uniform(2.5, box.width_cm - 2.5, 4 * SPOTS).round(),
            rng.choice(levels.round(), 4 * SPOTS),
        ]
    )
    return spots[open_water(box, spots)][:SPOTS]


class Traced:
    """Light of lamps at the places of one tank, each lamp traced once at full output."""

    def __init__(self, box, held, spots):
        self.box, self.held, self.spots, self.known = box, held, spots, {}
        self.planes = np.unique(np.concatenate([held[:, 2], spots[:, 2]]))

    def light(self, lamps):
        """Return PAR of lamps at the probe's places and at the spots."""
        total = [np.zeros(len(self.held)), np.zeros(len(self.spots))]
        for lamp in lamps:
            if not lamp.output:
                continue
            key = (lamp.x_cm, lamp.y_cm, lamp.height_cm, lamp.optic.tobytes())
            if key not in self.known:
                seed = len(self.known) + 1
                tally = trace(
                    self.box, replace(lamp, output=1.0), self.planes, photons=PHOTONS, seed=seed
                )
                self.known[key] = tally.at(self.held, 1.5), tally.at(self.spots, SPOT_CM)
            for k in range(2):
                total[k] = total[k] + METER_GAIN * lamp.output * self.known[key][k]
        return total


def make(number):
    """Trace the tank of one number and write its two files."""
    scene, rng = SCENES[number], np.random.default_rng(1000 + number)
    hanging = Hanging(scene, rng)
    said, held = reading_places(scene, rng)
    spots = truth_places(scene, rng)
    traced = Traced(scene.box, held, spots)
    noise = np.exp(rng.normal(0, METER, (2, len(said))))
    lit, before = traced.light(hanging.lamps)
    alone = traced.light(hanging.lamps[1:])[0]
    readings = {"par": lit * noise[0], "par_first_off": alone * noise[1]}
    changes = hanging.changes()
    truths = {"before": before} | {
        name: traced.light(lamps)[1] for name, (lamps, _) in changes.items()
    }
    box = scene.box
    record = {
        "length_cm": box.length_cm,
        "width_cm": box.width_cm,
        "depth_cm": box.depth_cm,
        "back_wall": "black" if box.dark_back else "glass",
        "optics": [scene.optic.__name__, scene.fitted.__name__],
        "fixtures": hanging.told,
        "changes": {name: fixtures for name, (_, fixtures) in changes.items()},
    }
    FOLDER.mkdir(exist_ok=True)
    stem = FOLDER / f"tank-{number + 1}"
    stem.with_suffix(".json").write_text(json.dumps(record) + "\n")
    write_table(stem.with_name(f"{stem.name}-readings.csv"), said, readings)
    write_table(stem.with_name(f"{stem.name}-truth.csv"), spots, truths)


def write_table(path, points, columns):
    """Write places and columns as comma-separated lines, light to 3 digits or whole numbers."""
    lines = [",".join(["x_cm", "y_cm", "depth_cm", *(f'"{name}"' for name in columns)])]
    for k, point in enumerate(points):
        cells = [f"{value:g}" for value in point]
        cells += [
            f"{max(v[k], 1.0):.0f}" if "par" in columns else f"{v[k]:.3g}" for v in columns.values()
        ]
        lines.append(",".join(cells))
    path.write_text("\n".join(lines) + "\n")


def main():
    for number in [int(n) - 1 for n in sys.argv[1:]] or range(len(SCENES)):
        make(number)
        print(f"tank {number + 1} of {len(SCENES)}", flush=True)


if __name__ == "__main__":
    main()
