"""Makers of photometric text with a known light, for tests."""

import numpy as np

from tests.paths import DATA

LAMBERTIAN = DATA / "checks" / "lambertian_1000lm.ies"


def lobe(nadir_deg, turn_deg=0.0, *, exponent=1.0):
    """A cos^m lobe of 1000 cd straight down [cd]."""
    return 1000 * np.cos(np.radians(np.minimum(nadir_deg, 90))) ** exponent + 0 * turn_deg


def oblong(nadir_deg, turn_deg):
    """A lobe wider along 0-180 than across, with no other symmetry broken [cd]."""
    turn = np.radians(turn_deg)
    exponent = 3 + 2 * np.sin(turn) ** 2
    return lobe(nadir_deg, exponent=exponent)


def lopsided(nadir_deg, turn_deg):
    """A lobe without any symmetry round the plumb line [cd]."""
    turn = np.radians(turn_deg)
    return lobe(nadir_deg) * (1 + 0.3 * np.cos(turn) + 0.1 * np.sin(turn))


def ies_text(
    light,
    *,
    vertical=tuple(range(0, 91, 5)),
    horizontal=(0,),
    edition="IESNA:LM-63-2002",
    keywords=("[TEST] made up", "[MANUFAC] nobody"),
    tilt="TILT=NONE",
    lamps="1 1000 1",
    kind=1,
    unit=2,
    sizes="0.3 0.6 0",
    factors="1 1 25",
    values=None,
):
    """Text of an LM-63 file of `light(nadir, turn)`, or of `values` (nh, nv) [cd]."""
    if values is None:
        values = light(np.array(vertical, float)[None, :], np.array(horizontal, float)[:, None])
    head = f"{lamps} {len(vertical)} {len(horizontal)} {kind} {unit} {sizes}"
    rows = [" ".join(repr(float(v)) for v in row) for row in np.atleast_2d(values)]
    angles = [" ".join(str(a) for a in part) for part in (vertical, horizontal)]
    lines = [*([edition] if edition else []), *keywords, tilt, head, factors, *angles, *rows]
    return "\n".join(lines) + "\n"


def ldt_text(
    light,
    *,
    symmetry,
    planes,
    step_deg=5,
    lumens="2000",
    sets=1,
    area=("600", "300"),
    factor="1.0",
    decimal=".",
):
    """Text of a EULUMDAT file of `light(gamma, C)` [cd]."""
    turns = np.arange(planes) * 360 / planes
    gammas = np.arange(0, 90 + step_deg, step_deg)
    quarter, half = planes // 4, planes // 2
    listed = {
        0: turns,
        1: turns[:1],
        2: turns[: half + 1],
        3: np.r_[turns[3 * quarter :], turns[: quarter + 1]],
        4: turns[: quarter + 1],
    }[symmetry]
    klm = float(lumens or 1000) / 1000
    head = ["nobody", "3", str(symmetry), str(planes), str(360 / planes), str(len(gammas))]
    head += [str(step_deg), "made up", "a lobe", "L1", "lobe.ldt", "2026-11-25"]
    head += ["610", "310", "50", *area, "0", "0", "0", "0", "100", "100", factor, "0", str(sets)]
    lamp = ["1", "LED", lumens, "20000", "80", "25.5"]
    values = [repr(float(light(gamma, turn)) / klm) for turn in listed for gamma in gammas]
    numbers = [*map(str, [0.5] * 10), *map(str, turns), *map(str, gammas), *values]
    lines = head + lamp * sets + numbers
    text = [line.replace(".", decimal) if index >= 12 else line for index, line in enumerate(lines)]
    return "\n".join(text) + "\n"
