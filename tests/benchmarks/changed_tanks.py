"""Tanks before and after a change of their light, lit by `photon_world`, as a keeper knows them.

`python -m tests.benchmarks.changed_tanks` makes tests/data/changed_tanks again (about twenty
minutes); the benchmark and the tests read what it wrote. A tank's `.json` has the box and, change
by change, the fixtures as the keeper wrote them down; its two `.csv` the readings and the truths.
"""

import json
import sys
from dataclasses import replace

import numpy as np

from tests.paths import DATA

from .changed_scenes import SCENES
from .photon_world import Lamp, trace

FOLDER = DATA / "changed_tanks"
PHOTONS = 1 << 22
# A keeper's errors: where a fixture hangs, where the probe was held [cm], what the meter reads
# [log], what a make's beam angle is off [log], how unlike two of one make are [log], how level a
# fixture hangs [slope].
PLACE_CM, PROBE_CM, METER, BEAM, ALIKE, TILT = 1.0, 1.0, 0.05, 0.06, 0.03, 0.01
# A lens passes on nearly all of its fixture's light [log mean, log deviation].
LENS_LOSS, LENS_SPREAD = -0.02, 0.03
METER_GAIN = 6.0e5
SPOTS, SPOT_LEVELS, SPOT_CM = 100, 6, 2.0
RAISED_CM, MOVED_CM, LEVELS = 33.0, 17.0, (0.4, 0.8, 0.6)


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
        *rest, last = range(len(lamps))
        found = {
            "raised": (raised, [f | high for f in told]),
            "raised, narrower": (
                [self.lensed(lamp) for lamp in raised],
                [f | high | narrow for f in told],
            ),
            "narrower on one": (
                [*(lamps[k] for k in rest), self.lensed(lamps[last])],
                [*(told[k] for k in rest), told[last] | narrow],
            ),
            "one off": self.dimmed(0.0, *(1.0 for _ in rest)),
            "levels": self.dimmed(*LEVELS[: len(lamps)]),
        }
        if scene.added:
            new = self.wrote(*scene.added) | {"new": True, "same_as": 1}
            found["one added"] = [*lamps, self.hung(*scene.added)], [*told, new]
        if scene.over_rock is not None:
            found["moved over rock"] = self.moved(scene.over_rock, scene.way * MOVED_CM)
        return found

    def dimmed(self, *levels):
        """Return the lamps and fixtures at levels."""
        lamps = [
            replace(lamp, output=lamp.output * level)
            for lamp, level in zip(self.lamps, levels, strict=True)
        ]
        return lamps, [f | {"level": level} for f, level in zip(self.told, levels, strict=True)]

    def moved(self, number, by_cm):
        """Return the lamps and fixtures with one hung further along; the tape is off again."""
        lamps, told = list(self.lamps), list(self.told)
        x = lamps[number].x_cm + by_cm + 0.5 * self.rng.normal()
        lamps[number] = replace(lamps[number], x_cm=x)
        told[number] = told[number] | {"x_cm": told[number]["x_cm"] + by_cm}
        return lamps, told


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
    """Trace the tank of one number and write its three files."""
    scene, rng = SCENES[number], np.random.default_rng(1000 + number)
    hanging = Hanging(scene, rng)
    said, held = reading_places(scene, rng)
    spots = truth_places(scene, rng)
    traced = Traced(scene.box, held, spots)
    noise = np.exp(rng.normal(0, METER, (2, len(said))))
    lit, before = traced.light(hanging.lamps)
    alone = traced.light(hanging.lamps[1:])[0]
    changes = hanging.changes()
    truths = {name: traced.light(lamps)[1] for name, (lamps, _) in changes.items()}
    FOLDER.mkdir(exist_ok=True)
    stem = FOLDER / f"tank-{number + 1}"
    stem.with_suffix(".json").write_text(json.dumps(record_of(hanging, changes)) + "\n")
    # A meter shows whole numbers, and in the dark at least 1.
    read = np.maximum(np.stack([lit, alone]) * noise, 1.0)
    readings = {"par": read[0], "par_first_off": read[1]}
    write_table(stem.with_name(f"{stem.name}-readings.csv"), said, readings, "{:.0f}")
    write_table(
        stem.with_name(f"{stem.name}-truth.csv"), spots, {"before": before} | truths, "{:.3g}"
    )


def record_of(hanging, changes):
    """Return what the keeper tells of a tank, and of each change, as JSON has it."""
    scene, box = hanging.scene, hanging.scene.box
    return {
        "length_cm": box.length_cm,
        "width_cm": box.width_cm,
        "depth_cm": box.depth_cm,
        "back_wall": "black" if box.dark_back else "glass",
        "optics": [scene.optic.__name__, scene.fitted.__name__],
        "fixtures": hanging.told,
        "changes": {name: fixtures for name, (_, fixtures) in changes.items()},
    }


def write_table(path, points, columns, form):
    """Write places and columns of light as comma-separated lines."""
    lines = [",".join(["x_cm", "y_cm", "depth_cm", *(f'"{name}"' for name in columns)])]
    for point, *light in zip(points, *columns.values(), strict=True):
        cells = [f"{value:g}" for value in point]
        lines.append(",".join([*cells, *(form.format(value) for value in light)]))
    path.write_text("\n".join(lines) + "\n")


def main():
    for number in [int(n) - 1 for n in sys.argv[1:]] or range(len(SCENES)):
        make(number)
        print(f"tank {number + 1} of {len(SCENES)}", flush=True)


if __name__ == "__main__":
    main()
