"""The twelve traced tanks as arrays, for tests and the bench."""

import json
from dataclasses import dataclass

import numpy as np

from apps.photics.ground.scene import Fixture, Tank
from tests.paths import DATA

FOLDER = DATA / "traced_tanks"


@dataclass(frozen=True)
class TracedTank:
    name: str
    tank: Tank
    fixtures: tuple[Fixture, ...]
    points_cm: np.ndarray
    par_umol: np.ndarray
    truth_points_cm: np.ndarray
    truth_umol: np.ndarray


def load_traced(name, folder=FOLDER):
    """Return one traced tank by its folder name."""
    box = json.loads((folder / name / "tank.json").read_text())
    back = "dark" if box["back_wall"] == "black" else "clear"
    readings, truth = (
        np.genfromtxt(folder / name / f, delimiter=",", skip_header=1)
        for f in ("readings.csv", "truth.csv")
    )
    return TracedTank(
        name,
        Tank(box["length_cm"], box["width_cm"], box["depth_cm"], back_pane=back),
        tuple(Fixture(**fixture) for fixture in box["fixtures"]),
        readings[:, :3],
        readings[:, 3],
        truth[:, :3],
        truth[:, 3],
    )


def all_traced(folder=FOLDER):
    """Return every traced tank in the order of their names."""
    return [load_traced(path.name, folder) for path in sorted(folder.glob("case-*"))]
