"""Plans against photons: is the traced light of a layout within what its answer says?

Each case is a question as `find_layout` reads it; its recommended answer is hung in a world of
photons (`photon_world`, which shares nothing with photics) again and again, with output, beam,
what shapes it, water, panes, bottom and hanging drawn anew. Printed for each kind of question: how
often the traced share of a zone lies between surely and perhaps, and its traced mean within the
mean's interval; how wide both are; and how bright the plan is against the middle of the traces.

    python -m tests.benchmarks.bench_plan_truth [draws] [case ...]
"""

import sys

import numpy as np

from apps.planning.layout_files.answers_json import find_layouts
from apps.planning.layout_files.question_json import question_of_data
from tests.benchmarks.photon_world import Box, Lamp, bare, lens, reflector, trace

# Photons of one draw for each cm2 of water, and points of a zone along x, y, depth.
PHOTONS_CM2, PHOTONS_MOST = 80, 1 << 20
POINTS = (9, 7, 4)
DISC_CM = 2.5
# Deviations a world differs by from what is stated: output and each fixture's own, beam [log];
# hanging [cm], tilt [slope]; absorption and scattering of the water [log].
OUTPUT, OWN, BEAM = 0.06, 0.03, 0.08
HANGING_CM, TILT, WATER = 1.0, 0.015, 0.5
# From watts alone the world's efficacy is drawn by what 90 % of lamps have [umol/J].
EFFICACY = (0.85, 2.1)
TUBE_EFFICACY = (0.6, 1.1)
# A diffuse reflector under the sensor's plane, sand or bare glass.
BOTTOM = (0.1, 0.35)


def panel(name, emitter="", **more):
    base = {
        "name": name, "kind": "panel", "panel_x_cm": 20, "panel_y_cm": 20, "beams_deg": [110, 55],
        "output_umol": 60, "watts": 45, "price": 250,
    }  # fmt: skip
    return base | ({"emitter": emitter} if emitter else {}) | more


def strong(name, emitter="", **more):
    sides = {"panel_x_cm": 35, "panel_y_cm": 20, "beams_deg": [110, 70]}
    output = {"output_umol": 165, "watts": 120, "price": 550}
    return panel(name, emitter, **(sides | output | more))


def by_watts(fixture):
    return {key: value for key, value in fixture.items() if key != "output_umol"}


def ask(size, count, fixtures, zones="usual", **limits):
    tank = dict(zip(("length_cm", "width_cm", "depth_cm"), size, strict=True))
    limits = {"height_cm": [15, 40], "count": count} | limits
    return {"tank": tank, "zones": zones, "fixtures": fixtures, "limits": limits}


def banded(size, low, high):
    """Return one zone with two hard edges in the middle of a tank."""
    inset = [[0.15 * side, 0.85 * side] for side in size[:2]]
    zone = {"name": "rock", "x_cm": inset[0], "y_cm": inset[1], "low_umol": low, "high_umol": high}
    return [zone | {"depth_cm": [0.3 * size[2], 0.6 * size[2]]}]


