"""Tanks that are no boxes: the light of the rig against photons, and maps from readings.

`python -m tests.benchmarks.bench_shapes [worlds of each kind]`, 2 when left out. All in %.
"""

import sys
import time

import numpy as np

from apps.photics.field.light_field import fit_light_field
from apps.photics.ground.scene import Fixture, Tank
from apps.photics.rig.nominal import ATTENUATION, BOTTOM, EDGE, PANE, SPILL
from apps.photics.rig.rig import Rig

from .photon_world import Lamp, bare
from .shape_worlds import BOX, CORNER, KINDS, places, shape_world
from .shaped_photons import bow_front, cylinder, half_moon, polygon, trace_shaped

PHOTONS = 1 << 21
MANY = 300
QUIET = {"ripple": 0.03, "scattering": 0.001}


def forward_scenes():
    """Return (name, what bounds the photons, the tank as the app has it)."""
    corner = tuple((float(x), float(y)) for x, y in CORNER)
    box = tuple((float(x), float(y)) for x, y in BOX)
    return (
        ("box", polygon(BOX, 45, **QUIET), Tank(75, 48, 45)),
        (
            "box by its corners",
            polygon(BOX, 45, **QUIET),
            Tank(75, 48, 45, shape="outline", outline_cm=box),
        ),
        ("corner", polygon(CORNER, 45, **QUIET),
         Tank(60, 60, 45, shape="outline", outline_cm=corner)),
        ("cylinder", cylinder(27, 45, **QUIET), Tank(54, 54, 45, shape="cylinder")),
        ("bow front", bow_front(80, 45, 45, 12, **QUIET), Tank(80, 45, 45, shape="bow", bow_cm=12)),
        ("half round", half_moon(30, 45, **QUIET), Tank(60, 30, 45, shape="bow", bow_cm=29.5)),
    )  # fmt: skip


def print_forward():
    """Print how far the rig's light is from the photons', with nothing fitted but one scale."""
    print("light of one round lamp against photons: median and 90th percentile of the error")
    for name, box, tank in forward_scenes():
        x, y = tank.rim.middle_cm
        planes = np.linspace(4.0, 42.0, 12)
        at = places(box, planes, np.random.default_rng(3), MANY)
        rows = []
        for aside in (0.0, 8.0):
            lamp = Lamp(x + aside, y + aside / 4, 20, 14, 14, bare(100))
            truth = trace_shaped(box, lamp, planes, photons=PHOTONS, seed=1).at(at)
            rig = Rig(tank, [Fixture(x + aside, y + aside / 4, 20, 100, 14, 14)])
            theta = rig.nominal()
            shared = theta[4:]
            shared[[EDGE, SPILL, ATTENUATION]] = 1.0, -9.0, np.log(0.003)
            shared[[PANE, BOTTOM]] = np.log(0.98), np.log(0.2)
            misfit = np.log(truth) - rig.log_light_at(at, theta)[0]
            rows.append(100 * np.abs(np.expm1(misfit - np.median(misfit))))
        told = [f"{np.median(row):.1f} {np.quantile(row, 0.9):.1f}" for row in rows]
        print(f"{name:20}  over the middle {told[0]:9}  aside {told[1]}")


def score(world, tank, fixtures, rocks):
    """Return median error, coverage, width [%] and CPU [ms] of a map of a world."""
    begin = time.process_time()
    field = fit_light_field(
        world.readings[:, :3], world.readings[:, 3], tank=tank, fixtures=fixtures, rocks=rocks
    )
    spent = 1000 * (time.process_time() - begin)
    found, truth = field.at(world.truth[:, :3]), world.truth[:, 3]
    return (
        100 * np.median(np.abs(found.par_umol / truth - 1)),
        100 * np.mean((found.low_umol <= truth) & (truth <= found.high_umol)),
        100 * np.median((found.high_umol - found.low_umol) / found.par_umol),
        spent,
    )


def print_maps(many):
    """Print errors of maps as told, as the bounding box, and without fixtures."""
    print(f"\nmaps of 48 readings, {many} worlds of each kind: MdAPE, coverage, width, ms CPU")
    for kind in KINDS:
        rows = {"as it is": [], "as its box": [], "no fixtures": []}
        for seed in range(1, many + 1):
            world = shape_world(kind, seed=seed)
            told = world.described()
            sizes = told.tank.length_cm, told.tank.width_cm, told.tank.depth_cm
            box = Tank(*sizes, back_pane=told.tank.back_pane)
            rows["as it is"].append(score(world, told.tank, told.fixtures, told.rocks))
            rows["as its box"].append(score(world, box, told.fixtures, told.rocks))
            rows["no fixtures"].append(score(world, told.tank, (), told.rocks))
        means = {name: np.mean(row, axis=0) for name, row in rows.items()}
        told = [f"{name} {a:.1f} {b:.0f} {c:.0f} {d:.0f}" for name, (a, b, c, d) in means.items()]
        print(f"{kind:16} " + " | ".join(told), flush=True)


def main():
    """Print both tables."""
    print_forward()
    print_maps(int(sys.argv[1]) if len(sys.argv) > 1 else 2)


if __name__ == "__main__":
    main()
