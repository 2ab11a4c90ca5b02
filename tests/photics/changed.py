"""The tanks of tests/data/changed_tanks as arrays: what a keeper knew, and the light after."""

import csv
import json
from dataclasses import dataclass, replace

import numpy as np

from apps.photics.ground.scene import Fixture, Tank
from tests.paths import DATA

FOLDER = DATA / "changed_tanks"
BACK_ON, NARROWER = "first on again", "raised, narrower"


@dataclass(frozen=True)
class Changed:
    """One change of one tank; light in umol m-2 s-1 at truth_points_cm (n, 3)."""

    name: str
    tank: Tank
    before: tuple[Fixture, ...]
    after: tuple[Fixture, ...]
    same_as: tuple[int | None, ...]
    points_cm: np.ndarray
    par_umol: np.ndarray
    truth_points_cm: np.ndarray
    truth_before_umol: np.ndarray
    truth_umol: np.ndarray
    same_family: bool  # the narrower optic is of the kind of the old one


def fixture_of(told):
    return Fixture(**{key: value for key, value in told.items() if key not in ("new", "same_as")})


def columns_of(path):
    """Return places (n, 3) and the other columns by their names."""
    with path.open(newline="") as lines:
        heading, *rows = csv.reader(lines)
    table = np.array(rows, float)
    return table[:, :3], {name: table[:, k] for k, name in enumerate(heading) if k > 2}


def changes_of(stem, folder=FOLDER):
    """Return every Changed of one tank by the stem of its files, such as "tank-1"."""
    box = json.loads((folder / f"{stem}.json").read_text())
    points, readings = columns_of(folder / f"{stem}-readings.csv")
    spots, truths = columns_of(folder / f"{stem}-truth.csv")
    back = "dark" if box["back_wall"] == "black" else "clear"
    tank = Tank(box["length_cm"], box["width_cm"], box["depth_cm"], back_pane=back)
    before = tuple(fixture_of(told) for told in box["fixtures"])
    old, new = box["optics"]
    known = (tank, points, spots, old == new)
    found = []
    for name, told in box["changes"].items():
        same_as = tuple(f["same_as"] - 1 if f.get("new") else None for f in told)
        after = tuple(fixture_of(f) for f in told)
        light = readings["par"], truths["before"], truths[name]
        found.append(changed(name, known, (before, after, same_as), light))
    first_off = (replace(before[0], level=0.0), *before[1:])
    # What the spots had with one off is the truth of another change.
    light = readings["par_first_off"], truths["one off"], truths["before"]
    found.append(changed(BACK_ON, known, (first_off, before, (None,) * len(before)), light))
    return found


def changed(name, known, rigs, light):
    tank, points, spots, same_family = known
    before, after, same_as = rigs
    par, truth_before, truth = light
    return Changed(
        name, tank, before, after, same_as, points, par, spots, truth_before, truth, same_family
    )


def all_changed(folder=FOLDER):
    """Return every Changed of every tank."""
    stems = sorted(path.stem for path in folder.glob("tank-*.json"))
    return [change for stem in stems for change in changes_of(stem, folder)]