CUBE, SMALL, LONG, LARGE = (60, 60, 60), (45, 45, 45), (120, 60, 60), (180, 60, 60)
BAR = {
    "name": "Bar", "kind": "bar", "panel_x_cm": 60, "panel_y_cm": 3, "beams_deg": [110],
    "output_umol": 42, "watts": 30, "price": 120,
}  # fmt: skip
CASES = {
    "rated": [
        ask(SMALL, 2, [panel("Mid"), strong("Strong")]),
        ask(CUBE, 3, [panel("Mid"), strong("Strong")]),
        ask((90, 45, 50), 4, [panel("Mid"), strong("Strong")]),
        ask(LONG, 6, [panel("Mid"), strong("Strong")]),
        ask(LARGE, 6, [strong("Strong"), BAR], fill_count=2),
        ask(CUBE, 1, [panel("Mid")], banded(CUBE, 75, 150)),
        ask(SMALL, 1, [panel("Mid")], banded(SMALL, 200, 350)),
    ],
    "rated, emitter told": [
        ask(SMALL, 2, [panel("Mid", "bare", beams_deg=[110])]),
        ask(SMALL, 2, [panel("Mid", "diffuser", beams_deg=[120])]),
        ask((40, 40, 40), 1, [panel("Mid", "reflector", beams_deg=[110])]),
        ask(CUBE, 2, [panel("Mid", "lens", beams_deg=[70])]),
        ask(CUBE, 2, [panel("Mid", "lens", beams_deg=[110])]),
        ask(CUBE, 3, [panel("Mid", "bare", beams_deg=[110]), strong("S", "lens", beams_deg=[60])]),
    ],
    "watts": [
        ask(CUBE, 3, [by_watts(panel("Mid")), by_watts(strong("Strong"))]),
        ask(LONG, 6, [by_watts(panel("Mid")), by_watts(strong("Strong"))]),
        ask(CUBE, 1, [by_watts(panel("Mid"))], banded(CUBE, 75, 150)),
    ],
}  # fmt: skip


def shape_of(rng, emitter, beam_deg):
    """Return a true optic: of the told kind, else of any kind that a beam may be of."""
    if not emitter:
        kinds = ["lens", "reflector"] if beam_deg <= 90 else ["bare", "reflector", "diffuser"]
        emitter = kinds[rng.integers(len(kinds))]
    beam = float(np.clip(beam_deg * np.exp(rng.normal(0, BEAM)), 20, 150))
    if emitter == "bare":
        return bare(beam, spill=rng.uniform(0.0, 0.06))
    if emitter == "diffuser":
        return bare(beam, spill=rng.uniform(0.05, 0.2))
    if emitter == "lens":
        return lens(beam, spill=rng.uniform(0.03, 0.15), softness=rng.uniform(0.08, 0.15))
    cutoff = max(rng.uniform(55, 70), beam / 2 + 5)
    return reflector(beam, spill=rng.uniform(0.1, 0.3), cutoff_deg=cutoff)


def output_of(rng, fixture):
    """Return a true output of a kind at full level [umol/s]."""
    if "output_umol" in fixture:
        return fixture["output_umol"] * np.exp(rng.normal(0, OUTPUT))
    low, high = np.log(TUBE_EFFICACY if fixture["kind"] == "tube" else EFFICACY)
    return fixture["watts"] * np.exp(rng.normal((low + high) / 2, (high - low) / 3.29))


def drawn_world(rng, question, answer):
    """Return a true box of water and the true lamps of an answer."""
    tank = question["tank"]
    box = Box(
        tank["length_cm"], tank["width_cm"], tank["depth_cm"],
        absorption=0.003 * np.exp(rng.normal(0, WATER)),
        scattering=0.003 * np.exp(rng.normal(0, WATER)),
        pane=rng.uniform(0.93, 1.0), bottom=rng.uniform(*BOTTOM),
    )  # fmt: skip
    kinds = {one["name"]: one for one in question["fixtures"]}
    true = {name: (output_of(rng, one), one.get("emitter", "")) for name, one in kinds.items()}
    optics, lamps = {}, []
    for hung in answer["fixtures"]:
        kind, (output, emitter) = kinds[hung["name"]], true[hung["name"]]
        key = (hung["name"], hung["beam_deg"])
        if key not in optics:
            optics[key] = shape_of(rng, emitter, hung["beam_deg"])
        off = rng.normal(0, HANGING_CM, 3)
        lamps.append(Lamp(
            hung["x_cm"] + off[0], hung["y_cm"] + off[1], max(hung["height_cm"] + off[2], 2.0),
            kind["panel_x_cm"], kind["panel_y_cm"], optics[key],
            output=1e4 * output * hung["level"] * np.exp(rng.normal(0, OWN)),
            tilt=tuple(rng.normal(0, TILT, 2)),
        ))  # fmt: skip
    return box, lamps


