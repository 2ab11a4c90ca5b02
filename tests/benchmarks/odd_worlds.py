"""Tanks that are not the field's model: each kind breaks one of its assumptions.

Every kind is `CASES` invented tanks lit by `photon_world`, which shares no code with the app, and
read by a keeper with the usual errors (probe 1 cm off, 5 % noise, fixtures 1 cm and 6 % of beam
off). What is odd is in the kind's name; what the keeper tells is a plain tank.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from apps.photics.ground.scene import Fixture, Rock, Tank

from .photon_world import ANGLES, Box, Lamp, bare, lens, reflector, trace

PHOTONS = 1 << 20
CASES = 3
PROBE_CM, PLACE_CM, METER, BEAM, ALIKE = 1.0, 1.0, 0.05, 0.06, 0.03
METER_GAIN = 2.4e6
SPOTS = 150
SIZES = ((60, 45, 42), (90, 50, 48), (120, 60, 55))
GRIDS = ((4, 3, 3), (5, 3, 3), (6, 3, 3))
FAMILIES = ((bare, 120.0), (lens, 75.0), (reflector, 80.0))


@dataclass(frozen=True)
class OddCase:
    """One tank as told and as it is; light in umol m-2 s-1."""

    kind: str
    tank: Tank
    fixtures: tuple[Fixture, ...]
    rocks: tuple[Rock, ...]
    points_cm: np.ndarray  # (n, 3)
    par_umol: np.ndarray  # (n,)
    truth_points_cm: np.ndarray  # (m, 3)
    truth_umol: np.ndarray  # (m,)
    # Stated deviation of the meter's scale; the readings are of the scale that is right.
    meter_percent: float = 0.0


@dataclass(frozen=True)
class Oddness:
    """What sets a kind apart from a plain tank."""

    rounded_rock: bool = False
    rock_told: bool = False
    ripple: float = 0.05
    ring: bool = False
    two_colours: bool = False
    probe_cm: float = PROBE_CM
    meter_scale: float = 0.0  # its deviation [log]
    one_tilted: float = 0.0  # slope of the first lamp's axis


KINDS = {
    "plain": Oddness(),
    "rock, told as its box": Oddness(rounded_rock=True, rock_told=True),
    "rock, not told": Oddness(rounded_rock=True),
    "pump ripple": Oddness(ripple=0.16),
    "optic with a ring": Oddness(ring=True),
    "beam by colour": Oddness(two_colours=True),
    "probe 2.5 cm off": Oddness(probe_cm=2.5),
    "meter's scale 8 % off": Oddness(meter_scale=0.08),
    "one fixture tilted 4 degrees": Oddness(one_tilted=0.07),
}


def odd_cases(kind: str) -> Iterator[OddCase]:
    """Yield the OddCases of one of KINDS, the same ones each time."""
    for number in range(CASES):
        yield make(kind, number)


def ringed(optic: np.ndarray) -> np.ndarray:
    """Return an optic (2001,) with a ring of light round its core, as a bad lens throws."""
    half = ANGLES[np.argmax(optic < 0.5 * optic[0])]
    return optic + 0.35 * optic[0] * np.exp(-(((ANGLES - 1.45 * half) / (0.16 * half)) ** 2))


def rounded(x: float, y: float, top: float, side: float, floor: float) -> list:
    """Return a mound as four boxes, each (low, high), that narrow upward within one box."""
    steps = []
    for k in range(4):
        inset = side * (0.04, 0.12, 0.22, 0.34)[3 - k] if k else side * 0.34
        at = top + (floor - top) * k / 4.0
        low = (x + inset, y + inset, at)
        steps.append((low, (x + side - inset, y + side - inset, floor)))
    return steps


def make(kind: str, number: int) -> OddCase:
    """Return one OddCase of a kind by its number."""
    odd = KINDS[kind]
    rng = np.random.default_rng([7, number])
    size = np.array(SIZES[number], float)
    family, beam = FAMILIES[number]
    rocks, told = [], ()
    if odd.rounded_rock:
        side, top = 18.0, 0.45 * size[2]
        x, y = 0.55 * size[0], 0.3 * size[1]
        rocks = rounded(x, y, top, side, size[2])
        if odd.rock_told:
            told = (Rock(x, y, top, side, side, size[2] - top),)
    box = Box(*size, ripple=odd.ripple, bottom=0.25, rocks=tuple(rocks), dark_back=number == 1)
    lamps, fixtures = hung(odd, size, family, beam, rng)
    said, held = reading_places(size, GRIDS[number], odd.probe_cm, rng)
    free = open_water(rocks, said) & open_water(rocks, held)
    said, held = said[free], held[free]
    spots = spots_in(size, rng)
    spots = spots[open_water(rocks, spots)]
    planes = np.unique(np.concatenate([held[:, 2], spots[:, 2]]))
    light = [np.zeros(len(held)), np.zeros(len(spots))]
    for k, lamp in enumerate(lamps):
        tally = trace(box, lamp, planes, photons=PHOTONS, seed=100 * number + k)
        for i, places in enumerate((held, spots)):
            light[i] += METER_GAIN * tally.at(places, 1.5 if i == 0 else 2.0)
    noise = np.exp(rng.normal(0, METER, len(held)))
    par = np.maximum(np.round(light[0] * noise), 1.0)
    tank = Tank(*size, back_pane="dark" if number == 1 else "clear")
    return OddCase(kind, tank, fixtures, told, said, par, spots, light[1], 100.0 * odd.meter_scale)


def hung(
    odd: Oddness, size: np.ndarray, family: Callable, beam: float, rng: np.random.Generator
) -> tuple[list[Lamp], tuple[Fixture, ...]]:
    """Return the lamps as they hang and the fixtures as a keeper tells them."""
    many = 1 if size[0] < 70 else 2 if size[0] < 100 else 3
    optic = family(beam * np.exp(rng.normal(0, BEAM)))
    if odd.ring:
        optic = ringed(optic)
    lamps, fixtures = [], []
    for k in range(many):
        x, y, height = (k + 0.5) / many * size[0], size[1] / 2, 20.0
        off = rng.normal(0, PLACE_CM, 3)
        output = 1.0 * np.exp(rng.normal(0, ALIKE))
        slopes = (odd.one_tilted, odd.one_tilted / 2) if k == 0 else (0.0, 0.0)
        lamp = Lamp(x + off[0], y + off[1], height + off[2], 18, 18, optic, output, tilt=slopes)
        lamps.append(lamp)
        if odd.two_colours:
            wide = family(min(1.35 * beam, 130.0))
            lamps[-1] = replace(lamp, output=0.6 * output)
            lamps.append(replace(lamp, optic=wide, output=0.4 * output))
        fixtures.append(Fixture(x, y, height, beam, 18, 18))
    return lamps, tuple(fixtures)


def reading_places(
    size: np.ndarray, grid: tuple[int, int, int], probe_cm: float, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Return where readings are said to be and where the probe was held, (n, 3) each [cm]."""
    axes = [
        np.linspace(low, high, many) * side
        for (low, high), many, side in zip(
            ((0.12, 0.88), (0.16, 0.84), (0.14, 0.8)), grid, size, strict=True
        )
    ]
    said = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3).round()
    held = np.clip(said + rng.normal(0, probe_cm, said.shape), 1.5, size - 1.5)
    held[:, 2] = held[:, 2].round()
    return said, held


def spots_in(size: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Return spots on a few levels, (SPOTS, 3) [cm]."""
    levels = (np.linspace(0.1, 0.88, 6) * size[2]).round()
    x = rng.uniform(2.5, size[0] - 2.5, SPOTS)
    y = rng.uniform(2.5, size[1] - 2.5, SPOTS)
    return np.column_stack([x, y, rng.choice(levels, SPOTS)])


def open_water(rocks: list, points: np.ndarray) -> np.ndarray:
    """Return which points (n, 3) lie in no rock."""
    inside = np.zeros(len(points), bool)
    for low, high in rocks:
        inside |= ((points > np.array(low) - 0.5) & (points < np.array(high) + 0.5)).all(axis=1)
    return ~inside