def lattice(zone):
    """Return points of a zone, (n, 3) [cm]."""
    axes = [
        low + (np.arange(many) + 0.5) / many * (high - low)
        for (low, high), many in zip(
            (zone["x_cm"], zone["y_cm"], zone["depth_cm"]), POINTS, strict=True
        )
    ]
    return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)


def traced(box, lamps, zones, seed):
    """Return PAR at the points of each zone by photons, a list of (n,)."""
    points = [lattice(zone) for zone in zones]
    planes = np.unique(np.concatenate([part[:, 2] for part in points]))
    photons = min(PHOTONS_CM2 * box.length_cm * box.width_cm, PHOTONS_MOST) / len(lamps)
    # Evenly spread throws come in powers of two.
    photons = 1 << int(np.ceil(np.log2(photons)))
    par = [np.zeros(len(part)) for part in points]
    for k, lamp in enumerate(lamps):
        tally = trace(box, lamp, planes, photons=photons, seed=seed + k)
        for light, part in zip(par, points, strict=True):
            light += tally.at(part, radius_cm=DISC_CM)
    return par


def judged(question, draws, rng):
    """Return rows of one question, zone by zone and draw by draw."""
    answers = find_layouts(question_of_data(question).question)
    answer = answers["answers"][answers["recommended"]]
    rows = []
    for draw in range(draws):
        box, lamps = drawn_world(rng, question, answer)
        par = traced(box, lamps, answer["zones"], seed=1000 * draw + 1)
        for zone, light in zip(answer["zones"], par, strict=True):
            high = np.inf if zone["high_umol"] is None else zone["high_umol"]
            share = 100 * np.mean((light >= zone["low_umol"]) & (light <= high))
            rows.append(row_of(zone, share, light.mean()))
    return rows, answers["served"]


# Shares are compared to a whole percent, as they are shown.
SHARE_DUST = 1.0


def row_of(zone, share, mean):
    """Return what one traced zone says of its answer."""
    return (
        zone["surely_percent"] - SHARE_DUST <= share <= zone["perhaps_percent"] + SHARE_DUST,
        zone["mean_low_umol"] <= mean <= zone["mean_high_umol"],
        zone["mean_high_umol"] / zone["mean_low_umol"],
        zone["perhaps_percent"] - zone["surely_percent"],
        np.log(zone["mean_umol"] / mean),
        share - zone["share_percent"],
    )


COLUMNS = (("share in", 10), ("mean in", 9), ("high/low", 10), ("width", 7), ("bright %", 10),
           ("share off", 11))  # fmt: skip
HEAD = f"{'question':44}" + "".join(f"{name:>{width}}" for name, width in COLUMNS)


def line_of(name, rows):
    """Return one line of what rows say."""
    inside, mean, ratio, width, bright, off = np.array(rows, float).T
    values = (
        f"{100 * inside.mean():.0f}%", f"{100 * mean.mean():.0f}%", f"{ratio.max():.2f}",
        f"{width.mean():.0f}", f"{100 * np.expm1(np.median(bright)):.1f}", f"{np.median(off):.1f}",
    )  # fmt: skip
    return f"{name:44}" + "".join(
        f"{value:>{width}}" for value, (_, width) in zip(values, COLUMNS, strict=True)
    )


def main():
    draws = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    wanted = sys.argv[2:] or list(CASES)
    rng = np.random.default_rng(16)
    print(HEAD)
    for name in wanted:
        every = []
        for question in CASES[name]:
            rows, served = judged(question, draws, rng)
            every += rows
            size = "x".join(str(side) for side in question["tank"].values())
            what = question["fixtures"][0].get("emitter", "")
            state = "served" if served else "not served"
            print(line_of(f"  {size} {what} {question['fixtures'][0]['beams_deg']} {state}", rows))
        print(line_of(name, every))


if __name__ == "__main__":
    main()
